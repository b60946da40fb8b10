//! The page: what it says, that it is whole, and that it works in a browser.

mod common;

use std::fs;
use std::path::Path;
use std::process::Command;

use common::{errors, json, plumbrise, project, reported};
use plumbrise::report::content::Content;
use plumbrise::report::{page, plots, wording};
use plumbrise::session::{Faces, Figures, FilmClock, KeyPicture, Moment, Session};
use resvg::usvg;

const CLIP: &str = "knee_in_left";

fn page_of(folder: &Path) -> String {
    fs::read_to_string(folder.join("report.html")).expect("the page")
}

#[test]
fn every_verdict_reason_and_caution_is_on_it() {
    let folder = reported(CLIP);
    let page = page_of(&folder);
    let stored = plumbrise::session::read_assessment(&folder).expect("the assessment");
    assert!(page.contains(&wording::headline(&stored)));
    for rep in &stored.reps {
        let from = page.find(&format!("id=\"rep-{}-title\"", rep.number)).expect("the rep");
        let title = &page[from..from + page[from..].find("</h3>").expect("its end")];
        assert!(title.contains(wording::verdict(rep.judgement)), "{title}");
        for reason in &rep.reasons {
            assert!(title.contains(wording::short(*reason)), "{title}");
        }
    }
    for caution in &stored.cautions {
        assert!(page.contains(&caution.replace('\'', "&#39;")), "{caution}");
    }
}

/// HTML Living Standard: img needs alt; WAI-ARIA 1.2: an img role needs a name.
#[test]
fn drawings_are_whole_and_every_picture_has_a_text() {
    let page = page_of(&reported(CLIP));
    let drawings: Vec<&str> = page
        .split("<svg")
        .skip(1)
        .map(|rest| rest.split("</svg>").next().expect("an end"))
        .collect();
    assert!(drawings.len() >= 12, "two for each rep and two of the set, not {}", drawings.len());
    for drawing in drawings {
        let svg = format!("<svg{drawing}</svg>");
        usvg::Tree::from_str(&svg, &usvg::Options::default()).expect("a whole drawing");
        assert!(svg.contains("role=\"img\" aria-label=\"Rep ") || svg.contains("aria-label=\""));
    }
    let pictures: Vec<&str> = page.split("<img ").skip(1).collect();
    assert_eq!(pictures.len(), 15, "three for each of five reps");
    assert!(pictures.iter().all(|p| p.split('>').next().expect("an end").contains("alt=\"Rep ")));
}

#[test]
fn it_loads_nothing_but_its_film() {
    let page = page_of(&reported(CLIP));
    for address in ["http://", "https://", "//cdn", "@import", "url("] {
        let found = page.replace("http://www.w3.org/2000/svg", "");
        assert!(!found.contains(address), "{address}");
    }
    assert_eq!(page.matches("src=\"").count(), page.matches("src=\"data:").count() + 1);
    assert!(page.contains("src=\"annotated.mp4\""));
}

/// A clip may be called anything.
#[test]
fn a_name_is_never_markup() {
    let folder = tempfile::tempdir().expect("a folder");
    let copy = folder.path().join("copy");
    fs::create_dir(&copy).expect("made");
    for file in ["assessment.json", "landmarks.csv", "criteria.toml"] {
        fs::copy(reported(CLIP).join(file), copy.join(file)).expect("copied");
    }
    let mut document = json(&copy.join("assessment.json"));
    document["clip"]["file"] = "<script>alert(1)</script>&\".mp4".into();
    fs::write(copy.join("assessment.json"), document.to_string()).expect("written");
    let output = plumbrise()
        .args(["reassess", "--no-video", "--no-pdf"])
        .arg(&copy)
        .output()
        .expect("it runs");
    assert!(output.status.success(), "{}", errors(&output));
    let page = page_of(&copy);
    assert!(!page.contains("<script>alert"));
    assert!(page.contains("No annotated film was made."));
    assert!(!page.contains("<button"), "nothing to play");
}

/// The largest usual set: 22 reps with three pictures each, of 16 kB (those of a real
/// film are smaller).
#[test]
fn a_set_of_22_stays_below_three_megabytes() {
    let folder = reported(CLIP);
    let Session { machine, criteria, .. } = Session::open(&folder).expect("the session");
    let recording = plumbrise::session::read_recording(&folder, &machine).expect("landmarks");
    let judged =
        plumbrise::assess(&recording, &machine.told, &criteria, &folder).expect("assessed");
    let (mut a, trajectories) = (judged.assessment, judged.trajectories);
    a.reps = a.reps.iter().cycle().take(22).cloned().collect();
    let mut pictures = Vec::new();
    for (i, rep) in a.reps.iter_mut().enumerate() {
        rep.number = i + 1;
        for moment in [Moment::SeatOff, Moment::KneeInmost, Moment::SeatContact] {
            let jpeg = vec![0xff; 16_000];
            pictures.push(KeyPicture {
                rep: i + 1,
                moment,
                time_s: i as f64,
                width_px: 210,
                height_px: 336,
                jpeg,
            });
        }
    }
    let figures = Figures {
        faces: Some(Faces::Hidden),
        rep_plots: plots::rep_plots(&a, &trajectories, &criteria),
        pictures,
        film: Some(FilmClock { time_factor: 1.0, slow_s: Vec::new() }),
    };
    let session = Session::new(a, None, criteria);
    let date = jiff::civil::date(2026, 11, 25);
    let content = Content { session: &session, date, figures: &figures };
    let page = page(&content, "annotated.mp4").expect("a page");
    assert_eq!(page.matches("<article").count(), 22);
    assert!(page.len() < 3_000_000, "{} bytes", page.len());
}

/// WCAG 2.1 by axe-core, and what the page does, in Chromium.
#[test]
fn it_works_in_a_browser() {
    let check = project("scripts/check-page");
    let output = Command::new(check).arg(reported(CLIP)).output().expect("bash");
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success(), "{said}{}", errors(&output));
    assert!(said.contains("no fault found"), "{said}");
}
