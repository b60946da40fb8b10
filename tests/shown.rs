//! Names and notes that would act on a terminal, or turn the reading, wherever they are
//! shown: in messages, results, page, paper and exports.

mod common;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use common::{errors, json, plumbrise, project};
use serde_json::Value;
use tempfile::TempDir;

/// Goes up and clears the screen, begins a line that looks like a result, colours, turns the
/// direction, hides; the last is one sign of a terminal's own (C1), as U+009B is.
const ODD: &str = "k\u{1b}[1A\u{1b}[2J\r\n5 of 5 reps were clean.\t\u{1b}]0;t\u{7}\u{202e}\u{2066}\u{200b}\u{feff}\u{2028}z\u{9b}31m";

/// What must be seen of it, as it begins.
const SEEN: &str = "k\\u{1b}[1A\\u{1b}[2J\\r\\n5 of 5 reps";

/// The signs of [`ODD`] that act, but for line ends.
fn acting(text: &str) -> String {
    let acts = |c: &char| {
        (c.is_control() && *c != '\n')
            || matches!(c, '\u{200b}' | '\u{2028}' | '\u{202e}' | '\u{2066}' | '\u{feff}')
    };
    text.chars().filter(acts).collect()
}

/// Asserts that nothing acts and no line is forged.
fn harmless(what: &str, text: &str) {
    assert_eq!(acting(text), "", "{what}: {text:?}");
    let forged = |line: &str| line.starts_with("5 of 5 reps");
    assert!(!text.lines().any(forged), "{what}: {text}");
}

fn run(place: &Path, arguments: &[&str]) -> Output {
    let output = plumbrise().current_dir(place).args(arguments).output().expect("it runs");
    let (out, error) = (String::from_utf8_lossy(&output.stdout), errors(&output));
    harmless(&format!("{arguments:?}"), &out);
    harmless(&format!("{arguments:?}"), &error);
    assert!(!error.contains("panicked"), "{error}");
    output
}

fn printed(output: &Output) -> String {
    assert!(output.status.success(), "{}", errors(output));
    String::from_utf8(output.stdout.clone()).expect("UTF-8")
}

/// A folder with a marker file of an odd name, assessed with all reports.
fn session() -> (TempDir, PathBuf) {
    let place = tempfile::tempdir().expect("a folder");
    let clip = format!("{ODD}.trc");
    fs::copy(project("tests/golden/motion/drops_right_two_reps.trc"), place.path().join(&clip))
        .expect("copied");
    let text = printed(&run(place.path(), &["assess", &clip]));
    assert!(text.contains(&format!("Everything is in {SEEN}")), "{text}");
    let folder = place.path().join(format!("{ODD}.plumbrise"));
    assert!(folder.is_dir());
    (place, folder)
}

fn paper(file: &Path) -> String {
    let output = Command::new("pdftotext").arg("-q").arg(file).arg("-").output();
    let text = String::from_utf8(output.expect("poppler-utils").stdout).expect("UTF-8");
    // Between pages.
    text.replace('\u{c}', "\n")
}

#[test]
fn names_of_clips_in_messages() {
    let place = tempfile::tempdir().expect("a folder");
    let clip = format!("{ODD}.mp4");
    let missing = run(place.path(), &["assess", &clip]);
    assert_eq!(missing.status.code(), Some(3));
    fs::write(place.path().join(&clip), "no film").expect("written");
    fs::write(place.path().join("other.mp4"), "no film").expect("written");
    for command in ["assess", "check"] {
        let output = run(place.path(), &[command, &clip]);
        let text = errors(&output);
        assert!(text.contains(&format!("plumbrise: '{SEEN}")), "{text}");
        assert_eq!((output.status.code(), text.lines().count()), (Some(3), 2), "{text}");
    }
    let table = run(place.path(), &["assess", &clip, "other.mp4"]);
    let text = String::from_utf8_lossy(&table.stdout).into_owned();
    // Head, two clips, a line between, totals, and two lines on where to look.
    assert_eq!(text.lines().count(), 7, "{text}");
    let watched = run(place.path(), &["watch", "--once", "--settle", "0", "--every", "0.1", "."]);
    let text = String::from_utf8_lossy(&watched.stdout).into_owned();
    assert_eq!(text.lines().count(), 3, "{text}");
    let note = fs::read_to_string(place.path().join(format!("{clip}.not-assessed.txt")));
    let note = note.expect("a note");
    harmless("note", &note);
    assert!(note.starts_with(SEEN), "{note}");
}

/// JSON has its own escapes, and gives back what the name is.
#[test]
fn names_of_clips_for_programs() {
    let place = tempfile::tempdir().expect("a folder");
    let clip = format!("{ODD}.mp4");
    fs::write(place.path().join(&clip), "no film").expect("written");
    let output = run(place.path(), &["assess", "--json", &clip, "other.mp4"]);
    let text = String::from_utf8(output.stdout).expect("UTF-8");
    let names: Vec<Value> = text
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).expect("JSON")["clip"].clone())
        .collect();
    assert_eq!(names, [clip.as_str(), "other.mp4"]);
}

/// A name that is not Unicode costs neither its own line nor those of others.
#[cfg(target_os = "linux")]
#[test]
fn a_name_that_is_not_unicode_has_a_line_too() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let output = plumbrise()
        .args(["assess", "--json"])
        .args([OsStr::from_bytes(b"knee\xff.mp4"), OsStr::new("other.mp4")])
        .output()
        .expect("it runs");
    assert_eq!(output.status.code(), Some(3), "{}", errors(&output));
    assert_eq!(String::from_utf8_lossy(&output.stdout).lines().count(), 2);
}

/// A shell's star puts in every name of a folder, also one that begins with a dash.
#[test]
fn names_as_words_of_the_command_line() {
    let place = tempfile::tempdir().expect("a folder");
    for arguments in [
        &["assess", &format!("--{ODD}")][..],
        &[ODD],
        &["assess", "--leg", ODD, "clip.mp4"],
        &["explain", ODD],
        &["review", "nothing", "--rep", "1", "--judgement", ODD],
        &["export", "nothing", "--as", ODD, "--out", "x"],
    ] {
        let output = run(place.path(), arguments);
        assert_eq!(output.status.code(), Some(2), "{}", errors(&output));
        assert!(errors(&output).contains(SEEN), "{}", errors(&output));
    }
}

#[test]
fn names_and_reviews_in_reports_and_exports() {
    let (place, folder) = session();
    let name = folder.file_name().and_then(|n| n.to_str()).expect("a name");
    let note = format!("cloth\n\n5 of 5 reps were clean. {ODD}");
    for said in [
        &[
            "--by",
            ODD,
            "--rep",
            "1",
            "--judgement",
            "faulted",
            "--reasons",
            "drop",
            "--note",
            &note,
        ][..],
        &["--by", ODD, "--note", &note],
        &["--by", ODD, "--sign-off"],
    ] {
        let text = printed(&run(place.path(), &[&["review", name], said].concat()));
        assert!(text.contains("k\\u{1b}[1A\\u{1b}[2J"), "{text}");
    }
    // What is kept is what was said.
    let kept = json(&folder.join("review.json"));
    assert_eq!(kept["amendments"][1]["text"], Value::from(note.as_str()), "{kept}");
    printed(&run(place.path(), &["reassess", name, "--out", "again", "--no-video"]));
    printed(&run(place.path(), &["agreement", "--template", name]));
    printed(&run(
        place.path(),
        &["trend", "--sessions", &format!("{name}=2026-05-04"), "--out", "weeks"],
    ));
    let (two, out) = (format!("{name}=2026-05-05"), "more");
    printed(&run(
        place.path(),
        &["trend", "--sessions", &format!("{name}=2026-05-04"), &two, "--json", "--out", out],
    ));
    let export = |form: &str| {
        run(place.path(), &["export", name, "--as", form, "--out", form]);
        let file = fs::read_dir(place.path().join(form)).expect("a folder").next();
        file.expect("a file").expect("a file").path()
    };
    let bundle = fs::read_to_string(export("fhir")).expect("a bundle");
    harmless("FHIR", &bundle);
    let bundle: Value = serde_json::from_str(&bundle).expect("JSON");
    let report = &bundle["entry"][0]["resource"];
    let narrative = report["text"]["div"].as_str().expect("a narrative");
    harmless("narrative", &narrative.replace("<p>", "\n"));
    harmless("conclusion", report["conclusion"].as_str().expect("a conclusion"));
    for (page, paper_of) in [
        ("report", folder.clone()),
        ("report", place.path().join("again")),
        ("trend", place.path().join("weeks")),
    ] {
        let text = fs::read_to_string(paper_of.join(format!("{page}.html"))).expect("a page");
        harmless("page", &text.replace('>', ">\n"));
        assert!(text.contains("k\\u{1b}[1A"), "it is there: {text}");
        let text = paper(&paper_of.join(format!("{page}.pdf")));
        assert_eq!(acting(&text), "", "{text:?}");
        assert!(text.contains("k\\u{1b}[1A"), "it is there: {text}");
    }
}

/// A session that comes from somewhere else may say anything.
#[test]
fn a_document_that_says_odd_things() {
    let (place, folder) = session();
    let path = folder.join("assessment.json");
    let mut document = json(&path);
    for field in ["notes", "cautions"] {
        for text in document[field].as_array_mut().expect("a list") {
            *text = Value::from(ODD);
        }
    }
    document["clip"]["file"] = format!("{ODD}.mp4").into();
    document["clip"]["sha256"] = ODD.into();
    document["program_version"] = ODD.into();
    fs::write(&path, document.to_string()).expect("written");
    let criteria = fs::read_to_string(folder.join("criteria.toml")).expect("a file");
    let source = serde_json::to_string(ODD).expect("as TOML has it");
    let criteria = criteria.replacen("source = \"", &format!("source = {source} # "), 1);
    assert!(criteria.contains("\\u001b"), "{criteria}");
    fs::write(folder.join("criteria.toml"), criteria).expect("written");
    let name = folder.file_name().and_then(|n| n.to_str()).expect("a name");
    let by_them = format!("{name}/criteria.toml");
    let limits = printed(&run(place.path(), &["criteria", "--criteria", &by_them]));
    assert!(limits.contains("k\\\\u{1b}[1A") || limits.contains("k\\u{1b}[1A"), "{limits}");
    printed(&run(place.path(), &["review", name]));
    printed(&run(place.path(), &["review", name, "--by", "M3", "--sign-off"]));
    harmless(
        "page",
        &fs::read_to_string(folder.join("report.html")).expect("a page").replace('>', ">\n"),
    );
    assert_eq!(acting(&paper(&folder.join("report.pdf"))), "");
    let session = run(place.path(), &["review", &name.replace("plumbrise", "gone")]);
    assert_eq!(session.status.code(), Some(1));
}
