//! How near the program comes to the exact truth of the rendered clips: one table, and
//! a budget for each line of it. `scripts/accuracy` prints the table and renews the
//! README's.
//!
//! The truth (`sample-clips/*.truth.json`) follows from the true joints of the rendered
//! bodies by the definitions in `sample-clips/README.md`; nothing of it comes from this
//! program.
//!
//! `PLUMBRISE_CLIPS`: another folder of clips with truth. `PLUMBRISE_SESSIONS`: a folder
//! in which sessions are kept; those found there are judged again from their landmarks.
//! `PLUMBRISE_STATURE=none`: no stature is told. `PLUMBRISE_TABLE`: a file for the table.

#[path = "../common/mod.rs"]
mod common;
mod table;

use std::path::{Path, PathBuf};

use common::{errors, json, plumbrise, project};
use serde_json::Value;
use table::Table;

/// Every clip with truth, assessed, beside its truth.
fn clips() -> Vec<(Value, Value)> {
    let folder =
        std::env::var_os("PLUMBRISE_CLIPS").map_or_else(|| project("sample-clips"), PathBuf::from);
    let temporary = tempfile::tempdir().expect("a temporary folder");
    let sessions = std::env::var_os("PLUMBRISE_SESSIONS")
        .map_or_else(|| temporary.path().to_owned(), PathBuf::from);
    let mut names: Vec<String> = std::fs::read_dir(&folder)
        .expect("the clips' folder")
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .filter_map(|name| Some(name.strip_suffix(".truth.json")?.to_owned()))
        .collect();
    names.sort();
    let pairs = names.iter().filter_map(|name| {
        let truth = json(&folder.join(format!("{name}.truth.json")));
        let found = assess(&folder.join(format!("{name}.mp4")), &sessions.join(name), &truth);
        Some((found?, truth))
    });
    pairs.collect()
}

/// `None` for a truth file of the older kind, which `end_to_end` checks.
fn assess(clip: &Path, session: &Path, truth: &Value) -> Option<Value> {
    truth["rung"].as_str()?;
    if let Some(place) = usual_session(clip) {
        return Some(json(&place.join("assessment.json")));
    }
    let stature = (truth["stature_m"].as_f64()? * 100.0).to_string();
    let mut command = plumbrise();
    if session.join("landmarks.csv").exists() {
        command.arg("reassess").arg(session);
        command.arg("--criteria").arg(project("src/judgement/criteria/default.toml"));
    } else {
        command
            .args(["assess", "--no-video", "--no-html", "--no-pdf"])
            .arg(clip)
            .arg("--out")
            .arg(session);
    }
    // «none»: what the program makes of a clip of somebody whose stature it is not told.
    match std::env::var("PLUMBRISE_STATURE").as_deref() {
        Ok("none") => {}
        _ => drop(command.args(["--stature", &stature])),
    }
    let output = command.output().expect("it runs");
    assert!(output.status.success(), "{}: {}", clip.display(), errors(&output));
    Some(json(&session.join("assessment.json")))
}

/// The session the other tests use too, unless something unusual is asked for.
fn usual_session(clip: &Path) -> Option<PathBuf> {
    let unusual = ["PLUMBRISE_CLIPS", "PLUMBRISE_SESSIONS", "PLUMBRISE_STATURE"];
    let usual = unusual.iter().all(|name| std::env::var_os(name).is_none());
    usual.then(|| common::session(&clip.file_stem().unwrap_or_default().to_string_lossy()))
}

#[test]
fn the_table_is_within_its_budgets() {
    let clips = clips();
    let own = std::env::var_os("PLUMBRISE_CLIPS").is_none();
    assert!(clips.len() >= if own { 27 } else { 1 }, "{} clips with truth", clips.len());
    let table = Table::of(&clips);
    println!("{}", table.details());
    println!("{table}");
    if let Some(path) = std::env::var_os("PLUMBRISE_TABLE") {
        std::fs::write(path, table.to_string()).expect("the table is written");
    }
    let broken = table.broken();
    assert!(broken.is_empty(), "over budget:\n{}", broken.join("\n"));
}
