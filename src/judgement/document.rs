//! The result: the document of the output contract, version 1.
//!
//! Units are in the names; what is unknown is null.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::body::Side;
use crate::film_check::Finding;
use crate::movement::kinematics::ScaleSource;
use crate::movement::repetition::Cycle;
use crate::record::{ClipFacts, Filming};

/// What an assessment was read from.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Origin {
    /// A film of one camera.
    #[default]
    Film,
    /// Markers of a motion laboratory.
    Markers,
    /// The points of a film, read back from a marker file.
    PointsOfAFilm,
}

fn yes() -> bool {
    true
}

/// Version of the document.
pub const SCHEMA: &str = "plumbrise.assessment/1";

/// The word by which documents name a value; `None` for what is no word there.
pub fn word(value: &impl Serialize) -> Option<String> {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(word)) => Some(word),
        _ => None,
    }
}

/// The rung of the ladder of exercises, lowest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Rung {
    /// Both legs alike.
    TwoLeg,
    /// One foot ahead of the other.
    SplitStance,
    /// Up on two, down on one.
    Lowering,
    /// Up and down on one leg.
    SingleLeg,
}

impl Rung {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Rung::SingleLeg => "single-leg rise",
            Rung::Lowering => "up on two legs, down on one",
            Rung::SplitStance => "split stance",
            Rung::TwoLeg => "two-leg rise",
        }
    }
}

/// What the user said about the person and the exercise.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct Told {
    /// The working leg.
    pub leg: Option<Side>,
    /// The rung.
    pub rung: Option<Rung>,
    /// Stature, metres.
    pub stature_m: Option<f64>,
    /// Height of the seat, metres.
    pub seat_height_m: Option<f64>,
}

/// From where the person is seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ViewKind {
    /// From the front.
    Frontal,
    /// From the side.
    Sagittal,
    /// In between, or from behind.
    Oblique,
}

/// View of the person.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct View {
    /// Kind.
    pub kind: ViewKind,
    /// Heading of the body, degrees from facing the lens, to the picture's
    /// right positive; null from the side.
    pub yaw_deg: Option<f64>,
    /// Its standard error, degrees.
    pub yaw_standard_error_deg: Option<f64>,
    /// Turn-out of the stance foot, degrees, outward positive.
    pub toe_out_deg: Option<f64>,
}

/// Metres per pixel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ScaleUsed {
    /// Where it comes from.
    pub source: ScaleSource,
    /// Metres per pixel at the stance foot.
    pub m_per_px: f64,
    /// Standard error as a share.
    pub relative_uncertainty: f64,
    /// Stature given or estimated, metres.
    pub stature_m: f64,
}

/// Verdict on a rep.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Every criterion met.
    Clean,
    /// A criterion not met.
    Faulted,
    /// No criterion failed, but one could not be judged.
    NotJudged,
}

/// Why a rep is faulted or not judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Reason {
    KneeInward,
    Drop,
    IncompleteStand,
    FreeFootDown,
    HandsUsed,
    FootMoved,
    PauseTooLong,
    TrackingLost,
    OutOfFrame,
    Occluded,
    CameraMoved,
    OffAxis,
    FrameRateTooLow,
    /// The recording begins or ends within the rep.
    CutOff,
}

impl Reason {
    /// It faults a rep; the others tell why one cannot be judged.
    pub fn is_fault(self) -> bool {
        self <= Reason::PauseTooLong
    }
}

/// Outcome of one criterion on one rep.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// Good.
    Met,
    /// Not good.
    NotMet,
    /// Cannot be told.
    CannotJudge,
}

/// One criterion on one rep.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CriterionOutcome {
    /// What a failure is called.
    pub criterion: Reason,
    /// Outcome.
    pub outcome: Outcome,
    /// Why it cannot be judged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub because: Option<Reason>,
    /// The measure lies within one standard error of its limit.
    pub close: bool,
}

/// One rep. Times are seconds from the clip's first frame; null where the person
/// was lost or the recording does not reach, as is every number that would then be a
/// guess.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct Rep {
    pub number: usize,
    pub seat_off_s: Option<f64>,
    pub stand_s: Option<f64>,
    pub descent_start_s: Option<f64>,
    pub seat_contact_s: Option<f64>,
    pub rise_s: Option<f64>,
    pub stand_time_s: Option<f64>,
    pub descent_s: Option<f64>,
    /// Rest on the seat before this rep; null before the first.
    pub seated_pause_s: Option<f64>,
    /// From seat-off to the next rep's; null for the last.
    pub cycle_s: Option<f64>,
    pub excursion_m: Option<f64>,
    pub descent_mean_m_s: Option<f64>,
    pub descent_peak_m_s: Option<f64>,
    pub descent_final_m_s: Option<f64>,
    pub final_ratio: Option<f64>,
    /// Speed at which the seat is reached.
    pub descent_end_m_s: Option<f64>,
    /// Largest downward acceleration held for 80 ms.
    pub descent_acceleration_m_s2: Option<f64>,
    /// Share of the descent's time spent in its lower half, %.
    pub lower_half_percent: Option<f64>,
    /// The leg whose knee this is; where both are watched, the one further in.
    pub knee_leg: Option<Side>,
    pub knee_offset_peak_cm: Option<f64>,
    pub knee_offset_peak_percent_leg: Option<f64>,
    pub knee_offset_peak_at_s: Option<f64>,
    pub knee_offset_peak_phase: Option<Phase>,
    /// Grade 0 over the foot, 1 inside the second toe, 2 past the inner border.
    pub knee_offset_grade: Option<u8>,
    pub knee_past_limit_s: Option<f64>,
    /// When the knee was past its limit for as long as the criterion asks.
    #[serde(default)]
    pub knee_past_limit_spans_s: Vec<(f64, f64)>,
    pub fppa_peak_deg: Option<f64>,
    pub fppa_peak_phase: Option<Phase>,
    pub fppa_picture_peak_deg: Option<f64>,
    pub wobble_cm: Option<f64>,
    pub wobble_turns: Option<usize>,
    pub trunk_lean_deg: Option<f64>,
    pub pelvic_drop_deg: Option<f64>,
    pub forward_lean_deg: Option<f64>,
    pub free_foot_touches_s: Vec<f64>,
    pub free_foot_height_cm: Option<f64>,
    pub hands_used: Option<bool>,
    pub stance_foot_shift_cm: Option<f64>,
    /// Height reached, % of the person's own rise.
    pub stand_percent: Option<f64>,
    pub sparc_rise: Option<f64>,
    pub sparc_descent: Option<f64>,
    pub jerk_rise: Option<f64>,
    pub jerk_descent: Option<f64>,
    /// Standard error of the numbers above, by name and in the same unit.
    #[serde(default)]
    pub standard_error: BTreeMap<String, f64>,
    /// Share of the rep in which the leg was well seen, %.
    pub well_seen_percent: f64,
    pub judgement: Verdict,
    pub reasons: Vec<Reason>,
    pub criteria: Vec<CriterionOutcome>,
}

impl Rep {
    /// From the first to the last known event, seconds; `None` where fewer than two are
    /// known.
    pub fn span_s(&self) -> Option<(f64, f64)> {
        let events = [self.seat_off_s, self.stand_s, self.descent_start_s, self.seat_contact_s];
        let known = || events.iter().flatten().copied();
        let start = known().fold(f64::INFINITY, f64::min);
        let end = known().fold(f64::NEG_INFINITY, f64::max);
        (start < end).then_some((start, end))
    }
}

/// Part of a rep.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum Phase {
    Rise,
    Stand,
    Descent,
}

/// A rise that turned back.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AttemptSeen {
    /// When it was highest, seconds.
    pub time_s: f64,
    /// Height reached, % of the person's own rise.
    pub reached_percent: f64,
}

/// The set as a whole.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct SetSummary {
    pub reps: usize,
    pub clean: usize,
    pub faulted: usize,
    pub not_judged: usize,
    /// Longest run of clean reps without too long a rest between them.
    pub longest_clean_run: usize,
    pub target: usize,
    pub target_met: bool,
    /// Last third less first third (null with fewer than six reps).
    pub drift: Option<Drift>,
    pub one_go: bool,
}

/// Change from the first third of the reps to the last.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct Drift {
    pub knee_offset_cm: Option<f64>,
    pub wobble_cm: Option<f64>,
    pub rise_s: Option<f64>,
    pub descent_s: Option<f64>,
}

/// The document.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Assessment {
    /// [`SCHEMA`].
    pub schema: String,
    /// Version of the program that judged.
    pub program_version: String,
    /// The clip.
    pub clip: ClipFacts,
    /// What it was read from.
    #[serde(default)]
    pub source: Origin,
    /// Which way round a rep goes.
    #[serde(default)]
    pub cycle: Cycle,
    /// The person was seen resting on a seat; false: as in a squat.
    #[serde(default = "yes")]
    pub seat_seen: bool,
    /// The rung.
    pub rung: Rung,
    /// The working leg; null where both work alike and none was named.
    pub leg: Option<Side>,
    /// 0–1: how clearly the picture tells the leg; 1 where it was named.
    pub leg_clarity: f64,
    /// The view.
    pub view: View,
    /// The scale.
    pub scale: ScaleUsed,
    /// Complete reps.
    pub reps: Vec<Rep>,
    /// Rises that turned back.
    pub attempts: Vec<AttemptSeen>,
    /// Totals.
    pub set: SetSummary,
    /// What the user said.
    pub told: Told,
    /// How the filming went.
    pub filming: Filming,
    /// How good the filming is, aspect by aspect.
    #[serde(default)]
    pub film: Vec<Finding>,
    /// What to bear in mind, in words; filled by those who show it.
    pub notes: Vec<String>,
    /// For this movement summary, always; filled likewise.
    pub cautions: Vec<String>,
}

#[cfg(test)]
impl Rep {
    /// A clean rep of which only these fields are known.
    pub(crate) fn made(own: serde_json::Value) -> Self {
        let mut rep = serde_json::json!({
            "number": 1, "free_foot_touches_s": [], "well_seen_percent": 100.0,
            "judgement": "clean", "reasons": [], "criteria": [],
        });
        rep.as_object_mut().unwrap().extend(own.as_object().unwrap().clone());
        serde_json::from_value(rep).unwrap()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By the output contract: the first seven fault a rep, the others tell why it is not
    /// judged.
    #[test]
    fn reasons_are_faults_or_tell_what_was_not_seen() {
        use Reason::*;
        let faults =
            [KneeInward, Drop, IncompleteStand, FreeFootDown, HandsUsed, FootMoved, PauseTooLong];
        assert!(faults.iter().all(|reason| reason.is_fault()));
        let unseen =
            [TrackingLost, OutOfFrame, Occluded, CameraMoved, OffAxis, FrameRateTooLow, CutOff];
        assert!(unseen.iter().all(|reason| !reason.is_fault()));
        assert_eq!(word(&OffAxis).as_deref(), Some("off_axis"));
        assert_eq!(word(&7), None);
    }

    #[test]
    fn a_rep_lasts_from_its_first_known_moment_to_its_last() {
        let rep = Rep::made;
        let whole = rep(serde_json::json!({ "seat_off_s": 1.0, "stand_s": 2.0,
            "descent_start_s": 3.0, "seat_contact_s": 4.5 }));
        assert_eq!(whole.span_s(), Some((1.0, 4.5)));
        let from_standing = rep(serde_json::json!({ "descent_start_s": 0.5, "seat_contact_s": 2.0,
            "seat_off_s": 3.0, "stand_s": 4.0 }));
        assert_eq!(from_standing.span_s(), Some((0.5, 4.0)));
        assert_eq!(rep(serde_json::json!({ "stand_s": 2.0 })).span_s(), None);
        assert_eq!(rep(serde_json::json!({})).span_s(), None);
    }

    /// The field's terms for the exercises (common practice, no source).
    #[test]
    fn rungs_are_named_in_words_and_go_upward() {
        use Rung::*;
        let words = [TwoLeg, SplitStance, Lowering, SingleLeg].map(Rung::words);
        let expected =
            ["two-leg rise", "split stance", "up on two legs, down on one", "single-leg rise"];
        assert_eq!(words, expected);
        assert!(TwoLeg < SplitStance && SplitStance < Lowering && Lowering < SingleLeg);
    }

    #[test]
    fn documents_of_before_that_say_nothing_of_a_seat_are_of_one() {
        use crate::movement::kinematics::made::Body;
        let mut document =
            serde_json::to_value(crate::judgement::assess::tests::judged(&Body::USUAL).assessment)
                .unwrap();
        document.as_object_mut().unwrap().remove("seat_seen").unwrap();
        let read: Assessment = serde_json::from_value(document).unwrap();
        assert!(read.seat_seen);
    }
}
