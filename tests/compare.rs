//! Sides and weeks: the statistics against other people's code, and the commands on real
//! sessions of the sample clips.
#![cfg(feature = "cli")]

mod common;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use common::{errors, json, plumbrise, project, session};
use plumbrise::statistics::within_person;
use serde_json::Value;

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// `statsmodels` `anova_lm` and `scipy.stats.t`, by scripts/make-agreement-golden.py.
#[test]
fn scatter_within_groups_as_statsmodels_and_scipy_have_it() {
    let golden = json(&project("tests/golden/agreement.json"));
    let cases = golden["within"].as_array().expect("a list");
    assert!(cases.len() >= 3);
    for case in cases {
        let groups: Vec<Vec<f64>> = case["groups"]
            .as_array()
            .expect("a list")
            .iter()
            .map(|g| g.as_array().expect("a list").iter().map(number).collect())
            .collect();
        let within = within_person(&groups).expect("enough repeats");
        assert_eq!(within.degrees_of_freedom as f64, number(&case["degrees_of_freedom"]));
        for (ours, theirs) in [(within.sem, &case["sem"]), (within.detectable, &case["detectable"])]
        {
            let theirs = number(theirs);
            assert!((ours - theirs).abs() < 1e-9 * theirs, "{ours}, not {theirs}");
        }
    }
}

fn run(arguments: &[&str], paths: &[&Path]) -> Output {
    plumbrise().args(arguments).args(paths).output().expect("it runs")
}

fn printed(output: &Output) -> String {
    assert!(output.status.success(), "{}", errors(output));
    String::from_utf8(output.stdout.clone()).expect("UTF-8")
}

/// With single spaces, so that line ends do not count.
fn plain(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A copy of a session in which `change` has been at the assessment.
fn copy(of: &str, into: &Path, name: &str, change: impl FnOnce(&mut Value)) -> PathBuf {
    let place = into.join(name);
    fs::create_dir(&place).expect("made");
    fs::copy(session(of).join("criteria.toml"), place.join("criteria.toml")).expect("copied");
    let mut document = json(&session(of).join("assessment.json"));
    change(&mut document);
    fs::write(place.join("assessment.json"), document.to_string()).expect("written");
    place
}

/// The counts are those of the assessments, whichever way round they are given.
#[test]
fn two_legs_are_compared_with_both_counts() {
    let place = tempfile::tempdir().expect("a folder");
    let left = session("knee_in_left");
    let right = copy("drops_right", place.path(), "right", |document| {
        document["set"]["clean"] = 4.into();
        document["set"]["longest_clean_run"] = 0.into();
    });
    let set = |folder: &Path, name: &str| {
        number(&json(&folder.join("assessment.json"))["set"][name]) as usize
    };
    let output = run(&["compare", "--json", "--involved", "left"], &[&right, &left]);
    let document: Value = serde_json::from_str(&printed(&output)).expect("only JSON");
    assert_eq!(document["schema"], "plumbrise.comparison/1");
    let symmetry = document["symmetry"].as_array().expect("a list");
    assert_eq!(symmetry.len(), 3);
    for counts in symmetry {
        let name = counts["count"].as_str().expect("a name");
        let (a, b) = (set(&left, name), set(&right, name));
        assert_eq!(counts["left"], a, "{name}");
        assert_eq!(counts["right"], b, "{name}");
        if a > 0 && b > 0 {
            let percent = (100.0 * a as f64 / b as f64).round();
            assert_eq!(counts["percent"].as_f64(), Some(percent), "{name}");
        } else {
            assert_eq!(counts["percent"], Value::Null, "{name}");
        }
    }
    let text = plain(&printed(&run(&["compare"], &[&left, &right])));
    for piece in [
        "usual, not a pass mark",
        "flatters when the other leg has grown weaker too",
        "lower of higher",
        "Look at both counts",
        "Not reviewed: the verdicts are the program's own.",
        "not a diagnosis",
    ] {
        assert!(text.contains(piece), "«{piece}» is not in: {text}");
    }
    // No per cent of angles and offsets: only counts have one.
    let movement = &text[text.find("How it was done").expect("the part")..];
    assert!(!movement.contains('%'), "{movement}");
}

/// The limits of 1.96·√(SE₁² + SE₂²), computed here from the assessments.
#[test]
fn differences_are_called_so_beyond_measurement_error_only() {
    let (left, right) = (session("knee_in_left"), session("drops_right"));
    let document: Value =
        serde_json::from_str(&printed(&run(&["compare", "--json"], &[&left, &right])))
            .expect("JSON");
    let mut told = 0;
    for d in document["differences"].as_array().expect("a list") {
        let (Some(l), Some(r)) =
            (d["left"]["standard_error"].as_f64(), d["right"]["standard_error"].as_f64())
        else {
            assert_eq!(d["outcome"], "cannot_tell");
            continue;
        };
        let noise = 1.96 * (l * l + r * r).sqrt();
        let by = number(&d["left"]["mean"]) - number(&d["right"]["mean"]);
        let says = if by.abs() > noise { "differs" } else { "within_error" };
        assert_eq!(d["outcome"], says, "{d}");
        told += 1;
    }
    assert!(told >= 6, "{document}");
}

#[test]
fn what_cannot_be_compared_is_refused() {
    let refused = |paths: &[&Path], says: &str| {
        let output = run(&["compare"], paths);
        let text = errors(&output);
        assert_eq!(output.status.code(), Some(2), "{text}");
        assert!(text.contains(says) && text.contains("hint: "), "{text}");
        assert!(output.stdout.is_empty());
    };
    let place = tempfile::tempdir().expect("a folder");
    let left = session("knee_in_left");
    let other = |name: &str, key: &str, value: Value| {
        copy("drops_right", place.path(), name, |document| document[key] = value)
    };
    refused(&[&left, &left], "both are of the left leg");
    refused(&[&left, &other("two", "rung", "two_leg".into())], "two-leg rise");
    refused(&[&left, &other("none", "leg", Value::Null)], "which leg works");
    let output = run(&["compare"], &[&left, Path::new("nowhere.plumbrise")]);
    assert_eq!(output.status.code(), Some(1), "{}", errors(&output));
}

/// What page and paper of a comparison and of a trend say; the paper read by poppler.
#[test]
fn page_and_paper_say_the_same() {
    let folder = tempfile::tempdir().expect("a folder");
    let (left, right) = (session("knee_in_left"), session("drops_right"));
    let sides = folder.path().join("sides");
    let compare = ["compare", "--out", sides.to_str().expect("UTF-8")];
    printed(&run(&compare, &[&left, &right]));
    let weeks = folder.path().join("weeks");
    let trend = ["trend", "--out", weeks.to_str().expect("UTF-8"), "--sessions"];
    let dated = weeks_of(folder.path());
    printed(&run(&trend, &dated.iter().map(PathBuf::as_path).collect::<Vec<_>>()));
    for (place, name, pieces) in [
        (&sides, "comparison", ["Left leg and right leg", "flatters when", "Patterson BE"]),
        (&weeks, "trend", ["Over the weeks", "For the athlete", "from memory, unverified"]),
    ] {
        let page = fs::read_to_string(place.join(format!("{name}.html"))).expect("the page");
        let paper = Command::new("pdftotext")
            .args(["-enc", "UTF-8"])
            .arg(place.join(format!("{name}.pdf")))
            .arg("-")
            .output()
            .expect("pdftotext (Debian's poppler-utils)");
        let paper = plain(&String::from_utf8_lossy(&paper.stdout));
        for piece in pieces.into_iter().chain(["not a diagnosis", "Stop the exercise at once"]) {
            assert!(page.contains(piece), "«{piece}» is not on the page of {name}");
            assert!(paper.contains(piece), "«{piece}» is not in the paper of {name}: {paper}");
        }
        let info = Command::new("pdfinfo").arg(place.join(format!("{name}.pdf"))).output();
        let info = String::from_utf8_lossy(&info.expect("pdfinfo").stdout).into_owned();
        assert!(info.contains("Tagged:          yes"), "{info}");
        // It loads nothing: ISO 29500-like addresses of SVG aside, there is none.
        let page = page.replace("http://www.w3.org/2000/svg", "");
        for address in ["http://", "https://", "src=", "@import", "<script"] {
            assert!(!page.contains(address), "{address} in {name}");
        }
        assert!(page.matches("role=\"img\" aria-label=\"").count() >= 3);
        assert!(json(&place.join(format!("{name}.json")))["schema"].is_string());
        // WCAG 2.1 by axe-core, at phone and laptop width, by day and by night.
        let check = Command::new(project("scripts/check-page"))
            .arg(place.join(format!("{name}.html")))
            .output()
            .expect("bash");
        let said = String::from_utf8_lossy(&check.stdout);
        assert!(said.contains("no fault found"), "{said}{}", errors(&check));
    }
    // A folder that is there is not written over unasked.
    let again = run(&compare, &[&left, &right]);
    assert_eq!(again.status.code(), Some(1));
    assert!(errors(&again).contains("exists already"));
}

/// Four weeks of somebody invented, out of one clip: the knee comes 5 cm less far inward in
/// the end, which is much more than the errors of measuring; sets are repeated on three days.
fn weeks_of(place: &Path) -> Vec<PathBuf> {
    let days = [("04", 0.0), ("11", 0.5), ("18", -1.0), ("25", -5.0)];
    let mut named = Vec::new();
    for (day, knee) in days {
        for repeat in ["a", "b"] {
            if day == "11" && repeat == "b" {
                continue;
            }
            let name = format!("may-{day}{repeat}");
            let by = knee + if repeat == "a" { 0.1 } else { -0.1 };
            let folder = copy("knee_in_left", place, &name, |document| {
                document["clip"]["sha256"] = name.as_str().into();
                document["clip"]["recorded_at"] = Value::Null;
                for rep in document["reps"].as_array_mut().expect("reps") {
                    let cm = rep["knee_offset_peak_cm"].as_f64().expect("known");
                    rep["knee_offset_peak_cm"] = (cm + by).into();
                    rep["standard_error"]["knee_offset_peak_cm"] = 0.5.into();
                }
            });
            named.push(PathBuf::from(format!("{}=2026-05-{day}", folder.display())));
        }
    }
    named
}

#[test]
fn weeks_show_change_only_where_it_is_detectable() {
    let folder = tempfile::tempdir().expect("a folder");
    let named = weeks_of(folder.path());
    let paths: Vec<&Path> = named.iter().map(PathBuf::as_path).collect();
    let document: Value =
        serde_json::from_str(&printed(&run(&["trend", "--json", "--sessions"], &paths)))
            .expect("only JSON");
    let series = &document["series"][0];
    assert_eq!(series["sessions"].as_array().expect("a list").len(), 7);
    let course = |name: &str| {
        let all = series["courses"].as_array().expect("a list");
        all.iter().find(|c| c["measure"] == name).expect("it is followed").clone()
    };
    let knee = course("knee_offset_peak_cm");
    let first = &knee["since_first"];
    // From the first set of the first day to the last of the last: −0.1 − 5.0 − 0.1 cm.
    assert!((number(&first["difference"]) + 5.2).abs() < 1e-3, "{first}");
    assert_eq!(first["outcome"], "changed");
    let errors = number(&knee["values"][0]["standard_error"]);
    assert!(number(&first["detectable"]) >= 1.96 * errors * 2f64.sqrt() - 0.01, "{first}");
    assert_eq!(course("wobble_cm")["since_first"]["outcome"], "cannot_tell");
    assert_eq!(course("clean")["since_first"]["outcome"], "within_error");
    let text = printed(&run(&["trend", "--sessions"], &paths));
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    let text = plain(&text);
    for piece in [
        "less far in",
        "On your left leg",
        "Your knee came less far inward than last time.",
        "not sure yet",
        "from memory, unverified",
        "not a diagnosis",
    ] {
        assert!(text.contains(piece), "«{piece}» is not in: {text}");
    }
}

#[test]
fn a_session_without_a_day_is_refused_with_what_to_write() {
    let folder = tempfile::tempdir().expect("a folder");
    let undated = copy("knee_in_left", folder.path(), "undated", |document| {
        document["clip"]["recorded_at"] = Value::Null;
    });
    let output = run(&["trend", "--sessions"], &[&undated]);
    let text = errors(&output);
    assert_eq!(output.status.code(), Some(2), "{text}");
    assert!(text.contains("undated=2026-05-04"), "{text}");
}
