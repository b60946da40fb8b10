//! The record as one uses it: assessed into the archive, followed, compared, reviewed and
//! handed on from there. Codes and persons are invented.

mod common;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

use common::{errors, json, plumbrise, session};
use serde_json::Value;
use tempfile::TempDir;

const PERSON: &str = "K7-M2";
/// Stands in the name of the clip that was assessed.
const NAME: &str = "Annabel-Sample";

struct Place(TempDir);

impl Place {
    /// Three sessions of one person: right leg in May and June, left leg in June.
    fn filled() -> Self {
        let place = Self(TempDir::new().expect("a folder"));
        for (clip, day) in [
            ("clean_right", "2026-05-04"),
            ("drops_right", "2026-06-04"),
            ("knee_in_left", "2026-06-04"),
        ] {
            let folder = place.named(clip);
            let folder = folder.to_str().expect("Unicode");
            place.said(&["archive", "add", folder, "--person", PERSON, "--recorded", day]);
        }
        place
    }

    fn archive(&self) -> PathBuf {
        self.0.path().join("archive")
    }

    /// A session of a clip that bears a name.
    fn named(&self, clip: &str) -> PathBuf {
        let folder = self.0.path().join(format!("{NAME}-{clip}.plumbrise"));
        fs::create_dir(&folder).expect("a folder");
        for file in fs::read_dir(session(clip)).expect("a session") {
            let file = file.expect("a file").path();
            fs::copy(&file, folder.join(file.file_name().expect("a name"))).expect("copied");
        }
        let path = folder.join("assessment.json");
        let mut assessment = json(&path);
        assessment["clip"]["file"] = format!("{NAME}.mp4").into();
        fs::write(&path, assessment.to_string()).expect("written");
        folder
    }

    fn run(&self, words: &[&str]) -> Output {
        let mut command = plumbrise();
        command.env("PLUMBRISE_ARCHIVE", self.archive()).args(words);
        command.output().expect("it runs")
    }

    /// What is printed, with single spaces.
    fn said(&self, words: &[&str]) -> String {
        let output = self.run(words);
        assert!(output.status.success(), "{words:?}: {}", errors(&output));
        let text = String::from_utf8_lossy(&output.stdout);
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    fn sessions(&self) -> Vec<Value> {
        let text = self.said(&["archive", "list", "--person", PERSON, "--json"]);
        serde_json::from_str(&text).expect("JSON")
    }

    fn id(&self, leg: &str, day: &str) -> String {
        let all = self.sessions();
        let found = all.iter().find(|s| {
            s["summary"]["leg"] == leg
                && s["recorded_at"].as_str().is_some_and(|at| at.starts_with(day))
        });
        found.expect("a session")["id"].as_str().expect("an id").to_owned()
    }
}

#[test]
fn an_assessment_is_kept_and_tells_what_changed() {
    let place = Place(TempDir::new().expect("a folder"));
    let points = session("drops_right").join("motion.trc");
    let points = points.to_str().expect("Unicode");
    let out = place.0.path().join("out");
    let out = out.to_str().expect("Unicode");
    let assess = ["assess", points, "--out", out, "--no-pdf", "--person", PERSON];
    let text = place.said(&assess);
    assert!(text.contains("Since last time On your right leg, rising on one leg, you did"));
    assert!(text.contains("There is no earlier day yet to compare it with."), "{text}");
    assert_eq!(place.sessions().len(), 1);
    // Markers do not tell when they were recorded.
    assert!(place.said(&["trend", PERSON]).contains("When it was filmed is not known of"));

    // With one of an earlier day there is something to compare.
    let earlier = session("clean_right");
    let earlier = earlier.to_str().expect("Unicode");
    place.said(&["archive", "add", earlier, "--person", PERSON, "--recorded", "2026-05-04"]);
    let text = place.said(&[&assess[..], &["--force"]].concat());
    let clean = |n: usize| place.sessions()[n]["summary"]["clean"].as_u64().expect("a count");
    let wanted = format!("you did {} clean reps this time and {} last time", clean(1), clean(0));
    assert!(text.contains(&wanted), "«{wanted}» is not in {text}");
    assert_eq!(place.sessions().len(), 2, "the same result is not kept twice");

    // With --json standard output stays JSON.
    let output = place.run(&[&assess[..], &["--force", "--json"]].concat());
    serde_json::from_slice::<Value>(&output.stdout).expect("only JSON");
    assert!(errors(&output).contains("Since last time"));

    let output = plumbrise().args(assess).env_remove("PLUMBRISE_ARCHIVE").output();
    assert_eq!(output.expect("it runs").status.code(), Some(2), "no archive was named");
}

#[test]
fn legs_and_weeks_come_from_the_archive() {
    let place = Place::filled();
    let trend = place.said(&["trend", PERSON]);
    assert!(trend.contains("4 May 2026") && trend.contains("Right leg, single-leg rise"));
    let document: Value = serde_json::from_str(&place.said(&["trend", PERSON, "--json"]))
        .expect("only JSON on standard output");
    assert_eq!(document["person"], PERSON);
    let kept: usize = document["series"]
        .as_array()
        .expect("series")
        .iter()
        .map(|series| series["sessions"].as_array().expect("sessions").len())
        .sum();
    assert_eq!(kept, 3);
    let (left, right) = (place.id("left", "2026-06"), place.id("right", "2026-06"));
    let compared = place.said(&["compare", &left, &right[..6], "--involved", "left"]);
    assert!(compared.contains(&format!("Left leg: {left}, 4 Jun 2026;")), "{compared}");
    let count = |leg: &str| {
        let all = place.sessions();
        let found = all.iter().rfind(|s| s["summary"]["leg"] == leg).expect("a session");
        found["summary"]["clean"].as_u64().expect("a count")
    };
    // 100 × involved / uninvolved ([Patterson2020], with both counts), worked here.
    let percent = (100.0 * count("left") as f64 / count("right") as f64).round();
    let wanted = format!("Clean reps {} {} {percent} %", count("left"), count("right"));
    assert!(compared.contains(&wanted), "«{wanted}» is not in {compared}");

    let nobody = place.run(&["trend", "Z9-Z9"]);
    assert_eq!(nobody.status.code(), Some(1));
    let mut command = plumbrise();
    let output = command.args(["trend", PERSON]).env_remove("PLUMBRISE_ARCHIVE").output();
    let output = output.expect("it runs");
    assert_eq!(output.status.code(), Some(2));
    assert!(errors(&output).contains("--archive DIR"), "{}", errors(&output));
}

#[test]
fn a_session_of_the_archive_is_reviewed_and_handed_on() {
    let place = Place::filled();
    let id = place.id("right", "2026-06");
    let before = place.sessions();
    let reps = before.iter().find(|s| s["id"] == *id).expect("it")["summary"]["clean"].clone();
    let assessment = json(&session("drops_right").join("assessment.json"));
    let all = assessment["reps"].as_array().expect("reps").iter();
    let faulted =
        all.clone().find(|rep| rep["judgement"] == "faulted").expect("one")["number"].to_string();
    place.said(&["review", &id, "--by", "M3", "--rep", &faulted, "--judgement", "clean"]);
    let text = place.said(&["review", &id, "--by", "M3", "--sign-off"]);
    assert!(text.contains("Reviewed and signed off by M3"), "{text}");
    let after = place.sessions();
    let summary = &after.iter().find(|s| s["id"] == *id).expect("it")["summary"];
    assert_eq!(summary["clean"].as_u64(), reps.as_u64().map(|n| n + 1));
    assert_eq!(summary["review"]["state"], "signed_off");
    assert!(place.said(&["archive", "verify"]).contains("Nothing is wrong."));

    let out = place.0.path().join("tables");
    place.said(&["archive", "export", "--as", "csv", "--out", out.to_str().expect("Unicode")]);
    let mut table = csv::Reader::from_path(out.join("sessions.csv")).expect("a table");
    let head = table.headers().expect("a head").clone();
    let column = |name: &str| head.iter().position(|h| h == name).expect("a column");
    let (person, clean) = (column("person"), column("clean"));
    let rows: Vec<csv::StringRecord> = table.records().map(|row| row.expect("a row")).collect();
    assert_eq!(rows.len(), 3);
    assert!(rows.iter().all(|row| &row[person] == PERSON));
    let exported: u64 = rows.iter().map(|row| row[clean].parse::<u64>().expect("a count")).sum();
    let kept: u64 = after.iter().filter_map(|s| s["summary"]["clean"].as_u64()).sum();
    assert_eq!(exported, kept);

    // The same session has the same name, from the archive or from its folder.
    let points = place.0.path().join("points");
    let folder = place.0.path().join(format!("{NAME}-drops_right.plumbrise"));
    let words = [&folder, &points].map(|path| path.to_str().expect("Unicode"));
    place.said(&["export", words[0], "--as", "trc", "--out", words[1]]);
    assert!(points.join(format!("{id}.trc")).exists());

    // Neither the archive nor what it hands on knows how the clip was called.
    let bundle = place.0.path().join("bundle");
    let bundle_name = bundle.to_str().expect("Unicode");
    place.said(&["archive", "export", &id, "--as", "fhir", "--out", bundle_name]);
    for folder in [place.archive(), out, bundle] {
        for name in plumbrise::files::files_in(&folder).expect("readable") {
            let found = holds(&folder.join(&name), NAME);
            assert!(!found, "{NAME} stands in {name}");
        }
    }
    assert!(holds(
        &place.0.path().join(format!("{NAME}-drops_right.plumbrise/assessment.json")),
        NAME
    ));
}

fn holds(path: &Path, text: &str) -> bool {
    plumbrise::files::contains(path, text.as_bytes()).expect("readable")
}
