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

/// Hip height above this share of the excursion is «up» (design choice: hip points lie up to
/// 0.05 m above the bent joint [Needham2021], an eighth of a way of 0.40 m; twice that is clear
/// of it).
pub(super) const UP: f64 = 0.25;
/// Less than this is not even an attempt: a lean, a shift, a scratch (design choice: a
/// twentieth of the way beyond what counts as «up»).
pub(super) const ATTEMPT: f64 = 0.30;
/// Resting on the seat: below this share, about half of [`UP`] (design choice) …
const SEATED: f64 = 0.12;
/// … for this long, seconds. The turning point of a slow squat without a seat
/// takes about a second (1.2 s seen in a film of one; design choice) …
const SEATED_S: f64 = 1.8;
/// … or not «up» for this long where the clip begins or ends with it: who sits upright
/// before a brisk set is higher than between its reps, where the trunk stays bent (design
/// choice).
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

#[cfg(test)]
mod tests {
    use super::super::made::{Made, Shape, Way, near};
    use super::*;

    const FULL_RISE: f64 = 0.80;
    const RISE_S: f64 = 1.6;
    const DESCENT_S: f64 = 2.0;

    fn found(start: f64, ways: &[Way]) -> Found {
        Made::new(Shape::MinimumJerk, start, ways).course().find(FULL_RISE)
    }

    /// Up, a stand of a second, down.
    fn rep() -> [Way; 3] {
        [Way(1.0, RISE_S), Way(1.0, 1.0), Way(0.0, DESCENT_S)]
    }

    fn seat(lasts_s: f64) -> [Way; 1] {
        [Way(0.0, lasts_s)]
    }

    #[test]
    fn reps_with_a_rest_between_them_and_without() {
        for rest_s in [1.0, 0.3, 0.0] {
            let mut ways = seat(1.5).to_vec();
            for _ in 0..3 {
                ways.extend(rep());
                ways.extend(seat(rest_s));
            }
            ways.extend(seat(1.5));
            let found = found(0.0, &ways);
            let told = (found.reps.len(), found.attempts.len(), found.cut_off);
            assert_eq!(told, (3, 0, 0), "rest of {rest_s} s");
            assert!(found.sat && found.cycle == Cycle::SeatToSeat);
            let each_s = RISE_S + 1.0 + DESCENT_S + rest_s;
            for (i, rep) in found.reps.iter().enumerate() {
                let up_s = 1.5 + i as f64 * each_s;
                let stands_s = up_s + RISE_S..up_s + RISE_S + 1.0;
                assert!((up_s..up_s + RISE_S / 2.0).contains(&rep.seat_off_s), "{rep:?}");
                assert!(stands_s.contains(&((rep.stand_s + rep.descent_start_s) / 2.0)), "{rep:?}");
                let lands_s = stands_s.end + DESCENT_S / 2.0..stands_s.end + DESCENT_S;
                assert!(lands_s.contains(&rep.seat_contact_s), "{rep:?}");
            }
        }
    }

    /// A rise to 60 % that turns back is an attempt; one to 28 % is not even that; one to
    /// 85 % is a rep, which says how far it went.
    #[test]
    fn rises_that_turn_back() {
        let mut ways = seat(1.5).to_vec();
        for to in [0.6, 0.28, 0.85] {
            ways.extend([Way(to, 1.2), Way(0.0, 1.2), Way(0.0, 1.0)]);
        }
        ways.extend(rep());
        ways.extend(seat(1.5));
        let found = found(0.0, &ways);
        assert_eq!((found.reps.len(), found.attempts.len(), found.cut_off), (2, 1, 0));
        near(found.attempts[0].time_s, 1.5 + 1.2, 0.02, "turned back");
        assert!((found.attempts[0].reached - 0.6).abs() < 0.02, "{:?}", found.attempts);
        assert!((found.reps[0].reached - 0.85).abs() < 0.02, "{:?}", found.reps[0]);
        assert!((found.reps[1].reached - 1.0).abs() < 0.02, "{:?}", found.reps[1]);
    }

    /// A film is counted from seat to seat: a descent at its beginning and a rise at its end
    /// are cut off, however far the rise has come; a lean at its end is nothing.
    #[test]
    fn beginnings_and_ends_that_cut_off() {
        let whole: Vec<Way> = [&seat(1.5)[..], &rep(), &seat(1.5)].concat();
        for (before, after, cut_off) in [
            (None, None, 0),
            (Some(1.0), None, 1),
            (Some(0.7), None, 1),
            (None, Some(0.5), 1),
            (None, Some(0.9), 1),
            (None, Some(1.0), 1),
            (None, Some(0.2), 0),
            (Some(1.0), Some(1.0), 2),
        ] {
            let mut ways = whole.clone();
            if before.is_some() {
                ways.insert(0, Way(0.0, 1.5));
            }
            // Cut while it moves: the way goes on, the recording does not.
            let lasts_s: f64 = ways.iter().map(|way| way.1).sum();
            ways.push(Way(1.0, RISE_S));
            let goes_on_s = after.map_or(0.0, |share| RISE_S * Shape::MinimumJerk.time_of(share));
            let span_s = (0.0, lasts_s + goes_on_s);
            let made = Made::between(Shape::MinimumJerk, before.unwrap_or(0.0), &ways, span_s);
            let found = made.course().find(FULL_RISE);
            assert_eq!(
                (found.reps.len(), found.cut_off, found.attempts.len()),
                (1, cut_off, 0),
                "from {before:?} to {after:?}"
            );
            assert!(!found.reps[0].cut_off());
        }
    }

    /// Rest low in the middle of the clip, and at its edge, long enough and not.
    #[test]
    fn who_rests_on_a_seat() {
        let down_and_up = |rest_s: f64| {
            let ways = [
                Way(1.0, 1.0),
                Way(0.0, DESCENT_S),
                Way(0.0, rest_s),
                Way(1.0, RISE_S),
                Way(1.0, 1.0),
            ];
            found(1.0, &ways)
        };
        // The slow ends of both ways lie low too, for about 0.9 s together.
        assert!(!down_and_up(0.5).sat && down_and_up(1.5).sat);
        let seated_first = |rest_s: f64| {
            found(0.0, &[&seat(rest_s)[..], &rep(), &[Way(1.0, RISE_S), Way(1.0, 1.0)]].concat())
        };
        assert!(!seated_first(0.3).sat && seated_first(0.8).sat);
        let seated_last =
            |rest_s: f64| found(1.0, &[&[Way(0.0, DESCENT_S)], &rep()[..], &seat(rest_s)].concat());
        assert!(!seated_last(0.1).sat && seated_last(0.8).sat);
    }

    /// The recording ends before the seat is reached, though the body is low already: a rep
    /// that is cut off.
    #[test]
    fn a_descent_that_goes_on_at_the_end() {
        let ways = [&seat(1.5)[..], &rep()].concat();
        let end_s = 1.5 + RISE_S + 1.0 + DESCENT_S * Shape::MinimumJerk.time_of(0.85);
        let found = Made::between(Shape::MinimumJerk, 0.0, &ways, (0.0, end_s));
        let found = found.course().find(FULL_RISE);
        assert_eq!((found.reps.len(), found.cut_off, found.attempts.len()), (0, 1, 0));
    }

    /// The highest sample, the first where several are; of none, nothing.
    #[test]
    fn the_peak_of_a_stretch() {
        let series = [9.0, 1.0, 3.0, 3.0, 2.0];
        assert_eq!(peak(&series, &(1..5)), (2, 3.0));
        assert_eq!(peak(&series, &(2..2)), (2, f64::NEG_INFINITY));
    }
}
