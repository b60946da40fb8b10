//! Headings and labels of page and paper; sentences are in [`super`].

use serde::Serialize;

use crate::judgement::document::Reason;
use crate::session::Moment;

/// Headings and labels of both.
#[derive(Serialize)]
pub struct Words {
    pub rep: &'static str,
    pub page: &'static str,
    pub of: &'static str,
    pub look: &'static str,
    pub review: &'static str,
    pub film: &'static str,
    pub film_quality: &'static str,
    pub cautions: &'static str,
    pub reps: &'static str,
    pub standard_error: &'static str,
    pub set: &'static str,
    pub not_judged: &'static str,
    pub definitions: &'static str,
    pub limits: &'static str,
    pub limit: &'static str,
    pub value: &'static str,
    pub sources: &'static str,
    pub formula: &'static str,
    pub unit: &'static str,
    pub validity: &'static str,
    pub source: &'static str,
}

pub const WORDS: Words = Words {
    rep: "Rep",
    page: "page",
    of: "of",
    look: "To look at",
    review: super::review::HEADING,
    film: "About this film",
    film_quality: "Quality of the film, point by point",
    cautions: "Please note",
    reps: "Rep by rep",
    standard_error: "After ± stands the standard error: in about two of three cases the true \
                     value is no further away. A dash: not measured.",
    set: "The whole set",
    not_judged: "What could not be judged, and why",
    definitions: "What the measures mean",
    limits: "Limits of good form in force",
    limit: "Limit",
    value: "Value",
    sources: "Publications",
    formula: "Formula",
    unit: "Unit",
    validity: "Validity",
    source: "Source",
};

/// Title of the paper.
pub const TITLE: &str = "Rising from a chair";

/// What a search in an archive may go by.
pub const KEYWORDS: [&str; 4] =
    ["sit-to-stand", "movement summary", "physiotherapy", "knee alignment"];

/// Head of the table of reps: name, and unit below it.
pub const COLUMNS: [(&str, &str); 9] = [
    ("Rep", ""),
    ("Verdict", ""),
    ("Begins", "s"),
    ("Up", "s"),
    ("Down", "s"),
    ("At seat", "m/s"),
    ("Knee", "cm in"),
    ("Wobble", "cm"),
    ("Why", ""),
];

/// The numbers told of each rep: name in the document, label, unit, digits.
pub const NUMBERS: [(&str, &str, &str, usize); 18] = [
    ("seat_off_s", "Leaves the seat at", "s", 2),
    ("stand_s", "Stands at", "s", 2),
    ("descent_start_s", "Goes down from", "s", 2),
    ("seat_contact_s", "On the seat at", "s", 2),
    ("rise_s", "Way up", "s", 2),
    ("descent_s", "Way down", "s", 2),
    ("seated_pause_s", "Rest before", "s", 1),
    ("stand_percent", "Height reached", "%", 0),
    ("descent_mean_m_s", "Mean speed down", "m/s", 2),
    ("descent_peak_m_s", "Top speed down", "m/s", 2),
    ("descent_final_m_s", "Speed at the seat", "m/s", 2),
    ("well_seen_percent", "Leg well seen", "%", 0),
    ("knee_offset_peak_cm", "Knee inward", "cm", 1),
    ("fppa_peak_deg", "Knee angle (FPPA)", "°", 0),
    ("wobble_cm", "Knee wobble", "cm", 1),
    ("trunk_lean_deg", "Trunk lean sideways", "°", 0),
    ("pelvic_drop_deg", "Pelvic drop", "°", 0),
    ("stance_foot_shift_cm", "Standing foot moved", "cm", 1),
];

/// What is compared between sessions, with its unit: «Knee inward, cm».
pub fn tracked_in_unit(name: &str) -> String {
    let (label, unit, _) = tracked(name);
    if unit.is_empty() { label.into() } else { format!("{label}, {unit}") }
}

/// Label, unit and digits of what is compared between sessions, by its name in the document.
pub fn tracked(name: &str) -> (&'static str, &'static str, usize) {
    let counts = [
        ("clean", TOTALS.clean_reps, "", 0),
        ("longest_clean_run", TOTALS.run, "", 0),
        ("reps", TOTALS.all_reps, "", 0),
        ("final_ratio", "Speed at the seat ÷ mean", "", 2),
    ];
    let all = NUMBERS.iter().chain(&counts);
    all.copied()
        .find(|(own, ..)| *own == name)
        .map_or(("", "", 1), |(_, label, unit, digits)| (label, unit, digits))
}

/// What is told of the drift: label, unit.
pub const DRIFT: [(&str, &str); 4] =
    [("Knee inward", "cm"), ("Knee wobble", "cm"), ("Way up", "s"), ("Way down", "s")];

/// How drift is to be read.
pub const DRIFT_IS: &str = "Last third of the reps less first third:";

/// Nothing was left open.
pub const ALL_JUDGED: &str = "Every criterion could be judged on every rep.";

/// Labels of the facts at the top.
pub struct Facts {
    pub clip: &'static str,
    pub date: &'static str,
    pub exercise: &'static str,
    pub leg: &'static str,
    pub both_legs: &'static str,
    pub rate: &'static str,
    pub length: &'static str,
    pub stature: &'static str,
    pub stature_estimated: &'static str,
    pub checksum: &'static str,
    pub program: &'static str,
}

pub const FACTS: Facts = Facts {
    clip: "Clip",
    date: "Date of this report",
    exercise: "Exercise",
    leg: "Working leg",
    both_legs: "both",
    rate: "Frames per second",
    length: "Length",
    stature: "Stature",
    stature_estimated: "estimated",
    checksum: "SHA-256 of the clip",
    program: "Judged by",
};

/// Labels of the totals.
pub struct Totals {
    pub reps: &'static str,
    pub clean: &'static str,
    pub faulted: &'static str,
    pub not_judged: &'static str,
    pub run: &'static str,
    pub clean_reps: &'static str,
    pub all_reps: &'static str,
    pub target: &'static str,
    pub reached: &'static str,
    pub not_reached: &'static str,
}

pub const TOTALS: Totals = Totals {
    reps: "Reps",
    clean: "Clean",
    faulted: "With a fault",
    not_judged: "Not judged",
    run: "Longest clean run",
    clean_reps: "Clean reps",
    all_reps: "All reps",
    target: "Target in one go",
    reached: "reached",
    not_reached: "not reached",
};

/// What a criterion is about, where it could not be judged.
pub fn about(criterion: Reason) -> &'static str {
    match criterion {
        Reason::KneeInward => "Knee over foot",
        Reason::Drop => "Speed at the seat",
        Reason::IncompleteStand => "Standing fully up",
        Reason::FreeFootDown => "Free foot off the floor",
        Reason::HandsUsed => "Rising without hands",
        Reason::FootMoved => "Standing foot in its place",
        Reason::PauseTooLong => "Rest between reps",
        Reason::TrackingLost
        | Reason::OutOfFrame
        | Reason::Occluded
        | Reason::CameraMoved
        | Reason::OffAxis
        | Reason::FrameRateTooLow
        | Reason::CutOff => "The rep",
    }
}

/// What a picture shows.
pub fn moment(moment: Moment) -> &'static str {
    match moment {
        Moment::SeatOff => "leaving the seat",
        Moment::KneeInmost => "knee furthest inward",
        Moment::SeatContact => "reaching the seat",
    }
}

/// Text in place of a picture.
pub fn picture(rep: usize, shows: &str) -> String {
    format!("Rep {rep}, {shows}, with the working leg and its plumb line drawn in")
}

/// Numbers shown at once with each rep on the page.
pub const SHORT: [&str; 5] =
    ["rise_s", "descent_s", "descent_final_m_s", "knee_offset_peak_cm", "wobble_cm"];

/// Words of the page alone.
pub struct PageWords {
    pub skip: &'static str,
    pub summary: &'static str,
    pub more_cautions: &'static str,
    pub film: &'static str,
    pub film_label: &'static str,
    pub film_hint: &'static str,
    pub film_missing: &'static str,
    pub no_film: &'static str,
    pub play: &'static str,
    pub playing: &'static str,
    pub all_numbers: &'static str,
    pub basis: &'static str,
    pub record: &'static str,
}

pub const PAGE: PageWords = PageWords {
    skip: "Go to the reps",
    summary: "In short",
    more_cautions: "More to bear in mind",
    film: "Film",
    film_label: "The annotated film",
    film_hint: "Choose a rep to see it.",
    film_missing: "The film is not here: annotated.mp4 must lie in the same folder as this page.",
    no_film: "No annotated film was made.",
    play: "Show rep",
    playing: "Showing rep",
    all_numbers: "All numbers of rep",
    basis: "What this rests on",
    record: "About this record",
};

/// Words of short reports alone.
#[derive(Serialize)]
pub struct LeafletWords {
    pub table: &'static str,
    pub skip: &'static str,
    pub summary: &'static str,
    pub more_cautions: &'static str,
    pub notes: &'static str,
}

pub const LEAFLET: LeafletWords = LeafletWords {
    table: "table",
    skip: "Go to the comparison",
    summary: "In short",
    more_cautions: "More to bear in mind",
    notes: "About this comparison",
};
