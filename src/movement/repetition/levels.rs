//! Reps from a pelvis whose true height is known, by the plain definitions:
//! levels and speeds crossed, nothing fitted. Films need more care, because
//! their noise is larger than the levels (see `events.rs`).

use std::ops::Range;

use super::course::Course;
use super::events::{AT_REST, Events, OFF_SEAT, UPRIGHT, plateau, speeds};
use super::find::{ATTEMPT, Attempt, Cycle, Found, UP, peak};
use crate::settings;
use crate::signal;

/// The lowest part of a way down and up.
struct Turn {
    /// Pelvis height at rest there; where nobody rests, of the turning point.
    seated_m: f64,
    /// Spread of the height at rest, metres.
    noise_m: f64,
    /// The pelvis rested.
    rested: bool,
}

impl Course<'_> {
    /// Finds reps and attempts where pelvis height is measured, not estimated.
    /// A recording that begins and ends off the seat, with a stand at one end at least,
    /// or whose person never rests low, is counted from stand to stand, any other from
    /// seat to seat. What ends rising past `full_rise` ends with a stand: whatever came
    /// after, that rise counts.
    pub fn find_by_levels(&self, full_rise: f64) -> Found {
        let share = self.stance.share();
        let mut found = Found::default();
        let mut ups: Vec<Range<usize>> = Vec::new();
        let (mut begins_off, mut ends_off) = (false, false);
        for up in signal::runs(&share, |h| *h > UP) {
            let (highest, reached) = peak(&share, &up);
            if reached < ATTEMPT {
                continue;
            }
            let (at_start, at_end) = (up.start == 0, up.end == share.len());
            begins_off |= at_start;
            ends_off |= at_end;
            if reached >= full_rise {
                ups.push(up);
            } else if at_start || at_end {
                found.cut_off += 1;
            } else {
                let time_s = highest as f64 / self.tracks.rate_hz;
                found.attempts.push(Attempt { time_s, reached });
            }
        }
        let (Some(first), Some(last)) = (ups.first(), ups.last()) else { return found };
        let (begins_up, ends_up) = (first.start == 0, last.end == share.len());
        // What lies below each pair of neighbours, and before and after them all.
        let downs: Vec<Range<usize>> = std::iter::once(0..first.start)
            .chain(ups.windows(2).map(|w| w[0].end..w[1].start))
            .chain(std::iter::once(last.end..share.len()))
            .collect();
        let turns: Vec<Option<Turn>> = downs.iter().map(|down| self.turn(down)).collect();
        found.sat = turns.iter().flatten().any(|turn| turn.rested);
        let off_seat = (begins_up && ends_off) || (begins_off && ends_up);
        if ups.len() > 1 && (off_seat || !found.sat) {
            found.cycle = Cycle::StandToStand;
            // What comes before the first stand or after the last is part of a rep.
            found.cut_off = usize::from(!begins_up) + usize::from(!ends_up);
            for (pair, turn) in ups.windows(2).zip(&turns[1..]) {
                self.keep(&pair[1], &pair[0], turn.as_ref(), turn.as_ref(), &mut found);
            }
        } else {
            for (up, turns) in ups.iter().zip(turns.windows(2)) {
                self.keep(up, up, turns[0].as_ref(), turns[1].as_ref(), &mut found);
            }
        }
        found
    }

    fn keep(
        &self,
        rise: &Range<usize>,
        descent: &Range<usize>,
        before: Option<&Turn>,
        after: Option<&Turn>,
        found: &mut Found,
    ) {
        match self.events(rise, descent, before, after) {
            Some(events) => found.reps.push(events),
            None => found.cut_off += 1,
        }
    }

    /// The rise into `rise` from the turn before it, the descent from `descent`
    /// to the turn after it.
    fn events(
        &self,
        rise: &Range<usize>,
        descent: &Range<usize>,
        before: Option<&Turn>,
        after: Option<&Turn>,
    ) -> Option<Events> {
        let (before, after) = (before?, after?);
        let (height, velocity) = (&self.pelvis.height_m, &self.pelvis.velocity_m_s);
        let count = height.len();

        let risen_m = plateau(&height[rise.clone()])?;
        let excursion_m = risen_m - before.seated_m;
        let fastest = self.extreme(rise, |v| v)?;
        // Three times the noise is off the seat (design choice).
        let off_m = before.seated_m + (3.0 * before.noise_m).max(OFF_SEAT * excursion_m);
        let last_low = (0..fastest).rev().find(|i| height[*i] <= off_m)?;
        let seat_off = signal::crossing(height, last_low + 1, off_m);
        let upright_m = before.seated_m + UPRIGHT * excursion_m;
        let resting = AT_REST * velocity[fastest];
        let at_rest = (fastest..count.min(rise.end))
            .find(|i| height[*i] >= upright_m && velocity[*i].abs() < resting);
        let ended_after = at_rest.is_none() && rise.end == count;
        let stand = match at_rest {
            Some(i) => i,
            None if ended_after => count,
            None => return None,
        };

        let fastest = self.extreme(descent, |v| -v)?;
        let resting = AT_REST * velocity[fastest];
        let last_still = (descent.start..fastest).rev().find(|i| velocity[*i] >= resting);
        let began_before = last_still.is_none() && descent.start == 0;
        let descent_start = match last_still {
            Some(i) => signal::crossing(velocity, i + 1, resting),
            None if began_before => 0.0,
            None => return None,
        };
        let mut standing_m = plateau(&height[descent.clone()])?;
        if began_before {
            // Who was on the way down already had stood as high before as after.
            standing_m = standing_m.max(risen_m);
        }
        let on_m = after.seated_m + OFF_SEAT * (standing_m - after.seated_m);
        let first_low = (fastest..count).find(|i| height[*i] <= on_m)?;
        let contact = signal::crossing(height, first_low, on_m);
        let (end_speed_m_s, peak_speed_m_s) =
            speeds(&self.pelvis.raw_height_m, self.tracks.rate_hz, descent_start, contact);
        let events = Events {
            seat_off_s: self.seconds(seat_off),
            stand_s: self.seconds(stand as f64),
            descent_start_s: self.seconds(descent_start),
            seat_contact_s: self.seconds(contact),
            began_before,
            ended_after,
            reached: peak(&self.stance.share(), rise).1,
            standing_m,
            seated_m: after.seated_m,
            end_speed_m_s,
            peak_speed_m_s,
        };
        let ordered = if events.from_standing() {
            events.descent_start_s < events.seat_contact_s && events.seat_off_s < events.stand_s
        } else {
            events.stand_s <= events.descent_start_s
        };
        ordered.then_some(events)
    }

    /// Sample in and around a stretch «up» where the signed speed is largest: a
    /// rise begins, and a descent ends, below the stretch.
    fn extreme(&self, up: &Range<usize>, signed: impl Fn(f64) -> f64) -> Option<usize> {
        let velocity = &self.pelvis.velocity_m_s;
        up.clone().max_by(|a, b| signed(velocity[*a]).total_cmp(&signed(velocity[*b])))
    }

    /// Level and rest of a stretch «down»; `None` if it is empty.
    fn turn(&self, down: &Range<usize>) -> Option<Turn> {
        let height = &self.pelvis.height_m[down.clone()];
        let lowest_m = height.iter().copied().min_by(f64::total_cmp)?;
        let velocity = &self.pelvis.velocity_m_s;
        let highest_m = self.pelvis.height_m.iter().copied().fold(lowest_m, f64::max);
        // Speeds on both sides of the turn, up to the middle of the way.
        let beside = self.tracks.samples(settings::TURN_SIDE_S);
        let around = down.start.saturating_sub(beside)..(down.end + beside).min(velocity.len());
        let fastest = velocity[around].iter().fold(0.0f64, |m, v| m.max(v.abs()));
        let still: Vec<f64> = down
            .clone()
            .filter(|i| velocity[*i].abs() < AT_REST * fastest)
            .map(|i| self.pelvis.height_m[i])
            .filter(|h| *h < lowest_m + 0.1 * (highest_m - lowest_m))
            .collect();
        let rested = still.len() as f64 >= settings::SEAT_REST_S * self.tracks.rate_hz;
        Some(if rested {
            Turn { seated_m: signal::median(&still)?, noise_m: spread(&still)?, rested }
        } else {
            Turn { seated_m: lowest_m, noise_m: 0.0, rested }
        })
    }
}

/// Standard deviation.
fn spread(values: &[f64]) -> Option<f64> {
    let mean = signal::mean(values)?;
    signal::rms(&values.iter().map(|v| v - mean).collect::<Vec<_>>())
}

#[cfg(test)]
mod tests {
    use super::super::made::{Made, RATE_HZ, Shape, WAY_M, Way, near};
    use super::*;

    const FULL_RISE: f64 = 0.80;
    /// A few samples: a filter at 6 Hz rounds the ends of a way.
    const BUDGET_S: f64 = 0.03;
    const RISE_S: f64 = 1.6;
    const DESCENT_S: f64 = 2.0;
    const REST_S: f64 = 1.0;

    /// From a stand of a second: down, rest, up, stand, as often as is said.
    fn from_stand(cycles: usize) -> Vec<Way> {
        let one = [Way(0.0, DESCENT_S), Way(0.0, REST_S), Way(1.0, RISE_S), Way(1.0, 1.0)];
        std::iter::once(Way(1.0, 1.0)).chain(one.into_iter().cycle().take(4 * cycles)).collect()
    }

    /// When the n-th cycle from stand to stand begins, and its rise, seconds.
    fn begins_s(n: usize) -> (f64, f64) {
        let start_s = 1.0 + n as f64 * (DESCENT_S + REST_S + RISE_S + 1.0);
        (start_s, start_s + DESCENT_S + REST_S)
    }

    #[test]
    fn from_seat_to_seat_by_the_plain_definitions() {
        for shape in Shape::ALL {
            let one = [Way(1.0, RISE_S), Way(1.0, 1.0), Way(0.0, DESCENT_S), Way(0.0, REST_S)];
            let ways: Vec<Way> =
                std::iter::once(Way(0.0, 1.0)).chain(one.into_iter().cycle().take(8)).collect();
            let found = Made::new(shape, 0.0, &ways).course().find_by_levels(FULL_RISE);
            assert_eq!((found.reps.len(), found.cut_off, found.sat), (2, 0, true), "{shape:?}");
            assert_eq!((found.cycle, found.attempts.len()), (Cycle::SeatToSeat, 0));
            for (i, rep) in found.reps.iter().enumerate() {
                let up_s = 1.0 + i as f64 * (RISE_S + 1.0 + DESCENT_S + REST_S);
                let down_s = up_s + RISE_S + 1.0;
                let slow = shape.slow_edge();
                near(rep.seat_off_s, up_s + RISE_S * shape.time_of(0.02), BUDGET_S, "seat-off");
                near(rep.stand_s, up_s + RISE_S * (1.0 - slow), BUDGET_S, "stand");
                near(rep.descent_start_s, down_s + DESCENT_S * slow, BUDGET_S, "descent");
                near(
                    rep.seat_contact_s,
                    down_s + DESCENT_S * shape.time_of(0.98),
                    BUDGET_S,
                    "seat",
                );
                assert!((rep.excursion_m() - WAY_M).abs() < 0.01 * WAY_M && !rep.cut_off());
            }
        }
    }

    /// A last rise past the limit of an attempt counts; when it came to a stand is not known.
    #[test]
    fn a_recording_that_ends_before_the_last_stand() {
        for shape in Shape::ALL {
            for share in [0.85, 0.90, 0.97] {
                let end_s = begins_s(1).1 + RISE_S * shape.time_of(share);
                let made = Made::between(shape, 1.0, &from_stand(2), (0.0, end_s));
                let found = made.course().find_by_levels(FULL_RISE);
                let told = (found.reps.len(), found.cut_off, found.cycle);
                assert_eq!(told, (2, 0, Cycle::StandToStand), "{shape:?} to {share}");
                let [first, last] = &found.reps[..] else { unreachable!() };
                assert!(!first.cut_off() && last.ended_after && !last.began_before);
                let (start_s, up_s) = begins_s(1);
                let slow = shape.slow_edge();
                near(last.descent_start_s, start_s + DESCENT_S * slow, BUDGET_S, "descent");
                near(last.seat_off_s, up_s + RISE_S * shape.time_of(0.02), BUDGET_S, "seat-off");
                // No later than what was recorded: a sample more or less.
                near(last.stand_s, end_s, 1.5 / RATE_HZ, "end");
                assert!((last.excursion_m() - WAY_M).abs() < 0.01 * WAY_M);
            }
            let end_s = begins_s(1).1 + RISE_S + 0.2;
            let made = Made::between(shape, 1.0, &from_stand(2), (0.0, end_s));
            let whole = made.course().find_by_levels(FULL_RISE).reps;
            assert!(whole.len() == 2 && !whole[1].cut_off(), "{shape:?}: it came to rest");
        }
    }

    /// What had not come as far is not counted, and is named as cut off; at the other end as
    /// well. The rest is counted as it would be without.
    #[test]
    fn a_recording_that_begins_or_ends_far_from_a_stand() {
        let shape = Shape::MinimumJerk;
        let told = |span_s: (f64, f64)| {
            let made = Made::between(shape, 1.0, &from_stand(3), span_s);
            let found = made.course().find_by_levels(FULL_RISE);
            assert!(found.attempts.is_empty() && found.reps.iter().all(|rep| !rep.cut_off()));
            (found.cycle, found.reps.len(), found.cut_off)
        };
        for share in [0.40, 0.75] {
            let late_s = 1.0 + DESCENT_S * shape.time_of(1.0 - share);
            let early_s = begins_s(2).1 + RISE_S * shape.time_of(share);
            assert_eq!(told((0.0, early_s)), (Cycle::StandToStand, 2, 1), "to {share}");
            assert_eq!(told((late_s, begins_s(3).0)), (Cycle::StandToStand, 2, 1), "from {share}");
            // Without a stand at either end the whole ways are those from the seat.
            assert_eq!(told((late_s, early_s)), (Cycle::SeatToSeat, 2, 2), "both {share}");
        }
    }

    /// The mirror image: what was on the way down when the recording began.
    #[test]
    fn a_recording_that_begins_after_the_first_stand() {
        for shape in Shape::ALL {
            for share in [0.85, 0.90, 0.97] {
                let from_s = 1.0 + DESCENT_S * shape.time_of(1.0 - share);
                let end_s = begins_s(2).0;
                let made = Made::between(shape, 1.0, &from_stand(2), (from_s, end_s));
                let found = made.course().find_by_levels(FULL_RISE);
                assert_eq!((found.reps.len(), found.cut_off), (2, 0), "{shape:?} from {share}");
                let [first, second] = &found.reps[..] else { unreachable!() };
                assert!(first.began_before && !first.ended_after && !second.cut_off());
                let contact_s = 1.0 + DESCENT_S * shape.time_of(0.98) - from_s;
                near(first.seat_contact_s, contact_s, BUDGET_S, "seat");
                assert_eq!(first.descent_start_s, 0.0);
                let excursion_m = first.excursion_m();
                assert!((excursion_m - WAY_M).abs() < 0.01 * WAY_M, "{share}: {excursion_m}");
            }
        }
    }

    /// Down and up without a rest, once and twice: no seat, from stand to stand, the turn
    /// in the middle of the bend.
    #[test]
    fn squats_have_no_seat() {
        for squats in [1, 2] {
            let one = [Way(0.0, DESCENT_S), Way(1.0, RISE_S)];
            let bends = one.into_iter().cycle().take(2 * squats);
            let ways: Vec<Way> =
                std::iter::once(Way(1.0, 1.0)).chain(bends).chain([Way(1.0, 1.0)]).collect();
            let made = Made::new(Shape::MinimumJerk, 1.0, &ways);
            let found = made.course().find_by_levels(FULL_RISE);
            assert_eq!((found.reps.len(), found.cut_off, found.sat), (squats, 0, false));
            assert_eq!(found.cycle, Cycle::StandToStand);
            for (i, rep) in found.reps.iter().enumerate() {
                let low_s = 1.0 + DESCENT_S + i as f64 * (DESCENT_S + RISE_S);
                assert!(rep.seat_contact_s < low_s && low_s < rep.seat_off_s, "{rep:?}");
            }
        }
    }

    /// Without a rest anywhere it is from stand to stand, also where it begins and ends low:
    /// the first rise and the last descent are cut off.
    #[test]
    fn squats_that_begin_and_end_low() {
        let bends = [Way(1.0, RISE_S), Way(0.0, DESCENT_S)];
        let ways: Vec<Way> = bends.into_iter().cycle().take(6).collect();
        let made = Made::new(Shape::MinimumJerk, 0.0, &ways);
        let found = made.course().find_by_levels(FULL_RISE);
        assert_eq!((found.cycle, found.sat), (Cycle::StandToStand, false));
        assert_eq!((found.reps.len(), found.cut_off), (2, 2));
    }

    /// A rise that turns back at 60 % is an attempt, one to 28 % is nothing; neither is a rep.
    #[test]
    fn attempts_turn_back() {
        let ways = [
            Way(0.0, 1.0),
            Way(0.6, 1.2),
            Way(0.0, 1.2),
            Way(0.0, 1.0),
            Way(0.28, 1.0),
            Way(0.0, 1.0),
            Way(0.0, 1.0),
            Way(1.0, RISE_S),
            Way(1.0, 1.0),
            Way(0.0, DESCENT_S),
            Way(0.0, 1.0),
        ];
        let made = Made::new(Shape::MinimumJerk, 0.0, &ways);
        let found = made.course().find_by_levels(FULL_RISE);
        assert_eq!((found.reps.len(), found.attempts.len(), found.cut_off), (1, 1, 0));
        near(found.attempts[0].time_s, 2.2, BUDGET_S, "turned back");
        assert!((found.attempts[0].reached - 0.6).abs() < 0.02, "{:?}", found.attempts);
        // By a lower limit it is one rep more.
        assert_eq!(made.course().find_by_levels(0.5).reps.len(), 2);
    }

    /// One descent from a stand to a seat is no rep.
    #[test]
    fn a_descent_alone_is_cut_off() {
        let ways = [Way(1.0, 1.0), Way(0.0, DESCENT_S), Way(0.0, REST_S)];
        let made = Made::new(Shape::MinimumJerk, 1.0, &ways);
        let found = made.course().find_by_levels(FULL_RISE);
        assert_eq!((found.reps.len(), found.cut_off, found.attempts.len()), (0, 1, 0));
    }

    /// Written by hand at 100 samples a second: at constant speed from the seat at 1 s to the
    /// stand at 2 s and from 3 to 4 s back, 0.40 to 0.80 m.
    fn by_hand(at_top: f64) -> Made {
        let height_m: Vec<f64> = (0..=500)
            .map(|i| match i {
                ..=100 => 0.40,
                101..200 => 0.40 + 0.004 * (f64::from(i) - 100.5),
                200..=300 => 0.80,
                301..400 => 0.80 - 0.004 * (f64::from(i) - 300.5),
                _ => 0.40,
            })
            .collect();
        let velocity_m_s = (0..=500)
            .map(|i| match i {
                101..200 => 0.4,
                200 => at_top,
                301..400 => -0.4,
                _ => 0.0,
            })
            .collect();
        let body_px = height_m.iter().map(|h| 400.0 + 500.0 * (h - 0.40)).collect();
        Made::by_hand(body_px, height_m, velocity_m_s)
    }

    /// 2 % of the way are 8 mm, two samples from where the line begins; a twentieth of 0.4 m/s is not yet at rest; the
    /// descent's twentieth is crossed between samples 300 and 301.
    #[test]
    fn events_to_a_part_of_a_sample() {
        for (at_top, stand_s) in [(0.0, 2.00), (0.05 * 0.4, 2.01), (0.019, 2.00)] {
            let found = by_hand(at_top).course().find_by_levels(FULL_RISE);
            let [rep] = &found.reps[..] else { panic!("{found:?}") };
            near(rep.seat_off_s, 1.025, 1e-6, "seat-off");
            near(rep.stand_s, stand_s, 1e-6, "stand");
            near(rep.descent_start_s, 3.0005, 1e-6, "descent");
            near(rep.seat_contact_s, 3.985, 1e-6, "contact");
            assert!((rep.standing_m - 0.80).abs() < 1e-9 && (rep.seated_m - 0.40).abs() < 1e-9);
            assert!((rep.peak_speed_m_s - 0.4).abs() < 1e-9, "{}", rep.peak_speed_m_s);
            assert!((rep.reached - 1.0).abs() < 1e-9 && found.sat);
        }
    }

    /// At rest half-way up is no stand.
    #[test]
    fn a_stand_is_upright() {
        let mut made = by_hand(0.0);
        made.set_velocity(130, 0.41);
        made.set_velocity(150, 0.0);
        let found = made.course().find_by_levels(FULL_RISE);
        near(found.reps[0].stand_s, 2.00, 1e-6, "stand");
    }

    /// A rise to 30 % is an attempt, one just below it is none; both levels are told exactly.
    #[test]
    fn the_least_attempt() {
        for (top_px, attempts) in [(460.0, 1), (459.0, 0)] {
            let mut body_px = vec![400.0; 300];
            body_px[100..120].fill(455.0);
            body_px[110] = top_px;
            let made = Made::by_hand(body_px, vec![0.40; 300], vec![0.0; 300]);
            let found = made.course().find_by_levels(FULL_RISE);
            assert_eq!((found.attempts.len(), found.cut_off), (attempts, 0));
            if let Some(attempt) = found.attempts.first() {
                assert_eq!((attempt.time_s, attempt.reached), (1.10, 0.30));
            }
        }
    }

    /// Up at 0.80 m, so many samples at this height and speed on the way, up again; of the
    /// whole, somebody is once at 0.40 m.
    fn turned(samples: usize, height_m: f64, velocity_m_s: f64, later_m_s: f64) -> (bool, f64) {
        let mut heights = vec![0.80; 100];
        heights.push(0.40);
        heights.extend(vec![height_m; samples]);
        heights.extend(vec![0.80; 300]);
        let mut velocity = vec![0.4; 101];
        velocity.extend(vec![velocity_m_s; samples]);
        velocity.extend(vec![0.4; 120]);
        velocity.extend(vec![later_m_s; 180]);
        let made = Made::by_hand(vec![400.0; heights.len()], heights, velocity);
        let turn = made.course().turn(&(100..101 + samples)).unwrap();
        (turn.rested, turn.seated_m)
    }

    /// A rest lasts 0.3 s, 30 samples; it is slower than a twentieth of the speed within a
    /// second on either side and in the lowest tenth of the way.
    #[test]
    fn what_a_rest_is() {
        assert_eq!(turned(30, 0.41, 0.0, 0.4), (true, 0.41));
        assert_eq!(turned(29, 0.41, 0.0, 0.4), (false, 0.40));
        assert_eq!(turned(30, 0.41, -0.019, 0.4), (true, 0.41));
        assert_eq!(turned(30, 0.41, -0.021, 0.4), (false, 0.40));
        assert_eq!(turned(30, 0.41, -0.021, 4.0), (false, 0.40), "1.2 s later it is faster");
        assert_eq!(turned(30, 0.439, 0.0, 0.4), (true, 0.439));
        // Just there it is neither slow nor low enough.
        assert_eq!(turned(30, 0.41, 0.05 * 0.4, 0.4), (false, 0.40));
        assert_eq!(turned(30, 0.40 + 0.1 * (0.80 - 0.40), 0.0, 0.4), (false, 0.40));
        assert_eq!(turned(30, 0.441, 0.0, 0.4), (false, 0.40));
        assert!(Made::by_hand(Vec::new(), Vec::new(), Vec::new()).course().turn(&(0..0)).is_none());
    }
}
