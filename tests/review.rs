//! A clinician's review: what it changes, what it keeps, and what it refuses.

mod common;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use common::markers::{DESCENT_S, RISE_S, made};
use common::{errors, json, plumbrise, reported};
use plumbrise::session::Session;
use serde_json::Value;
use tempfile::TempDir;

const CLIP: &str = "knee_in_left";

/// A session with all reports, to be changed.
fn own_session() -> (TempDir, PathBuf) {
    let place = tempfile::tempdir().expect("a folder");
    let folder = place.path().join("monday.plumbrise");
    fs::create_dir(&folder).expect("a folder");
    for file in fs::read_dir(reported(CLIP)).expect("a session") {
        let file = file.expect("a file").path();
        fs::copy(&file, folder.join(file.file_name().expect("a name"))).expect("copied");
    }
    (place, folder)
}

fn review(folder: &Path, arguments: &[&str]) -> Output {
    plumbrise().arg("review").arg(folder).args(arguments).output().expect("it runs")
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).split_whitespace().collect::<Vec<_>>().join(" ")
}

fn paper(folder: &Path) -> String {
    let mut reader = Command::new("pdftotext");
    let output = reader.arg("-q").arg(folder.join("report.pdf")).arg("-").output();
    String::from_utf8_lossy(&output.expect("poppler-utils").stdout)
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
}

fn faulted_and_clean(folder: &Path) -> (String, String) {
    let assessment = json(&folder.join("assessment.json"));
    let reps = assessment["reps"].as_array().expect("reps");
    let first = |judgement: &str| {
        let found = reps.iter().find(|rep| rep["judgement"] == judgement);
        found.expect("both kinds in this clip")["number"].to_string()
    };
    (first("faulted"), first("clean"))
}

#[test]
fn a_correction_stands_beside_the_programs_verdict() {
    let (_place, folder) = own_session();
    let before = fs::read(folder.join("assessment.json")).expect("a file");
    fs::write(folder.join("mine.txt"), "own words").expect("written");
    let count = |state: &str| -> usize {
        let reps = json(&folder.join("assessment.json"));
        let reps = reps["reps"].as_array().expect("reps");
        reps.iter().filter(|rep| rep["judgement"] == state).count()
    };
    let (faulted, clean) = faulted_and_clean(&folder);
    let total = count("clean") + count("faulted") + count("not_judged");
    let shown = said(&review(&folder, &[]));
    assert!(shown.contains("Not reviewed: the verdicts are the program's own."), "{shown}");
    assert!(!folder.join("review.json").exists(), "looking changes nothing");

    let judged =
        ["--by", "M3", "--rep", &faulted, "--judgement", "clean", "--note", "cloth, not the knee"];
    let output = review(&folder, &judged);
    assert!(output.status.success(), "{}", errors(&output));
    let shown = said(&output);
    // One more is clean than the program had counted.
    let headline = format!("{} of {total} reps were clean", count("clean") + 1);
    assert!(shown.contains(&headline), "{shown}");
    assert!(shown.contains("a review was begun and is not signed off"), "{shown}");
    assert!(shown.contains(&format!("M3: rep {faulted}: clean; the program said fault (")));

    let ending = ["--by", "M3", "--rep", &clean, "--judgement", "faulted", "--reasons", "drop"];
    assert!(review(&folder, &ending).status.success());
    let output = review(&folder, &["--by", "M3", "--sign-off"]);
    assert!(said(&output).contains("Reviewed and signed off by M3,"), "{}", said(&output));

    // What the program said is still there, byte by byte, and in both reports.
    assert_eq!(fs::read(folder.join("assessment.json")).expect("a file"), before);
    assert_eq!(fs::read_to_string(folder.join("mine.txt")).expect("kept"), "own words");
    let page = fs::read_to_string(folder.join("report.html")).expect("a page");
    for text in [page.split_whitespace().collect::<Vec<_>>().join(" "), paper(&folder)] {
        for wanted in [
            "Reviewed and signed off by M3,",
            "Changed in the review; the program said: fault (knee inward).",
            "Changed in the review; the program said: clean.",
            "Note: cloth, not the knee",
            "signed off.",
        ] {
            assert!(text.contains(wanted), "«{wanted}» is not in {text}");
        }
    }
    let pictures = |folder: &Path| {
        let page = fs::read_to_string(folder.join("report.html")).expect("a page");
        page.matches("<img ").count()
    };
    assert_eq!(pictures(&folder), pictures(&reported(CLIP)));
    assert!(pictures(&folder) > 0 && folder.join("annotated.mp4").exists());

    // Every amendment is kept, with who and when; a word after it opens the review again.
    let output = review(&folder, &["--by", "K9", "--note", "seen together with M3"]);
    assert!(said(&output).contains("a review was begun and is not signed off"));
    let kept = json(&folder.join("review.json"));
    let kept = kept["amendments"].as_array().expect("amendments");
    let what: Vec<&str> = kept.iter().filter_map(|a| a["what"].as_str()).collect();
    assert_eq!(what, ["rep", "rep", "sign_off", "note"]);
    let by: Vec<&str> = kept.iter().filter_map(|a| a["by"].as_str()).collect();
    assert_eq!(by, ["M3", "M3", "M3", "K9"]);
    let times: Vec<jiff::Timestamp> =
        kept.iter().map(|a| a["at"].as_str().expect("a time").parse().expect("RFC 3339")).collect();
    assert!(times.is_sorted());
    let printed: Value =
        serde_json::from_slice(&review(&folder, &["--json"]).stdout).expect("only JSON");
    assert_eq!(printed, json(&folder.join("review.json")));
}

#[test]
fn start_and_end_can_be_set() {
    let (_place, folder) = own_session();
    let assessment = json(&folder.join("assessment.json"));
    let rep = &assessment["reps"][0];
    let time = |name: &str| rep[name].as_f64().expect("a time");
    let (start, end) = (time("seat_off_s") + 0.1, time("seat_contact_s") - 0.2);
    let (start_told, end_told) = (format!("{start:.2}"), format!("{end:.2}"));
    let told = ["--by", "M3", "--rep", "1", "--start", &start_told, "--end", &end_told];
    let output = review(&folder, &told);
    assert!(output.status.success(), "{}", errors(&output));
    let Session { machine, in_force, .. } = Session::open(&folder).expect("readable");
    let after = &in_force.reps[0];
    let near = |value: Option<f64>, wanted: f64| {
        let value = value.expect("known");
        assert!((value - wanted).abs() < 0.006, "{value} is not {wanted}");
    };
    near(after.seat_off_s, start);
    near(after.rise_s, time("stand_s") - start);
    near(after.descent_s, end - time("descent_start_s"));
    assert_eq!(after.knee_offset_peak_cm, machine.reps[0].knee_offset_peak_cm);
    assert!(paper(&folder).contains("Start and end set in the review; the program had"));
}

#[test]
fn what_does_not_hold_is_refused_and_changes_nothing() {
    let (_place, folder) = own_session();
    let (faulted, clean) = faulted_and_clean(&folder);
    for (arguments, why) in [
        (vec!["--rep", "99", "--judgement", "clean"], "there is no rep 99"),
        (vec!["--rep", &clean, "--judgement", "faulted"], "needs one of a fault"),
        (vec!["--rep", &faulted, "--judgement", "not-judged"], "what was not seen"),
        (vec!["--rep", &clean, "--reasons", "drop"], "a clean rep has no reason"),
        (vec!["--rep", "1", "--start", "9000"], "within the clip"),
        (vec!["--rep", "1", "--start", "nan"], "within the clip"),
        (vec!["--rep", "2", "--end", "0.0"], "ends after it begins"),
        (vec!["--rep", "1"], "nothing was said"),
        (vec!["--note", "  "], "nothing was said"),
    ] {
        let output = review(&folder, &[&["--by", "M3"], &arguments[..]].concat());
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(errors(&output).contains(why), "{arguments:?}: {}", errors(&output));
    }
    let nobody = review(&folder, &["--rep", "1", "--note", "x"]);
    assert_eq!(nobody.status.code(), Some(2));
    assert!(errors(&nobody).contains("--by WHO is missing"));
    assert_eq!(review(&folder, &["--by", "M3", "--judgement", "clean"]).status.code(), Some(2));
    assert!(!folder.join("review.json").exists());
}

/// The review would be lost, or would speak of other reps.
#[test]
fn a_reviewed_session_is_not_replaced() {
    let (place, folder) = own_session();
    assert!(review(&folder, &["--by", "M3", "--sign-off"]).status.success());
    let output = plumbrise().arg("reassess").arg(&folder).output().expect("it runs");
    assert_eq!(output.status.code(), Some(1));
    assert!(errors(&output).contains("has been reviewed"), "{}", errors(&output));
    let elsewhere = place.path().join("again.plumbrise");
    let mut command = plumbrise();
    command.arg("reassess").arg(&folder).args(["--no-video", "--out"]).arg(&elsewhere);
    let output = command.output().expect("it runs");
    assert!(output.status.success(), "{}", errors(&output));
    assert!(!elsewhere.join("review.json").exists());

    // Under another assessment a review does not count.
    fs::copy(folder.join("review.json"), elsewhere.join("review.json")).expect("copied");
    let path = elsewhere.join("assessment.json");
    let changed = fs::read_to_string(&path).expect("a file").replacen("clean", "faulted", 1);
    fs::write(&path, changed).expect("written");
    let output = review(&elsewhere, &[]);
    assert_eq!(output.status.code(), Some(1));
    assert!(errors(&output).contains("speaks of another"), "{}", errors(&output));
}

/// Where a rep goes down first, the seat is reached before it is left.
#[test]
fn reps_from_stand_to_stand_can_be_reviewed() {
    let place = tempfile::tempdir().expect("a folder");
    let one = [(DESCENT_S, 0.0), (1.0, 0.0), (RISE_S, 1.0), (1.0, 1.0)];
    let pieces: Vec<_> =
        std::iter::once((1.0, 1.0)).chain(one.iter().copied().cycle().take(12)).collect();
    let clip = place.path().join("squats.trc");
    fs::write(&clip, made(&pieces, 1.0)).expect("written");
    let output = plumbrise().args(["assess", "--no-html"]).arg(&clip).output().expect("it runs");
    assert!(output.status.success(), "{}", errors(&output));
    let folder = place.path().join("squats.plumbrise");
    let machine = plumbrise::session::read_assessment(&folder).expect("readable");
    assert_eq!(machine.cycle, plumbrise::movement::repetition::Cycle::StandToStand);
    let rep = machine.reps[1].clone();
    let (on, off) = (rep.seat_contact_s.expect("known"), rep.seat_off_s.expect("known"));
    assert!(on < off);

    let said_so = |arguments: &[&str]| {
        let output = review(&folder, &[&["--by", "M3", "--rep", "2"], arguments].concat());
        assert!(output.status.success(), "{arguments:?}: {}", errors(&output));
    };
    said_so(&["--note", "seen"]);
    said_so(&["--judgement", "faulted", "--reasons", "drop"]);
    let (later, earlier) = (format!("{:.2}", off + 0.3), format!("{:.2}", on - 0.2));
    said_so(&["--start", &later, "--end", &earlier]);
    let before = format!("{:.2}", on - 0.4);
    let wrong = review(&folder, &["--by", "M3", "--rep", "2", "--start", &before]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(errors(&wrong).contains("reaches the seat (--end) before it"), "{}", errors(&wrong));

    let after = Session::open(&folder).expect("readable").in_force;
    let near = |value: Option<f64>, wanted: f64| {
        let value = value.expect("known");
        assert!((value - wanted).abs() < 0.011, "{value} is not {wanted}");
    };
    near(after.reps[1].seated_pause_s, off - on + 0.5);
    near(after.reps[1].rise_s, rep.rise_s.expect("known") - 0.3);
    near(after.reps[1].descent_s, rep.descent_s.expect("known") - 0.2);
    near(after.reps[0].cycle_s, machine.reps[0].cycle_s.expect("known") + 0.3);
    assert_eq!(after.reps[2].seated_pause_s, machine.reps[2].seated_pause_s);
    assert_eq!((after.set.clean, after.set.faulted), (2, 1));
    let shown = said(&review(&folder, &[]));
    assert!(
        shown.contains(&format!("leaves the seat at {later} s; reaches the seat at")),
        "{shown}"
    );
}
