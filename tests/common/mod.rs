//! What several test files need.
#![allow(dead_code)]

pub mod markers;

use std::path::{Path, PathBuf};
use std::process::Output;
use std::sync::OnceLock;

use assert_cmd::Command;
use serde_json::Value;

/// A path inside the project.
pub fn project(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// The program, ready for arguments.
pub fn plumbrise() -> Command {
    let mut command = Command::cargo_bin("plumbrise").expect("the program is built");
    command.env("PLUMBRISE_MODELS", project("models"));
    command.env("PLUMBRISE_ONNXRUNTIME", project("runtime/libonnxruntime.so"));
    command
}

/// The program as somebody whom permissions hold back, without models and runtime: they do
/// not hold root back, so that «nobody» runs a copy of it then. `place` is a folder for the
/// copy, which everybody may look into afterwards.
#[cfg(unix)]
pub fn held_back(place: &Path) -> std::process::Command {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    use std::os::unix::process::CommandExt;
    // By the name of its user on most systems «nobody».
    const NOBODY: u32 = 65_534;
    let built = assert_cmd::cargo::cargo_bin("plumbrise");
    // What we make is ours, so its owner tells who we are.
    let probe = tempfile::tempdir().expect("a folder");
    if std::fs::metadata(probe.path()).expect("a folder").uid() != 0 {
        return std::process::Command::new(built);
    }
    let open = std::fs::Permissions::from_mode(0o755);
    let program = place.join("program");
    std::fs::copy(&built, &program).expect("copied");
    std::fs::set_permissions(&program, open.clone()).expect("its mode is set");
    std::fs::set_permissions(place, open).expect("its mode is set");
    let mut command = std::process::Command::new(program);
    command.uid(NOBODY).gid(NOBODY);
    command
}

/// Standard error as text.
pub fn errors(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Parses a JSON file.
pub fn json(path: &Path) -> Value {
    serde_json::from_str(&std::fs::read_to_string(path).expect("readable")).expect("JSON")
}

/// Session folder of a sample clip, its stature told, without reports. Assessed once for
/// all tests and runs of the same program; not to be changed.
pub fn session(clip: &str) -> PathBuf {
    kept("data", clip, |place| {
        let truth = json(&project(&format!("sample-clips/{clip}.truth.json")));
        let stature_cm = 100.0 * truth["stature_m"].as_f64().expect("a stature");
        let output = plumbrise()
            .args(["assess", "--json", "--no-video", "--no-html", "--no-pdf", "--stature"])
            .arg(stature_cm.to_string())
            .arg("--out")
            .arg(place)
            .arg(project(&format!("sample-clips/{clip}.mp4")))
            .output()
            .expect("it runs");
        assert!(output.status.success(), "{}", errors(&output));
        let printed: Value = serde_json::from_slice(&output.stdout).expect("only JSON on stdout");
        assert_eq!(printed, json(&place.join("assessment.json")));
    })
}

/// The same with all reports.
pub fn reported(clip: &str) -> PathBuf {
    let data = session(clip);
    kept("reported", clip, |place| {
        let output = plumbrise()
            .args(["reassess", "--out"])
            .arg(place)
            .arg("--clip")
            .arg(project(&format!("sample-clips/{clip}.mp4")))
            .arg(&data)
            .output()
            .expect("it runs");
        assert!(output.status.success(), "{}", errors(&output));
    })
}

/// A folder that `make` has made with this very program, these networks and this runtime, of
/// these clips, now or before.
fn kept(kind: &str, clip: &str, make: impl FnOnce(&Path)) -> PathBuf {
    static LOCK: std::sync::Mutex<()> = std::sync::Mutex::new(());
    static MAKERS: OnceLock<String> = OnceLock::new();
    let _one_at_a_time = LOCK.lock();
    let makers = MAKERS.get_or_init(|| {
        let mut files = vec![
            assert_cmd::cargo::cargo_bin("plumbrise"),
            // Holds the checksums of the networks; the program takes no others.
            project("models/manifest.toml"),
            project("runtime/libonnxruntime.so"),
        ];
        let clips = std::fs::read_dir(project("sample-clips")).expect("a folder");
        let clips = clips.map(|entry| entry.expect("an entry").path());
        // Not what the first command of the README leaves beside them.
        files.extend(clips.filter(|path| path.is_file()));
        key(&mut files)
    });
    let all = Path::new(env!("CARGO_TARGET_TMPDIR")).join("sessions");
    let own = all.join(&makers[..16]);
    if !own.exists() {
        // What others made is of no use any more.
        let _ = std::fs::remove_dir_all(&all);
    }
    let folder = own.join(kind);
    std::fs::create_dir_all(&folder).expect("a folder");
    let place = folder.join(clip);
    if !place.exists() {
        make(&place);
    }
    place
}

/// One checksum of the contents of files, whatever their order.
pub fn key(files: &mut [PathBuf]) -> String {
    files.sort();
    let sums = files.iter().map(|file| plumbrise::files::sha256(file).expect("readable"));
    plumbrise::files::sha256_of(sums.collect::<String>().as_bytes())
}
