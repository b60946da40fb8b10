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
    /// A recording that begins and ends standing, or whose person never rests
    /// low, is counted from stand to stand, any other from seat to seat.
    pub fn find_by_levels(&self, full_rise: f64) -> Found {
        let share = self.stance.share();
        let mut found = Found::default();
        let mut ups: Vec<Range<usize>> = Vec::new();
        for up in signal::runs(&share, |h| *h > UP) {
            let (highest, reached) = peak(&share, &up);
            let at_edge = up.start == 0 || up.end == share.len();
            if reached >= full_rise {
                ups.push(up);
            } else if reached >= ATTEMPT && !at_edge {
                let time_s = highest as f64 / self.tracks.rate_hz;
                found.attempts.push(Attempt { time_s, reached });
            }
        }
        let (Some(first), Some(last)) = (ups.first(), ups.last()) else { return found };
        let (starts_up, ends_up) = (first.start == 0, last.end == share.len());
        // What lies below each pair of neighbours, and before and after them all.
        let downs: Vec<Range<usize>> = std::iter::once(0..first.start)
            .chain(ups.windows(2).map(|w| w[0].end..w[1].start))
            .chain(std::iter::once(last.end..share.len()))
            .collect();
        let turns: Vec<Option<Turn>> = downs.iter().map(|down| self.turn(down)).collect();
        found.sat = turns.iter().flatten().any(|turn| turn.rested);
        if ups.len() > 1 && ((starts_up && ends_up) || !found.sat) {
            found.cycle = Cycle::StandToStand;
            for (pair, turn) in ups.windows(2).zip(&turns[1..]) {
                self.keep(&pair[1], &pair[0], turn.as_ref(), turn.as_ref(), &mut found);
            }
            // What comes before the first stand or after the last is part of a rep.
            found.cut_off = usize::from(!starts_up) + usize::from(!ends_up);
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
        let off_m = before.seated_m + (3.0 * before.noise_m).max(OFF_SEAT * excursion_m);
        let last_low = (0..fastest).rev().find(|i| height[*i] <= off_m)?;
        let seat_off = signal::crossing(height, last_low + 1, off_m);
        let upright_m = before.seated_m + UPRIGHT * excursion_m;
        let resting = AT_REST * velocity[fastest];
        let stand = (fastest..count.min(rise.end))
            .find(|i| height[*i] >= upright_m && velocity[*i].abs() < resting)?;

        let standing_m = plateau(&height[descent.clone()])?;
        let fastest = self.extreme(descent, |v| -v)?;
        let resting = AT_REST * velocity[fastest];
        let last_still = (descent.start..fastest).rev().find(|i| velocity[*i] >= resting);
        let began_before = last_still.is_none() && descent.start == 0;
        let descent_start = match last_still {
            Some(i) => signal::crossing(velocity, i + 1, resting),
            None if began_before => 0.0,
            None => return None,
        };
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
