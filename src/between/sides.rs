//! Left against right: two sessions of the same exercise, one on each leg.
//!
//! Counts are set against each other in per cent; measures of the movement are not, for a
//! ratio of offsets or angles around zero means nothing: they differ or they do not, beyond
//! what measuring them errs by.

use jiff::civil::Date;
use serde::Serialize;

use super::Count;
use crate::body::Side;
use crate::judgement::criteria::Criteria;
use crate::judgement::document::{Rep, Rung};
use crate::judgement::measures::{self, Measure};
use crate::session::Session;
use crate::session::review::ReviewState;
use crate::session::summary::{SessionSummary, Spread};
use crate::signal::rounded;
use crate::statistics::{noise_of_difference, symmetry_percent};

/// Version of the document.
pub const SCHEMA: &str = "plumbrise.comparison/1";

/// Symmetry that is usually asked for, per cent \[KSSTA2019\]; not a pass mark.
pub const USUAL_THRESHOLD_PERCENT: u32 = 90;

/// Days between the two legs beyond which form of the day may make the difference (design
/// choice).
pub const DAYS_APART_MAX: i64 = 7;

/// Share of the reps that could not be judged, beyond which counts of clean reps mean little
/// (design choice).
pub const NOT_JUDGED_SHARE_MAX: f64 = 0.2;

/// Told heights of seat or body that differ by more than this are not the same, metres
/// (design choice: they are told in whole centimetres).
const SAME_HEIGHT_M: f64 = 0.011;

/// One leg's session, as it stands after its review.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LegSession {
    /// What the session was called by who asked.
    pub session: String,
    /// In a few numbers.
    pub summary: SessionSummary,
    /// How far inward the knee may come, cm.
    pub knee_limit_cm: f64,
    /// Stature that was told, metres.
    pub stature_m: Option<f64>,
    /// The reps, for the drawings.
    #[serde(skip)]
    pub reps: Vec<Rep>,
    #[serde(skip)]
    criteria: Criteria,
}

impl LegSession {
    /// A session as it stands, called `name` by who asked.
    pub fn new(name: String, session: Session) -> Self {
        let summary = session.summary();
        let Session { in_force, criteria, .. } = session;
        let limit_m = criteria.knee_offset_limit_m(in_force.scale.stature_m);
        Self {
            session: name,
            summary,
            knee_limit_cm: rounded(100.0 * limit_m, 2),
            stature_m: in_force.told.stature_m,
            reps: in_force.reps,
            criteria,
        }
    }

    /// Day of filming, UTC; None where nobody knows.
    pub fn day(&self) -> Option<Date> {
        self.summary.recorded_at.map(crate::session::summary::day)
    }
}

/// Why two sessions cannot be set against each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotComparable {
    /// Different exercises.
    Rungs(Rung, Rung),
    /// One leg twice.
    SameLeg(Side),
    /// Of one it is not known which leg works.
    LegUnknown,
}

/// One count of both legs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Symmetry {
    /// What is counted.
    pub count: Count,
    /// On the left leg.
    pub left: usize,
    /// On the right leg.
    pub right: usize,
    /// 100 × involved over uninvolved; where no leg was named, the lower over the higher.
    /// Whole per cent; null where one is nought.
    pub percent: Option<u32>,
    /// It reaches [`USUAL_THRESHOLD_PERCENT`], unrounded; null where there is no per cent.
    pub usual_threshold_reached: Option<bool>,
}

impl Symmetry {
    fn of(count: Count, left: usize, right: usize, involved: Option<Side>) -> Self {
        let (above, below) = match involved {
            Some(Side::Left) => (left, right),
            Some(Side::Right) => (right, left),
            None => (left.min(right), left.max(right)),
        };
        let percent = symmetry_percent(above, below);
        let reached = 100 * above >= USUAL_THRESHOLD_PERCENT as usize * below;
        Self { count, left, right, percent, usual_threshold_reached: percent.map(|_| reached) }
    }
}

/// What can be said of a difference.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum DifferenceSeen {
    /// Larger than what measuring errs by.
    Differs,
    /// Not larger than that.
    WithinError,
    /// What measuring errs by, or a value, is not known.
    CannotTell,
}

/// One measure of both legs, in its own unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Difference {
    /// What is compared.
    pub measure: &'static Measure,
    /// On the left leg, mean over the reps.
    pub left: Option<Spread>,
    /// On the right leg.
    pub right: Option<Spread>,
    /// Left less right.
    pub left_less_right: Option<f64>,
    /// Differences up to this are within measurement error: 1.96·√(SE₁² + SE₂²).
    pub measurement_error: Option<f64>,
    /// What can be said of it.
    pub outcome: DifferenceSeen,
}

impl Difference {
    fn of(measure: &'static Measure, left: Option<Spread>, right: Option<Spread>) -> Self {
        let both = left.zip(right);
        let difference = both.map(|(l, r)| rounded(l.mean - r.mean, 4));
        let errors = both.and_then(|(l, r)| l.standard_error.zip(r.standard_error));
        let noise = errors.map(|(l, r)| noise_of_difference(l, r));
        Self {
            measure,
            left,
            right,
            left_less_right: difference,
            measurement_error: noise.map(|n| rounded(n, 4)),
            outcome: match difference.zip(noise) {
                None => DifferenceSeen::CannotTell,
                Some((d, n)) if d.abs() > n => DifferenceSeen::Differs,
                Some(_) => DifferenceSeen::WithinError,
            },
        }
    }
}

/// What makes the comparison less sure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "caution")]
pub enum Caution {
    /// Told seat heights differ.
    SeatHeights {
        /// Of the left leg's session, metres.
        left_m: f64,
        /// Of the right leg's, metres.
        right_m: f64,
    },
    /// At least one seat height was not told.
    SeatHeightUnknown,
    /// Told statures differ: perhaps two people.
    Statures {
        /// Of the left leg's session, metres.
        left_m: f64,
        /// Of the right leg's, metres.
        right_m: f64,
    },
    /// More than [`DAYS_APART_MAX`] between the two.
    DaysApart {
        /// Days.
        days: i64,
    },
    /// When one or both were filmed is not known.
    DayUnknown,
    /// They were judged by different limits.
    OtherLimits,
    /// Nobody has signed the session off.
    NotReviewed {
        /// Its leg.
        leg: Side,
    },
    /// More than [`NOT_JUDGED_SHARE_MAX`] of the reps could not be judged.
    ManyNotJudged {
        /// The leg.
        leg: Side,
        /// Reps that could not be judged.
        not_judged: usize,
        /// Of how many.
        reps: usize,
    },
}

/// The document `comparison.json`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// [`SCHEMA`].
    pub schema: &'static str,
    /// The exercise of both.
    pub rung: Rung,
    /// The involved leg (injured, operated, sore) if it was named.
    pub involved: Option<Side>,
    /// The left leg's session.
    pub left: LegSession,
    /// The right leg's session.
    pub right: LegSession,
    /// Counts of both, in per cent of each other.
    pub symmetry: Vec<Symmetry>,
    /// Measures of both.
    pub differences: Vec<Difference>,
    /// What makes it less sure.
    pub cautions: Vec<Caution>,
}

impl Comparison {
    /// Sets two sessions against each other, in whichever order they come.
    ///
    /// # Errors
    /// [`NotComparable`].
    pub fn of(
        first: LegSession,
        second: LegSession,
        involved: Option<Side>,
    ) -> Result<Self, NotComparable> {
        let (a, b) = (&first.summary, &second.summary);
        if a.rung != b.rung {
            return Err(NotComparable::Rungs(a.rung, b.rung));
        }
        let (left, right) = match (a.leg, b.leg) {
            (Some(Side::Left), Some(Side::Right)) => (first, second),
            (Some(Side::Right), Some(Side::Left)) => (second, first),
            (Some(leg), Some(_)) => return Err(NotComparable::SameLeg(leg)),
            _ => return Err(NotComparable::LegUnknown),
        };
        let symmetry = |count: &Count| {
            Symmetry::of(*count, count.of(&left.summary), count.of(&right.summary), involved)
        };
        let difference = |measure: &'static Measure| {
            let of = |leg: &LegSession| leg.summary.measures.get(measure.key()).copied();
            Difference::of(measure, of(&left), of(&right))
        };
        Ok(Self {
            schema: SCHEMA,
            rung: left.summary.rung,
            involved,
            symmetry: Count::ALL.iter().map(symmetry).collect(),
            differences: measures::compared().into_iter().map(|(m, _)| difference(m)).collect(),
            cautions: cautions(&left, &right),
            left,
            right,
        })
    }

    /// Both sessions with their legs.
    pub fn legs(&self) -> [(Side, &LegSession); 2] {
        [(Side::Left, &self.left), (Side::Right, &self.right)]
    }

    /// One count of both.
    pub fn count(&self, count: Count) -> Option<&Symmetry> {
        self.symmetry.iter().find(|s| s.count == count)
    }
}

fn cautions(left: &LegSession, right: &LegSession) -> Vec<Caution> {
    let mut found = Vec::new();
    let differ = |a: f64, b: f64| (a - b).abs() > SAME_HEIGHT_M;
    match left.stature_m.zip(right.stature_m) {
        Some((left_m, right_m)) if differ(left_m, right_m) => {
            found.push(Caution::Statures { left_m, right_m });
        }
        _ => {}
    }
    match left.summary.seat_height_m.zip(right.summary.seat_height_m) {
        Some((left_m, right_m)) if differ(left_m, right_m) => {
            found.push(Caution::SeatHeights { left_m, right_m });
        }
        Some(_) => {}
        None => found.push(Caution::SeatHeightUnknown),
    }
    match left.summary.recorded_at.zip(right.summary.recorded_at) {
        Some((one, other)) => {
            let days = one.duration_since(other).as_hours().abs() / 24;
            if days > DAYS_APART_MAX {
                found.push(Caution::DaysApart { days });
            }
        }
        None => found.push(Caution::DayUnknown),
    }
    let values = |leg: &LegSession| -> Vec<f64> {
        leg.criteria.limits().iter().map(|(_, limit)| limit.value).collect()
    };
    if values(left) != values(right) {
        found.push(Caution::OtherLimits);
    }
    for (leg, session) in [(Side::Left, left), (Side::Right, right)] {
        let SessionSummary { reps, not_judged, review, .. } = &session.summary;
        if *not_judged as f64 > NOT_JUDGED_SHARE_MAX * *reps as f64 {
            found.push(Caution::ManyNotJudged { leg, not_judged: *not_judged, reps: *reps });
        }
        if !matches!(review, ReviewState::SignedOff { .. }) {
            found.push(Caution::NotReviewed { leg });
        }
    }
    found
}

#[cfg(test)]
pub(crate) mod tests {
    use std::collections::BTreeMap;

    use super::*;

    fn summary(leg: Side, clean: usize, run: usize, reps: usize) -> SessionSummary {
        SessionSummary {
            clip_sha256: format!("{leg:?}"),
            recorded_at: Some("2026-05-04T10:00:00Z".parse().unwrap()),
            rung: Rung::SingleLeg,
            leg: Some(leg),
            seat_height_m: Some(0.45),
            reps,
            clean,
            faulted: reps - clean,
            not_judged: 0,
            longest_clean_run: run,
            target: 22,
            review: ReviewState::SignedOff {
                by: "R4-K".into(),
                at: "2026-05-05T10:00:00Z".parse().unwrap(),
            },
            measures: BTreeMap::new(),
        }
    }

    pub(crate) fn session(leg: Side, clean: usize, run: usize, reps: usize) -> LegSession {
        LegSession {
            session: format!("{}.plumbrise", leg.word()),
            summary: summary(leg, clean, run, reps),
            knee_limit_cm: 4.7,
            stature_m: Some(1.72),
            reps: Vec::new(),
            criteria: Criteria::built_in().unwrap(),
        }
    }

    fn spread(mean: f64, standard_error: Option<f64>) -> Spread {
        Spread { n: 5, mean, standard_deviation: None, standard_error }
    }

    /// Worked by hand: 18 of 22 is 82 %, 20 of 22 is 91 %, 19 of 21 is 90 %.
    #[test]
    fn symmetry_goes_by_the_named_leg_and_keeps_both_counts() {
        let compared = |involved| {
            let left = session(Side::Left, 18, 9, 22);
            let right = session(Side::Right, 22, 20, 24);
            // The order in which they are given does not matter.
            Comparison::of(right, left, involved).unwrap()
        };
        let clean = |involved| *compared(involved).count(Count::Clean).unwrap();
        assert_eq!(clean(Some(Side::Left)).percent, Some(82));
        assert_eq!(clean(Some(Side::Right)).percent, Some(122));
        assert_eq!(clean(None).percent, Some(82), "lower over higher");
        assert_eq!((clean(None).left, clean(None).right), (18, 22));
        assert_eq!(clean(None).usual_threshold_reached, Some(false));
        assert_eq!(compared(None).left.session, "left.plumbrise");
        for (left, right, percent) in [(20, 22, 91), (19, 21, 90)] {
            let s = Symmetry::of(Count::Clean, left, right, Some(Side::Left));
            assert_eq!((s.percent, s.usual_threshold_reached), (Some(percent), Some(true)));
        }
        // 43 of 48 is 89.58 %: shown as 90, and yet below.
        let s = Symmetry::of(Count::Clean, 43, 48, None);
        assert_eq!((s.percent, s.usual_threshold_reached), (Some(90), Some(false)));
        let s = Symmetry::of(Count::Clean, 0, 22, None);
        assert_eq!((s.percent, s.usual_threshold_reached), (None, None));
    }

    /// By hand: √(0.3² + 0.4²) = 0.5, times 1.96 = 0.98.
    #[test]
    fn a_difference_counts_only_beyond_measurement_error() {
        let of = |left, right| Difference::of(&measures::WOBBLE, left, right);
        let (left, right) = (spread(2.0, Some(0.3)), spread(1.0, Some(0.4)));
        let beyond = of(Some(left), Some(right));
        assert_eq!(beyond.outcome, DifferenceSeen::Differs);
        assert_eq!((beyond.left_less_right, beyond.measurement_error), (Some(1.0), Some(0.98)));
        let within = of(Some(left), Some(spread(1.05, Some(0.4))));
        assert_eq!(
            (within.outcome, within.left_less_right),
            (DifferenceSeen::WithinError, Some(0.95))
        );
        let unknown = of(Some(left), Some(spread(-9.0, None)));
        assert_eq!(
            (unknown.outcome, unknown.left_less_right),
            (DifferenceSeen::CannotTell, Some(11.0))
        );
        assert_eq!(of(None, Some(right)).outcome, DifferenceSeen::CannotTell);
    }

    #[test]
    fn what_cannot_be_compared_is_refused() {
        let of = |a, b| Comparison::of(a, b, None).unwrap_err();
        let left = || session(Side::Left, 3, 3, 3);
        let right = || session(Side::Right, 3, 3, 3);
        assert_eq!(of(left(), left()), NotComparable::SameLeg(Side::Left));
        let mut other = right();
        other.summary.rung = Rung::Lowering;
        assert_eq!(of(left(), other), NotComparable::Rungs(Rung::SingleLeg, Rung::Lowering));
        let mut other = right();
        other.summary.leg = None;
        assert_eq!(of(left(), other), NotComparable::LegUnknown);
    }

    #[test]
    fn what_makes_it_less_sure_is_said() {
        let cautions = |change: &dyn Fn(&mut LegSession)| {
            let mut right = session(Side::Right, 3, 3, 10);
            change(&mut right);
            Comparison::of(session(Side::Left, 3, 3, 3), right, None).unwrap().cautions
        };
        assert_eq!(cautions(&|_| {}), []);
        let seats = Caution::SeatHeights { left_m: 0.45, right_m: 0.5 };
        assert_eq!(cautions(&|s| s.summary.seat_height_m = Some(0.5)), [seats]);
        assert_eq!(cautions(&|s| s.summary.seat_height_m = None), [Caution::SeatHeightUnknown]);
        let at = |text: &str| Some(text.parse().unwrap());
        assert_eq!(cautions(&|s| s.summary.recorded_at = at("2026-05-11T20:00:00Z")), []);
        let days = Caution::DaysApart { days: 8 };
        assert_eq!(cautions(&|s| s.summary.recorded_at = at("2026-05-12T10:00:00Z")), [days]);
        assert_eq!(cautions(&|s| s.summary.recorded_at = None), [Caution::DayUnknown]);
        let review = Caution::NotReviewed { leg: Side::Right };
        assert_eq!(cautions(&|s| s.summary.review = ReviewState::Begun), [review]);
        let many = Caution::ManyNotJudged { leg: Side::Right, not_judged: 3, reps: 10 };
        assert_eq!(cautions(&|s| s.summary.not_judged = 3), [many]);
        assert_eq!(cautions(&|s| s.summary.not_judged = 2), []);
        assert_eq!(cautions(&|s| s.criteria.fppa_max.value = 12.0), [Caution::OtherLimits]);
        let statures = Caution::Statures { left_m: 1.72, right_m: 1.8 };
        assert_eq!(cautions(&|s| s.stature_m = Some(1.8)), [statures]);
    }
}
