//! A data set after BIDS (Brain Imaging Data Structure 1.10), extension Motion: one
//! `ses-` a session, points as channels, the reps as events.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use serde_json::{Value, json};

use super::Item;
use super::columns::state;
use super::stored::{Stored, iso};
use crate::body::Side;
use crate::error::{Error, Remedy, Result};
use crate::files::FolderWriter;
use crate::judgement::document::{Origin, word};
use crate::record::markers::Trc;
use crate::report::wording::export as words;
use crate::session::person::Code;

const VERSION: &str = "1.10.0";
const TASK: &str = "sittostand";
const UNKNOWN: &str = "n/a";

pub(super) fn write(items: &[Item], into: &FolderWriter) -> Result<()> {
    let mut people: BTreeMap<String, &str> = BTreeMap::new();
    let mut sessions: BTreeMap<String, &str> = BTreeMap::new();
    for item in items {
        let stored = Stored::read(item)?;
        let Some(code) = item.person.as_ref().map(Code::as_str) else {
            return Err(Error::NotExported {
                what: "BIDS asks for a person for each session".into(),
                remedy: Remedy::GivePerson,
            });
        };
        let (person, session) = (label(code), label(stored.id()));
        let one_another = people.insert(person.clone(), code).is_some_and(|other| other != code)
            || sessions.insert(session.clone(), &item.id).is_some();
        if one_another {
            return Err(Error::NotExported {
                what: format!("'{code}' differs from another code by a dash only"),
                remedy: Remedy::OneByOne,
            });
        }
        write_session(&stored, &person, &session, into)?;
    }
    text(into, "README", words::BIDS_README)?;
    document(into, "dataset_description.json", &description())?;
    let mut table = String::from("participant_id\n");
    for person in people.keys() {
        let _ = writeln!(table, "sub-{person}");
    }
    text(into, "participants.tsv", &table)?;
    let meaning = json!({"participant_id": {"Description": words::PARTICIPANT}});
    document(into, "participants.json", &meaning)
}

/// A label may hold letters and digits only.
fn label(text: &str) -> String {
    text.chars().filter(char::is_ascii_alphanumeric).collect()
}

fn text(into: &FolderWriter, name: &str, text: &str) -> Result<()> {
    into.write(name, |out| out.write_all(text.as_bytes()))
}

fn document(into: &FolderWriter, name: &str, value: &Value) -> Result<()> {
    into.write(name, |out| {
        serde_json::to_writer_pretty(&mut *out, value)?;
        writeln!(out)
    })
}

fn description() -> Value {
    json!({
        "Name": words::BIDS_NAME,
        "BIDSVersion": VERSION,
        "DatasetType": "raw",
        "GeneratedBy": [{"Name": "plumbrise", "Version": env!("CARGO_PKG_VERSION")}],
    })
}

fn write_session(stored: &Stored, person: &str, session: &str, into: &FolderWriter) -> Result<()> {
    let points = stored.points()?;
    let system = match stored.session.machine.source {
        Origin::Film | Origin::PointsOfAFilm => "video",
        Origin::Markers => "markers",
    };
    let base = format!("sub-{person}/ses-{session}");
    let stem = format!("sub-{person}_ses-{session}_task-{TASK}_tracksys-{system}");
    let file = |kind: &str| format!("{base}/motion/{stem}_{kind}");

    text(into, &file("motion.tsv"), &places(&points))?;
    document(into, &file("motion.json"), &sidecar(stored, &points, system))?;
    text(into, &file("channels.tsv"), &channels(&points))?;
    document(into, &file("channels.json"), &frames(stored))?;
    text(into, &file("events.tsv"), &events(stored))?;
    document(into, &file("events.json"), &event_columns())?;
    let scans = format!(
        "filename\tacq_time\nmotion/{stem}_motion.tsv\t{}\n",
        stored.recorded_at.map_or(UNKNOWN.into(), iso)
    );
    text(into, &format!("{base}/sub-{person}_ses-{session}_scans.tsv"), &scans)
}

/// A row a sample, without a heading; the order of its columns is that of the channels.
fn places(points: &Trc) -> String {
    let mut table = String::new();
    for frame in 0..points.times_s.len() {
        let mut cells = Vec::with_capacity(3 * points.names.len());
        for course in &points.places_m {
            match course.get(frame).copied().flatten() {
                Some(p) => cells.extend([p.x, p.y, p.z].map(|v| format!("{v:.5}"))),
                None => cells.extend([UNKNOWN; 3].map(str::to_owned)),
            }
        }
        let _ = writeln!(table, "{}", cells.join("\t"));
    }
    table
}

fn channels(points: &Trc) -> String {
    let mut table = String::from("name\tcomponent\ttype\ttracked_point\tunits\treference_frame\n");
    for name in &points.names {
        for axis in ["x", "y", "z"] {
            let _ = writeln!(table, "{name}_{axis}\t{axis}\tPOS\t{name}\tm\troom");
        }
    }
    table
}

fn frames(stored: &Stored) -> Value {
    let how = match stored.session.machine.source {
        Origin::Film | Origin::PointsOfAFilm => words::FRAME_OF_A_FILM,
        Origin::Markers => words::FRAME_OF_MARKERS,
    };
    // Axes as BIDS abbreviates them: Anterior, Left, Superior and so on, of the person, who
    // faces the camera. Left × Superior is Anterior: right-handed. There are no rotations in the
    // data, but the table of `*_channels.json` recommends an order, of six and no «none».
    json!({"reference_frame": {"Levels": {"room": {
        "SpatialAxes": "LSA",
        "RotationOrder": "XYZ",
        "RotationRule": "right-hand",
        "Description": format!("{how} {}", words::NO_ROTATIONS),
    }}}})
}

fn sidecar(stored: &Stored, points: &Trc, system: &str) -> Value {
    let a = &stored.session.machine;
    let channels = 3 * points.names.len();
    json!({
        "TaskName": TASK,
        "TaskDescription": words::task(a.rung, a.leg.map(Side::word)),
        "SamplingFrequency": points.rate_hz,
        "SamplingFrequencyEffective": points.rate_hz,
        "RecordingDuration": points.times_s.len() as f64 / points.rate_hz,
        "TrackingSystemName": system,
        "TrackedPointsCount": points.names.len(),
        "MotionChannelCount": channels,
        "POSChannelCount": channels,
        "ORNTChannelCount": 0,
        "MissingValues": UNKNOWN,
        "SubjectArtefactDescription": UNKNOWN,
        "Manufacturer": "plumbrise",
        "SoftwareVersions": a.program_version,
    })
}

/// A row a rep: from the seat to the seat.
fn events(stored: &Stored) -> String {
    let mut table = String::from(
        "onset\tduration\ttrial_type\trep\tstand\tdescent_start\tverdict_of_program\tverdict\t\
         reasons\treview_state\n",
    );
    let time = |t: Option<f64>| t.map_or(UNKNOWN.into(), |t| t.to_string());
    let review = state(&stored.session.state());
    for (machine, rep) in stored.session.machine.reps.iter().zip(&stored.session.in_force.reps) {
        // An event without a start has no place in the table.
        let Some((start, end)) = rep.span_s() else { continue };
        let reasons: Vec<String> = rep.reasons.iter().filter_map(word).collect();
        let verdict = |v| word(&v).unwrap_or(UNKNOWN.into());
        let _ = writeln!(
            table,
            "{start}\t{}\trep\t{}\t{}\t{}\t{}\t{}\t{}\t{review}",
            crate::signal::rounded(end - start, 3),
            rep.number,
            time(rep.stand_s),
            time(rep.descent_start_s),
            verdict(machine.judgement),
            verdict(rep.judgement),
            if reasons.is_empty() { UNKNOWN.into() } else { reasons.join(" ") },
        );
    }
    table
}

fn event_columns() -> Value {
    let columns = words::EVENT_COLUMNS.iter().map(|(name, unit, meaning)| {
        let mut told = json!({"Description": meaning});
        if !unit.is_empty() {
            told["Units"] = (*unit).into();
        }
        ((*name).to_owned(), told)
    });
    Value::Object(columns.collect())
}
