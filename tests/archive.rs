//! The archive: nothing is lost or half-present, whoever is killed when; checked with
//! Python's hashlib, sqlite3 and tarfile, which are not ours. All data are fictional.
#![cfg(all(feature = "archive", feature = "cli"))]

mod common;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use common::{errors, plumbrise, project};
use jiff::Timestamp;
use plumbrise::archive::{
    Adding, Archive, Entry, Form, Index, Novelty, Person, RecordedFrom, SCHEMA, SqliteIndex,
    StoredFile, Tombstone, restore,
};
use plumbrise::body::Side;
use plumbrise::files::sha256_of;
use plumbrise::judgement::document::Rung;
use plumbrise::session::SessionFiles;
use plumbrise::session::person::Code;
use plumbrise::session::review::{Change, Review};
use serde_json::{Value, json};

/// A small session of nobody: `number` makes it different from all others.
fn session(folder: &Path, number: usize) -> PathBuf {
    let place = folder.join(format!("session-{number}.plumbrise"));
    fs::create_dir_all(&place).expect("a folder");
    let rep = |n: usize| {
        let clean = !(n + number).is_multiple_of(4);
        json!({
            "number": n, "seat_off_s": 3.0 * n as f64, "seat_contact_s": 3.0 * n as f64 + 2.4,
            "rise_s": 1.0, "descent_s": 1.1 + 0.01 * number as f64, "wobble_cm": 0.8,
            "free_foot_touches_s": [], "well_seen_percent": 100.0,
            "standard_error": { "wobble_cm": 0.1, "descent_s": 0.05 },
            "judgement": if clean { "clean" } else { "faulted" },
            "reasons": if clean { json!([]) } else { json!(["drop"]) },
            "criteria": [],
        })
    };
    let assessment = json!({
        "schema": "plumbrise.assessment/1", "program_version": "0.1.0",
        "clip": {
            "file": format!("filmed-{number}.mp4"),
            "sha256": plumbrise::files::sha256_of(clip_content(number).as_bytes()),
            "width_px": 720, "height_px": 1280, "duration_s": 40.0, "frames": 1200,
            "frame_rate_hz": 30.0,
            "recorded_at": format!("2026-0{}-1{}T10:00:00Z", 1 + number / 10 % 9, number % 10),
        },
        "rung": "single_leg", "leg": if number.is_multiple_of(2) { "left" } else { "right" },
        "leg_clarity": 1.0,
        "view": { "kind": "frontal", "yaw_deg": 1.0, "yaw_standard_error_deg": 2.0,
                  "toe_out_deg": 8.0 },
        "scale": { "source": "stature", "m_per_px": 0.002, "relative_uncertainty": 0.02,
                   "stature_m": 1.72 },
        "reps": (1..=10).map(rep).collect::<Vec<_>>(), "attempts": [],
        "set": { "reps": 10, "clean": 7, "faulted": 3, "not_judged": 0, "longest_clean_run": 3,
                 "target": 22, "target_met": false, "drift": null, "one_go": true },
        "told": { "leg": null, "rung": null, "stature_m": 1.72, "seat_height_m": null },
        "filming": { "analysed_frames": 1200, "tracked_frames": 1200, "other_people": 0,
                     "camera_moved_s": [], "damaged": 0, "cut_short": false, "hdr": false,
                     "recorded_hz": null },
        "notes": [], "cautions": [],
    });
    let text = serde_json::to_string_pretty(&assessment).expect("JSON");
    fs::write(place.join("assessment.json"), text).expect("written");
    let criteria = plumbrise::judgement::criteria::Criteria::built_in()
        .expect("limits")
        .to_toml()
        .expect("TOML");
    fs::write(place.join("criteria.toml"), criteria).expect("written");
    fs::write(place.join("reps.csv"), format!("rep,of\n1,{number}\n")).expect("written");
    place
}

fn clip_content(number: usize) -> String {
    format!("not really a film {number}")
}

fn code(text: &str) -> Code {
    Code::new(text).expect("a code")
}

fn how(person: &Code) -> Adding<'_> {
    Adding {
        person,
        recorded_at: None,
        clip: None,
        faces_with_consent: false,
        again: false,
        reports: plumbrise::report::write_reports_again,
    }
}

/// A folder with an archive in it and sessions beside it.
struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn archive(&self) -> PathBuf {
        self.path("archive")
    }

    fn session(&self, number: usize) -> PathBuf {
        session(self.0.path(), number)
    }

    /// An archive with these sessions of a person each.
    fn with(sessions: &[(&str, usize)]) -> Self {
        let place = Self::new();
        let mut archive = Archive::open_or_create(&place.archive()).expect("an archive");
        for (person, number) in sessions {
            let added = archive.add(&place.session(*number), &how(&code(person)));
            assert_eq!(added.expect("added").novelty, Novelty::New);
        }
        place
    }

    fn open(&self) -> Archive {
        Archive::open(&self.archive()).expect("an archive")
    }

    fn run(&self, words: &[&str]) -> Output {
        let mut command = plumbrise();
        command.arg("archive").args(words).env("PLUMBRISE_ARCHIVE", self.archive());
        command.env("TZ", "UTC").output().expect("it runs")
    }

    fn says(&self, words: &[&str]) -> String {
        let output = self.run(words);
        assert!(output.status.success(), "{words:?}: {}", errors(&output));
        String::from_utf8(output.stdout).expect("UTF-8")
    }

    fn json(&self, words: &[&str]) -> Value {
        serde_json::from_str(&self.says(words)).expect("only JSON on standard output")
    }

    /// Status, and that the message says `says` and gives a hint.
    fn refused(&self, words: &[&str], status: i32, says: &str) {
        let output = self.run(words);
        let text = errors(&output);
        assert_eq!(output.status.code(), Some(status), "{text}");
        assert!(text.contains(says), "«{says}» is not in: {text}");
        assert!(text.contains("hint: ") && text.trim_end().lines().count() == 2, "{text}");
    }

    fn verify_is_clean(&self) {
        let output = self.run(&["verify"]);
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        assert!(output.status.success(), "{text}{}", errors(&output));
    }
}

/// A file of a session in an archive.
fn kept(archive: &Archive, entry: &Entry, name: &str) -> Vec<u8> {
    let session = archive.open_session(entry).expect("opened");
    session.content(name).expect("readable").unwrap_or_else(|| panic!("there is no {name}"))
}

/// Every file of a session in an archive can be read.
fn is_whole(archive: &Archive, entry: &Entry) {
    for file in archive.files(entry).expect("files") {
        kept(archive, entry, &file.name);
    }
}

/// Every file of a folder with its content.
fn contents(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let names = plumbrise::files::files_in(folder).expect("a folder");
    let read = |name: String| (name.clone(), fs::read(folder.join(name)).expect("readable"));
    names.into_iter().filter(|name| name != "lock").map(read).collect()
}

fn python(script: &str, argument: &Path) -> Value {
    let output = Command::new("python3").args(["-c", script]).arg(argument).output();
    let output = output.expect("python3 is there");
    assert!(output.status.success(), "{}", errors(&output));
    serde_json::from_slice(&output.stdout).expect("JSON")
}

// ---- the index ----

/// An index in memory: the plainest thing that keeps the promises of the trait.
#[derive(Default)]
struct Memory {
    sessions: BTreeMap<String, (Entry, Vec<StoredFile>)>,
    unfinished: std::collections::BTreeSet<String>,
    tombstones: Vec<Tombstone>,
    years: Option<u32>,
}

type Kept<T> = plumbrise::Result<T>;

impl Memory {
    fn ordered(&self) -> Vec<Entry> {
        let mut all: Vec<Entry> = self.sessions.values().map(|(entry, _)| entry.clone()).collect();
        let key = |e: &Entry| (e.person.clone(), e.recorded_at, e.id.clone());
        all.sort_by_key(key);
        all
    }
}

impl Index for Memory {
    fn id(&self) -> Kept<String> {
        Ok("0123456789abcdef0123456789abcdef".into())
    }
    fn put(&mut self, session: &Entry, files: &[StoredFile]) -> Kept<()> {
        let mut files = files.to_vec();
        files.sort_by(|a, b| a.name.cmp(&b.name));
        self.sessions.insert(session.id.clone(), (session.clone(), files));
        Ok(())
    }
    fn remove(&mut self, sessions: &[String], tombstone: Option<&Tombstone>) -> Kept<()> {
        for id in sessions {
            let files = self.sessions.remove(id).map(|(_, files)| files).unwrap_or_default();
            self.unfinished.extend(files.into_iter().map(|file| file.sha256));
        }
        self.tombstones.extend(tombstone.cloned());
        Ok(())
    }
    fn begin(&mut self, sha256s: &[String]) -> Kept<()> {
        self.unfinished.extend(sha256s.iter().cloned());
        Ok(())
    }
    fn unfinished(&self) -> Kept<Vec<String>> {
        Ok(self.unfinished.iter().cloned().collect())
    }
    fn is_used(&self, sha256: &str) -> Kept<bool> {
        Ok(self.sessions.values().any(|(_, files)| files.iter().any(|f| f.sha256 == sha256)))
    }
    fn finish(&mut self) -> Kept<()> {
        self.unfinished.clear();
        Ok(())
    }
    fn persons(&self) -> Kept<Vec<Person>> {
        let all = self.ordered();
        let persons = all.chunk_by(|a, b| a.person == b.person).map(|own| Person {
            code: own[0].person.clone(),
            sessions: own.len(),
            first: own[0].recorded_at,
            last: own[own.len() - 1].recorded_at,
        });
        Ok(persons.collect())
    }
    fn sessions(&self, person: Option<&str>) -> Kept<Vec<Entry>> {
        let mut all = self.ordered();
        all.retain(|e| person.is_none_or(|person| person == e.person));
        Ok(all)
    }
    fn sessions_named(&self, prefix: &str, limit: usize) -> Kept<Vec<Entry>> {
        let named = self.sessions.values().filter(|(entry, _)| entry.id.starts_with(prefix));
        Ok(named.take(limit).map(|(entry, _)| entry.clone()).collect())
    }
    fn same_day(&self) -> Kept<Vec<Vec<Entry>>> {
        let mut groups: BTreeMap<String, Vec<Entry>> = BTreeMap::new();
        for e in self.ordered() {
            if e.recorded_from != RecordedFrom::Added {
                let day = &e.recorded_at.to_string()[..10];
                let key = format!("{} {:?} {:?} {day}", e.person, e.summary.rung, e.summary.leg);
                groups.entry(key).or_default().push(e);
            }
        }
        Ok(groups.into_values().filter(|group| group.len() > 1).collect())
    }
    fn files(&self, session: &str) -> Kept<Vec<StoredFile>> {
        Ok(self.sessions.get(session).map(|(_, files)| files.clone()).unwrap_or_default())
    }
    fn tombstones(&self) -> Kept<Vec<Tombstone>> {
        Ok(self.tombstones.clone())
    }
    fn keep_tombstone(&mut self, tombstone: &Tombstone) -> Kept<()> {
        self.tombstones.push(tombstone.clone());
        Ok(())
    }
    fn retention_years(&self) -> Kept<Option<u32>> {
        Ok(self.years)
    }
    fn set_retention_years(&mut self, years: u32) -> Kept<()> {
        self.years = Some(years);
        Ok(())
    }
    fn faults(&self) -> Kept<Vec<String>> {
        Ok(Vec::new())
    }
    fn compact(&mut self) -> Kept<()> {
        Ok(())
    }
}

fn entry(id: &str, person: &str, recorded_at: &str) -> Entry {
    let folder = tempfile::tempdir().expect("a folder");
    let summary = plumbrise::session::summary(&session(folder.path(), 2)).expect("a summary");
    Entry {
        id: id.into(),
        person: person.into(),
        recorded_at: recorded_at.parse().expect("a time"),
        recorded_from: RecordedFrom::Told,
        added_at: "2026-11-01T08:00:00Z".parse().expect("a time"),
        summary,
    }
}

fn file(name: &str, sha256: &str) -> StoredFile {
    StoredFile { name: name.into(), sha256: sha256.into(), size: 7 }
}

/// What the trait promises, held against any index that is empty.
fn conforms(index: &mut dyn Index) {
    let names = |found: &[Entry]| found.iter().map(|e| e.id.clone()).collect::<Vec<_>>();
    let id = index.id().expect("an id");
    assert!(id.len() >= 32 && id == index.id().expect("the same"));

    let mut one = entry("aa11", "K7-M2", "2026-05-04T10:00:00Z");
    one.summary.leg = None;
    let mut two = entry("ab22", "K7-M2", "2026-05-02T10:00:00Z");
    two.summary.rung = Rung::TwoLeg;
    let three = entry("cc33", "C3-X9", "2026-05-03T10:00:00Z");
    index.put(&one, &[file("a", "f1"), file("b", "f2")]).expect("kept");
    index.put(&two, &[file("b", "f2")]).expect("kept");
    index.put(&three, &[file("z", "f3"), file("a", "f4")]).expect("kept");
    assert_eq!(index.sessions(None).expect("all"), [three.clone(), two, one.clone()]);
    assert_eq!(names(&index.sessions(Some("K7-M2")).expect("of one")), ["ab22", "aa11"]);
    assert_eq!(names(&index.sessions_named("a", 9).expect("named")), ["aa11", "ab22"]);
    assert_eq!(names(&index.sessions_named("ab", 9).expect("named")), ["ab22"]);
    assert_eq!(index.sessions_named("", 1).expect("named").len(), 1);
    assert!(index.sessions_named("a'%", 9).expect("named").is_empty());
    assert_eq!(index.files("cc33").expect("files"), [file("a", "f4"), file("z", "f3")]);
    let persons = index.persons().expect("persons");
    assert_eq!(persons.len(), 2);
    assert_eq!((persons[1].code.as_str(), persons[1].sessions), ("K7-M2", 2));
    assert_eq!(persons[1].first.to_string(), "2026-05-02T10:00:00Z");
    assert_eq!(persons[1].last.to_string(), "2026-05-04T10:00:00Z");

    // Put again, it is replaced with its files.
    index.put(&one, &[file("a", "f5")]).expect("kept");
    assert_eq!(index.files("aa11").expect("files"), [file("a", "f5")]);
    assert!(!index.is_used("f1").expect("told") && index.is_used("f2").expect("told"));

    index.begin(&["f9".into(), "f8".into()]).expect("recorded");
    index.begin(&["f8".into()]).expect("recorded once");
    assert_eq!(index.unfinished().expect("recorded"), ["f8", "f9"]);
    index.finish().expect("finished");
    assert!(index.unfinished().expect("nothing").is_empty());

    // The same person, leg, rung and UTC day; of another day it does not count, nor where
    // the day is not known.
    for (id, at, from) in [
        ("d1", "2026-05-03T00:00:00Z", RecordedFrom::Clip),
        ("d2", "2026-05-03T23:59:59Z", RecordedFrom::Told),
        ("d3", "2026-05-04T00:00:00Z", RecordedFrom::Told),
        ("d4", "2026-05-03T12:00:00Z", RecordedFrom::Added),
    ] {
        let mut more = entry(id, "C3-X9", at);
        more.recorded_from = from;
        index.put(&more, &[]).expect("kept");
    }
    let groups = index.same_day().expect("groups");
    assert_eq!(groups.iter().map(|g| names(g)).collect::<Vec<_>>(), [["d1", "cc33", "d2"]]);

    let tombstone = Tombstone {
        form: Form::Scrypt,
        code_digest: "ee".into(),
        at: "2026-11-02T08:00:00Z".parse().expect("a time"),
        sessions: 2,
        files: 2,
    };
    index.remove(&["aa11".into(), "ab22".into()], Some(&tombstone)).expect("removed");
    assert!(index.sessions(Some("K7-M2")).expect("none").is_empty());
    assert!(index.files("aa11").expect("none").is_empty());
    assert_eq!(index.unfinished().expect("to remove"), ["f2", "f5"]);
    index.compact().expect("compacted");
    assert_eq!(index.unfinished().expect("still to remove"), ["f2", "f5"]);
    index.keep_tombstone(&tombstone).expect("kept");
    assert_eq!(index.tombstones().expect("two"), [tombstone.clone(), tombstone]);

    assert_eq!(index.retention_years().expect("told"), None);
    index.set_retention_years(10).expect("said");
    index.set_retention_years(30).expect("said");
    assert_eq!(index.retention_years().expect("told"), Some(30));
    assert!(index.faults().expect("told").is_empty());
}

#[test]
fn an_index_keeps_its_promises_in_memory_and_in_a_file() {
    conforms(&mut Memory::default());
    let place = Place::new();
    let mut index = SqliteIndex::open(&place.path("index.sqlite")).expect("an index");
    index.migrate(&[]).expect("a schema");
    conforms(&mut index);
}

// ---- adding ----

#[test]
fn a_session_is_added_once_shown_and_whole() {
    let place = Place::new();
    let session = place.session(4);
    let path = session.to_str().expect("Unicode");
    let text = place.says(&["add", path, "--person", "k7-m2", "--recorded", "2026-05-04T09:30"]);
    assert!(
        text.contains("of K7-M2: single-leg rise (left) on 2026-05-04, 10 reps, 7 clean"),
        "{text}"
    );
    let again = place.says(&["add", path, "--person", "K7-M2"]);
    assert!(again.contains("Already there, nothing changed"), "{again}");
    place.refused(&["add", path, "--person", "C3-X9"], 1, "is there already, as session");

    let listed = place.json(&["list", "--person", "K7-M2", "--json"]);
    assert_eq!(listed.as_array().expect("sessions").len(), 1);
    assert_eq!(listed[0]["recorded_at"], "2026-05-04T09:30:00Z");
    assert_eq!(listed[0]["recorded_from"], "told");
    let id = listed[0]["id"].as_str().expect("an id");
    let shown = place.json(&["show", &id[..5], "--json"]);
    let files = shown["files"].as_array().expect("files");
    let sha256 = |name: &str| {
        let found = files.iter().find(|f| f["name"] == name).expect("that file");
        found["sha256"].as_str().expect("hex").to_owned()
    };
    assert!(sha256("assessment.json").starts_with(id));
    assert_eq!(sha256("reps.csv"), plumbrise::files::sha256_of(b"rep,of\n1,4\n"));
    let text = place.says(&["show", &id[..5]]);
    for words in
        ["2026-05-04 09:30 (as told)", "10: 7 clean, 3 faulted", "Knee wobble, cm", "reps.csv"]
    {
        assert!(text.contains(words), "«{words}» is not in: {text}");
    }
    place.verify_is_clean();
    let list = place.says(&["list"]);
    assert!(list.contains("K7-M2") && list.contains("1 person, 1 session"), "{list}");
    let own = place.says(&["list", "--person", "K7-M2"]);
    assert!(own.contains("2026-05-04 09:30  single leg"), "{own}");
    assert!(
        list.lines().chain(text.lines()).chain(own.lines()).all(|line| line.chars().count() <= 80),
        "{text}"
    );

    let archive = place.open();
    let entry = archive.session(id).expect("there");
    assert_eq!(kept(&archive, &entry, "reps.csv"), b"rep,of\n1,4\n");
    let session = archive.open_session(&entry).expect("opened");
    assert_eq!(plumbrise::session::summary(&session).expect("a session"), entry.summary);
}

/// What was said wrongly is put right: the day by adding again, the person by moving.
#[test]
fn a_wrong_day_and_a_wrong_person_are_put_right() {
    let place = Place::with(&[("K7-M2", 1), ("C3-X9", 2)]);
    let session = place.session(1);
    let path = session.to_str().expect("Unicode");
    let text = place.says(&["add", path, "--person", "K7-M2", "--recorded", "2025-02-03"]);
    assert!(text.contains("the time changed") && text.contains("on 2025-02-03"), "{text}");
    let text = place.says(&["add", path, "--person", "K7-M2", "--recorded", "2025-02-03"]);
    assert!(text.contains("nothing changed"), "{text}");
    place.refused(&["add", path, "--person", "F4-W6"], 1, "there already");
    let mut archive = place.open();
    let id = archive.sessions_of(&code("K7-M2")).expect("one")[0].id.clone();
    place.refused(&["move", "ffffffffffff", "--person", "F4-W6"], 1, "there is no session");
    assert!(place.says(&["move", &id, "--person", "F4-W6"]).contains("is now of F4-W6"));
    let codes: Vec<String> =
        archive.persons().expect("two").into_iter().map(|person| person.code).collect();
    assert_eq!(codes, ["C3-X9", "F4-W6"]);
    let bytes = contents(&place.archive());
    assert!(!bytes.values().any(|c| c.windows(5).any(|w| w == b"K7-M2")));
    archive.erase(&code("C3-X9")).expect("erased");
    place.refused(&["move", &id, "--person", "C3-X9"], 1, "was erased on");
    place.verify_is_clean();
}

/// An index that came with a back-up may say anything; nothing is written elsewhere.
#[test]
fn a_file_does_not_get_out_of_its_session() {
    let place = Place::with(&[("K7-M2", 1)]);
    let index = rusqlite::Connection::open(place.archive().join("index.sqlite")).expect("opened");
    for name in ["../evil.csv", "/evil.csv", "a/../../evil.csv"] {
        let words = "UPDATE file SET name = ?1 WHERE sha256 = ?2";
        let sha256 = plumbrise::files::sha256_of(b"rep,of\n1,1\n");
        assert_eq!(index.execute(words, [name, &sha256]).expect("set"), 1);
        let archive = place.open();
        let entry = &archive.sessions().expect("one")[0];
        let folder = place.path("out/session");
        let why = archive.materialise(entry, &folder).expect_err("refused");
        assert!(why.to_string().contains("evil.csv"), "{why}");
        assert!(!place.path("out/evil.csv").exists() && !Path::new("/evil.csv").exists());
    }
}

/// Told goes before the camera's word, that before the day of adding.
#[test]
fn where_the_day_comes_from_is_kept() {
    let place = Place::new();
    let person = code("K7-M2");
    let mut archive = Archive::open_or_create(&place.archive()).expect("an archive");
    let mut added = |number: usize, told: Option<Timestamp>, camera: bool| {
        let session = place.session(number);
        if !camera {
            let path = session.join("assessment.json");
            let mut changed = common::json(&path);
            changed["clip"]["recorded_at"] = Value::Null;
            fs::write(&path, changed.to_string()).expect("written");
        }
        archive.add(&session, &Adding { recorded_at: told, ..how(&person) }).expect("added").entry
    };
    let day: Timestamp = "2025-03-01T12:00:00Z".parse().expect("a time");
    let told = added(1, Some(day), true);
    assert_eq!((told.recorded_at, told.recorded_from), (day, RecordedFrom::Told));
    let camera = added(2, None, true);
    assert_eq!(camera.recorded_from, RecordedFrom::Clip);
    assert_eq!(camera.recorded_at.to_string(), "2026-01-12T10:00:00Z");
    let unknown = added(3, None, false);
    assert_eq!(unknown.recorded_from, RecordedFrom::Added);
    assert_eq!(unknown.recorded_at, unknown.added_at);
}

#[test]
fn names_and_times_that_are_none_are_refused() {
    let place = Place::new();
    let session = place.session(1);
    let path = session.to_str().expect("Unicode");
    for name in ["Annabel", "Annabel-Sample", "a", "K7 M2"] {
        place.refused(&["add", path, "--person", name], 2, "is not a code");
    }
    for time in ["yesterday", "2999-01-01", "2026-13-01", "2026-05-04T25:00"] {
        let words = ["add", path, "--person", "K7-M2", "--recorded", time];
        place.refused(&words, 2, "--recorded");
    }
    assert!(!place.archive().exists(), "refused before anything was made");
    place.refused(&["list"], 1, "there is no archive in that folder");
    fs::create_dir(place.archive()).expect("a folder");
    fs::write(place.archive().join("letter.txt"), "Dear").expect("written");
    place.refused(&["add", path], 1, "not empty and not an archive");
    let broken = place.path("broken.plumbrise");
    fs::create_dir(&broken).expect("a folder");
    fs::remove_file(place.archive().join("letter.txt")).expect("removed");
    place.refused(&["add", broken.to_str().expect("Unicode")], 1, "not a session folder");
}

/// Nothing in the archive tells a name that stood in the clip's name and the folder's.
#[test]
fn a_name_does_not_get_in() {
    let place = Place::new();
    let plain = place.session(1);
    let named = place.path("Annabel-Sample.plumbrise");
    fs::rename(&plain, &named).expect("renamed");
    let path = named.join("assessment.json");
    let text = fs::read_to_string(&path).expect("readable");
    fs::write(&path, text.replace("filmed-1.mp4", "Annabel-Sample.mp4")).expect("written");
    let clip = place.path("Annabel-Sample.mp4");
    fs::write(&clip, clip_content(1)).expect("written");
    let (session, clip) = (named.to_str().expect("Unicode"), clip.to_str().expect("Unicode"));
    let text = place.says(&["add", session, "--clip", clip]);
    let drawn = text.split("New code: ").nth(1).expect("a code is drawn").split('.').next();
    assert!(Code::new(drawn.expect("a code")).is_ok(), "{text}");
    for (name, content) in contents(&place.archive()) {
        let found = content.windows(7).any(|w| w.eq_ignore_ascii_case(b"annabel"));
        assert!(!found, "{name}");
    }
    let archive = place.open();
    let entry = &archive.sessions().expect("one")[0];
    let clip_name = format!("clip-{}.mp4", &sha256_of(clip_content(1).as_bytes())[..12]);
    // Kept under the name of its session.
    assert_eq!(kept(&archive, entry, &clip_name), clip_content(1).as_bytes());
    // Another clip is not taken for this one.
    let other = place.path("other.mp4");
    fs::write(&other, "something else").expect("written");
    let other = other.to_str().expect("Unicode");
    place.refused(&["add", session, "--clip", other], 1, "is not the clip");
}

/// The film is kept where faces are hidden, or everybody has agreed.
#[test]
fn faces_are_kept_only_with_consent() {
    for (facts, consent, kept) in [
        (Some("hidden"), false, true),
        (Some("shown"), false, false),
        (Some("shown"), true, true),
        (None, false, false),
        (None, true, true),
    ] {
        let place = Place::new();
        let session = place.session(1);
        fs::write(session.join("annotated.mp4"), "a film").expect("written");
        if let Some(facts) = facts {
            let figures =
                format!(r#"{{"faces":"{facts}","film":null,"rep_plots":[],"pictures":[]}}"#);
            fs::write(session.join("figures.json"), figures).expect("written");
        }
        let mut words = vec!["add", session.to_str().expect("Unicode"), "--person", "K7-M2"];
        if consent {
            words.push("--faces-shown-with-consent");
        }
        let output = place.run(&words);
        assert!(output.status.success(), "{}", errors(&output));
        assert_eq!(errors(&output).contains("Left out"), !kept, "{facts:?} {consent}");
        let archive = place.open();
        let entry = &archive.sessions().expect("one")[0];
        let files = archive.files(entry).expect("files");
        assert_eq!(files.iter().any(|f| f.name == "annotated.mp4"), kept, "{facts:?} {consent}");
    }
}

#[test]
fn a_review_is_kept_and_never_taken_back() {
    let place = Place::with(&[("K7-M2", 1), ("K7-M2", 2)]);
    let mut archive = place.open();
    let id = archive.sessions().expect("two")[0].id.clone();
    let note = |folder: &Path, text: &str| {
        let assessment = plumbrise::session::read_assessment(folder)?;
        let sha256 = plumbrise::files::sha256(&folder.join("assessment.json"))?;
        let mut review =
            plumbrise::session::read_review(folder)?.unwrap_or_else(|| Review::new(sha256));
        let what = Change::Note { text: text.into() };
        review.add(&assessment, Timestamp::UNIX_EPOCH, "R1", what).expect("fits");
        fs::write(folder.join("review.json"), serde_json::to_string(&review).expect("JSON"))
            .expect("written");
        Ok(())
    };
    for text in ["first", "second"] {
        archive.amend(&id, |folder| note(folder, text)).expect("kept");
        place.verify_is_clean();
    }
    let entry = archive.session(&id).expect("there");
    assert_eq!(plumbrise::report::wording::archive::review(&entry.summary.review), "begun");
    let session = archive.open_session(&entry).expect("opened");
    let review = plumbrise::session::read_review(&session).expect("readable").expect("there");
    assert_eq!(review.amendments.len(), 2);

    let before = contents(&place.archive());
    let gone = archive.amend(&id, |folder| {
        fs::remove_file(folder.join("review.json")).expect("removed");
        Ok(())
    });
    assert!(gone.expect_err("refused").to_string().contains("is not taken back"));
    let changed = archive.amend(&id, |folder| {
        fs::write(folder.join("assessment.json"), "{}").expect("written");
        Ok(())
    });
    assert!(changed.expect_err("refused").to_string().contains("is not changed"));
    place.verify_is_clean();
    assert_eq!(contents(&place.archive()), before);
}

/// Groups from which one learns how far sessions differ: a clip counts once.
#[test]
fn sessions_of_one_day_are_found() {
    let place = Place::new();
    let mut archive = Archive::open_or_create(&place.archive()).expect("an archive");
    let person = code("K7-M2");
    let day = |text: &str| Some(text.parse().expect("a time"));
    for (number, at) in [
        (2, "2026-05-04T08:00:00Z"),
        (4, "2026-05-04T18:00:00Z"),
        (6, "2026-05-05T08:00:00Z"),
        (3, "2026-05-04T09:00:00Z"),
    ] {
        let how = Adding { recorded_at: day(at), ..how(&person) };
        archive.add(&place.session(number), &how).expect("added");
    }
    // The clip of session 2, judged differently.
    let session = place.session(2);
    let path = session.join("assessment.json");
    let text = fs::read_to_string(&path).expect("readable");
    fs::write(&path, text.replace("0.1.0", "0.1.1")).expect("written");
    let how = Adding { recorded_at: day("2026-05-04T08:00:00Z"), ..how(&person) };
    assert_eq!(archive.add(&session, &how).expect("added").novelty, Novelty::New);
    let groups = archive.same_day().expect("groups");
    assert_eq!(groups.len(), 1);
    assert_eq!(groups[0].len(), 2, "{groups:?}");
    assert!(groups[0].iter().all(|e| e.summary.leg == Some(Side::Left)));
}

// ---- verify ----

#[test]
fn what_is_missing_changed_or_extra_is_found() {
    let place = Place::with(&[("K7-M2", 1), ("C3-X9", 2)]);
    let archive = place.open();
    let entry = &archive.sessions_of(&code("K7-M2")).expect("one")[0];
    let files = archive.files(entry).expect("files");
    let object = |name: &str| {
        let sha256 = &files.iter().find(|f| f.name == name).expect("that file").sha256;
        place.archive().join("files").join(&sha256[..2]).join(sha256)
    };
    let (reps, assessment) = (object("reps.csv"), object("assessment.json"));
    let spoil = |path: &Path, content: &[u8]| {
        // Read-only as it is, it must be replaced.
        fs::remove_file(path).expect("removed");
        fs::write(path, content).expect("written");
    };
    let whole = (fs::read(&reps).expect("there"), fs::read(&assessment).expect("there"));

    let mut flipped = whole.1.clone();
    flipped[100] ^= 1;
    spoil(&assessment, &flipped);
    fs::remove_file(&reps).expect("removed");
    let extra = place.archive().join("files/ab/abcd");
    fs::create_dir_all(extra.parent().expect("a folder")).expect("a folder");
    fs::write(&extra, "x").expect("written");
    fs::write(place.archive().join("letter.txt"), "x").expect("written");
    let output = place.run(&["verify", "--json"]);
    assert_eq!(output.status.code(), Some(1));
    let found: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(found["missing"][0]["name"], "reps.csv");
    assert_eq!(found["changed"][0]["name"], "assessment.json");
    assert_eq!(found["changed"][0]["person"], "K7-M2");
    assert_eq!(found["extra"], json!(["files/ab/abcd", "letter.txt"]));
    assert_eq!(
        (found["missing"].as_array(), found["index"].as_array().map(Vec::len)),
        (Some(&vec![found["missing"][0].clone()]), Some(0))
    );
    let text = String::from_utf8(place.run(&["verify"]).stdout).expect("UTF-8");
    assert!(text.contains("Missing: reps.csv") && text.contains("Something is wrong"), "{text}");
    let opened = place.open();
    let session = opened.open_session(entry).expect("opened");
    let why = session.content("assessment.json").expect_err("refused").to_string();
    assert!(why.contains("was changed"), "{why}");

    spoil(&assessment, &whole.1);
    fs::write(&reps, &whole.0).expect("written");
    fs::remove_dir_all(extra.parent().expect("a folder")).expect("removed");
    fs::remove_file(place.archive().join("letter.txt")).expect("removed");
    place.verify_is_clean();
}

#[test]
fn an_index_that_is_none_is_refused() {
    let place = Place::with(&[("K7-M2", 1)]);
    let index = place.archive().join("index.sqlite");
    let whole = fs::read(&index).expect("there");
    fs::write(&index, b"not a database, but long enough to be looked at. ".repeat(100))
        .expect("written");
    place.refused(&["list"], 1, "its index cannot be used");
    // Half of it: the pages that are told are not there.
    fs::write(&index, &whole[..whole.len() / 2]).expect("written");
    let output = place.run(&["verify"]);
    assert_eq!(output.status.code(), Some(1), "{}", errors(&output));
    fs::write(&index, &whole).expect("written");
    place.verify_is_clean();
    for (pragma, says) in
        [("user_version = 99", "newer plumbrise"), ("application_id = 5", "another program's")]
    {
        fs::write(&index, &whole).expect("written");
        let file = rusqlite::Connection::open(&index).expect("opened");
        file.execute_batch(&format!("PRAGMA {pragma}")).expect("set");
        drop(file);
        let before = fs::read(&index).expect("there");
        place.refused(&["list"], 1, says);
        let session = place.session(2);
        place.refused(&["add", session.to_str().expect("Unicode")], 1, says);
        assert_eq!(fs::read(&index).expect("there"), before);
    }
}

/// The files of the first versions lie in a folder called 'objects'. An older program that
/// comes to an archive in which they have their new place makes one beside it.
#[test]
fn what_an_older_program_puts_under_the_old_name_is_brought_over() {
    let place = Place::with(&[("K7-M2", 1), ("C3-X9", 2)]);
    let (old, new) = (place.archive().join("objects"), place.archive().join("files"));
    let before = contents(&place.archive());
    fs::create_dir(&old).expect("made");
    let some = fs::read_dir(&new).expect("there").next().expect("a folder").expect("readable");
    fs::rename(some.path(), old.join(some.file_name())).expect("moved");
    place.says(&["list"]);
    assert!(!old.exists());
    assert_eq!(contents(&place.archive()), before);
    place.verify_is_clean();
    fs::rename(&new, &old).expect("renamed");
    fs::remove_file(place.archive().join("READ-ME.txt")).expect("removed");
    place.says(&["list"]);
    assert_eq!(contents(&place.archive()), before);
}

/// Names of the objects by hashlib, the index by sqlite3 of Python.
#[test]
fn python_reads_the_same() {
    let place = Place::with(&[("K7-M2", 1), ("K7-M2", 2), ("C3-X9", 3)]);
    let read = python(
        r#"
import hashlib, json, pathlib, sqlite3, sys
archive = pathlib.Path(sys.argv[1])
objects = {p.name: p for p in archive.glob("files/??/*")}
for name, path in objects.items():
    assert hashlib.sha256(path.read_bytes()).hexdigest() == name and path.parent.name == name[:2]
index = sqlite3.connect(archive / "index.sqlite")
one = lambda q: index.execute(q).fetchone()[0]
rows = index.execute("SELECT sha256, size FROM file").fetchall()
assert {sha for sha, _ in rows} == set(objects)
assert all(objects[sha].stat().st_size == size for sha, size in rows)
assert not any(path.stat().st_mode & 0o222 for path in objects.values())
print(json.dumps({
    "whole": one("PRAGMA integrity_check"), "schema": one("PRAGMA user_version"),
    "journal": one("PRAGMA journal_mode"), "sessions": one("SELECT count(*) FROM session"),
    "persons": [r[0] for r in index.execute("SELECT DISTINCT person FROM session ORDER BY 1")],
    "day": one("SELECT min(recorded_at) FROM session"), "unfinished": one("SELECT count(*) FROM unfinished"),
}))"#,
        &place.archive(),
    );
    assert_eq!(
        read,
        json!({ "whole": "ok", "schema": SCHEMA, "journal": "delete", "sessions": 3,
                "persons": ["C3-X9", "K7-M2"], "day": "2026-01-11T10:00:00Z", "unfinished": 0 })
    );
}

/// What the index says is held against the records, the documents and the seal.
#[test]
fn what_is_changed_in_the_index_is_found() {
    let base = Place::with(&[("K7-M2", 2), ("C3-X9", 3), ("F4-W6", 4)]);
    base.says(&["erase", "F4-W6", "--yes"]);
    base.says(&["retention", "--years", "10"]);
    let of_one = "WHERE person = 'K7-M2'";
    let table = format!("WHERE name = 'reps.csv' AND session IN (SELECT id FROM session {of_one})");
    let record = table.replace("reps.csv", "record.json");
    for (change, says) in [
        (
            format!("UPDATE session SET person = 'C3-X9' {of_one}"),
            "person 'C3-X9', and the record 'K7-M2'",
        ),
        (
            format!("UPDATE session SET recorded_at = '2020-01-01T00:00:00Z' {of_one}"),
            "time of filming",
        ),
        (format!("UPDATE session SET recorded_from = 'told' {of_one}"), "source of that time"),
        (
            format!("UPDATE session SET added_at = '2020-01-01T00:00:00Z' {of_one}"),
            "time of adding",
        ),
        (format!("UPDATE session SET leg = 'right' {of_one}"), "leg or exercise"),
        (format!("UPDATE session SET rung = 'two_leg' {of_one}"), "leg or exercise"),
        (
            format!(
                "UPDATE session SET leg = 'right', summary = json_set(summary, '$.leg', 'right') {of_one}"
            ),
            "its numbers",
        ),
        (
            format!("UPDATE session SET summary = json_set(summary, '$.clean', 10) {of_one}"),
            "its numbers",
        ),
        (
            format!(
                "UPDATE session SET summary = json_set(summary, '$.measures.rise_s.mean', 0.5) {of_one}"
            ),
            "its numbers",
        ),
        (format!("DELETE FROM session {of_one}"), "Not of this archive: files/"),
        (
            format!("UPDATE file SET name = '../../evil.csv' {table}"),
            "'../../evil.csv' is not the name",
        ),
        (format!("UPDATE file SET name = '/evil.csv' {table}"), "'/evil.csv' is not the name"),
        (format!("UPDATE file SET sha256 = '../../../evil' {table}"), "'reps.csv' is not the name"),
        (
            format!("UPDATE file SET name = 'annotated.mp4' {table}"),
            "a file 'annotated.mp4', and the record other files",
        ),
        (
            format!("UPDATE file SET size = 1 {table}"),
            "a file 'reps.csv', and the record other files",
        ),
        (format!("DELETE FROM file {table}"), "fewer files than the record"),
        (format!("DELETE FROM file {record}"), "it has no record"),
        ("INSERT INTO erased SELECT * FROM erased".into(), "what was erased"),
        ("DELETE FROM erased".into(), "what was erased"),
        ("UPDATE erased SET at = '2020-01-01T00:00:00Z'".into(), "what was erased"),
        (
            "UPDATE about SET value = '1' WHERE key = 'retention_years'".into(),
            "the years of keeping",
        ),
        (
            "UPDATE about SET value = hex(randomblob(16)) WHERE key = 'id'".into(),
            "the archive's id",
        ),
    ] {
        let place = Place::new();
        copy(&base.archive(), &place.archive());
        let index = rusqlite::Connection::open(place.archive().join("index.sqlite"));
        let changed = index.expect("opened").execute(&change, []);
        assert!(changed.expect("SQL") > 0, "{change}");
        let output = place.run(&["verify"]);
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        assert_eq!(output.status.code(), Some(1), "{change}: {text}{}", errors(&output));
        assert!(text.contains(says), "{change}: «{says}» is not in: {text}");
    }
    base.verify_is_clean();
}

/// What was changed is not made true by work that comes after it.
#[test]
fn a_changed_index_is_not_written_into_new_records() {
    let place = Place::with(&[("K7-M2", 1), ("C3-X9", 2), ("F4-W6", 3)]);
    place.says(&["erase", "F4-W6", "--yes"]);
    let id = place.open().sessions_of(&code("K7-M2")).expect("one")[0].id.clone();
    let index = rusqlite::Connection::open(place.archive().join("index.sqlite")).expect("opened");
    let change = "UPDATE session SET person = 'C3-X9' WHERE person = 'K7-M2'";
    assert_eq!(index.execute(change, []).expect("SQL"), 1);
    assert_eq!(index.execute("INSERT INTO erased SELECT * FROM erased", []).expect("SQL"), 1);
    drop(index);
    let session = place.session(1);
    let path = session.to_str().expect("Unicode");
    place.refused(&["move", &id, "--person", "H3-K4"], 1, "is not as its record says");
    let told = ["add", path, "--person", "C3-X9", "--recorded", "2025-02-03"];
    place.refused(&told, 1, "is not as its record says");
    let amended = place.open().amend(&id, |_| Ok(()));
    assert!(amended.expect_err("refused").to_string().contains("is not as its record says"));
    place.says(&["retention", "--years", "10"]);
    place.says(&["erase", "C3-X9", "--yes"]);
    let output = place.run(&["verify"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&output.stdout).contains("what was erased"));
}

/// What somebody puts into the folder is named and stays; what a killed run has left goes.
#[test]
fn what_is_changed_in_the_folder_is_found() {
    let place = Place::with(&[("K7-M2", 1)]);
    let says = |words: &str| {
        let output = place.run(&["verify"]);
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        assert_eq!(output.status.code(), Some(1), "{text}");
        assert!(text.contains(words), "«{words}» is not in: {text}");
    };
    let staging = place.archive().join("staging");
    fs::create_dir_all(staging.join("deep")).expect("a folder");
    for name in ["letter.txt", "deep/letter.txt"] {
        fs::write(staging.join(name), "Dear").expect("written");
    }
    for _ in 0..2 {
        says("Not of this archive: staging/letter.txt");
        says("Not of this archive: staging/deep/letter.txt");
        let session = place.session(2);
        place.says(&["add", session.to_str().expect("Unicode"), "--person", "K7-M2"]);
        assert!(staging.join("letter.txt").exists() && staging.join("deep/letter.txt").exists());
    }
    // It does not make a back-up of which nothing can be restored.
    let (tar, back) = (place.path("all.tar"), place.path("back"));
    place.says(&["backup", tar.to_str().expect("Unicode")]);
    restore(&tar, &back, None).expect("restored");
    fs::remove_dir_all(&staging).expect("removed");
    place.verify_is_clean();

    let left = staging.join("work/session/reps.csv");
    fs::create_dir_all(left.parent().expect("a folder")).expect("a folder");
    fs::write(&left, "half").expect("written");
    assert!(place.says(&["verify"]).contains("Left over from a run that was ended"));
    assert!(!left.exists());

    let read_me = place.archive().join("READ-ME.txt");
    let whole = fs::read(&read_me).expect("there");
    fs::remove_file(&read_me).expect("removed");
    fs::write(&read_me, "Dear").expect("written");
    says("READ-ME.txt");
    fs::remove_file(&read_me).expect("removed");
    place.says(&["retention", "--years", "10"]);
    assert_eq!(fs::read(&read_me).expect("put back"), whole);
    place.verify_is_clean();
}

/// Files without an index are no empty place for a new archive.
#[test]
fn a_lost_index_is_told_and_not_made_anew() {
    let place = Place::with(&[("K7-M2", 1)]);
    let index = place.archive().join("index.sqlite");
    type Lose = fn(&Path);
    let lost: [(&str, Lose); 3] = [
        ("missing", |path| fs::remove_file(path).expect("removed")),
        ("empty", |path| fs::write(path, "").expect("emptied")),
        ("without tables", |path| {
            fs::write(path, "").expect("emptied");
            let index = rusqlite::Connection::open(path).expect("opened");
            index.execute_batch("CREATE TABLE t (x); DROP TABLE t").expect("SQL");
        }),
    ];
    let session = place.session(2);
    for (how, lose) in lost {
        lose(&index);
        let before = contents(&place.archive());
        for words in [&["list"][..], &["verify"], &["add", session.to_str().expect("Unicode")]] {
            place.refused(words, 1, "index.sqlite is missing or empty");
            assert_eq!(contents(&place.archive()), before, "{how}, {words:?}");
        }
    }
}

// ---- where nothing may be written ----

/// The program as somebody who may read everything in `place` and write only to `own`.
#[cfg(unix)]
fn as_reader(place: &Place, own: &Path) -> Command {
    use std::os::unix::fs::PermissionsExt;
    let mode = |path: &Path, mode| {
        fs::set_permissions(path, fs::Permissions::from_mode(mode)).expect("its mode is set");
    };
    fn every(path: &Path, set: &impl Fn(&Path, u32)) {
        for entry in fs::read_dir(path).expect("a folder").flatten().map(|e| e.path()) {
            if entry.is_dir() { every(&entry, set) } else { set(&entry, 0o444) }
        }
        set(path, 0o555);
    }
    every(&place.archive(), &mode);
    mode(own, 0o777);
    common::held_back(place.0.path())
}

/// Undoes it, so that the folder can be removed.
#[cfg(unix)]
fn as_owner_again(place: &Place) {
    use std::os::unix::fs::PermissionsExt;
    fn every(path: &Path) {
        fs::set_permissions(path, fs::Permissions::from_mode(0o755)).expect("its mode is set");
        let folders = fs::read_dir(path).expect("a folder").flatten().map(|e| e.path());
        folders.filter(|path| path.is_dir()).for_each(|path| every(&path));
    }
    every(&place.archive());
}

#[cfg(unix)]
#[test]
fn an_archive_is_read_where_nothing_may_be_written() {
    let place = Place::with(&[("K7-M2", 1), ("K7-M2", 3), ("K7-M2", 2)]);
    let ids: Vec<String> =
        place.open().sessions().expect("three").into_iter().map(|e| e.id).collect();
    let (left, right) = (&ids[1], &ids[0]);
    let (own, tables) = (place.path("own"), place.path("own/tables"));
    fs::create_dir(&own).expect("a folder");
    let before = contents(&place.archive());
    let mut reader = as_reader(&place, &own);
    // Else it would prove nothing.
    let mut refused = as_reader(&place, &own);
    refused.args(["archive", "retention", "--years", "3", "--archive"]).arg(place.archive());
    assert_eq!(refused.output().expect("it runs").status.code(), Some(1));

    let program = reader.get_program().to_owned();
    let mut run = |words: &[&str]| {
        reader = as_reader(&place, &own);
        assert_eq!(reader.get_program(), program);
        reader.args(words).env("PLUMBRISE_ARCHIVE", place.archive()).env("TMPDIR", "/nowhere");
        let output = reader.output().expect("it runs");
        (
            output.status.code(),
            String::from_utf8_lossy(&output.stdout).into_owned(),
            errors(&output),
        )
    };
    for words in [
        &["archive", "list"][..],
        &["archive", "list", "--person", "K7-M2", "--json"],
        &["archive", "show", left],
        &["trend", "K7-M2"],
        &["compare", left, right],
        &["review", left],
        &["archive", "export", "--as", "csv", "--out", tables.to_str().expect("Unicode")],
    ] {
        let (status, text, errors) = run(words);
        assert_eq!(status, Some(0), "{words:?}: {text}{errors}");
    }
    assert!(tables.join("sessions.csv").exists());
    let (status, text, errors) = run(&["archive", "verify"]);
    assert_eq!(status, Some(0), "{text}{errors}");
    assert!(text.contains("nobody could be kept from changing"), "{text}");
    assert_eq!(contents(&place.archive()), before);

    as_owner_again(&place);
    let object = before.keys().find(|name| name.starts_with("files/")).expect("an object");
    fs::remove_file(place.archive().join(object)).expect("removed");
    let (status, text, errors) = run(&["archive", "verify", "--json"]);
    assert_eq!(status, Some(1), "{text}{errors}");
    let found: Value = serde_json::from_str(&text).expect("JSON");
    assert_eq!(
        (&found["unguarded"], found["missing"].as_array().map(Vec::len)),
        (&json!(true), Some(1))
    );
    as_owner_again(&place);
    let guarded = place.run(&["verify", "--json"]);
    let found: Value = serde_json::from_slice(&guarded.stdout).expect("JSON");
    assert_eq!(found["unguarded"], json!(false));
}

/// What a killed writer has left in the index cannot be undone there, and that is said.
#[cfg(unix)]
#[test]
fn an_interrupted_change_is_told_where_it_cannot_be_undone() {
    let from = Place::with(&[("K7-M2", 1)]);
    let index = rusqlite::Connection::open(from.archive().join("index.sqlite")).expect("opened");
    // Larger than what is held in memory, so that it is in the file before it holds.
    let change = "PRAGMA cache_size = 5; BEGIN IMMEDIATE; UPDATE session SET person = 'C3-X9';
        CREATE TABLE big AS WITH RECURSIVE n (i) AS
        (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 5000) SELECT randomblob(900) FROM n";
    index.execute_batch(change).expect("SQL");
    let place = Place::new();
    copy(&from.archive(), &place.archive());
    assert!(place.archive().join("index.sqlite-journal").exists());
    let own = place.path("own");
    fs::create_dir(&own).expect("a folder");
    let mut reader = as_reader(&place, &own);
    let output = reader.args(["archive", "list", "--archive"]).arg(place.archive()).output();
    let output = output.expect("it runs");
    assert_eq!(output.status.code(), Some(1));
    assert!(errors(&output).contains("hint: a change was interrupted"), "{}", errors(&output));
    as_owner_again(&place);
    fs::set_permissions(
        place.archive().join("index.sqlite"),
        std::os::unix::fs::PermissionsExt::from_mode(0o644),
    )
    .expect("its mode is set");
    place.verify_is_clean();
    assert_eq!(place.open().persons().expect("one")[0].code, "K7-M2");
}

/// One of an older schema is read there too; what needs the newer one says so.
#[cfg(unix)]
#[test]
fn an_older_archive_is_read_where_nothing_may_be_written() {
    let place = Place::new();
    copy(&fixture(1), &place.archive());
    let own = place.path("own");
    fs::create_dir(&own).expect("a folder");
    for (words, status, says) in [
        (&["archive", "list"][..], 0, "2 persons, 3 sessions"),
        (&["trend", "K7-M2"], 0, "K7-M2"),
        (&["archive", "verify"], 1, "an older plumbrise made it"),
    ] {
        let mut reader = as_reader(&place, &own);
        let output =
            reader.args(words).env("PLUMBRISE_ARCHIVE", place.archive()).output().expect("it runs");
        let text = String::from_utf8_lossy(&output.stdout).into_owned() + &errors(&output);
        assert_eq!(output.status.code(), Some(status), "{text}");
        assert!(text.contains(says), "{text}");
    }
    as_owner_again(&place);
}

// ---- messages that nobody can get ----

/// What is done is done, and told by the status, whether or not its message can be printed.
#[cfg(target_os = "linux")]
#[test]
fn a_message_that_cannot_be_printed_changes_no_outcome() {
    let full = || Stdio::from(fs::File::options().write(true).open("/dev/full").expect("there"));
    let place = Place::with(&[("C3-X9", 1), ("C3-X9", 2), ("F4-W6", 3)]);
    let id = place.open().sessions_of(&code("F4-W6")).expect("one")[0].id.clone();
    let (tar, back) = (place.path("all.tar"), place.path("back"));
    let text = |path: &Path| path.to_str().expect("Unicode").to_owned();
    // With a film that is left out there is something to say on standard error, too.
    let sessions: Vec<String> = (10..20)
        .map(|number| {
            let session = place.session(number);
            fs::write(session.join("annotated.mp4"), "a film").expect("written");
            text(&session)
        })
        .collect();
    let program = assert_cmd::cargo::cargo_bin("plumbrise");
    let run = |words: &[&str], stdout: Stdio, stderr: Stdio| {
        let mut command = Command::new(&program);
        command.arg("archive").args(words).env("PLUMBRISE_ARCHIVE", place.archive());
        command.stdout(stdout).stderr(stderr).output().expect("it runs")
    };
    let closed = |words: &[&str], how: &str| {
        let mut command = Command::new("sh");
        command.arg("-c").arg(format!("\"$0\" archive \"$@\" {how}")).arg(&program).args(words);
        command.env("PLUMBRISE_ARCHIVE", place.archive()).output().expect("it runs")
    };
    let added = || place.open().sessions_of(&code("K7-M2")).map_or(0, |sessions| sessions.len());
    let add = |n: usize| ["add", &sessions[n], &sessions[n + 1], "--person", "K7-M2"];

    let output = run(&add(0), full(), Stdio::piped());
    assert_eq!((output.status.code(), added()), (Some(1), 2), "{}", errors(&output));
    let said = errors(&output);
    assert!(said.contains("standard output") && said.contains("is done"), "{said}");
    let output = run(&add(2), Stdio::piped(), full());
    assert_eq!((output.status.code(), added()), (Some(0), 4));
    for (n, how) in [(4, ">&-"), (6, "2>&-")] {
        let output = closed(&add(n), how);
        assert_eq!((output.status.code(), added()), (Some(0), n + 2), "{how}: {}", errors(&output));
    }
    let mut child = Command::new(&program);
    child.arg("archive").args(add(8)).env("PLUMBRISE_ARCHIVE", place.archive());
    let mut child = child.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("it runs");
    drop((child.stdout.take(), child.stderr.take()));
    assert_eq!((child.wait().expect("a process").code(), added()), (Some(0), 10));

    for (words, done) in [
        (
            &["move", &id, "--person", "H3-K4"][..],
            &(|| place.open().sessions_of(&code("H3-K4")).is_ok()) as &dyn Fn() -> bool,
        ),
        (&["retention", "--years", "7"], &|| {
            place.open().retention_years().expect("told") == Some(7)
        }),
        (&["erase", "C3-X9", "--yes"], &|| place.open().sessions_of(&code("C3-X9")).is_err()),
        (&["backup", &text(&tar)], &|| tar.exists()),
        (&["restore", &text(&tar), &text(&back)], &|| Archive::open(&back).is_ok()),
    ] {
        assert!(!done(), "{words:?}");
        let output = run(words, full(), Stdio::piped());
        assert!(output.status.code() == Some(1) && done(), "{words:?}: {}", errors(&output));
    }
    fs::remove_dir_all(&back).expect("removed");
    let output = run(&["restore", &text(&tar), &text(&back)], Stdio::piped(), full());
    assert!(output.status.success() && back.exists());
    place.verify_is_clean();

    // What is wrong stays wrong where nobody reads it.
    fs::write(place.archive().join("letter.txt"), "Dear").expect("written");
    let mut child = Command::new(&program);
    child.args(["archive", "verify"]).env("PLUMBRISE_ARCHIVE", place.archive());
    let mut child = child.stdout(Stdio::piped()).spawn().expect("it runs");
    drop(child.stdout.take());
    assert_eq!(child.wait().expect("a process").code(), Some(1));
}

// ---- two at once, and killed ----

#[test]
fn two_add_at_once_while_one_reads() {
    const EACH: usize = 40;
    let place = Place::new();
    let start = |person: &str, from: usize| {
        let sessions: Vec<PathBuf> = (from..from + EACH).map(|n| place.session(n)).collect();
        let mut command = Command::new(assert_cmd::cargo::cargo_bin("plumbrise"));
        command.args(["archive", "add", "--person", person, "--archive"]).arg(place.archive());
        command.args(sessions).stdout(Stdio::piped()).stderr(Stdio::piped());
        command.spawn().expect("it runs")
    };
    let mut running = [start("K7-M2", 0), start("C3-X9", EACH)];
    let mut reads = 0;
    while running.iter_mut().any(|child| child.try_wait().expect("a process").is_none()) {
        let output = place.run(&["list", "--json"]);
        // Before the first of them has made it, there is none.
        let text = errors(&output);
        assert!(output.status.success() || text.contains("there is no archive"), "{text}");
        reads += 1;
    }
    for child in running {
        let output = child.wait_with_output().expect("a process");
        assert!(output.status.success(), "{}", errors(&output));
    }
    assert!(reads > 3, "{reads}");
    let persons = place.open().persons().expect("two");
    assert_eq!(persons.iter().map(|p| p.sessions).collect::<Vec<_>>(), [EACH, EACH]);
    place.verify_is_clean();
}

/// Numbers that look random and are the same every time (SplitMix64, Steele et al. 2014).
struct Numbers(u64);

impl Numbers {
    fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }
}

/// Runs an archive command and kills it that time after it began to write; false where it
/// had ended before.
fn killed(place: &Place, words: &[&str], after: Duration) -> bool {
    let mut child = Command::new(assert_cmd::cargo::cargo_bin("plumbrise"))
        .arg("archive")
        .args(words)
        .env("PLUMBRISE_ARCHIVE", place.archive())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("it runs");
    while !is_writing(place) && child.try_wait().expect("a process").is_none() {
        std::thread::yield_now();
    }
    sleep(after);
    child.kill().expect("it can be killed");
    // Without a status of its own, it was killed.
    child.wait().expect("a process").code().is_none()
}

/// True if somebody holds the lock of the archive.
fn is_writing(place: &Place) -> bool {
    let lock = fs::File::open(place.archive().join("lock"));
    lock.is_ok_and(|lock| matches!(lock.try_lock(), Err(fs::TryLockError::WouldBlock)))
}

/// True if something is in work in the archive, as a killed writer leaves it.
fn untidy(place: &Place) -> bool {
    let staging = place.archive().join("staging");
    let staged = fs::read_dir(staging).is_ok_and(|mut entries| entries.next().is_some());
    let journal = place.archive().join("index.sqlite-journal").exists();
    staged || journal || {
        let index = rusqlite::Connection::open(place.archive().join("index.sqlite"));
        let question = "SELECT EXISTS (SELECT 1 FROM unfinished)";
        index.and_then(|i| i.query_row(question, [], |row| row.get(0))).expect("an index")
    }
}

/// How long it takes, the middle of five times; `undo` is not counted.
fn duration(run: impl Fn(), mut undo: impl FnMut()) -> Duration {
    let mut times: Vec<Duration> = (0..5)
        .map(|_| {
            let start = Instant::now();
            run();
            let took = start.elapsed();
            undo();
            took
        })
        .collect();
    times.sort();
    times[2]
}

/// SIGKILL at 300 moments spread over the whole run of adding and erasing, in two archives:
/// after the next command all is whole, and what was there before is untouched.
#[test]
fn killed_at_any_moment_nothing_is_lost_or_half_present() {
    let halves = [20_260_504, 20_260_505]
        .map(|seed| std::thread::spawn(move || kill_at_moments(150, Numbers(seed))));
    let mut sum = [0; 4];
    for half in halves {
        let counts = half.join().expect("nothing was lost");
        sum.iter_mut().zip(counts).for_each(|(all, one)| *all += one);
    }
    let [hit, left, added, erased] = sum;
    println!(
        "of 300 moments {hit} hit a running command, {left} left something behind; added all \
         the same {added}, erased all the same {erased}"
    );
    // Else it would prove nothing.
    assert!(hit > 100 && left > 15 && added > 0 && erased > 0);
}

/// How many hit a running command, left something behind, had added, had erased.
fn kill_at_moments(moments: usize, mut numbers: Numbers) -> [usize; 4] {
    let base = [("C3-X9", 1), ("C3-X9", 2), ("F4-W6", 3)];
    let place = Place::with(&base);
    let mut archive = place.open();
    let before = archive.sessions().expect("three");
    let person = code("K7-M2");
    let session = place.session(50);
    let add = ["add", session.to_str().expect("Unicode"), "--person", "K7-M2", "--again"];
    let erase = ["erase", "K7-M2", "--yes"];
    let writing =
        duration(|| drop(place.says(&add)), || drop(archive.erase(&person).expect("erased")));
    let (mut hit, mut left, mut there_after_add, mut gone_after_erase) = (0, 0, 0, 0);
    let again = Adding { again: true, ..how(&person) };
    for moment in 0..moments {
        let after = writing.mul_f64(0.5 * numbers.share());
        let erasing = moment % 2 == 1;
        if erasing {
            archive.add(&session, &again).expect("added");
        }
        hit += usize::from(killed(&place, if erasing { &erase } else { &add }, after));
        left += usize::from(untidy(&place));
        // The next command, whichever it is.
        if moment % 3 == 0 {
            place.verify_is_clean();
        } else {
            let found = place.open().verify().expect("verified");
            assert!(found.is_clean(), "moment {moment}: {found:?}");
        }
        assert!(!untidy(&place));
        let all = archive.sessions().expect("sessions");
        let (own, others): (Vec<Entry>, Vec<Entry>) =
            all.into_iter().partition(|e| e.person == "K7-M2");
        assert_eq!(others, before, "moment {moment}");
        match own.as_slice() {
            [] => {
                gone_after_erase += usize::from(erasing);
                let bytes = contents(&place.archive());
                let has = |c: &Vec<u8>| c.windows(5).any(|w| w == b"K7-M2");
                assert!(!bytes.values().any(has), "moment {moment}");
            }
            [one] => {
                there_after_add += usize::from(!erasing);
                is_whole(&archive, one);
                let table = fs::read(session.join("reps.csv")).expect("there");
                assert_eq!(kept(&archive, one, "reps.csv"), table);
                archive.erase(&person).expect("erased");
            }
            more => panic!("moment {moment}: {more:?}"),
        }
    }
    before.iter().for_each(|entry| is_whole(&archive, entry));
    [hit, left, there_after_add, gone_after_erase]
}

/// Killed while it makes the archive: the next one goes on.
#[test]
fn killed_while_making_the_archive() {
    let place = Place::new();
    let session = place.session(1);
    let add = ["add", session.to_str().expect("Unicode"), "--person", "K7-M2"];
    let whole = duration(
        || drop(place.says(&add)),
        || fs::remove_dir_all(place.archive()).expect("removed"),
    );
    let mut numbers = Numbers(7);
    for moment in 0..40 {
        let _ = fs::remove_dir_all(place.archive());
        killed(&place, &add, whole.mul_f64(1.1 * numbers.share()));
        place.says(&add);
        place.verify_is_clean();
        assert!(place.archive().join("READ-ME.txt").exists(), "moment {moment}");
    }
}

// ---- erasing ----

#[test]
fn nothing_is_left_of_an_erased_person() {
    let place = Place::with(&[("K7M-R4T", 1), ("K7M-R4T", 2), ("C3-X9", 3)]);
    place.refused_quietly();
    let before = contents(&place.archive()).len();
    let text = place.says(&["erase", "k7m-r4t", "--yes"]);
    assert!(
        text.contains("K7M-R4T was erased") && text.contains("2 sessions with 10 files"),
        "{text}"
    );
    assert!(text.contains("Looked at afterwards") && text.contains("Not reached"), "{text}");
    let after = contents(&place.archive());
    // Of each an assessment, a table and a record; limits and figures are the other person's
    // too.
    assert_eq!(after.len(), before - 6);
    for (name, content) in &after {
        assert!(!content.windows(7).any(|w| w.eq_ignore_ascii_case(b"K7M-R4T")), "{name}");
        assert!(!content.windows(8).any(|w| w == b"filmed-1"), "{name}");
    }
    place.verify_is_clean();
    place.refused(&["list", "--person", "K7M-R4T"], 1, "no session of K7M-R4T");
    place.refused(&["erase", "K7M-R4T", "--yes"], 1, "no session of K7M-R4T");
    let session = place.session(1);
    let path = session.to_str().expect("Unicode");
    place.refused(&["add", path, "--person", "K7M-R4T"], 1, "was erased on");
    assert!(place.says(&["add", path, "--person", "K7M-R4T", "--again"]).starts_with("Added"));
    place.verify_is_clean();
}

impl Place {
    /// Without a yes it shows what would go, changes nothing and ends with status 2.
    fn refused_quietly(&self) {
        let before = contents(&self.archive());
        let output = self.run(&["erase", "K7M-R4T"]);
        assert_eq!(output.status.code(), Some(2));
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        assert!(text.contains("K7M-R4T: 2 sessions"), "{text}");
        assert!(errors(&output).contains("--yes"));
        assert_eq!(contents(&self.archive()), before);
    }
}

/// The index holds no form of an erased code that is quickly tried; the one that it holds is
/// scrypt's, as hashlib makes it.
#[test]
fn an_erased_code_is_kept_in_a_form_that_is_slow_to_try() {
    let place = Place::with(&[("K7M-R4T", 1), ("C3-X9", 2)]);
    place.says(&["erase", "K7M-R4T", "--yes"]);
    let read = python(
        r#"
import hashlib, json, pathlib, sqlite3, sys
path = pathlib.Path(sys.argv[1]) / "index.sqlite"
index = sqlite3.connect(path)
(archive,) = index.execute("SELECT value FROM about WHERE key = 'id'").fetchone()
((form, kept),) = index.execute("SELECT form, code_digest FROM erased").fetchall()
code = b"K7M-R4T"
slow = hashlib.scrypt(code, salt=archive.encode(), n=2**17, r=8, p=1, dklen=32, maxmem=2**28)
content = path.read_bytes()
quick = [f(t).hexdigest() for f in (hashlib.sha1, hashlib.sha256, hashlib.sha512, hashlib.md5)
         for t in (code, archive.encode() + code, code + archive.encode())]
print(json.dumps([form, kept == slow.hex(), any(q.encode() in content for q in quick)]))"#,
        &place.archive(),
    );
    assert_eq!(read, json!(["scrypt", true, false]));
}

/// A code that somebody wrote down elsewhere is told, not hidden.
#[test]
fn where_the_code_still_stands_is_told() {
    let place = Place::with(&[("K7-M2", 1)]);
    let other = place.session(2);
    fs::write(other.join("reps.csv"), "rep,note\n1,better than K7-M2\n").expect("written");
    let mut archive = place.open();
    archive.add(&other, &how(&code("C3-X9"))).expect("added");
    let text = place.says(&["erase", "K7-M2", "--yes"]);
    assert!(text.contains("still stand in") && text.contains("files/"), "{text}");
}

#[test]
fn who_is_due_is_shown_and_erased_when_asked() {
    let place = Place::new();
    let mut archive = Archive::open_or_create(&place.archive()).expect("an archive");
    let old: Timestamp = "2001-05-04T10:00:00Z".parse().expect("a time");
    for (person, number, at) in
        [("C3-X9", 1, Some(old)), ("K7-M2", 2, Some(old)), ("K7-M2", 3, None)]
    {
        let person = code(person);
        let how = Adding { recorded_at: at, ..how(&person) };
        archive.add(&place.session(number), &how).expect("added");
    }
    place.refused(&["list", "--due"], 1, "nobody has said");
    assert!(place.says(&["retention"]).contains("Nobody has said"));
    assert!(place.says(&["retention", "--years", "10"]).contains("rules of your clinic"));
    assert!(place.says(&["retention"]).contains("10 years"));
    let due = place.json(&["list", "--due", "--json"]);
    assert_eq!(due.as_array().map(Vec::len), Some(1));
    assert_eq!(due[0]["code"], "C3-X9");
    assert_eq!(place.run(&["erase", "--due"]).status.code(), Some(2));
    assert!(place.says(&["erase", "--due", "--yes"]).contains("C3-X9 was erased"));
    assert!(place.says(&["list", "--due"]).contains("Nobody is due"));
    assert_eq!(place.run(&["retention", "--years", "0"]).status.code(), Some(2));
    // Ten years to the day are not yet more than ten.
    let last = archive.persons().expect("one")[0].last;
    let later = |years: i64| {
        let zoned = last.to_zoned_datetime(jiff::tz::TimeZone::UTC);
        zoned.checked_add(jiff::Span::new().years(years)).expect("a time").timestamp()
    };
    assert!(archive.due(later(10)).expect("due").is_empty());
    assert_eq!(archive.due(later(11)).expect("due").len(), 1);
}

// ---- back-ups ----

#[test]
fn a_back_up_is_restored_byte_for_byte() {
    let place = Place::with(&[("K7-M2", 1), ("C3-X9", 2)]);
    let (one, two) = (place.path("one.tar"), place.path("two.tar"));
    let text = |path: &Path| path.to_str().expect("Unicode").to_owned();
    place.says(&["backup", &text(&one)]);
    sleep(Duration::from_millis(1100));
    place.says(&["backup", &text(&two)]);
    assert_eq!(fs::read(&one).expect("there"), fs::read(&two).expect("there"));
    let listed = python(
        r#"
import json, sys, tarfile
members = tarfile.open(sys.argv[1]).getmembers()
assert all(m.isfile() and m.mtime == 0 and m.uid == 0 and m.uname == "" for m in members)
names = [m.name for m in members]
assert names == sorted(names)
print(json.dumps(names))"#,
        &one,
    );
    let names: Vec<String> = contents(&place.archive()).into_keys().collect();
    assert_eq!(listed, json!(names));

    let back = place.path("back");
    let told = place.run(&["restore", &text(&one), &text(&back)]);
    assert!(told.status.success(), "{}", errors(&told));
    assert!(errors(&told).contains("--erased-in"));
    assert_eq!(contents(&back), contents(&place.archive()));
    assert!(Archive::open(&back).expect("an archive").verify().expect("verified").is_clean());

    place.refused(&["restore", &text(&one), &text(&back)], 1, "something of that name");
    place.refused(&["backup", &text(&one)], 1, "exists already");
    place.says(&["backup", &text(&one), "--force"]);
    let inside = place.archive().join("inside.tar");
    place.refused(&["backup", &text(&inside)], 1, "does not lie in the archive");
    place.verify_is_clean();
}

#[test]
fn a_spoilt_back_up_restores_nothing() {
    let place = Place::with(&[("K7-M2", 1)]);
    let tar = place.path("good.tar");
    place.open().backup(&tar, false).expect("written");
    let good = fs::read(&tar).expect("there");
    let bad = place.path("bad.tar");
    let back = place.path("back");
    let refused = |content: &[u8], says: &str| {
        fs::write(&bad, content).expect("written");
        let error = restore(&bad, &back, None).expect_err("refused").to_string();
        assert!(error.contains(says), "«{says}» is not in: {error}");
        assert!(!back.exists());
    };
    let at = good.windows(7).position(|w| w == b"rep,of\n").expect("a table");
    let mut flipped = good.clone();
    flipped[at] ^= 1;
    refused(&flipped, "is not what its name says");
    refused(&good[..good.len() / 2], "");
    refused(&good[..0], "no index");
    refused(
        b"something else, which is long enough to be a block of a tar file".repeat(20).as_slice(),
        "cannot be read",
    );
    let with = |name: &str| {
        let mut tar = tar::Builder::new(Vec::new());
        let mut header = tar::Header::new_gnu();
        header.as_old_mut().name[..name.len()].copy_from_slice(name.as_bytes());
        header.set_size(1);
        header.set_mode(0o644);
        header.set_cksum();
        tar.append(&header, &b"x"[..]).expect("appended");
        tar.into_inner().expect("finished")
    };
    for name in ["../evil", "/evil", "files/ab/../../evil", "files/ab/abc", "other"] {
        refused(&with(name), "is not a file of an archive");
    }
    // One file fewer, with everything else in order.
    let objects = contents(&place.archive());
    let gone = objects.keys().find(|name| name.starts_with("files/")).expect("an object");
    let mut shorter = tar::Builder::new(Vec::new());
    for (name, content) in objects.iter().filter(|(name, _)| *name != gone) {
        let mut header = tar::Header::new_gnu();
        header.set_size(content.len() as u64);
        shorter.append_data(&mut header, name, content.as_slice()).expect("appended");
    }
    refused(&shorter.into_inner().expect("finished"), "1 files are missing");
    assert!(!place.path("evil").exists() && !Path::new("/evil").exists());
    assert_eq!(
        fs::read_dir(place.0.path())
            .expect("a folder")
            .filter(|e| {
                e.as_ref()
                    .expect("an entry")
                    .file_name()
                    .to_string_lossy()
                    .starts_with(".plumbrise")
            })
            .count(),
        0
    );
}

/// Who was erased after the back-up does not come back with it; who came back after that
/// does.
#[test]
fn an_old_back_up_does_not_bring_erased_people_back() {
    let place = Place::with(&[("K7-M2", 1), ("C3-X9", 2)]);
    let tar = place.path("old.tar");
    let text = |path: &Path| path.to_str().expect("Unicode").to_owned();
    place.says(&["backup", &text(&tar)]);
    place.says(&["erase", "K7-M2", "--yes"]);
    let back = place.path("back");
    let told =
        place.says(&["restore", &text(&tar), &text(&back), "--erased-in", &text(&place.archive())]);
    assert!(told.contains("K7-M2 was erased"), "{told}");
    let mut restored = Archive::open(&back).expect("an archive");
    assert_eq!(restored.persons().expect("one").len(), 1);
    assert!(restored.verify().expect("verified").is_clean());
    let bytes = contents(&back);
    assert!(!bytes.values().any(|c| c.windows(5).any(|w| w == b"K7-M2")));
    let why = restored.add(&place.session(1), &how(&code("K7-M2"))).expect_err("refused");
    assert!(why.to_string().contains("was erased on"));

    // Back after erasure, and in a newer back-up.
    sleep(Duration::from_millis(1100));
    let again = place.session(1);
    place.says(&["add", &text(&again), "--person", "K7-M2", "--again"]);
    let newer = place.path("newer.tar");
    place.says(&["backup", &text(&newer)]);
    let folder = place.path("back-2");
    let other = place.open();
    let erased = restore(&newer, &folder, Some(&other)).expect("restored");
    assert!(erased.persons.is_empty());
    assert_eq!(contents(&folder), contents(&place.archive()));

    let stranger = Place::with(&[("K7-M2", 1)]);
    let other = stranger.open();
    let why = restore(&tar, &place.path("back-3"), Some(&other)).expect_err("refused");
    assert!(why.to_string().contains("another archive"));
    assert!(!place.path("back-3").exists());
}

/// A back-up of an older schema is brought up to date, and who was erased since is erased.
#[test]
fn an_older_back_up_is_restored() {
    let place = Place::new();
    let old = place.path("old.tar");
    let mut tar = tar::Builder::new(fs::File::create(&old).expect("made"));
    for (name, content) in contents(&fixture(1)) {
        let mut header = tar::Header::new_gnu();
        header.set_size(content.len() as u64);
        tar.append_data(&mut header, name, content.as_slice()).expect("appended");
    }
    tar.finish().expect("finished");
    copy(&fixture(1), &place.archive());
    place.says(&["erase", "K7-M2", "--yes"]);
    let back = place.path("back");
    let erased = restore(&old, &back, Some(&place.open())).expect("restored");
    assert_eq!(erased.persons.iter().map(|e| e.person.as_str()).collect::<Vec<_>>(), ["K7-M2"]);
    let mut archive = Archive::open(&back).expect("an archive");
    assert!(archive.verify().expect("verified").is_clean());
    assert_eq!(archive.persons().expect("one").len(), 1);
    for erased in ["K7-M2", "F4-W6"] {
        let why = archive.add(&place.session(9), &how(&code(erased))).expect_err("refused");
        assert!(why.to_string().contains("was erased on"), "{erased}: {why}");
    }
}

// ---- exports ----

impl Place {
    /// Adds a session with a film of that size, of which nothing is on the disk.
    fn add_with_film(&self, number: usize, bytes: u64) -> Entry {
        let session = self.session(number);
        let film = fs::File::create(session.join("annotated.mp4")).expect("made");
        film.set_len(bytes).expect("its size is set");
        let figures = r#"{"faces":"hidden","film":null,"rep_plots":[],"pictures":[]}"#;
        fs::write(session.join("figures.json"), figures).expect("written");
        let mut archive = Archive::open_or_create(&self.archive()).expect("an archive");
        archive.add(&session, &how(&code("K7-M2"))).expect("added").entry
    }
}

/// The film is neither copied nor read for a table, a review or a comparison: it need not
/// even be there.
#[test]
fn only_what_is_needed_of_a_session_is_read() {
    let place = Place::new();
    let entries = [1, 2].map(|number| place.add_with_film(number, 50_000_000));
    for entry in &entries {
        let files = place.open().files(entry).expect("files");
        let film = files.iter().find(|file| file.name == "annotated.mp4").expect("a film");
        let object = place.archive().join("files").join(&film.sha256[..2]).join(&film.sha256);
        let _ = fs::remove_file(object);
    }
    let tables = place.path("tables");
    let out = tables.to_str().expect("Unicode");
    for words in [
        &["archive", "export", "--as", "csv", "--out", out][..],
        &["review", &entries[0].id],
        &["compare", &entries[0].id, &entries[1].id],
    ] {
        let mut command = plumbrise();
        command.args(words).env("PLUMBRISE_ARCHIVE", place.archive());
        let output = command.output().expect("it runs");
        assert!(output.status.success(), "{words:?}: {}", errors(&output));
    }
    let rows = fs::read_to_string(tables.join("sessions.csv")).expect("a table");
    assert_eq!(rows.lines().count(), 3);
    // What it does need is not taken as it is.
    let files = place.open().files(&entries[0]).expect("files");
    let assessment = files.iter().find(|file| file.name == "assessment.json").expect("one");
    let object = place.archive().join("files").join(&assessment.sha256[..2]);
    fs::remove_file(object.join(&assessment.sha256)).expect("removed");
    fs::write(object.join(&assessment.sha256), "{}").expect("written");
    place.refused(&["export", "--as", "csv", "--out", out, "--force"], 1, "was changed");
}

#[test]
fn a_killed_export_leaves_nothing_in_the_folder_for_temporary_files() {
    let place = Place::new();
    for number in 1..=3 {
        place.add_with_film(number, 30_000_000);
    }
    let temporary = place.path("temporary");
    fs::create_dir(&temporary).expect("a folder");
    let out = place.path("out/tables");
    fs::create_dir(place.path("out")).expect("a folder");
    let export = || {
        let mut command = Command::new(assert_cmd::cargo::cargo_bin("plumbrise"));
        command.args(["archive", "export", "--as", "csv", "--force", "--out"]).arg(&out);
        command.env("PLUMBRISE_ARCHIVE", place.archive()).env("TMPDIR", &temporary);
        command.stdout(Stdio::null()).stderr(Stdio::null());
        command
    };
    let whole = duration(|| assert!(export().status().expect("it runs").success()), || ());
    let mut numbers = Numbers(11);
    let mut hit = 0;
    for _ in 0..20 {
        let mut child = export().spawn().expect("it runs");
        sleep(whole.mul_f64(numbers.share()));
        child.kill().expect("it can be killed");
        hit += usize::from(child.wait().expect("a process").code().is_none());
        assert_eq!(fs::read_dir(&temporary).expect("a folder").count(), 0);
    }
    assert!(hit > 5, "{hit}");
}

/// What a killed back-up or restoration has left beside its destination goes with the next
/// one, and so does what a killed writer has left in the archive.
#[test]
fn what_killed_back_ups_have_left_is_swept() {
    let place = Place::new();
    place.add_with_film(1, 60_000_000);
    let (tar, beside) = (place.path("all.tar"), place.path("beside"));
    place.says(&["backup", tar.to_str().expect("Unicode")]);
    fs::create_dir(&beside).expect("a folder");
    let (file, folder) = (beside.join("own.tar"), beside.join("back"));
    let text = |path: &Path| path.to_str().expect("Unicode").to_owned();
    let (file, folder, tar) = (text(&file), text(&folder), text(&tar));
    let names = || {
        let entries = fs::read_dir(&beside).expect("a folder").flatten();
        let mut names: Vec<String> =
            entries.map(|e| e.file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    };
    let mut numbers = Numbers(13);
    let mut left = 0;
    for (words, name) in
        [(&["backup", &file, "--force"][..], "own.tar"), (&["restore", &tar, &folder], "back")]
    {
        let clear = || {
            let _ = fs::remove_dir_all(&folder);
            let _ = fs::remove_file(&file);
        };
        let whole = duration(|| drop(place.says(words)), clear);
        for _ in 0..12 {
            let mut child = Command::new(assert_cmd::cargo::cargo_bin("plumbrise"))
                .arg("archive")
                .args(words)
                .env("PLUMBRISE_ARCHIVE", place.archive())
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .spawn()
                .expect("it runs");
            sleep(whole.mul_f64(numbers.share()));
            child.kill().expect("it can be killed");
            child.wait().expect("a process");
            clear();
            left += usize::from(!names().is_empty());
            let work = place.archive().join("staging/work/session");
            fs::create_dir_all(&work).expect("a folder");
            fs::write(work.join("reps.csv"), "half").expect("written");
            place.says(words);
            assert_eq!(names(), [name]);
            // A restoration does not look at the archive.
            assert!(name == "back" || !work.exists());
            clear();
        }
    }
    // Else it would prove nothing.
    assert!(left > 5, "{left}");
    place.verify_is_clean();
}

// ---- schemas ----

fn fixture(schema: usize) -> PathBuf {
    project(&format!("tests/golden/archive/schema-{schema}"))
}

fn copy(from: &Path, to: &Path) {
    for (name, content) in contents(from) {
        let place = to.join(name);
        fs::create_dir_all(place.parent().expect("a folder")).expect("a folder");
        fs::write(place, content).expect("written");
    }
}

/// Archives of every schema there ever was are opened, brought to this one and whole. The
/// one of a new schema: `cargo test --release --test archive -- --ignored fixture`.
#[test]
fn archives_of_every_schema_are_read() {
    for schema in 1..=SCHEMA {
        assert!(fixture(schema).join("index.sqlite").exists(), "no archive of schema {schema}");
        let place = Place::new();
        copy(&fixture(schema), &place.archive());
        place.verify_is_clean();
        let archive = place.open();
        let persons = archive.persons().expect("persons");
        let codes: Vec<&str> = persons.iter().map(|p| p.code.as_str()).collect();
        assert_eq!(codes, ["C3-X9", "K7-M2"], "schema {schema}");
        assert_eq!(archive.retention_years().expect("told"), Some(10));
        let entries = archive.sessions().expect("sessions");
        assert_eq!(entries.len(), 3);
        for entry in &entries {
            let session = archive.open_session(entry).expect("opened");
            assert_eq!(plumbrise::session::summary(&session).expect("read"), entry.summary);
        }
        let session = place.session(9);
        let erased = ["add", session.to_str().expect("Unicode"), "--person", "F4-W6"];
        place.refused(&erased, 1, "was erased on");
        let index = SqliteIndex::open(&place.archive().join("index.sqlite")).expect("an index");
        assert_eq!(index.schema().expect("told"), SCHEMA);
    }
}

#[test]
#[ignore = "makes the archive of the current schema, once for each"]
fn fixture_of_the_current_schema() {
    let place = Place::with(&[("K7-M2", 1), ("K7-M2", 2), ("C3-X9", 3), ("F4-W6", 4)]);
    place.says(&["erase", "F4-W6", "--yes"]);
    place.says(&["retention", "--years", "10"]);
    assert!(!fixture(SCHEMA).exists(), "it is there already");
    copy(&place.archive(), &fixture(SCHEMA));
}
