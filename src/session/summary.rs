//! A session in a few numbers: what sides and weeks are compared by.

use std::collections::BTreeMap;

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};

use crate::body::Side;
use crate::judgement::document::{Assessment, Rep, Rung};
use crate::judgement::measures::{self, Measure};
use crate::session::review::ReviewState;
use crate::signal::{mean, rounded};

/// The day of a moment, UTC.
pub fn day(at: Timestamp) -> Date {
    at.to_zoned_datetime(TimeZone::UTC).date()
}

/// A session in a few numbers, as it stands after its review.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SessionSummary {
    /// SHA-256 of the clip, hex.
    pub clip_sha256: String,
    /// When the set was filmed; null where nobody knows.
    pub recorded_at: Option<Timestamp>,
    /// The rung.
    pub rung: Rung,
    /// The working leg; null where both work alike.
    pub leg: Option<Side>,
    /// Height of the seat that was told, metres.
    pub seat_height_m: Option<f64>,
    /// Complete reps.
    pub reps: usize,
    /// Reps in good form.
    pub clean: usize,
    /// Reps with a fault.
    pub faulted: usize,
    /// Reps that could not be judged.
    pub not_judged: usize,
    /// Longest run of clean reps.
    pub longest_clean_run: usize,
    /// Clean reps in one go that are aimed at.
    pub target: usize,
    /// How far it is reviewed.
    pub review: ReviewState,
    /// Each measure that is compared, over the reps, where it is known of one.
    pub measures: BTreeMap<String, Spread>,
}

/// A measure over the reps of a set, in the measure's own unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Spread {
    /// Reps in which it is known.
    pub n: usize,
    /// Mean.
    pub mean: f64,
    /// Standard deviation from rep to rep (n − 1); null for one rep.
    pub standard_deviation: Option<f64>,
    /// Standard error of the mean from measuring and from rep to rep; null where the errors
    /// of measuring are not known (markers).
    pub standard_error: Option<f64>,
}

impl SessionSummary {
    /// Sums up a session as it stands, reviewed as far as `review` says.
    pub fn of(a: &Assessment, review: ReviewState) -> Self {
        let spread = |(measure, _): (&'static Measure, _)| {
            Some((measure.key().to_owned(), Spread::of(&a.reps, measure)?))
        };
        Self {
            clip_sha256: a.clip.sha256.clone(),
            recorded_at: a.clip.recorded_at,
            rung: a.rung,
            leg: a.leg,
            seat_height_m: a.told.seat_height_m,
            reps: a.set.reps,
            clean: a.set.clean,
            faulted: a.set.faulted,
            not_judged: a.set.not_judged,
            longest_clean_run: a.set.longest_clean_run,
            target: a.set.target,
            review,
            measures: measures::compared().into_iter().filter_map(spread).collect(),
        }
    }
}

impl Spread {
    /// A measure over the reps; `None` where no rep knows it.
    ///
    /// Errors of measuring are taken as common to all reps of a clip (same camera, same
    /// body proportions), so they do not shrink with the number of reps; the spread from
    /// rep to rep does: SE² = mean(se²) + SD²/n (derived). For n = 1 the spread is unknown
    /// and left out.
    fn of(reps: &[Rep], measure: &Measure) -> Option<Self> {
        let known: Vec<(f64, Option<f64>)> =
            reps.iter().filter_map(|rep| Some(((measure.of)(rep)?, measure.error(rep)))).collect();
        let values: Vec<f64> = known.iter().map(|(value, _)| *value).collect();
        let n = values.len();
        let centre = mean(&values)?;
        let squares: f64 = values.iter().map(|v| (v - centre).powi(2)).sum();
        let variance = (n > 1).then(|| squares / (n - 1) as f64);
        let errors: Option<Vec<f64>> = known.iter().map(|(_, se)| se.map(|e| e.powi(2))).collect();
        let measuring = errors.and_then(|squares| mean(&squares));
        let error = measuring.map(|m| (m + variance.unwrap_or(0.0) / n as f64).sqrt());
        Some(Self {
            n,
            mean: rounded(centre, 4),
            standard_deviation: variance.map(|v| rounded(v.sqrt(), 4)),
            standard_error: error.map(|e| rounded(e, 4)),
        })
    }
}
