//! Nothing leaves the computer, and nothing is written but what was asked for: every
//! question that the program puts to the system, as strace sees it.
#![cfg(target_os = "linux")]

mod common;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use common::{errors, plumbrise, project};

/// System calls that change what stands under a name.
const CHANGES: [&str; 24] = [
    "chmod",
    "chown",
    "creat",
    "fchmodat",
    "fchmodat2",
    "fchownat",
    "lchown",
    "link",
    "linkat",
    "mkdir",
    "mkdirat",
    "mknod",
    "mknodat",
    "rename",
    "renameat",
    "renameat2",
    "rmdir",
    "setxattr",
    "symlink",
    "symlinkat",
    "truncate",
    "unlink",
    "unlinkat",
    "utimensat",
];

/// System calls that open a file by its name, for writing with one of [`TO_WRITE`].
const OPENS: [&str; 3] = ["open", "openat", "openat2"];
const TO_WRITE: [&str; 5] = ["O_WRONLY", "O_RDWR", "O_CREAT", "O_TRUNC", "O_TMPFILE"];

/// Those of networks, also the one inside the computer.
const NETWORK: [&str; 18] = [
    "accept",
    "accept4",
    "bind",
    "connect",
    "getpeername",
    "getsockname",
    "getsockopt",
    "listen",
    "recvfrom",
    "recvmmsg",
    "recvmsg",
    "sendmmsg",
    "sendmsg",
    "sendto",
    "setsockopt",
    "shutdown",
    "socket",
    "socketpair",
];

/// Who looks up a name reads one of these.
const LOOK_UP: [&str; 5] =
    ["/etc/gai.conf", "/etc/host.conf", "/etc/hosts", "/etc/nsswitch.conf", "/etc/resolv.conf"];

/// Written to without a trace.
const NOTHING: [&str; 2] = ["/dev/null", "/dev/tty"];

/// A system call as strace prints it.
struct Call<'a> {
    name: &'a str,
    /// Its words but the quoted ones.
    flags: String,
    /// Files it names.
    paths: Vec<PathBuf>,
}

impl<'a> Call<'a> {
    /// `cwd`: where relative names begin.
    fn new(line: &'a str, cwd: &Path) -> Self {
        let (name, rest) = line.split_once('(').unwrap_or((line, ""));
        let (mut flags, mut paths) = (String::new(), Vec::new());
        let mut base = cwd.to_path_buf();
        let mut letters = rest.chars();
        while let Some(letter) = letters.next() {
            let end = match letter {
                '"' => '"',
                // The folder that an open descriptor stands for.
                '<' => '>',
                _ => {
                    flags.push(letter);
                    continue;
                }
            };
            let mut text = String::new();
            while let Some(letter) = letters.next().filter(|l| *l != end) {
                text.push(letter);
                if letter == '\\' {
                    text.extend(letters.next());
                }
            }
            match end {
                '"' => paths.push(base.join(text)),
                _ => base = text.into(),
            }
        }
        Self { name, flags, paths }
    }

    fn writes(&self) -> bool {
        let opens = OPENS.contains(&self.name) && TO_WRITE.iter().any(|f| self.flags.contains(f));
        opens || CHANGES.contains(&self.name)
    }

    /// True for what must not be where only `own` may be written to.
    fn is_fault(&self, own: &Path) -> bool {
        let named =
            |names: &[&str]| self.paths.iter().any(|p| names.iter().any(|n| *p == Path::new(n)));
        let elsewhere = |p: &PathBuf| {
            !(p.starts_with(own)
                || p.starts_with("/proc/self")
                || NOTHING.iter().any(|n| *p == Path::new(n)))
        };
        NETWORK.contains(&self.name)
            || named(&LOOK_UP)
            || (self.writes() && self.paths.iter().any(elsewhere))
    }
}

/// What a command asked of the system: its output and a line a call.
struct Watched {
    output: Output,
    calls: Vec<String>,
    own: PathBuf,
}

impl Watched {
    /// Runs it in the folder `own`, in a home where nobody has been.
    fn new(own: &Path, home: &Path, command: &[&str]) -> Self {
        let traces = tempfile::tempdir().expect("a folder");
        // A file a thread, so that no call is cut in two.
        let output = Command::new("strace")
            .args(["-ff", "--seccomp-bpf", "-qq", "-y", "-e", "trace=%file,%network", "-o"])
            .arg(traces.path().join("of"))
            .args(command)
            .current_dir(own)
            .env("HOME", home)
            .env_remove("XDG_CACHE_HOME")
            .env_remove("XDG_CONFIG_HOME")
            .env_remove("XDG_DATA_HOME")
            .env("PLUMBRISE_MODELS", project("models"))
            .env("PLUMBRISE_ONNXRUNTIME", project("runtime/libonnxruntime.so"))
            .output()
            .expect("strace, which 'scripts/prepare.sh --tests' installs");
        let mut calls = Vec::new();
        for file in fs::read_dir(traces.path()).expect("a folder") {
            let text = fs::read_to_string(file.expect("a file").path()).expect("text");
            calls.extend(text.lines().map(String::from));
        }
        Self { output, calls, own: own.into() }
    }

    fn faults(&self) -> Vec<&String> {
        self.calls.iter().filter(|line| Call::new(line, &self.own).is_fault(&self.own)).collect()
    }

    fn has_written(&self, name: &str) -> bool {
        let calls = self.calls.iter().map(|line| Call::new(line, &self.own));
        calls.filter(Call::writes).any(|call| call.paths.iter().any(|p| p.ends_with(name)))
    }
}

#[test]
fn check_assess_and_watch_ask_nothing_of_a_network_and_write_beside_the_clip_only() {
    let (own, home) =
        (tempfile::tempdir().expect("a folder"), tempfile::tempdir().expect("a folder"));
    // One rep, and the beginning of the next.
    let whole = fs::read(project("sample-clips/drops_right.mp4")).expect("a clip");
    fs::write(own.path().join("cut.mp4"), &whole[..whole.len() * 26 / 100]).expect("written");
    fs::write(own.path().join("no-film.mp4"), "Knees over toes").expect("written");
    let program = assert_cmd::cargo::cargo_bin("plumbrise");
    let program = program.to_str().expect("a path");
    for (command, status, written) in [
        (&["check", "cut.mp4"][..], &[0, 4][..], &[][..]),
        (
            &["assess", "cut.mp4", "--out", "results"],
            &[0],
            &["assessment.json", "annotated.mp4", "report.html", "report.pdf"],
        ),
        (
            &["watch", "--once", "--settle", "0", "--no-video", "--no-html", "--no-pdf", "."],
            &[3],
            &["assessment.json", "no-film.mp4.not-assessed.txt"],
        ),
    ] {
        let seen = Watched::new(own.path(), home.path(), &[&[program], command].concat());
        let status_found = seen.output.status.code().expect("it ends by itself");
        assert!(status.contains(&status_found), "{command:?}: {}", errors(&seen.output));
        // It was looked at: the network at work, and what is to be written.
        assert!(seen.calls.iter().any(|call| call.contains("libonnxruntime.so")), "{command:?}");
        for name in written {
            assert!(seen.has_written(name), "{command:?}: {name}");
        }
        assert_eq!(seen.faults(), Vec::<&String>::new(), "{command:?}");
        assert_eq!(fs::read_dir(home.path()).expect("a folder").count(), 0, "{command:?}");
    }
    assert!(own.path().join("cut.plumbrise").exists());
    assert!(own.path().join("no-film.mp4.not-assessed.txt").exists());
}

/// Other programs that do what must not be are seen doing it.
#[test]
fn a_file_elsewhere_and_a_name_looked_up_are_seen() {
    let (own, home) =
        (tempfile::tempdir().expect("a folder"), tempfile::tempdir().expect("a folder"));
    let leak = Watched::new(own.path(), home.path(), &["sh", "-c", "echo x >mine; echo x >~/leak"]);
    let faults = leak.faults();
    assert!(leak.has_written("mine") && faults.len() == 1, "{faults:?}");
    assert!(faults[0].contains("/leak\""), "{faults:?}");
    let look_up = Watched::new(own.path(), home.path(), &["getent", "hosts", "localhost"]);
    assert!(!look_up.faults().is_empty());
}

#[test]
fn calls_are_told_apart() {
    let own = Path::new("/own");
    for line in [
        r#"openat(AT_FDCWD</own>, "/home/x/.cache/id", O_WRONLY|O_CREAT|O_CLOEXEC, 0666) = 3"#,
        r#"openat(AT_FDCWD</home/x>, "id", O_RDWR) = -1 EACCES (Permission denied)"#,
        r#"openat(5</home/x>, "id", O_RDWR|O_CREAT, 0666) = 3</home/x/id>"#,
        r#"mkdir("/home/x/.cache", 0777) = -1 EEXIST (File exists)"#,
        r#"rename("/own/a", "/ownership/a") = 0"#,
        r#"openat(AT_FDCWD</own>, "/etc/resolv.conf", O_RDONLY|O_CLOEXEC) = 4"#,
        r#"openat(AT_FDCWD</own>, "/dev/shm/x", O_RDWR|O_CREAT, 0600) = 4"#,
        "socket(AF_UNIX, SOCK_STREAM|SOCK_CLOEXEC|SOCK_NONBLOCK, 0) = 3",
        "socket(AF_INET, SOCK_DGRAM|SOCK_CLOEXEC, IPPROTO_IP) = 3",
    ] {
        assert!(Call::new(line, own).is_fault(own), "{line}");
    }
    for line in [
        r#"openat(AT_FDCWD</own>, "clip.plumbrise/report.pdf", O_WRONLY|O_CREAT, 0666) = 3"#,
        r#"openat(AT_FDCWD</own>, "/usr/lib/O_CREAT.so", O_RDONLY|O_CLOEXEC) = 3"#,
        r#"openat(AT_FDCWD</own>, "/dev/null", O_RDWR) = 3</dev/null>"#,
        r#"unlinkat(5</own/folder>, "name\" with, quote", 0) = 0"#,
        r#"newfstatat(AT_FDCWD</own>, "/etc/passwd", 0x7ffc, 0) = 0"#,
        r#"execve("/usr/bin/true", ["true"], 0x7ffe /* 25 vars */) = 0"#,
    ] {
        assert!(!Call::new(line, own).is_fault(own), "{line}");
    }
}

/// The library that 'scripts/prepare.sh' fetches is the one the tests run with.
#[test]
fn the_library_is_the_one_that_is_fetched() {
    if !cfg!(any(target_arch = "x86_64", target_arch = "aarch64")) {
        return; // Elsewhere no checksum is known.
    }
    let sha256 = plumbrise::files::sha256(&project("runtime/libonnxruntime.so")).expect("a file");
    let script = fs::read_to_string(project("scripts/prepare.sh")).expect("a file");
    assert!(script.contains(&sha256), "run 'scripts/prepare.sh': it replaces {sha256}");
}

/// A library that holds a client which reports to its maker is not even loaded.
#[test]
fn a_library_that_reports_is_refused() {
    let own = tempfile::tempdir().expect("a folder");
    fs::copy(project("sample-clips/drops_right.mp4"), own.path().join("clip.mp4")).expect("copied");
    let library = own.path().join("libonnxruntime.so");
    let ours = fs::read(project("runtime/libonnxruntime.so")).expect("a file");
    for mark in ["eu.events.data.microsoft.com", "_ZN9Microsoft12Applications6Events7ILoggerE"] {
        // Behind all else, where the loader does not look.
        fs::write(&library, [&ours, mark.as_bytes(), &[0; 100]].concat()).expect("written");
        for command in [
            &["check", "clip.mp4"][..],
            &["assess", "clip.mp4"],
            &["assess", "."],
            &["watch", "--once", "."],
        ] {
            let output = plumbrise()
                .current_dir(own.path())
                .args(command)
                .arg("--onnxruntime")
                .arg(&library)
                .output()
                .expect("it runs");
            let text = errors(&output);
            assert_eq!(output.status.code(), Some(1), "{command:?}: {text}");
            assert!(text.contains("reports on its user to its maker"), "{command:?}: {text}");
            assert!(text.contains("hint: ") && text.contains("--onnxruntime"), "{text}");
            assert_eq!(text.matches("plumbrise: ").count(), 1, "{command:?}: {text}");
        }
        assert!(!own.path().join("clip.plumbrise").exists());
    }
}
