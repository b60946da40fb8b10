//! The four events of a rep, by their definitions.

use std::ops::Range;

use super::course::Course;
use crate::settings;
use crate::signal;

/// Events of one rep, seconds from the clip's first frame, and the levels they
/// are measured against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Events {
    /// The pelvis leaves the seat.
    pub seat_off_s: f64,
    /// Upright: 95 % of the excursion and at rest.
    pub stand_s: f64,
    /// The descent begins.
    pub descent_start_s: f64,
    /// The pelvis is back on the seat.
    pub seat_contact_s: f64,
    /// The descent was under way when the recording began: when it started is
    /// not known, and `descent_start_s` is 0.
    pub began_before: bool,
    /// The rise was under way when the recording ended: whether it came to a stand is not
    /// known, and `stand_s` is the recording's end.
    pub ended_after: bool,
    /// Highest body height as a share of the clip's seat-to-stand excursion.
    pub reached: f64,
    /// Pelvis height when standing in this rep, metres above the ankle.
    pub standing_m: f64,
    /// Pelvis height on the seat right after contact, metres above the ankle.
    pub seated_m: f64,
    /// Downward speed at which the seat is reached, metres per second.
    pub end_speed_m_s: f64,
    /// Largest downward speed, metres per second.
    pub peak_speed_m_s: f64,
}

/// Seat-off and contact: this share of the excursion off the seated level.
pub(super) const OFF_SEAT: f64 = 0.02;
/// Stand: this share of the excursion.
pub(super) const UPRIGHT: f64 = 0.95;
/// At rest: this share of the phase's peak speed.
pub(super) const AT_REST: f64 = 0.05;

impl Events {
    /// Finds them for the stretch `up` of samples in which the body is up,
    /// looking no further than `within`; `None` where one cannot be found.
    pub(super) fn find(course: &Course, up: &Range<usize>, within: Range<usize>) -> Option<Self> {
        let body = &course.stance.body_px;
        let standing_px = plateau(&body[up.clone()])?;
        let seat_off = seat_off(course, up, &within, standing_px)?;
        let speed = signal::derivative(body, course.tracks.rate_hz);
        let stand = stand(body, &speed, up, standing_px, seat_off.1)?;
        let standing_m = plateau(&course.pelvis.height_m[up.clone()])?;
        let (contact, seated_m) = contact(course, up, &within, standing_m)?;
        let (end_speed_m_s, peak_speed_m_s) =
            speeds(&course.pelvis.raw_height_m, course.tracks.rate_hz, stand, contact);
        let descent_start =
            descent_start(course, up, (standing_m, seated_m), contact, peak_speed_m_s)?;
        let events = Self {
            seat_off_s: course.seconds(seat_off.0),
            stand_s: course.seconds(stand.min(descent_start)),
            descent_start_s: course.seconds(descent_start),
            seat_contact_s: course.seconds(contact),
            began_before: false,
            ended_after: false,
            reached: up.clone().map(|i| course.stance.share()[i]).fold(0.0, f64::max),
            standing_m,
            seated_m,
            end_speed_m_s,
            peak_speed_m_s,
        };
        let ordered = events.seat_off_s < events.stand_s
            && events.stand_s <= events.descent_start_s
            && events.descent_start_s < events.seat_contact_s;
        ordered.then_some(events)
    }

    /// Pelvis excursion of the rep, metres.
    pub fn excursion_m(&self) -> f64 {
        self.standing_m - self.seated_m
    }

    /// The recording begins or ends within the rep.
    pub fn cut_off(&self) -> bool {
        self.began_before || self.ended_after
    }

    /// The rep goes down first: from stand to stand.
    pub fn from_standing(&self) -> bool {
        self.descent_start_s < self.seat_off_s
    }

    /// First and last event, seconds.
    pub fn span_s(&self) -> (f64, f64) {
        if self.from_standing() {
            (self.descent_start_s, self.stand_s)
        } else {
            (self.seat_off_s, self.seat_contact_s)
        }
    }

    /// Samples from the first event to the last.
    pub fn loaded(&self, rate_hz: f64) -> Range<usize> {
        let sample = |s: f64| (s * rate_hz).round() as usize;
        let (first, last) = self.span_s();
        sample(first)..sample(last)
    }
}

/// Body height leaves its valley: the trunk has leant forward, which lowers the
/// body height, and the rise begins from there. Returns sample and valley level.
fn seat_off(
    course: &Course,
    up: &Range<usize>,
    within: &Range<usize>,
    standing_px: f64,
) -> Option<(f64, f64)> {
    let body = &course.stance.body_px;
    let back = course.tracks.samples(settings::VALLEY_SEARCH_S);
    let from = up.start.saturating_sub(back).max(within.start);
    // The nearest valley: between brisk reps the trunk may bend deeper after the last
    // contact than before this rise.
    let apart = course.tracks.samples(settings::VALLEY_APART_S);
    let mut valley = up.start;
    for i in (from..up.start).rev() {
        if i + apart < valley {
            break;
        }
        if body[i] < body[valley] {
            valley = i;
        }
    }
    let level = body[valley] + OFF_SEAT * (standing_px - body[valley]);
    // For good: a trunk that stays bent between brisk reps wavers about its valley.
    let i = (valley..=up.start).rev().find(|i| body[*i] <= level)? + 1;
    Some((signal::crossing(body, i, level), body[valley]))
}

/// Upright and at rest. Near the end of a smooth rise √speed falls in a
/// straight line to zero (minimum-jerk asymptotics): the line is fitted over a
/// healthy stretch and followed to the resting speed, where the speed itself
/// is lost in noise.
fn stand(
    body: &[f64],
    speed: &[f64],
    up: &Range<usize>,
    standing_px: f64,
    seated_px: f64,
) -> Option<f64> {
    let level = seated_px + UPRIGHT * (standing_px - seated_px);
    let high = up.clone().find(|i| body[*i] >= level)?;
    let upright = signal::crossing(body, high, level);
    let fastest =
        (up.start.saturating_sub(1)..=high).max_by(|a, b| speed[*a].total_cmp(&speed[*b]))?;
    let peak = speed[fastest];
    let slowing: Vec<usize> = (fastest..up.end)
        .take_while(|i| speed[*i] > 0.08 * peak)
        .filter(|i| speed[*i] < 0.5 * peak)
        .collect();
    let x: Vec<f64> = slowing.iter().map(|i| *i as f64).collect();
    let y: Vec<f64> = slowing.iter().map(|i| speed[*i].sqrt()).collect();
    let at_rest = signal::line_fit(&x, &y)
        .filter(|line| line.slope < 0.0 && slowing.len() >= 3)
        .map(|line| ((AT_REST * peak).sqrt() - line.intercept) / line.slope)
        .unwrap_or_else(|| slowing.last().map_or(upright, |i| *i as f64 + 1.0));
    Some(upright.max(at_rest).min(up.end as f64))
}

/// Pelvis back within 2 % of the level it keeps right after contact (with the
/// same lean, so that the lean's bias cancels), not of the later upright sitting.
fn contact(
    course: &Course,
    up: &Range<usize>,
    within: &Range<usize>,
    standing_m: f64,
) -> Option<(f64, f64)> {
    let height = &course.pelvis.height_m;
    let velocity = &course.pelvis.velocity_m_s;
    let highest = up.clone().max_by(|a, b| height[*a].total_cmp(&height[*b]))?;
    let fastest =
        (highest..up.end.min(height.len())).min_by(|a, b| velocity[*a].total_cmp(&velocity[*b]))?;
    // First guess: where the pelvis stops going down.
    let stops = |i: &usize| velocity[*i] > AT_REST * velocity[fastest];
    let mut guess = (up.end..within.end).find(stops)? as f64;
    let rate_hz = course.tracks.rate_hz;
    let mut seated_m = 0.0;
    for _ in 0..8 {
        let first = (guess + settings::SEATED_LEVEL_S.0 * rate_hz).ceil() as usize;
        let last = (guess + settings::SEATED_LEVEL_S.1 * rate_hz).ceil() as usize;
        let after = first.min(within.end)..(last + 1).min(within.end + 1).min(height.len());
        seated_m = signal::median(height.get(after)?)?;
        let level = seated_m + OFF_SEAT * (standing_m - seated_m);
        let i = (fastest..within.end).find(|i| height[*i] < level)?;
        let next = signal::crossing(height, i, level);
        // The level and the contact determine each other; half steps settle.
        guess = (guess + next) / 2.0;
    }
    Some((guess, seated_m))
}

/// Speed at the seat and largest speed of the descent, downward, m/s.
///
/// A smooth descent is fastest in its middle, read from parabolas over half a
/// second that see nothing of the seat. A drop is fastest at the seat: there a
/// parabola through the last unfiltered heights is followed to the contact.
pub(super) fn speeds(height: &[f64], rate_hz: f64, stand: f64, contact: f64) -> (f64, f64) {
    let contact_s = contact / rate_hz;
    let last = (contact.floor() as usize).min(height.len().saturating_sub(1));
    let before = |seconds: f64| {
        let first = last.saturating_sub((seconds * rate_hz).round().max(2.0) as usize);
        let times: Vec<f64> = (first..=last).map(|i| i as f64 / rate_hz).collect();
        (times, &height[first..=last])
    };
    let (times, heights) = before(settings::IMPACT_FIT_S);
    let end = signal::parabola_slope_at(&times, heights, contact_s)
        .map_or(0.0, |slope| (-slope).max(0.0));
    let slope = signal::local_quadratic_slope(height, settings::PEAK_SPEED_WINDOW_S, rate_hz);
    let clear =
        last.saturating_sub((settings::PEAK_SPEED_WINDOW_S / 2.0 * rate_hz).round() as usize);
    let first = (stand.max(0.0) as usize).min(clear);
    let smooth = slope[first..=clear].iter().fold(0.0f64, |m, v| m.max(-v));
    (end, smooth.max(end))
}

/// Level of the upper plateau: median of what lies within 5 % of the range
/// below its top.
pub(super) fn plateau(series: &[f64]) -> Option<f64> {
    let (top, bottom) = (signal::percentile(series, 99.0)?, signal::percentile(series, 0.0)?);
    let upper: Vec<f64> =
        series.iter().copied().filter(|v| *v >= top - 0.05 * (top - bottom)).collect();
    signal::median(&upper)
}

/// Downward speed reaches 5 % of the descent's peak. Near the start of a descent
/// √depth grows in a straight line (steady acceleration); the line is fitted over
/// 5–25 % of the excursion and followed back to where its speed is that. Derived: for
/// minimum-jerk and sinusoidal descents of 1.2–2.4 s that errs by less than 0.03 s.
fn descent_start(
    course: &Course,
    up: &Range<usize>,
    (standing_m, seated_m): (f64, f64),
    contact: f64,
    peak_m_s: f64,
) -> Option<f64> {
    let body = &course.stance.body_px;
    let standing_px = plateau(&body[up.clone()])?;
    let seated_px = course.stance.seated_px;
    let depth: Vec<f64> = (0..body.len())
        .map(|i| {
            let by_body = (standing_px - body[i]) / (standing_px - seated_px);
            let by_pelvis = (standing_m - course.pelvis.height_m[i]) / (standing_m - seated_m);
            (by_body + by_pelvis) / 2.0
        })
        .collect();
    let contact = contact.floor() as usize;
    // Backward from the seat: the last time the body was that high.
    let last_above = |d: f64| (up.start..contact).rev().find(|i| depth[*i] < d);
    let (from, to) = (last_above(0.05)? + 1, last_above(0.25)? + 1);
    let stretch: Vec<usize> = (from..=to.min(contact)).collect();
    let x: Vec<f64> = stretch.iter().map(|i| *i as f64).collect();
    let y: Vec<f64> = stretch.iter().map(|i| depth[*i].max(0.0).sqrt()).collect();
    let fallback = from as f64;
    let Some(line) = signal::line_fit(&x, &y).filter(|l| l.slope > 0.0) else {
        return Some(fallback);
    };
    // depth = y², so its speed is 2·slope·y per sample.
    let resting = AT_REST * peak_m_s / (standing_m - seated_m) / course.tracks.rate_hz;
    let y_at_start = resting / (2.0 * line.slope);
    let start = (y_at_start - line.intercept) / line.slope;
    Some(start.clamp(up.start as f64, to as f64))
}

#[cfg(test)]
mod tests {
    use super::super::made::{Made, Shape, WAY_M, Way, near};
    use super::*;

    /// The definitions on smooth rises and descents of usual durations, to the accuracy
    /// that `plumbrise explain` states: a frame of 30 a second for what crosses a level, two for
    /// the stand, 0.03 s for the start of the descent (derived, see [`descent_start`]).
    #[test]
    fn events_of_smooth_reps() {
        let frame_s = 1.0 / 30.0;
        for shape in [Shape::MinimumJerk, Shape::Sine] {
            for (rise_s, descent_s) in [(1.2, 1.2), (1.6, 2.0), (2.2, 2.4)] {
                let ways = [
                    Way(0.0, 1.5),
                    Way(1.0, rise_s),
                    Way(1.0, 1.0),
                    Way(0.0, descent_s),
                    Way(0.0, 1.5),
                ];
                let found = Made::new(shape, 0.0, &ways).course().find(0.80);
                let [rep] = &found.reps[..] else { panic!("{shape:?}: {found:?}") };
                let down_s = 1.5 + rise_s + 1.0;
                let slow = shape.slow_edge();
                near(rep.seat_off_s, 1.5 + rise_s * shape.time_of(0.02), frame_s, "seat-off");
                near(rep.stand_s, 1.5 + rise_s * (1.0 - slow), 2.0 * frame_s, "stand");
                near(rep.descent_start_s, down_s + descent_s * slow, 0.03, "descent");
                near(rep.seat_contact_s, down_s + descent_s * shape.time_of(0.98), frame_s, "seat");
                assert!((rep.excursion_m() - WAY_M).abs() < 0.01 * WAY_M);
                assert!(!rep.from_standing() && !rep.cut_off());
                assert_eq!(rep.span_s(), (rep.seat_off_s, rep.seat_contact_s));
            }
        }
    }

    /// Part-way up somebody may keep still for a moment: that is not the stand, which is no
    /// lower than 95 %.
    #[test]
    fn a_rise_that_hesitates() {
        let shape = Shape::MinimumJerk;
        for (still, first_s, second_s) in [(0.4, 1.0, 1.0), (0.7, 1.2, 0.8)] {
            let ways = [
                Way(0.0, 1.5),
                Way(still, first_s),
                Way(still, 0.3),
                Way(1.0, second_s),
                Way(1.0, 1.0),
                Way(0.0, 2.0),
                Way(0.0, 1.5),
            ];
            let found = Made::new(shape, 0.0, &ways).course().find(0.80);
            let [rep] = &found.reps[..] else { panic!("{found:?}") };
            let off_s = 1.5 + first_s * shape.time_of(0.02 / still);
            near(rep.seat_off_s, off_s, 1.0 / 30.0, "seat-off");
            let goes_on_s = 1.5 + first_s + 0.3;
            let upright_s = goes_on_s + second_s * shape.time_of((0.95 - still) / (1.0 - still));
            let rests_s = goes_on_s + second_s * (1.0 - shape.slow_edge());
            let stands_s = upright_s - 1.0 / 30.0..rests_s + 2.0 / 30.0;
            assert!(stands_s.contains(&rep.stand_s), "{still}: {} s, {stands_s:?}", rep.stand_s);
        }
    }

    /// Between brisk reps the trunk may bend deeper after the contact than before the next
    /// rise, which begins from the nearer valley.
    #[test]
    fn a_rise_begins_from_its_own_valley() {
        let shape = Shape::MinimumJerk;
        let ways = [
            Way(0.0, 1.5),
            Way(1.0, 1.6),
            Way(1.0, 1.0),
            Way(0.0, 2.0),
            Way(-0.08, 0.3),
            Way(0.02, 0.35),
            Way(-0.01, 0.15),
            Way(1.0, 1.6),
            Way(1.0, 1.0),
            Way(0.0, 2.0),
            Way(0.0, 1.5),
        ];
        let found = Made::new(shape, 0.0, &ways).course().find(0.80);
        let [_, second] = &found.reps[..] else { panic!("{found:?}") };
        let up_s: f64 = ways[..7].iter().map(|way| way.1).sum();
        near(second.seat_off_s, up_s + 1.6 * shape.time_of(0.02), 1.0 / 30.0, "seat-off");
    }

    /// A descent of 0.40 m in 2 s peaks at 1.875 × 0.20 m/s [Flash1985] and comes to the seat
    /// slowly; one at constant speed ends as fast as it went.
    #[test]
    fn speeds_of_a_smooth_and_of_a_constant_descent() {
        let rate_hz = 60.0;
        let height = |gone: &dyn Fn(f64) -> f64| -> Vec<f64> {
            (0..240).map(|i| 0.40 - gone((f64::from(i) / rate_hz - 1.0).clamp(0.0, 2.0))).collect()
        };
        let jerk = crate::signal::MinimumJerk { distance_m: 0.40, duration_s: 2.0 };
        let (end, peak) = speeds(&height(&|t| jerk.position_m(t)), rate_hz, 60.0, 178.0);
        // A parabola over W = 0.5 s flattens the peak by v''·W²/40, v'' = 30·0.40/T³.
        let flattened = 30.0 * 0.40 / 8.0 * 0.25 / 40.0;
        assert!((peak - (0.375 - flattened)).abs() < 0.003, "{peak}");
        assert!(end < 0.03, "{end}");
        let (end, peak) = speeds(&height(&|t| 0.20 * t), rate_hz, 60.0, 179.0);
        assert!((end - 0.20).abs() < 1e-6 && (peak - 0.20).abs() < 1e-6, "{end} {peak}");
    }

    /// The level that is kept, not the overshoot before it.
    #[test]
    fn the_plateau_is_where_most_of_the_top_is() {
        let mut series: Vec<f64> = (0..50).map(|i| f64::from(i) / 50.0).collect();
        series.extend([1.0; 60]);
        series.extend([1.03, 1.02, 1.0]);
        assert_eq!(plateau(&series), Some(1.0));
        assert_eq!(plateau(&[]), None);
    }
}
