//! Which ups and downs are reps.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::course::Course;
use super::events::Events;
use crate::signal;

/// A rise that turned back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Attempt {
    /// When it was highest, seconds.
    pub time_s: f64,
    /// How high, as a share of the excursion.
    pub reached: f64,
}

/// Which way round a rep goes.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Cycle {
    /// Up, and down again.
    #[default]
    SeatToSeat,
    /// Down, and up again.
    StandToStand,
}

/// What was found in the clip.
#[derive(Debug, Clone, Default)]
pub struct Found {
    /// Complete reps, in order.
    pub reps: Vec<Events>,
    /// Rises that turned back before `full_rise` of the excursion.
    pub attempts: Vec<Attempt>,
    /// Rises or descents cut off by the clip's beginning or end.
    pub cut_off: usize,
    /// The person was seen resting on a seat.
    pub sat: bool,
    /// Which way round a rep goes.
    pub cycle: Cycle,
}

/// Hip height above this share of the excursion is «up».
pub(super) const UP: f64 = 0.25;
/// Less than this is not even an attempt: a lean, a shift, a scratch.
pub(super) const ATTEMPT: f64 = 0.30;
/// Resting on the seat: below this share …
const SEATED: f64 = 0.12;
/// … for this long, seconds. The turning point of a slow squat without a seat
/// takes about a second (1.2 s seen in a film of one; design choice) …
const SEATED_S: f64 = 1.8;
/// … or not «up» for this long where the clip begins or ends with it: who sits upright
/// before a brisk set is higher than between its reps, where the trunk stays bent.
const SEATED_AT_EDGE_S: f64 = 1.0;

impl Course<'_> {
    /// Finds reps and attempts; `full_rise` is the share of the excursion from
    /// which a rise counts as a rep.
    pub fn find(&self, full_rise: f64) -> Found {
        let share = self.pelvis.hip_share(self.stance);
        let last = share.len() - 1;
        let lasts =
            |run: &Range<usize>, needed_s: f64| run.len() as f64 >= needed_s * self.tracks.rate_hz;
        let rests = signal::runs(&share, |h| *h < SEATED).iter().any(|run| lasts(run, SEATED_S));
        let at_edge = signal::runs(&share, |h| *h < UP)
            .iter()
            .any(|run| (run.start == 0 || run.end == share.len()) && lasts(run, SEATED_AT_EDGE_S));
        let mut found = Found { sat: rests || at_edge, ..Default::default() };
        let ups = signal::runs(&share, |h| *h > UP);
        for (i, up) in ups.iter().enumerate() {
            let (highest, reached) = peak(&share, up);
            if reached < ATTEMPT {
                continue;
            }
            if up.start == 0 || up.end > last {
                found.cut_off += 1;
                continue;
            }
            if reached < full_rise {
                let time_s = highest as f64 / self.tracks.rate_hz;
                found.attempts.push(Attempt { time_s, reached });
                continue;
            }
            let from = if i == 0 { 0 } else { ups[i - 1].end };
            let to = ups.get(i + 1).map_or(last, |next| next.start);
            match Events::find(self, up, from..to) {
                Some(events) => found.reps.push(events),
                None => found.cut_off += 1,
            }
        }
        found
    }
}

pub(super) fn peak(series: &[f64], range: &Range<usize>) -> (usize, f64) {
    range.clone().fold((range.start, f64::NEG_INFINITY), |best, i| {
        if series[i] > best.1 { (i, series[i]) } else { best }
    })
}
