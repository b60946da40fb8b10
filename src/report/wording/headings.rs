//! Headings and labels of page and paper; sentences are in [`super`].

use crate::between::Count;
use crate::judgement::document::Reason;
use crate::judgement::measures::{DESCENT, KNEE_OFFSET_PEAK, Measure, RISE, WOBBLE};
use crate::session::Moment;

/// Headings and labels of both.
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

/// Heads of the table of reps before and after those of the measures.
pub const REP_AND_VERDICT: [&str; 2] = ["Rep", "Verdict"];
/// See [`REP_AND_VERDICT`].
pub const WHY: &str = "Why";

/// Label of a count.
pub fn count(count: Count) -> &'static str {
    match count {
        Count::Clean => TOTALS.clean_reps,
        Count::LongestCleanRun => TOTALS.run,
        Count::Reps => TOTALS.all_reps,
    }
}

/// What is told of the drift, and of which measure it is.
pub const DRIFT: [Measure; 4] = [KNEE_OFFSET_PEAK, WOBBLE, RISE, DESCENT];

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
