//! What is written about people is for the user alone, appears whole or not at all whoever
//! is killed when, and loses nothing when several are at it. Most sessions are of marker
//! files in closed form, which need no network.
#![cfg(unix)]

mod common;

use std::collections::BTreeSet;
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use common::markers::{made, sets};
use common::{errors, json, project};

const QUICK: [&str; 3] = ["--no-video", "--no-html", "--no-pdf"];

/// The program under a umask.
fn under(umask: &str, words: &[&str]) -> Command {
    let mut command = Command::new("sh");
    command.args(["-c", &format!("umask {umask}; exec \"$0\" \"$@\"")]);
    command.arg(assert_cmd::cargo::cargo_bin("plumbrise")).args(words);
    command.env("PLUMBRISE_MODELS", project("models"));
    command.env("PLUMBRISE_ONNXRUNTIME", project("runtime/libonnxruntime.so"));
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

/// Runs it to its end, in order.
fn done(umask: &str, words: &[&str]) {
    let output = under(umask, words).output().expect("it runs");
    assert!(output.status.success(), "{words:?}: {}", errors(&output));
}

fn start(words: &[&str]) -> Child {
    under("022", words).spawn().expect("it starts")
}

struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    /// A path in it, as a word.
    fn at(&self, name: &str) -> String {
        self.0.path().join(name).into_os_string().into_string().expect("Unicode")
    }

    /// A session of two rises, without reports.
    fn with_session() -> (Self, String) {
        let place = Self::new();
        let clip = place.at("monday.trc");
        fs::write(&clip, made(&sets(2), 0.0)).expect("written");
        done("022", &[&["assess"], &QUICK[..], &[&clip]].concat());
        let session = place.at("monday.plumbrise");
        (place, session)
    }

    fn names(&self) -> BTreeSet<String> {
        let name = |e: std::io::Result<fs::DirEntry>| e.expect("an entry").file_name();
        let entries = fs::read_dir(self.0.path()).expect("a folder");
        entries.map(|e| name(e).into_string().expect("Unicode")).collect()
    }
}

fn mode(path: &Path) -> u32 {
    fs::symlink_metadata(path).expect("it is there").permissions().mode() & 0o7777
}

/// Everything below that somebody else could open.
fn open_to_others(path: &Path, own: &[&str]) -> Vec<(PathBuf, u32)> {
    let mut found = Vec::new();
    for entry in fs::read_dir(path).expect("a folder") {
        let path = entry.expect("an entry").path();
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        if own.contains(&name.as_str()) {
            continue;
        }
        let mode = mode(&path);
        let closed = if path.is_dir() { mode == 0o700 } else { [0o600, 0o400].contains(&mode) };
        if !closed {
            found.push((path.clone(), mode));
        }
        if path.is_dir() {
            found.extend(open_to_others(&path, own));
        }
    }
    found
}

#[test]
fn what_is_written_is_for_the_user_alone_whatever_the_umask() {
    for umask in ["000", "022", "027", "077"] {
        let place = Place::new();
        for name in ["monday.trc", "tuesday.trc", "bad.trc"] {
            let text = if name == "bad.trc" { "no markers".into() } else { made(&sets(2), 0.0) };
            fs::write(place.at(name), text).expect("written");
            // Theirs stays as it is.
            fs::set_permissions(place.at(name), fs::Permissions::from_mode(0o644)).expect("set");
        }
        fs::create_dir(place.at("shared-archive")).expect("a folder");
        let at = |name: &str| place.at(name);
        let (monday, archive) = (at("monday.plumbrise"), at("archive"));
        let monday_told = format!("{monday}=2026-05-04");
        let tuesday_told = format!("{}=2026-05-05", at("tuesday.plumbrise"));
        let bad = under(umask, &["assess", &at("bad.trc")]).output().expect("it runs");
        assert_eq!(bad.status.code(), Some(3));
        let mut watch = vec!["watch", "--once", "--settle", "0.1", "--every", "0.1"];
        watch.extend(QUICK);
        let folder = at("");
        watch.push(&folder);
        let watched = under(umask, &watch).output().expect("it runs");
        assert_eq!(watched.status.code(), Some(3), "{}", errors(&watched));
        for words in [
            // Page and paper too.
            &["assess", "--force", &at("monday.trc")][..],
            &["assess", "--out", &at("results"), &at("monday.trc"), &at("tuesday.trc")],
            &["reassess", &monday],
            &["review", &monday, "--by", "M3", "--note", "seen"],
            &["export", &monday, "--as", "csv", "--out", &at("csv")],
            &["export", &monday, "--as", "parquet", "--out", &at("parquet")],
            &["export", &monday, "--as", "dicom", "--out", &at("dicom")],
            &["trend", "--out", &at("trend"), "--sessions", &monday_told, &tuesday_told],
            &[
                "archive",
                "add",
                &monday,
                "--person",
                "K7-M2",
                "--archive",
                &archive,
                "--clip",
                &at("monday.trc"),
            ],
            &["archive", "add", &monday, "--person", "K7-M2", "--archive", &at("shared-archive")],
            &["archive", "backup", &at("backup.tar"), "--archive", &archive],
            &["archive", "restore", &at("backup.tar"), &at("restored")],
        ] {
            done(umask, words);
        }
        let own = ["monday.trc", "tuesday.trc", "bad.trc"];
        assert_eq!(open_to_others(place.0.path(), &own), [], "umask {umask}");
        assert!(own.iter().all(|name| mode(Path::new(&at(name))) == 0o644));
        for made in [
            "bad.trc.not-assessed.txt",
            "monday.plumbrise/report.pdf",
            "results",
            "archive/index.sqlite",
            "archive/lock",
            "restored/index.sqlite",
        ] {
            assert!(place.0.path().join(made).exists(), "{made}");
        }
        // Not to be written again.
        let objects = plumbrise::files::files_in(&place.0.path().join("archive/files"));
        let objects = objects.expect("a folder");
        let object = |name: &String| place.0.path().join("archive/files").join(name);
        assert!(objects.len() > 5 && objects.iter().all(|name| mode(&object(name)) == 0o400));
    }
}

/// The film is written by a library, in its own way.
#[test]
fn the_film_is_for_the_user_alone() {
    let session = common::session("drops_right");
    let clip = project("sample-clips/drops_right.mp4");
    for umask in ["000", "077"] {
        let place = Place::new();
        let (out, clip, session) = (place.at("out"), clip.display(), session.display());
        done(
            umask,
            &["reassess", "--out", &out, "--clip", &clip.to_string(), &session.to_string()],
        );
        assert!(Path::new(&out).join("annotated.mp4").exists());
        assert_eq!(open_to_others(place.0.path(), &[]), [], "umask {umask}");
    }
}

/// The notes of a review.
fn notes(session: &str) -> Vec<String> {
    let path = Path::new(session).join("review.json");
    if !path.exists() {
        return Vec::new();
    }
    let review = json(&path);
    let said = review["amendments"].as_array().expect("amendments");
    said.iter().map(|a| a["text"].as_str().expect("a note").to_owned()).collect()
}

fn outcome(child: Child) -> Output {
    child.wait_with_output().expect("a process")
}

#[test]
fn of_many_who_review_at_once_nothing_is_lost() {
    let (place, session) = Place::with_session();
    let before = place.names();
    let all: Vec<String> = (0..30).map(|n| format!("note {n}")).collect();
    let running: Vec<Child> =
        all.iter().map(|note| start(&["review", &session, "--by", "M3", "--note", note])).collect();
    for child in running {
        let output = outcome(child);
        assert!(output.status.success(), "{}", errors(&output));
    }
    let kept = notes(&session);
    assert_eq!(kept.len(), all.len());
    assert_eq!(BTreeSet::from_iter(kept), BTreeSet::from_iter(all));
    let review = json(&Path::new(&session).join("review.json"));
    let times = review["amendments"].as_array().expect("amendments").iter();
    let times: Vec<jiff::Timestamp> =
        times.map(|a| a["at"].as_str().expect("a time").parse().expect("RFC 3339")).collect();
    assert!(times.is_sorted());
    assert_eq!(place.names(), before);
}

/// Whoever judges the session again has looked whether it was reviewed before somebody did.
#[test]
fn a_review_made_meanwhile_is_not_replaced() {
    let (place, session) = Place::with_session();
    let (clip, review) = (place.at("monday.trc"), Path::new(&session).join("review.json"));
    let reassess = [&["reassess"], &QUICK[..], &[session.as_str()]].concat();
    let assess = [&["assess", "--force"], &QUICK[..], &[clip.as_str()]].concat();
    let takes = duration(|| done("022", &reassess));
    let (mut refused, mut too_late) = (0, 0);
    for round in 0..40 {
        let judging = start(if round % 2 == 0 { &reassess } else { &assess });
        sleep(takes.mul_f64(f64::from(round) / 40.0));
        let said = outcome(start(&["review", &session, "--by", "M3", "--note", "seen"]));
        assert!(said.status.success(), "{}", errors(&said));
        let judged = outcome(judging);
        match judged.status.success() {
            true => too_late += 1,
            false => {
                assert!(errors(&judged).contains("has been reviewed"), "{}", errors(&judged));
                refused += 1;
            }
        }
        assert_eq!(notes(&session), ["seen"], "round {round}");
        let shown = outcome(start(&["review", &session, "--json"]));
        assert!(shown.status.success(), "{}", errors(&shown));
        fs::remove_file(&review).expect("removed");
    }
    println!("of 40 reviews {refused} came before the end of the judging, {too_late} after it");
    assert!(refused > 0, "else it would prove nothing");
}

/// How long it takes, the middle of five.
fn duration(run: impl Fn()) -> Duration {
    let mut times: Vec<Duration> = (0..5)
        .map(|_| {
            let start = Instant::now();
            run();
            start.elapsed()
        })
        .collect();
    times.sort();
    times[2]
}

/// SIGKILL at moments spread over the whole run of judging again and of reviewing: what was
/// there stays whole with its review, and the next command leaves nothing hidden.
#[test]
fn killed_at_any_moment_a_session_stays_whole() {
    const MOMENTS: u32 = 60;
    let (place, session) = Place::with_session();
    let names = place.names();
    let files = || plumbrise::files::files_in(Path::new(&session)).expect("a session");
    let of_a_session = files();
    let document = Path::new(&session).join("assessment.json");
    let assessment = || fs::read_to_string(&document).expect("the session is there");
    let note =
        |text: &str| ["review", &session, "--by", "M3", "--note", text].map(str::to_owned).to_vec();
    let reassess = [&["reassess"], &QUICK[..], &[session.as_str()]].concat();
    let reassess: Vec<String> = reassess.into_iter().map(str::to_owned).collect();
    let (mut hit, mut left) = (0, 0);
    let mut kill_at_moments = |command: &dyn Fn(u32) -> Vec<String>| {
        let words = |n| command(n);
        let run = |n| {
            let words = words(n);
            start(&words.iter().map(String::as_str).collect::<Vec<_>>())
        };
        let takes = duration(|| assert!(outcome(run(MOMENTS)).status.success()));
        let mut ended = Vec::new();
        for n in 0..MOMENTS {
            let mut child = run(n);
            sleep(takes.mul_f64(1.2 * f64::from(n) / f64::from(MOMENTS)));
            child.kill().expect("it can be killed");
            let status = outcome(child).status;
            match status.code() {
                None => hit += 1,
                Some(code) => {
                    assert_eq!(code, 0, "it ends well or not at all");
                    ended.push(n);
                }
            }
            left += usize::from(place.names() != names);
            assert!(assessment().ends_with("}\n"), "moment {n}: whole");
        }
        ended
    };

    kill_at_moments(&|_| reassess.clone());
    assert_eq!(files(), of_a_session);
    let judged = assessment();
    let ended = kill_at_moments(&|n| note(&format!("note {n}")));
    let said = notes(&session);
    // What a killed one said may be there or not.
    let there = |n: &u32| said.contains(&format!("note {n}"));
    assert!(ended.iter().all(there), "{ended:?}: {said:?}");
    assert_eq!(said.iter().filter(|note| *note == &format!("note {MOMENTS}")).count(), 5);

    let last = note("last");
    done("022", &last.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!(place.names(), names, "nothing is left over");
    assert_eq!(notes(&session)[..], [&said[..], &["last".to_owned()]].concat()[..]);
    let reviewed: BTreeSet<String> =
        of_a_session.into_iter().chain(["review.json".to_owned()]).collect();
    assert_eq!(BTreeSet::from_iter(files()), reviewed);
    assert_eq!(assessment(), judged);
    println!("of {} moments {hit} hit a running command, {left} left something", 2 * MOMENTS);
    assert!(hit > 30 && left > 5, "else it would prove nothing: {hit} hit, {left} left something");
}

/// Every command that writes in a folder tidies up there what killed ones have left.
#[test]
fn whoever_writes_next_tidies_up() {
    let (place, session) = Place::with_session();
    let names = place.names();
    let told = format!("{session}=2026-05-04");
    let (clip, archive) = (place.at("monday.trc"), place.at("archive"));
    done("022", &["archive", "add", &session, "--person", "K7-M2", "--archive", &archive]);
    done("022", &["archive", "backup", &place.at("kept.tar"), "--archive", &archive]);
    let own = ["archive".to_owned(), "kept.tar".to_owned()];
    let names: BTreeSet<String> = names.into_iter().chain(own).collect();
    for words in [
        &["assess", "--force", "--no-html", "--no-pdf", &clip][..],
        &["reassess", "--no-html", "--no-pdf", &session],
        &["export", &session, "--as", "csv", "--out", &place.at("out")],
        &["trend", "--out", &place.at("out"), "--sessions", &told],
        &["archive", "backup", &place.at("out"), "--archive", &archive],
        &["archive", "restore", &place.at("kept.tar"), &place.at("out")],
        &["watch", "--once", "--settle", "0.1", "--every", "0.1", &place.at("")],
        &["review", &session, "--by", "M3", "--note", "seen"],
    ] {
        let hidden = place.0.path().join(".plumbrise-unfinished-0123456789abcdef");
        for made in ["made/annotated.mp4", "made"] {
            let made = hidden.join(made);
            fs::create_dir_all(made.parent().expect("a folder")).expect("made");
            if !made.exists() {
                fs::write(made, "somebody's knee").expect("written");
            }
        }
        fs::write(hidden.with_extension("lock"), "").expect("written");
        done("022", words);
        let out = place.0.path().join("out");
        let _ = fs::remove_dir_all(&out).or_else(|_| fs::remove_file(&out));
        assert_eq!(place.names(), names, "{words:?}");
    }
}

/// As a process leaves it that was killed where two folders cannot be exchanged in one step.
#[test]
fn whoever_opens_a_session_brings_it_back() {
    let (place, session) = Place::with_session();
    done("022", &["review", &session, "--by", "M3", "--note", "seen"]);
    let (names, clip) = (place.names(), place.at("monday.trc"));
    let told = format!("{session}=2026-05-04");
    for words in [
        &["review", &session][..],
        &["review", &session, "--by", "M3", "--note", "again"],
        &["export", &session, "--as", "csv", "--out", &place.at("out")],
        &["trend", "--sessions", &told],
        &["assess", &clip, &clip],
        &["reassess", &session, "--out", &place.at("out")],
        &["archive", "add", &session, "--person", "K7-M2", "--archive", &place.at("out")],
    ] {
        let hidden = place.0.path().join(".plumbrise-unfinished-0123456789abcdef");
        fs::create_dir_all(hidden.join("aside")).expect("made");
        fs::create_dir_all(hidden.join("made")).expect("made");
        fs::rename(&session, hidden.join("aside/monday.plumbrise")).expect("moved");
        fs::write(hidden.with_extension("lock"), "").expect("written");
        done("022", words);
        let _ = fs::remove_dir_all(place.at("out"));
        assert_eq!(place.names(), names, "{words:?}");
        assert_eq!(notes(&session)[0], "seen");
    }
    // Nor is it replaced as if there were none.
    let hidden = place.0.path().join(".plumbrise-unfinished-0123456789abcdef");
    fs::create_dir_all(hidden.join("aside")).expect("made");
    fs::create_dir_all(hidden.join("made")).expect("made");
    fs::rename(&session, hidden.join("aside/monday.plumbrise")).expect("moved");
    let output = outcome(start(&["assess", "--force", &clip]));
    assert!(errors(&output).contains("has been reviewed"), "{}", errors(&output));
    assert_eq!((notes(&session)[0].as_str(), place.names()), ("seen", names));
}
