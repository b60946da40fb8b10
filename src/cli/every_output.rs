//! A measure that is added to the list is in every output, without a word anywhere else.

use std::collections::BTreeMap;
use std::path::PathBuf;

use jiff::civil::date;
use serde_json::{Value, json};

use super::explain;
use crate::archive::{Entry, RecordedFrom};
use crate::between::agreement::{self, labels};
use crate::between::sides::{Comparison, LegSession};
use crate::between::weeks::{Dated, Repeats, Trend};
use crate::body::Side;
use crate::error::Result;
use crate::export::{self, Format, Item};
use crate::files::{self, FolderWriter};
use crate::judgement::criteria::Criteria;
use crate::judgement::document::{Assessment, Rep};
use crate::judgement::measures::{self, Column, Compared, Explained, Measure, Unit, Way, made_up};
use crate::judgement::uncertainty;
use crate::report::content::Content;
use crate::report::{self, leaflet};
use crate::session::{Figures, Session, SessionFiles};
use crate::settings;

/// Made of a number that every rep has.
const MADE_UP: Measure = Measure {
    about: Explained {
        key: "made_up_deg",
        definition: "Invented for a test.",
        formula: "100·rise_s",
        reads: "degrees",
        validity: "None.",
        source: "Design choice",
    },
    label: "Invented angle",
    unit: Unit::Degree,
    digits: 1,
    of: |rep| rep.rise_s.map(|s| 100.0 * s),
    with_each_rep: true,
    column: Some(Column { head: "Invented", unit: "deg", digits: 1, with_error: true }),
    compared: Some(Compared {
        place: 10,
        way: Way::Size,
        hope: "Nothing is hoped for.",
        least_change: Some((7.25, "Munro2012")),
        drawn_over_weeks: true,
        drawn_by_leg: Some(1.0),
    }),
    ..Measure::PLAIN
};

fn assessment(leg: Side, rise_s: f64) -> Assessment {
    let rep = Rep::made(json!({
        "seat_off_s": 1.0, "stand_s": 1.0 + rise_s, "seat_contact_s": 5.0, "rise_s": rise_s,
        "standard_error": { "made_up_deg": 1.5 },
    }));
    let a = json!({
        "schema": "plumbrise.assessment/1", "program_version": "0",
        "clip": { "file": "a.mp4", "sha256": leg.word(), "width_px": 720, "height_px": 1280,
                  "duration_s": 9.0, "frames": 270, "frame_rate_hz": 30.0 },
        "rung": "single_leg", "leg": leg, "leg_clarity": 1.0,
        "view": { "kind": "frontal", "yaw_deg": 0.0, "yaw_standard_error_deg": 2.0,
                  "toe_out_deg": 8.0 },
        "scale": { "source": "stature", "m_per_px": 0.002, "relative_uncertainty": 0.02,
                   "stature_m": 1.72 },
        "reps": [rep], "attempts": [],
        "set": { "reps": 1, "clean": 1, "faulted": 0, "not_judged": 0, "longest_clean_run": 1,
                 "target": 22, "target_met": false, "drift": null, "one_go": true },
        "told": { "leg": null, "rung": null, "stature_m": 1.72, "seat_height_m": null },
        "filming": { "analysed_frames": 270, "tracked_frames": 270, "other_people": 0,
                     "camera_moved_s": [], "damaged": 0, "cut_short": false, "hdr": false,
                     "recorded_hz": null },
        "notes": [], "cautions": ["Take care."],
    });
    serde_json::from_value(a).expect("an assessment")
}

fn judged(leg: Side, rise_s: f64) -> Session {
    Session::new(assessment(leg, rise_s), None, Criteria::built_in().expect("limits"))
}

/// A session in memory.
struct InMemory(BTreeMap<&'static str, Vec<u8>>);

impl SessionFiles for InMemory {
    fn shown(&self) -> PathBuf {
        "in memory".into()
    }

    fn has(&self, name: &str) -> bool {
        self.0.contains_key(name)
    }

    fn content(&self, name: &str) -> Result<Option<Vec<u8>>> {
        Ok(self.0.get(name).cloned())
    }
}

fn exported(format: Format, file: &str) -> String {
    let text = serde_json::to_vec(&assessment(Side::Left, 1.5)).expect("JSON");
    let session = Box::new(InMemory([(crate::session::ASSESSMENT, text)].into()));
    let item = Item { session, person: None, id: "a1".into(), recorded_at: None };
    let place = tempfile::tempdir().expect("a folder");
    let out = place.path().join("out");
    let into = FolderWriter::new(&out, false).expect("begun");
    export::write(format, &[item], &into).expect("written");
    into.publish().expect("there");
    files::read_text(&out.join(file)).expect("readable")
}

/// `text` names it, and has its value.
#[track_caller]
fn tells(text: &str, name: &str, value: &str) {
    assert!(text.contains(name), "«{name}» is not in: {text}");
    assert!(text.contains(value), "{value} is not in: {text}");
}

#[test]
fn a_measure_that_is_added_is_in_every_output() {
    made_up::add(MADE_UP);
    let (left, right) = (judged(Side::Left, 1.5), judged(Side::Right, 1.25));

    tells(&explain::list(), "made_up_deg", "Invented for a test");
    let it = measures::find("made_up").expect("found");
    tells(&explain::explained(it), "Invented for a test.", "100·rise_s");

    let trials: Vec<Vec<Rep>> = (0..settings::TRIALS)
        .map(|n| assessment(Side::Left, 1.5 + 0.01 * (n % 2) as f64).reps)
        .collect();
    let errors = uncertainty::standard_errors(&left.machine.reps, &trials, 30.0);
    assert!(errors[0].contains_key("made_up_deg"), "{errors:?}");

    let mut csv = Vec::new();
    crate::session::write_reps(&left.machine, &mut csv).expect("written");
    let csv = String::from_utf8(csv).expect("text");
    tells(&csv, "made_up_deg", "150.0");
    tells(&csv, "made_up_deg_standard_error", "1.5");

    tells(&report::terminal(&left, false), "Invented", "150.0 ±1.5");
    let figures = Figures::default();
    let content = Content { session: &left, date: date(2026, 3, 9), figures: &figures };
    let page = report::page(&content, "film").expect("a page");
    tells(&page, "Invented angle", "150.0 ±1.5°");
    tells(&page, "Invented for a test.", "made_up_deg (Invented angle)");

    let leg = |session: &Session| LegSession::new("one".into(), session.clone());
    let sides = Comparison::of(leg(&left), leg(&right), None).expect("comparable");
    let document = serde_json::to_string(&sides).expect("JSON");
    tells(&document, r#""measure":"made_up_deg""#, r#""left_less_right":25.0"#);
    let told = report::comparison(&sides, date(2026, 3, 9));
    tells(&report::leaflet(&told, false), "Invented angle, °", "+25.0");
    tells(&leaflet_drawings(&told), "Invented angle, rep by rep", "150.0");

    let dated = |session: &Session, day: &str| Dated {
        id: day.into(),
        recorded_at: format!("{day}T10:00:00Z").parse().expect("a time"),
        day_known: true,
        summary: session.summary(),
    };
    let later = judged(Side::Left, 1.75);
    let weeks = vec![dated(&left, "2026-03-02"), dated(&later, "2026-03-09")];
    let trend = Trend::of(None, weeks, &Repeats::default());
    let document = serde_json::to_string(&trend).expect("JSON");
    tells(&document, r#""measure":"made_up_deg""#, r#""difference":25.0"#);
    let told = report::trend(&trend, date(2026, 3, 9));
    tells(&report::leaflet(&told, false), "Invented angle, °", "+25.0, larger");
    tells(&report::leaflet(&told, false), "published [Munro2012]", "Nothing is hoped for.");
    tells(&leaflet_drawings(&told), "Invented angle, °", "175.0");

    tells(&exported(Format::Csv, "reps.csv"), "made_up_deg_standard_error", "150");
    tells(&exported(Format::Csv, "sessions.csv"), "made_up_deg_mean", "150");
    tells(&exported(Format::Csv, "columns.csv"), "Invented for a test.", "made_up_deg");
    let bundle: Value =
        serde_json::from_str(&exported(Format::Fhir, "a1.fhir.json")).expect("JSON");
    let bundle = bundle.to_string();
    tells(&bundle, "made_up_deg_mean", r#""value":150.0"#);
    tells(
        &bundle,
        "Invented for a test (standard error)",
        r#""definition":"Invented for a test.""#,
    );

    let place = tempfile::tempdir().expect("a folder");
    let file = place.path().join("labels.csv");
    files::write_text(&file, "rep,made_up_deg\n1,149.0\n").expect("written");
    let set = agreement::Set {
        session: "one".into(),
        labels_file: "labels.csv".into(),
        assessment: left.machine.clone(),
        labels: labels::read(&file).expect("labels"),
    };
    let agreed = agreement::compare(&[set]);
    tells(&report::agreement(&agreed, false), "made_up_deg: on 1 rep, +1.00°", "+1.00");

    let entry = Entry {
        id: "a1".into(),
        person: "K7-M2".into(),
        recorded_at: "2026-03-02T10:00:00Z".parse().expect("a time"),
        recorded_from: RecordedFrom::Told,
        added_at: "2026-03-02T10:00:00Z".parse().expect("a time"),
        summary: left.summary(),
    };
    tells(&report::archive::session(&entry, &[]), "Invented angle, °", "150.0");
}

/// What stands in place of the drawings of a short report.
fn leaflet_drawings(it: &leaflet::Leaflet) -> String {
    let parts = it.sections.iter().flat_map(|section| &section.parts);
    let figures = parts.flat_map(|part| match part {
        leaflet::Part::Figures(figures) => figures.as_slice(),
        _ => &[],
    });
    figures.map(|f| format!("{} {}", f.plot.title, f.plot.alternative)).collect()
}
