//! Agreement with a clinician: the statistics against other people's code, and
//! the command on a small session whose answers are counted by hand.

mod common;

use std::fs;
use std::path::PathBuf;
use std::process::Output;

use common::{errors, json, plumbrise, project};
use plumbrise::statistics::{cohen_kappa, differences, repeated_limits};
use serde_json::{Value, json};

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().expect("a list").iter().map(number).collect()
}

/// Equal to nine digits, far beyond what is shown.
fn same(ours: f64, theirs: f64, what: &str) {
    assert!((ours - theirs).abs() < 1e-9 * theirs.abs().max(1.0), "{what}: {ours}, not {theirs}");
}

fn table<const K: usize>(value: &Value) -> [[usize; K]; K] {
    std::array::from_fn(|i| std::array::from_fn(|j| number(&value[i][j]) as usize))
}

/// `sklearn.metrics.cohen_kappa_score` and `statsmodels` `cohens_kappa`, by
/// scripts/make-agreement-golden.py.
#[test]
fn kappa_as_scikit_learn_and_statsmodels_have_it() {
    let golden = json(&project("tests/golden/agreement.json"));
    let cases = golden["kappa"].as_array().expect("a list");
    assert!(cases.len() >= 8);
    for case in cases {
        let counts = &case["table"];
        let kappa = match counts.as_array().expect("rows").len() {
            2 => cohen_kappa(&table::<2>(counts)),
            3 => cohen_kappa(&table::<3>(counts)),
            n => panic!("no check for {n} classes"),
        }
        .expect("defined");
        same(kappa.value, number(&case["kappa"]), "kappa");
        let error = kappa.standard_error.expect("some differ");
        same(error, number(&case["standard_error"]), "standard error");
        let interval = kappa.interval().expect("has an error");
        same(interval.low, number(&case["low"]).max(-1.0), "low");
        same(interval.high, number(&case["high"]).min(1.0), "high");
    }
}

/// SciPy's t and normal distributions, by scripts/make-agreement-golden.py.
#[test]
fn limits_of_agreement_as_scipy_has_them() {
    let golden = json(&project("tests/golden/agreement.json"));
    for case in golden["differences"].as_array().expect("a list") {
        let d = differences(&numbers(&case["differences"])).expect("some");
        let (mean, limits) = (d.mean_interval.expect("two"), d.limits.expect("two"));
        let (lower, upper) =
            (limits.lower_interval.expect("given"), limits.upper_interval.expect("given"));
        let theirs = &case["limit_intervals"];
        for (ours, theirs) in [
            (d.mean, &case["mean"]),
            (d.standard_deviation.expect("two"), &case["standard_deviation"]),
            (mean.low, &case["mean_interval"][0]),
            (mean.high, &case["mean_interval"][1]),
            (limits.lower, &case["limits"][0]),
            (limits.upper, &case["limits"][1]),
            (lower.low, &theirs[0][0]),
            (lower.high, &theirs[0][1]),
            (upper.low, &theirs[1][0]),
            (upper.high, &theirs[1][1]),
        ] {
            same(ours, number(theirs), "differences");
        }
    }
}

/// Mean squares of statsmodels `anova_lm`, by scripts/make-agreement-golden.py.
/// The first case is the cardiac output of Bland and Altman 2007, whose limits
/// they give as −1.3 and 2.5 litres a minute (from memory).
#[test]
fn limits_of_repeated_measures_as_statsmodels_has_them() {
    let golden = json(&project("tests/golden/agreement.json"));
    let cases = golden["repeated"].as_array().expect("a list");
    for (i, case) in cases.iter().enumerate() {
        let groups: Vec<Vec<f64>> =
            case["groups"].as_array().expect("a list").iter().map(numbers).collect();
        let d = repeated_limits(&groups).expect("several of several");
        let limits = d.limits.expect("given");
        same(d.mean, number(&case["mean"]), "mean");
        let sd = d.standard_deviation.expect("given");
        same(sd, number(&case["standard_deviation"]), "standard deviation");
        same(limits.lower, number(&case["limits"][0]), "lower");
        same(limits.upper, number(&case["limits"][1]), "upper");
        if i == 0 {
            assert!((limits.lower + 1.3).abs() < 0.05 && (limits.upper - 2.5).abs() < 0.05);
        }
    }
}

/// A session folder with six reps of 4 s, 6 s apart from 2 s on. Rep 2 has the
/// knee inward, rep 3 a drop, rep 4 both; rep 6 is not judged.
struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        let place = Self(tempfile::tempdir().expect("a folder"));
        fs::create_dir(place.session()).expect("a folder");
        let reps: Vec<Value> = (1..=6).map(rep).collect();
        let document = json!({
            "schema": "plumbrise.assessment/1", "program_version": "0",
            "clip": {"file": "a.mp4", "sha256": "", "width_px": 720, "height_px": 1280,
                     "duration_s": 40.0, "frames": 1200, "frame_rate_hz": 30.0},
            "rung": "single_leg", "leg": "left", "leg_clarity": 1.0,
            "view": {"kind": "frontal", "yaw_deg": 0.0, "yaw_standard_error_deg": 2.0,
                     "toe_out_deg": 7.0},
            "scale": {"source": "stature", "m_per_px": 0.002, "relative_uncertainty": 0.03,
                      "stature_m": 1.7},
            "reps": reps, "attempts": [],
            "set": {"reps": 6, "clean": 2, "faulted": 3, "not_judged": 1, "longest_clean_run": 1,
                    "target": 22, "target_met": false, "drift": null, "one_go": true},
            "told": {"leg": null, "rung": null, "stature_m": null, "seat_height_m": null},
            "filming": {"analysed_frames": 1200, "tracked_frames": 1200, "other_people": 0,
                        "camera_moved_s": [], "damaged": 0, "cut_short": false, "hdr": false,
                        "recorded_hz": null},
            "notes": [], "cautions": [],
        });
        fs::write(place.session().join("assessment.json"), document.to_string()).expect("written");
        place
    }

    fn session(&self) -> PathBuf {
        self.0.path().join("set.plumbrise")
    }

    /// Runs the command with labels of that content.
    fn run(&self, labels: &str, json: bool) -> Output {
        let file = self.0.path().join("labels.csv");
        fs::write(&file, labels).expect("written");
        let mut command = plumbrise();
        command.arg("agreement").args([&self.session(), &file]);
        if json {
            command.arg("--json");
        }
        let output = command.output().expect("it runs");
        let mut names: Vec<_> = fs::read_dir(self.0.path())
            .expect("a folder")
            .map(|e| e.expect("one").file_name())
            .collect();
        names.sort();
        assert_eq!(names, ["labels.csv", "set.plumbrise"], "nothing else is written");
        output
    }

    fn json(&self, labels: &str) -> Value {
        let output = self.run(labels, true);
        assert!(output.status.success(), "{}", errors(&output));
        serde_json::from_slice(&output.stdout).expect("only JSON")
    }

    fn text(&self, labels: &str) -> String {
        let output = self.run(labels, false);
        assert!(output.status.success(), "{}", errors(&output));
        let text = String::from_utf8(output.stdout).expect("text");
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

fn rep(number: usize) -> Value {
    let start = 2.0 + 6.0 * (number - 1) as f64;
    let (knee, drop) = ([2, 4].contains(&number), [3, 4].contains(&number));
    let outcome = |criterion: &str, failed: bool| {
        let word = match (number, failed) {
            (6, _) => "cannot_judge",
            (_, true) => "not_met",
            (_, false) => "met",
        };
        json!({"criterion": criterion, "outcome": word, "close": false})
    };
    let judgement = match (number, knee || drop) {
        (6, _) => "not_judged",
        (_, true) => "faulted",
        (_, false) => "clean",
    };
    json!({
        "number": number, "seat_off_s": start, "seat_contact_s": start + 4.0,
        "descent_s": 1.5, "knee_offset_peak_cm": if number == 6 { Value::Null } else { 2.0.into() },
        "free_foot_touches_s": [], "well_seen_percent": 100.0, "judgement": judgement,
        "reasons": [], "criteria": [outcome("knee_inward", knee), outcome("drop", drop)],
    })
}

fn question<'a>(document: &'a Value, name: &str) -> &'a Value {
    let all = document["yes_no"].as_array().expect("a list");
    all.iter().find(|q| q["question"] == name).unwrap_or_else(|| panic!("no {name}"))
}

/// Rep 1 was not labelled, a rep at 38 s not found; the rest is matched by time
/// although numbers and order are wrong. Counted by hand: of reps 2 to 5 both
/// call 2 and 4 faulted, the program alone 3, neither 5.
const SHIFTED: &str = "\
rep,start_s,end_s,judgement,knee_inward,drop,descent_s,knee_offset_peak_cm
5,37.5,42,clean,0,0,,
1,7.6,12.5,faulted,1,0,1.4,1.0
2,14,18,clean,0,0,1.6,
3,20,24,faulted,1,0,1.3,
4,26,30,clean,0,0,1.7,3.5
7,33,35.5,clean,0,0,1.5,2
";

#[test]
fn a_missed_and_an_added_rep_are_told_and_shift_nothing() {
    let place = Place::new();
    let document = place.json(SHIFTED);
    assert_eq!(document["schema"], "plumbrise.agreement/1");
    let set = &document["sets"][0];
    assert_eq!(document["matched"], 5);
    assert_eq!(set["matched_by_time"], 5);
    assert_eq!(set["only_tool_reps"], json!([1]));
    assert_eq!(set["only_clinician_lines"], json!([2]));

    let verdict = question(&document, "faulted");
    let counts = |q: &Value| {
        ["both", "only_tool", "only_clinician", "neither", "tool_silent", "clinician_silent"]
            .map(|name| q[name].as_u64().expect("a count"))
    };
    assert_eq!(counts(verdict), [2, 1, 0, 1, 1, 0]);
    // Observed 3/4, by chance (3/4)(2/4) + (1/4)(2/4) = 1/2: kappa 1/2.
    same(number(&verdict["kappa"]), 0.5, "kappa by hand");
    assert_eq!(verdict["differ"], json!([{"set": 0, "rep": 3, "line": 4}]));
    assert_eq!(counts(question(&document, "knee_inward")), [2, 0, 0, 2, 1, 0]);
    let drop = question(&document, "drop");
    assert_eq!(counts(drop), [0, 2, 0, 2, 1, 0]);
    assert_eq!(
        (&drop["kappa"], &drop["no_kappa_because"]),
        (&Value::Null, &json!("clinician_never_varies"))
    );

    // 1.5 less 1.4, 1.6, 1.3, 1.7 and 1.5: mean 0, smallest −0.2, largest 0.2,
    // variance (0.01 + 0.01 + 0.04 + 0.04)/4.
    let descent = &document["numbers"][0];
    assert_eq!(descent["measure"], "descent_s");
    assert!(number(&descent["mean_difference"]).abs() < 1e-12);
    same(number(&descent["standard_deviation"]), 0.025f64.sqrt(), "by hand");
    same(number(&descent["smallest_difference"]), -0.2, "by hand");
    same(number(&descent["largest_difference"]), 0.2, "by hand");
    // The program has no number for rep 6, the clinician none for 3 and 4.
    let knee = &document["numbers"][1];
    assert_eq!(
        ["compared", "tool_silent", "clinician_silent"].map(|n| &knee[n]),
        [&json!(2), &json!(1), &json!(2)]
    );
    // Program less clinician: 2 − 1 and 2 − 3.5.
    same(number(&knee["mean_difference"]), -0.25, "by hand");
}

#[test]
fn the_text_says_what_the_document_holds() {
    let text = Place::new().text(SHIFTED);
    for says in [
        "5 reps compared; 1 found by plumbrise only, 1 labelled only.",
        "Found by plumbrise, not labelled: rep 1.",
        "not found by plumbrise: line 2 of the labels.",
        "«faulted»: the same answer on 3 of 4 reps (75 %). Kappa 0.50,",
        "They differ on rep 3.",
        "«knee inward»: the same answer on 4 of 4 reps (100 %). Kappa 1.00; its 95 % interval cannot be computed",
        "Kappa cannot be computed, because the clinician said no to all.",
        "knee_offset_peak_cm: on 2 reps, −0.25 cm on average",
        "does not show who is right",
        "resemble each other",
        "Fewer than 30 reps",
    ] {
        assert!(text.contains(says), "«{says}» is not in: {text}");
    }
}

#[test]
fn the_kind_of_table_does_not_matter() {
    let place = Place::new();
    let plain = place.json(SHIFTED);
    // A decimal comma, semicolons, a byte order mark, Windows line ends.
    let other = SHIFTED.replace(',', ";").replace('.', ",").replace('\n', "\r\n");
    assert_eq!(place.json(&format!("\u{feff}{other}")), plain);
}

#[test]
fn without_times_reps_go_by_number_and_it_is_said() {
    let labels = "rep;judgement;reasons\n2;faulted;knee_inward\n3;clean;\n9;clean;\n";
    let place = Place::new();
    let document = place.json(labels);
    assert_eq!(document["sets"][0]["matched_by_number"], 2);
    assert_eq!(document["sets"][0]["only_tool_reps"], json!([1, 4, 5, 6]));
    assert_eq!(document["sets"][0]["only_clinician_lines"], json!([4]));
    assert_eq!(question(&document, "drop")["only_tool"], 1);
    assert!(place.text(labels).contains("Matched by number, without times"));
}

#[test]
fn several_sessions_are_pooled_as_persons() {
    let place = Place::new();
    let file = place.0.path().join("labels.csv");
    fs::write(&file, SHIFTED).expect("written");
    let pair = [&place.session(), &file];
    let output =
        plumbrise().args(["agreement", "--json"]).args(pair).args(pair).output().expect("it runs");
    assert!(output.status.success(), "{}", errors(&output));
    let document: Value = serde_json::from_slice(&output.stdout).expect("only JSON");
    assert_eq!(document["matched"], 10);
    assert_eq!(question(&document, "faulted")["both"], 4);
    let descent = &document["numbers"][0];
    assert_eq!((&descent["method"], &descent["sessions"]), (&json!("repeated"), &json!(2)));
    // Both sessions have mean 0: no variance between, the mean square within.
    same(number(&descent["standard_deviation"]), 0.025f64.sqrt(), "by hand");
}

#[test]
fn the_template_is_read_back_once_it_is_filled_in() {
    let place = Place::new();
    let output = plumbrise()
        .args(["agreement", "--template"])
        .arg(place.session())
        .output()
        .expect("it runs");
    assert!(output.status.success(), "{}", errors(&output));
    assert!(errors(&output).contains("An empty cell means"));
    let template = String::from_utf8(output.stdout).expect("text");
    assert_eq!(template.lines().count(), 7);
    assert_eq!(template.lines().nth(1), Some("1,2.00,6.00,,,,,,,,"));
    let empty = place.run(&template, false);
    assert_eq!(empty.status.code(), Some(2));
    assert!(errors(&empty).contains("no row says anything"));
    let filled = template.replace("2.00,6.00,,", "2.00,6.00,clean,");
    let document = place.json(&filled);
    assert_eq!(document["sets"][0]["matched_by_time"], 6);
    assert_eq!(question(&document, "faulted")["neither"], 1);
}

#[test]
fn wrong_labels_are_refused_with_a_line_and_a_hint() {
    let place = Place::new();
    for (labels, says) in [
        ("", "it is empty"),
        ("rep,judgement\n", "no row"),
        ("rep,knee_inwards\n1,1\n", "no column «knee_inwards»; nearest: knee_inward"),
        ("rep,judgement\n1,clean\n2,fine\n", "line 3: judgement: «fine»"),
    ] {
        let output = place.run(labels, true);
        let text = errors(&output);
        assert_eq!(output.status.code(), Some(2), "{text}");
        assert!(text.contains(says) && text.contains("labels.csv"), "«{says}» is not in: {text}");
        assert!(text.contains("hint: ") && text.contains("--template"), "{text}");
        assert!(output.stdout.is_empty());
    }
    let refused = |arguments: &[PathBuf], status: i32, says: &str| {
        let output = plumbrise().arg("agreement").args(arguments).output().expect("it runs");
        let text = errors(&output);
        assert_eq!(output.status.code(), Some(status), "{text}");
        assert!(text.contains(says) && output.stdout.is_empty(), "«{says}» is not in: {text}");
    };
    let (session, nowhere) = (place.session(), place.0.path().join("nowhere.csv"));
    refused(&[session.clone(), nowhere.clone()], 2, "it does not exist");
    refused(&[session.clone(), session.clone()], 2, "it is no file");
    refused(&[nowhere.clone(), session.clone()], 1, "not a session folder");
    refused(&[session], 2, "come in pairs");
    refused(&[], 2, "required");
}

#[test]
fn help_tells_the_columns() {
    let output = plumbrise().args(["agreement", "--help"]).output().expect("it runs");
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    for word in ["start_s", "judgement", "free_foot_down", "--template", "--json"] {
        assert!(text.contains(word), "{word}");
    }
}
