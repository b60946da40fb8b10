//! Marker files: from a movement in closed form, whose events and measures follow
//! from formulas, and from the export of a film.

mod common;

use std::path::{Path, PathBuf};
use std::process::Output;

use common::markers::{DESCENT_S, INWARD_M, LINK_M, RISE_S, made, made_between, sets, way};
use common::{errors, json, plumbrise, project, session};
use serde_json::Value;

/// Time at which a minimum-jerk way of unit duration has gone `share`.
fn time_of(share: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if way(middle) < share { low = middle } else { high = middle }
    }
    low
}

/// Before the end of a minimum-jerk way of unit duration, the time at which its
/// speed is 5 % of its peak: 16 t²(1 − t)² = 0.05.
fn slow_edge() -> f64 {
    let product = (0.05f64 / 16.0).sqrt();
    (1.0 - (1.0 - 4.0 * product).sqrt()) / 2.0
}

struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    fn file(&self, name: &str, text: &str) -> PathBuf {
        let path = self.0.path().join(name);
        std::fs::write(&path, text).expect("written");
        path
    }
}

fn run(file: &Path, options: &[&str]) -> Output {
    // Without the network: it must not even be looked for.
    plumbrise()
        .env("PLUMBRISE_ONNXRUNTIME", "/nowhere")
        .args(["assess", "--json", "--force"])
        .args(options)
        .arg(file)
        .output()
        .expect("it runs")
}

fn assessed(file: &Path, options: &[&str]) -> Value {
    let output = run(file, options);
    assert!(output.status.success(), "{}", errors(&output));
    serde_json::from_slice(&output.stdout).expect("JSON")
}

fn reps(a: &Value) -> &Vec<Value> {
    a["reps"].as_array().expect("reps")
}

fn near(rep: &Value, field: &str, expected: f64, budget: f64) {
    let found = rep[field].as_f64().expect(field);
    assert!((found - expected).abs() < budget, "{field}: {found}, not {expected:.4}");
}

/// Events, speeds and the knee's place of a movement in closed form. A 6 Hz filter
/// shifts the events of such slow movements by less than a sample or two.
#[test]
fn a_movement_in_closed_form() {
    let place = Place::new();
    let a = assessed(&place.file("made.TRC", &made(&sets(3), 0.0)), &[]);
    assert_eq!(
        (&a["rung"], &a["source"], &a["cycle"]),
        (&"two_leg".into(), &"markers".into(), &"seat_to_seat".into())
    );
    assert_eq!((a["seat_seen"].as_bool(), a["clip"]["width_px"].is_null()), (Some(true), true));
    assert_eq!(a["scale"]["source"], "laboratory_markers");
    assert_eq!(a["scale"]["relative_uncertainty"], 0.0);
    assert_eq!(reps(&a).len(), 3);
    let cycle_s = RISE_S + 1.0 + DESCENT_S + 1.0;
    for (i, rep) in reps(&a).iter().enumerate() {
        let start_s = 1.0 + i as f64 * cycle_s;
        let down_s = start_s + RISE_S + 1.0;
        near(rep, "seat_off_s", start_s + RISE_S * time_of(0.02), 0.02);
        near(rep, "stand_s", start_s + RISE_S * (1.0 - slow_edge()), 0.02);
        near(rep, "descent_start_s", down_s + DESCENT_S * slow_edge(), 0.02);
        near(rep, "seat_contact_s", down_s + DESCENT_S * time_of(0.98), 0.02);
        near(rep, "excursion_m", 0.40, 0.004);
        // A parabola over W = 0.5 s flattens the peak by v''·W²/40, v'' = 30·0.40/T³.
        let flattened = 30.0 * 0.40 / DESCENT_S.powi(3) * 0.5f64.powi(2) / 40.0;
        near(rep, "descent_peak_m_s", 1.875 * 0.40 / DESCENT_S - flattened, 0.003);
        near(rep, "knee_offset_peak_cm", 100.0 * INWARD_M, 0.05);
        // The knee half-way between hip and ankle; at 60° flexion h = 2·l·cos 30°.
        let half_m = LINK_M * 30f64.to_radians().cos();
        near(rep, "fppa_peak_deg", 2.0 * (INWARD_M / half_m).atan().to_degrees(), 0.2);
        assert!(rep["fppa_picture_peak_deg"].is_null(), "there is no picture");
        assert!(rep["hands_used"].is_null(), "no marker on the hands");
        assert_eq!(rep["judgement"], "clean");
    }
}

/// From stand to stand where the recording begins and ends so; a squat without a
/// rest at the bottom counts, and the document says that no seat was seen.
#[test]
fn from_stand_to_stand_with_a_seat_and_without() {
    let place = Place::new();
    for (rest_s, seat_seen) in [(1.0, true), (0.0, false)] {
        let one = [(DESCENT_S, 0.0), (rest_s, 0.0), (RISE_S, 1.0), (1.0, 1.0)];
        let pieces: Vec<_> =
            std::iter::once((1.0, 1.0)).chain(one.iter().copied().cycle().take(8)).collect();
        let a = assessed(&place.file("made.trc", &made(&pieces, 1.0)), &[]);
        assert_eq!(a["cycle"], "stand_to_stand");
        assert_eq!(a["seat_seen"], seat_seen);
        assert_eq!(reps(&a).len(), 2);
        let notes = a["notes"].to_string();
        assert_eq!(notes.contains("No rest on a seat was seen"), !seat_seen, "{notes}");
        let cycle_s = DESCENT_S + rest_s + RISE_S + 1.0;
        for (i, rep) in reps(&a).iter().enumerate() {
            let start_s = 1.0 + i as f64 * cycle_s;
            let up_s = start_s + DESCENT_S + rest_s;
            near(rep, "descent_start_s", start_s + DESCENT_S * slow_edge(), 0.02);
            near(rep, "seat_contact_s", start_s + DESCENT_S * time_of(0.98), 0.02);
            near(rep, "seat_off_s", up_s + RISE_S * time_of(0.02), 0.02);
            near(rep, "stand_s", up_s + RISE_S * (1.0 - slow_edge()), 0.02);
        }
    }
}

/// Cycles of down, rest, up, stand, from a stand of a second.
fn from_stand(cycles: usize) -> Vec<(f64, f64)> {
    let one = [(DESCENT_S, 0.0), (1.0, 0.0), (RISE_S, 1.0), (1.0, 1.0)];
    std::iter::once((1.0, 1.0)).chain(one.iter().copied().cycle().take(4 * cycles)).collect()
}

fn criterion<'a>(rep: &'a Value, name: &str) -> &'a Value {
    let all = rep["criteria"].as_array().expect("criteria");
    all.iter().find(|c| c["criterion"] == name).unwrap_or_else(|| panic!("no {name}"))
}

/// A recording that ends during its last rise, past the limit of an attempt: the cycle
/// counts, what hangs on its stand is not known, and nothing of that is called a fault.
#[test]
fn a_recording_that_ends_during_the_last_rise() {
    let place = Place::new();
    let cycle_s = DESCENT_S + 1.0 + RISE_S + 1.0;
    let up_s = 1.0 + cycle_s + DESCENT_S + 1.0;
    for share in [0.85, 0.90, 0.97] {
        let span_s = (0.0, up_s + RISE_S * time_of(share));
        let file = place.file("made.trc", &made_between(&from_stand(2), 1.0, span_s));
        let a = assessed(&file, &[]);
        assert_eq!((a["cycle"].as_str(), reps(&a).len()), (Some("stand_to_stand"), 2), "{share}");
        let (first, last) = (&reps(&a)[0], &reps(&a)[1]);
        assert_eq!(first["judgement"], "clean", "{share}");
        for field in
            ["stand_s", "rise_s", "stand_time_s", "stand_percent", "sparc_rise", "jerk_rise"]
        {
            assert!(last[field].is_null(), "{share}: {field} is {}", last[field]);
        }
        near(last, "descent_start_s", 1.0 + cycle_s + DESCENT_S * slow_edge(), 0.02);
        near(last, "seat_off_s", up_s + RISE_S * time_of(0.02), 0.02);
        near(last, "excursion_m", 0.40, 0.004);
        near(last, "knee_offset_peak_cm", 100.0 * INWARD_M, 0.05);
        let stand = criterion(last, "incomplete_stand");
        assert_eq!(
            (&stand["outcome"], &stand["because"]),
            (&"cannot_judge".into(), &"cut_off".into())
        );
        assert_eq!(criterion(last, "knee_inward")["outcome"], "met");
        assert_eq!(
            (&last["judgement"], &last["reasons"][0]),
            (&"not_judged".into(), &"cut_off".into())
        );
        let notes = a["notes"].to_string();
        assert!(notes.contains("under way when the recording ended"), "{notes}");
        assert!(!notes.contains("not counted"), "{notes}");
        // The table follows the rep to the recording's end.
        let folder = place.0.path().join("made.plumbrise");
        let table = std::fs::read_to_string(folder.join("trajectories.csv")).expect("a table");
        assert!(table.lines().last().expect("a row").contains(",2,rise,"), "{share}");
        let page = std::fs::read_to_string(folder.join("report.html")).expect("a page");
        assert!(page.contains("Standing fully up, rep 2: cut off by the recording."), "{share}");
        let rows = std::fs::read_to_string(folder.join("reps.csv")).expect("a table");
        let cells = |line: usize| rows.lines().nth(line).expect("a row").split(',');
        let stand = cells(0).position(|name| name == "stand_s").expect("a column");
        assert_eq!(cells(2).nth(stand), Some(""), "{rows}");
    }
    // Early in the rise it may yet have turned back: not counted, and said.
    let span_s = (0.0, up_s + RISE_S * time_of(0.40));
    let a = assessed(&place.file("made.trc", &made_between(&from_stand(2), 1.0, span_s)), &[]);
    assert_eq!(reps(&a).len(), 1);
    assert!(reps(&a)[0]["stand_s"].is_number(), "{}", reps(&a)[0]);
    assert!(a["notes"].to_string().contains("cut off by the beginning or end"), "{}", a["notes"]);
}

/// The mirror image: a quick landing after a descent of which only the end was recorded may
/// be a drop, and is not called good.
#[test]
fn a_recording_that_begins_during_the_first_descent() {
    let place = Place::new();
    let pieces =
        [(1.0, 1.0), (1.2, 0.2), (0.2, 0.0), (1.0, 0.0), (RISE_S, 1.0), (1.0, 1.0), (0.1, 1.0)];
    let pieces = [&pieces[..], &from_stand(1)].concat();
    let end_s: f64 = pieces.iter().map(|(s, _)| s).sum();
    for (from_s, outcome) in [(0.0, "not_met"), (1.0 + 1.2 * time_of(0.15), "cannot_judge")] {
        let text = made_between(&pieces, 1.0, (from_s, end_s));
        let a = assessed(&place.file("made.trc", &text), &[]);
        assert_eq!(reps(&a).len(), 2);
        let first = &reps(&a)[0];
        assert_eq!(criterion(first, "drop")["outcome"], outcome, "{first}");
        assert_eq!(first["sparc_descent"].is_null(), from_s > 0.0);
        assert_eq!(criterion(&reps(&a)[1], "drop")["outcome"], "met");
        near(first, "excursion_m", 0.40, 0.004);
    }
}

/// Judged again from its own points, a session gives the same, to what five
/// decimals of a metre allow.
#[test]
fn a_session_of_markers_is_judged_again() {
    let place = Place::new();
    let first = assessed(&place.file("made.trc", &made(&sets(2), 0.0)), &[]);
    let folder = place.0.path().join("made.plumbrise");
    assert!(!folder.join("landmarks.csv").exists(), "a marker file has no landmarks");
    let output = plumbrise().args(["reassess", "--json"]).arg(&folder).output().expect("runs");
    assert!(output.status.success(), "{}", errors(&output));
    let again: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    for (a, b) in reps(&first).iter().zip(reps(&again)) {
        for field in ["seat_off_s", "stand_s", "descent_start_s", "seat_contact_s"] {
            near(b, field, a[field].as_f64().expect(field), 0.002);
        }
        near(b, "knee_offset_peak_cm", a["knee_offset_peak_cm"].as_f64().expect("cm"), 0.02);
    }
    assert_eq!(first["set"], again["set"]);
}

/// Every session of a film holds its points; read back, they give the same reps,
/// with events within a thirtieth of a second.
#[test]
fn the_points_of_a_film_read_back() {
    let film = session("drops_right");
    let place = Place::new();
    let out = place.0.path().join("back");
    let back = assessed(&film.join("motion.trc"), &["--out", out.to_str().expect("a path")]);
    same_reps(&json(&film.join("assessment.json")), &back);
}

fn same_reps(film: &Value, back: &Value) {
    assert_eq!(back["source"], "points_of_a_film");
    assert_eq!((&film["leg"], &film["rung"]), (&back["leg"], &back["rung"]));
    assert_eq!(reps(film).len(), reps(back).len());
    for (a, b) in reps(film).iter().zip(reps(back)) {
        for field in ["seat_off_s", "stand_s", "descent_start_s", "seat_contact_s"] {
            near(b, field, a[field].as_f64().expect(field), 1.0 / 30.0);
        }
    }
}

/// The kept export of the beginning of a sample clip (its exact truth is beside the
/// clip): two reps, contact within the budget of the film itself.
#[test]
fn a_kept_export_of_a_film() {
    let place = Place::new();
    let out = place.0.path().join("kept");
    let kept = project("tests/golden/motion/drops_right_two_reps.trc");
    let a = assessed(&kept, &["--out", out.to_str().expect("a path")]);
    assert_eq!((a["leg"].as_str(), reps(&a).len()), (Some("right"), 2));
    let truth = json(&project("sample-clips/drops_right.truth.json"));
    for (found, true_rep) in reps(&a).iter().zip(truth["reps"].as_array().expect("reps")) {
        for (field, budget) in [("seat_off_s", 0.10), ("seat_contact_s", 0.10)] {
            near(found, field, true_rep[field].as_f64().expect(field), budget);
        }
    }
}

/// What cannot be read or holds nothing: status, words, a hint, nothing written.
#[test]
fn refusals() {
    let place = Place::new();
    let good = made(&sets(1), 0.0);
    let standing = made(&[(3.0, 1.0)], 1.0);
    let other_knee = good.replace("P:LKNE", "P:HOBBY").replace("P:LKNM", "P:HOBBY2");
    for (text, status, says) in [
        ("Knees over toes.\n".to_owned(), 3, "line 1"),
        (good.replace("\tmm\n", "\tfeet\n"), 3, "«feet»"),
        (good.replace("\t0.050\t", "\t0,050\t"), 3, "line 12: «0,050» has a decimal comma"),
        (good.replace("\t0.050\t", "\t0.010\t"), 3, "line 12: time does not go forward"),
        (other_knee, 3, "left knee (such as LKNE)"),
        (good.lines().take(6).collect::<Vec<_>>().join("\n"), 4, "holds only 0 frame"),
        (standing, 4, "same height"),
    ] {
        let file = place.file("bad.trc", &text);
        let output = run(&file, &[]);
        let words = errors(&output);
        assert_eq!(output.status.code(), Some(status), "{words}");
        assert!(words.contains(says) && words.contains("hint: "), "«{says}»: {words}");
        assert!(output.stdout.is_empty() && !place.0.path().join("bad.plumbrise").exists());
    }
    let file = place.file("good.trc", &good);
    assert_eq!(run(&file, &["--up", "x"]).status.code(), Some(3), "not the upward axis");
    assert_eq!(run(&file, &["--up", "z"]).status.code(), Some(0));
    let names = place.file("names.toml", "[knee]\nleft = [\"A\"]\n");
    let names = names.to_str().expect("a path");
    assert_eq!(run(&file, &["--markers", names]).status.code(), Some(2));
    place.file("names.toml", "[knee_lateral]\nleft = [\"HOBBY\"]\nright = [\"RKNE\"]\n");
    let renamed = place.file("renamed.trc", &good.replace("P:LKNE", "P:HOBBY"));
    assert_eq!(run(&renamed, &["--markers", names]).status.code(), Some(0));
}

/// A wrong unit is noticed by the person's size; a cut file is read as far as it
/// goes; both are said.
#[test]
fn a_wrong_unit_and_a_cut_file() {
    let place = Place::new();
    let good = made(&sets(2), 0.0);
    let a = assessed(&place.file("unit.trc", &good.replace("\tmm\n", "\tm\n")), &[]);
    assert!(a["notes"].to_string().contains("read as mm"), "{}", a["notes"]);
    near(&a["reps"][0], "excursion_m", 0.40, 0.004);
    let a = assessed(&place.file("cut.trc", &good[..good.len() * 7 / 10]), &[]);
    assert!(a["notes"].to_string().contains("ends before it should"), "{}", a["notes"]);
    assert_eq!(reps(&a).len(), 1);
}
