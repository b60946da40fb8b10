//! Many clips, and folders that are watched. Most clips are marker files of a movement in
//! closed form (two rises, by their making), which need no network.

mod common;

use std::collections::BTreeMap;
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Output, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant, SystemTime};

use common::markers::{made, sets};
use common::{errors, json, plumbrise, project};
use plumbrise::pose::{Assets, Networks};
use serde_json::Value;

const QUICK: [&str; 3] = ["--no-video", "--no-html", "--no-pdf"];

struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn file(&self, name: &str, content: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path().join(name);
        fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        fs::write(&path, content).expect("written");
        path
    }

    fn has(&self, name: &str) -> bool {
        self.path().join(name).exists()
    }

    /// Every file below, with its content's checksum; finished sessions left out.
    fn all_but_sessions(&self) -> BTreeMap<PathBuf, String> {
        let mut found = BTreeMap::new();
        let mut folders = vec![self.path().to_path_buf()];
        while let Some(folder) = folders.pop() {
            for entry in fs::read_dir(folder).expect("a folder") {
                let path = entry.expect("an entry").path();
                if !path.is_dir() {
                    let sha256 = plumbrise::files::sha256(&path).expect("readable");
                    found.insert(path, sha256);
                } else if path.extension().is_none_or(|e| e != "plumbrise") {
                    folders.push(path);
                }
            }
        }
        found
    }

    /// When each finished session's document was written.
    fn sessions(&self) -> BTreeMap<PathBuf, SystemTime> {
        let entries = fs::read_dir(self.path()).expect("a folder");
        entries
            .map(|e| e.expect("an entry").path())
            .filter(|path| path.extension().is_some_and(|e| e == "plumbrise"))
            .filter_map(|session| {
                let document = session.join("assessment.json");
                let written = fs::metadata(&document).ok()?.modified().expect("a time");
                Some((document, written))
            })
            .collect()
    }
}

/// Two rises.
fn markers() -> String {
    made(&sets(2), 0.0)
}

fn assess(arguments: &[&str], named: &[&Path]) -> Output {
    plumbrise().arg("assess").args(arguments).args(named).output().expect("it runs")
}

fn status(output: &Output) -> i32 {
    output.status.code().expect("it ends by itself")
}

fn printed(output: &Output) -> String {
    let words = errors(output);
    assert!(!words.contains("panicked") && !words.contains("fault at"), "{words}");
    String::from_utf8(output.stdout.clone()).expect("UTF-8")
}

#[test]
fn a_folder_goes_on_past_bad_clips_and_does_nothing_twice() {
    let place = Place::new();
    place.file("good.trc", markers());
    place.file("short.TRC", made(&sets(1), 0.0));
    place.file("bad.trc", "no markers");
    place.file("picture.mp4", fs::read(project("tests/golden/pose/seated.png")).expect("read"));
    // None of these is a clip to assess.
    for name in [
        "notes.txt",
        "picture.png",
        ".hidden.trc",
        "~open.trc",
        "a.trc.part",
        "annotated.mp4",
        "old.plumbrise/motion.trc",
        "named-freely/motion.trc",
        "sub/inner.trc",
    ] {
        place.file(name, markers());
    }
    place.file("named-freely/assessment.json", "{}");
    let before = place.all_but_sessions();

    let first = assess(&QUICK, &[place.path()]);
    let table = printed(&first);
    assert_eq!(status(&first), 3, "{table}{}", errors(&first));
    let rows: Vec<Vec<&str>> =
        table.lines().take(5).map(|line| line.split_whitespace().collect()).collect();
    assert_eq!(rows[0][..3], ["Clip", "Leg", "Exercise"], "{table}");
    let names: Vec<&str> = rows[1..].iter().map(|row| row[0]).collect();
    assert_eq!(names, ["bad.trc", "good.trc", "picture.mp4", "short.TRC"], "by name: {table}");
    assert!(rows[1].contains(&"failed") && rows[3].contains(&"failed"), "{table}");
    for (row, reps) in [(&rows[2], "2"), (&rows[4], "1")] {
        let at = row.iter().position(|word| *word == "done").expect("done");
        assert_eq!(row[at - 2], reps, "{table}");
    }
    assert!(table.contains("still picture"), "{table}");
    assert!(table.contains("4 clips: 2 done, 2 failed. 3 reps, "), "{table}");
    assert!(errors(&first).matches("hint: ").count() == 2, "{}", errors(&first));
    assert_eq!(place.all_but_sessions(), before, "nothing else is changed");

    let sessions = place.sessions();
    assert_eq!(sessions.len(), 2);
    let second = assess(&QUICK, &[place.path()]);
    assert!(printed(&second).contains("2 done before, 2 failed"), "{}", printed(&second));
    assert_eq!(place.sessions(), sessions);

    let third = assess(&[&QUICK[..], &["--force", "--recursive"]].concat(), &[place.path()]);
    assert!(printed(&third).contains("5 clips: 3 done, 2 failed"), "{}", printed(&third));
    assert!(place.has("sub/inner.plumbrise"));
    assert!(place.sessions().iter().filter(|(at, time)| sessions[*at] != **time).count() == 2);
}

#[test]
fn a_folder_of_results_of_something_else_is_kept() {
    let place = Place::new();
    place.file("a.trc", markers());
    place.file("b.trc", markers());
    assert_eq!(status(&assess(&QUICK, &[place.path()])), 0);
    // The clip is another one now; the results are not.
    place.file("a.trc", made(&sets(3), 0.0));
    let sessions = place.sessions();
    let again = assess(&QUICK, &[place.path()]);
    assert_eq!(status(&again), 1);
    assert!(errors(&again).contains("does not hold results of this very clip"));
    assert!(errors(&again).contains("hint: move that folder away"));
    assert_eq!(place.sessions(), sessions);
}

/// Names as long as a drive takes them: with an ending of ours they would be too long.
#[test]
fn the_longest_names_have_their_results_and_notes() {
    let place = Place::new();
    // 255 bytes; the last letter but the ending is all that tells two of them apart.
    let names: Vec<String> = ["a", "ü", "膝", "🦵"]
        .iter()
        .flat_map(|letter| {
            let room = 255 - "1.trc".len();
            let start = letter.repeat(room / letter.len()) + &"-".repeat(room % letter.len());
            ["1.trc", "2.trc"].map(|end| start.clone() + end)
        })
        .collect();
    for name in &names {
        assert_eq!(name.len(), 255);
        place.file(name, markers());
    }
    let one = assess(&QUICK, &[&place.path().join(&names[0])]);
    assert_eq!(status(&one), 0, "{}", errors(&one));
    let all = assess(&QUICK, &[place.path()]);
    assert_eq!(status(&all), 0, "{}", errors(&all));
    assert!(printed(&all).contains("7 done, 1 done before"), "{}", printed(&all));
    let sessions = place.sessions();
    assert_eq!(sessions.len(), names.len(), "none in the place of another");

    // What cannot be assessed gets its note, and is known by it.
    names.iter().for_each(|name| drop(place.file(name, "no markers")));
    let once = || {
        plumbrise()
            .args(["watch", "--once", "--settle", "0.1", "--every", "0.1"])
            .args(QUICK)
            .arg(place.path())
            .output()
            .expect("it runs")
    };
    sessions.keys().for_each(|document| {
        fs::remove_dir_all(document.parent().expect("a session")).expect("removed");
    });
    assert_eq!(status(&once()), 3);
    let notes = || {
        let files = place.all_but_sessions().into_keys();
        files.filter(|path| path.to_string_lossy().ends_with(".not-assessed.txt")).count()
    };
    assert_eq!(notes(), names.len());
    let again = once();
    assert_eq!(status(&again), 0, "{}", errors(&again));
    names.iter().for_each(|name| drop(place.file(name, markers())));
    assert_eq!((status(&once()), notes()), (0, 0));
    assert_eq!(place.sessions().len(), names.len());
}

#[test]
fn results_that_would_go_to_one_place_are_refused_before_the_work() {
    let place = Place::new();
    let [a, b] = ["monday/knee.trc", "friday/Knee.trc"].map(|name| place.file(name, markers()));
    let out = place.path().join("results");
    let out_name = out.to_str().expect("a name");
    let clash = assess(&["--out", out_name], &[&a, &b]);
    assert_eq!(status(&clash), 2);
    assert!(errors(&clash).contains("would both go to") && errors(&clash).contains("hint: "));
    assert!(!out.exists());
    // One clip named twice is one clip.
    let twice = place.path().join("monday");
    let fine = assess(&[&QUICK[..], &["--out", out_name]].concat(), &[&a, &twice]);
    assert!(printed(&fine).contains("1 clip: 1 done"), "{}", printed(&fine));
    assert!(out.join("knee.plumbrise/assessment.json").exists());
    // A film and a marker file of one name.
    place.file("monday/knee.mp4", "no film");
    assert_eq!(status(&assess(&[], &[&twice])), 2);
}

#[test]
fn lines_for_programs() {
    let place = Place::new();
    place.file("good.trc", markers());
    place.file("bad.trc", "no markers");
    let output = assess(&[&QUICK[..], &["--json"]].concat(), &[place.path()]);
    assert_eq!(status(&output), 3);
    let lines: Vec<Value> = printed(&output)
        .lines()
        .map(|line| serde_json::from_str(line).expect("a line of JSON"))
        .collect();
    assert_eq!(lines.len(), 2);
    let of = |name: &str| {
        let ends = |line: &&Value| line["clip"].as_str().expect("a name").ends_with(name);
        lines.iter().find(ends).expect("its line")
    };
    assert_eq!(
        (&of("bad.trc")["state"], &of("bad.trc")["summary"]),
        (&"failed".into(), &Value::Null)
    );
    assert!(of("bad.trc")["why"].is_string());
    let good = of("good.trc");
    assert_eq!((&good["state"], &good["summary"]["reps"]), (&"done".into(), &2.into()));
    let document =
        json(&Path::new(good["session"].as_str().expect("a folder")).join("assessment.json"));
    assert_eq!(document["clip"]["sha256"], good["summary"]["clip_sha256"]);
}

/// Waits until `done`, which a busy computer may take a while for.
fn wait_until(what: &str, mut done: impl FnMut() -> bool) {
    let end = Instant::now() + Duration::from_secs(60);
    while !done() {
        assert!(Instant::now() < end, "{what}: not within a minute");
        sleep(Duration::from_millis(50));
    }
}

fn start(arguments: &[&str], folder: &Path) -> Child {
    std::process::Command::new(assert_cmd::cargo::cargo_bin("plumbrise"))
        .env("PLUMBRISE_MODELS", project("models"))
        .env("PLUMBRISE_ONNXRUNTIME", project("runtime/libonnxruntime.so"))
        .args(arguments)
        .arg(folder)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts")
}

#[cfg(unix)]
fn signal(child: &Child, name: &str) {
    let kill = format!("kill -{name} {}", child.id());
    assert!(std::process::Command::new("sh").args(["-c", &kill]).status().expect("sh").success());
}

/// Killed, or ended by Ctrl-C: the same command goes on, and nothing half written counts.
#[cfg(unix)]
#[test]
fn an_interrupted_run_goes_on_where_it_was() {
    let place = Place::new();
    for n in 0..12 {
        place.file(&format!("clip-{n:02}.trc"), made(&sets(2 + n % 3), 0.0));
    }
    let clips = place.all_but_sessions();
    let mut known = BTreeMap::new();
    for (name, ends_with) in [("KILL", None), ("INT", Some(130))] {
        let before = known.len();
        // With page and paper, so that there is something to break off.
        let mut child = start(&["assess", "--jobs", "2"], place.path());
        wait_until("some are done", || place.sessions().len() >= before + 3);
        signal(&child, name);
        assert_eq!(child.wait().expect("it ends").code(), ends_with);
        let sessions = place.sessions();
        assert!(sessions.len() < 12, "it was too quick to be interrupted");
        assert!(known.iter().all(|(at, time)| sessions.get(at) == Some(time)), "not done twice");
        for document in sessions.keys() {
            assert!(json(document)["reps"].is_array(), "whole");
            assert!(document.with_file_name("report.pdf").exists(), "whole");
        }
        known = sessions;
    }
    let last = assess(&QUICK, &[place.path()]);
    assert_eq!(status(&last), 0, "{}", errors(&last));
    let done_before = format!("{} done, {} done before", 12 - known.len(), known.len());
    assert!(printed(&last).contains(&done_before), "{}", printed(&last));
    let sessions = place.sessions();
    assert!(sessions.len() == 12 && known.iter().all(|(at, time)| sessions[at] == *time));
    assert_eq!(place.all_but_sessions(), clips, "what the killed run left is swept away");
}

/// Networks are loaded side by side, and again later, as a watcher does for every clip:
/// ONNX Runtime allows a process one environment.
#[test]
fn networks_can_be_loaded_again_and_side_by_side() {
    let library = project("runtime/libonnxruntime.so");
    let assets = Assets::find(Some(&project("models")), Some(&library)).expect("found");
    let load = || Networks::load(&assets, 1).map(drop).expect("loaded");
    std::thread::scope(|scope| (0..3).for_each(|_| drop(scope.spawn(load))));
    load();
}

/// The same numbers whether clips are assessed side by side or one after the other.
#[test]
fn clips_side_by_side_give_the_same_numbers() {
    let place = Place::new();
    for (clip, share) in [("yaw_plus_5", 55), ("toes_in", 55)] {
        let whole = fs::read(project(&format!("sample-clips/{clip}.mp4"))).expect("a clip");
        place.file(&format!("{clip}.mp4"), &whole[..whole.len() * share / 100]);
    }
    place.file("markers.trc", markers());
    let [alone, beside] = ["1", "2"].map(|jobs| {
        let out = place.path().join(jobs);
        let out_name = out.to_str().expect("a name");
        let options = [&QUICK[..], &["--jobs", jobs, "--out", out_name]].concat();
        let output = assess(&options, &[place.path()]);
        assert_eq!(status(&output), 0, "{}", errors(&output));
        out
    });
    for clip in ["yaw_plus_5", "toes_in", "markers"] {
        let folder = format!("{clip}.plumbrise");
        let mut files = 0;
        for entry in fs::read_dir(alone.join(&folder)).expect("a session") {
            let file = entry.expect("an entry").path();
            let other = beside.join(&folder).join(file.file_name().expect("a name"));
            assert!(fs::read(&file).expect("read") == fs::read(&other).expect("read"), "{other:?}");
            files += 1;
        }
        assert!(files >= 5, "{clip}: {files} files");
    }
}

/// A watcher at work on a folder, and the lines it says.
#[cfg(unix)]
struct Watcher {
    child: Child,
    lines: std::sync::mpsc::Receiver<String>,
    said: Vec<String>,
}

#[cfg(unix)]
impl Watcher {
    fn start(folder: &Path, settle: &str) -> Self {
        let options = [&["watch", "--every", "0.2", "--settle", settle][..], &QUICK].concat();
        let mut child = start(&options, folder);
        let out = BufReader::new(child.stdout.take().expect("its output"));
        let (tell, lines) = std::sync::mpsc::channel();
        std::thread::spawn(move || {
            out.lines().map_while(Result::ok).try_for_each(|line| tell.send(line))
        });
        let mut watcher = Self { child, lines, said: Vec::new() };
        watcher.hear("watching");
        watcher
    }

    /// Waits for a line that says `part`.
    fn hear(&mut self, part: &str) -> String {
        loop {
            let line = self.lines.recv_timeout(Duration::from_secs(60));
            let line = line.unwrap_or_else(|_| panic!("no «{part}» after {:?}", self.said));
            self.said.push(line.clone());
            if line.contains(part) {
                return line;
            }
        }
    }

    /// Ends it in order; gives everything it said.
    fn end(mut self) -> Vec<String> {
        signal(&self.child, "TERM");
        assert_eq!(self.child.wait().expect("it ends").code(), Some(0));
        self.said.extend(self.lines.iter());
        self.said
    }
}

#[cfg(unix)]
#[test]
fn a_clip_that_grows_is_left_alone_until_it_is_whole() {
    let place = Place::new();
    place.file("notes.txt", "mine");
    let mut watcher = Watcher::start(place.path(), "3");
    let whole = markers();
    let path = place.path().join("grows.trc");
    // Any piece of it would do as a shorter recording.
    let mut file = fs::File::create(&path).expect("created");
    for piece in whole.as_bytes().chunks(whole.len() / 20) {
        file.write_all(piece).and_then(|()| file.sync_all()).expect("written");
        sleep(Duration::from_millis(200));
        assert!(!place.has("grows.plumbrise"), "touched before it was whole");
    }
    // As browsers do: another name until all is there.
    let part = place.file("loaded.trc.part", &whole);
    watcher.hear("grows.trc: ");
    let document = json(&place.path().join("grows.plumbrise/assessment.json"));
    assert_eq!(document["clip"]["sha256"], plumbrise::files::sha256(&path).expect("read"));
    assert_eq!(document["set"]["reps"], 2);
    assert!(!place.has("loaded.plumbrise"));
    fs::rename(part, place.path().join("loaded.trc")).expect("renamed");
    watcher.hear("loaded.trc: ");
    let said = watcher.end();
    assert_eq!(said.len(), 3, "one line a clip: {said:?}");
    let clock = |line: &String| {
        let time: Vec<&str> = line.split("  ").next().unwrap_or("").split(':').collect();
        time.len() == 3 && time.iter().all(|part| part.parse::<u8>().is_ok_and(|n| n < 60))
    };
    assert!(said.iter().all(clock), "{said:?}");
    let mut names: Vec<_> = fs::read_dir(place.path())
        .expect("a folder")
        .map(|e| e.expect("an entry").file_name().into_string().expect("a name"))
        .collect();
    names.sort();
    let expected = ["grows.plumbrise", "grows.trc", "loaded.plumbrise", "loaded.trc", "notes.txt"];
    assert_eq!(names, expected);
}

#[cfg(unix)]
#[test]
fn a_watcher_notes_what_failed_tries_again_after_a_change_and_remembers() {
    let place = Place::new();
    place.file("good.trc", markers());
    place.file("bad.trc", "no markers");
    place.file("notes.txt", "mine");
    let before = place.all_but_sessions();
    let mut watcher = Watcher::start(place.path(), "0.5");
    watcher.hear("bad.trc: not assessed: ");
    watcher.hear("good.trc: 2 of 2 reps were clean");
    let note = place.path().join("bad.trc.not-assessed.txt");
    let text = fs::read_to_string(&note).expect("a note");
    assert!(text.contains("Why: ") && text.contains("What to do: "), "{text}");

    let second = plumbrise().arg("watch").arg(place.path()).output().expect("it runs");
    assert_eq!(status(&second), 1);
    assert!(errors(&second).contains("is being watched already"), "{}", errors(&second));
    assert_eq!(watcher.end().len(), 3);

    // Again: nothing is done twice, nothing else was changed.
    let sessions = place.sessions();
    let mut after = place.all_but_sessions();
    let note_before = after.remove(&note);
    assert_eq!(after, before);
    let mut watcher = Watcher::start(place.path(), "0.5");
    watcher.hear("1 clip assessed before; 1 could not be assessed and did not change");
    assert_eq!(place.sessions(), sessions);
    assert_eq!(place.all_but_sessions().get(&note).cloned(), note_before);
    // The clip is replaced by a good one.
    place.file("bad.trc", markers());
    watcher.hear("bad.trc: 2 of 2 reps were clean");
    wait_until("the note is gone", || !note.exists());
    // Results that were taken away are made again.
    fs::remove_dir_all(place.path().join("good.plumbrise")).expect("removed");
    watcher.hear("good.trc: 2 of 2 reps were clean");

    // The drive goes, and comes back with one clip more.
    let away = place.path().with_extension("away");
    fs::rename(place.path(), &away).expect("renamed");
    watcher.hear("cannot be reached");
    fs::write(away.join("more.trc"), markers()).expect("written");
    fs::rename(&away, place.path()).expect("renamed");
    watcher.hear("is there again");
    watcher.hear("more.trc: ");
    watcher.end();
    assert!(!place.has(".plumbrise-watch.lock"));
}

#[test]
fn a_single_look_at_a_folder_ends_with_the_worst_status() {
    let place = Place::new();
    place.file("good.trc", markers());
    let once = || {
        plumbrise()
            .args(["watch", "--once", "--settle", "0.3", "--every", "0.2"])
            .args(QUICK)
            .arg(place.path())
            .output()
            .expect("it runs")
    };
    assert_eq!(status(&once()), 0);
    place.file("bad.trc", "no markers");
    assert_eq!(status(&once()), 3);
    // What is noted already is not tried.
    let third = once();
    assert_eq!(status(&third), 0, "{}", errors(&third));
    assert!(!place.has(".plumbrise-watch.lock"));
    let nowhere = plumbrise().args(["watch", "no-such-folder"]).output().expect("it runs");
    assert_eq!(status(&nowhere), 3);
}
