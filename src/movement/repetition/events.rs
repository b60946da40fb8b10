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

/// Seat-off and contact: this share of the excursion off the seated level (design choice: 8 mm
/// of a usual way of 0.40 m, which a smooth rise has come after 14 % of its time, derived:
/// minimum jerk; in a film it is less than the noise, hence the care below).
pub(super) const OFF_SEAT: f64 = 0.02;
/// Stand: this share of the excursion (design choice: 2 cm below the stand of a usual way of
/// 0.40 m).
pub(super) const UPRIGHT: f64 = 0.95;
/// At rest: this share of the phase's peak speed, as movements are usually said to begin and
/// end (common practice, no source; a smooth one is slower for the first and the last 6 % of
/// its time, derived: minimum jerk).
pub(super) const AT_REST: f64 = 0.05;
/// The end of a rise is followed from these shares of its peak speed: from half of it on √speed
/// is nearly a straight line, below 8 % it is lost in noise (design choice).
const SLOWING: (f64, f64) = (0.5, 0.08);
/// Fewest samples that tell such a line: two would be a line whatever they are (derived).
const FEWEST_SLOWING: usize = 3;
/// Level and moment of the contact settle in half steps: eight leave 2⁻⁸ of the first error, of
/// a few samples about a hundredth of one (derived).
const HALF_STEPS: usize = 8;
/// Top of a plateau, percentile: the highest hundredth of a stand is its overshoot (design
/// choice).
const TOP_PERCENT: f64 = 99.0;
/// A plateau reaches this share of the range below its top: what is still rising is lower
/// (design choice, as for [`UPRIGHT`]).
const PLATEAU: f64 = 0.05;
/// Depths between which a descent is followed back to its start, shares of the excursion: less
/// is lost in the sway of the stand, and further down a smooth descent no longer gains speed
/// steadily (derived, see [`descent_start`]).
const FOLLOWED_BACK: (f64, f64) = (0.05, 0.25);

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
        .take_while(|i| speed[*i] > SLOWING.1 * peak)
        .filter(|i| speed[*i] < SLOWING.0 * peak)
        .collect();
    let x: Vec<f64> = slowing.iter().map(|i| *i as f64).collect();
    let y: Vec<f64> = slowing.iter().map(|i| speed[*i].sqrt()).collect();
    let at_rest = signal::line_fit(&x, &y)
        .filter(|line| line.slope < 0.0 && slowing.len() >= FEWEST_SLOWING)
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
    for _ in 0..HALF_STEPS {
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
    let (top, bottom) =
        (signal::percentile(series, TOP_PERCENT)?, signal::percentile(series, 0.0)?);
    let upper: Vec<f64> =
        series.iter().copied().filter(|v| *v >= top - PLATEAU * (top - bottom)).collect();
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
    let (from, to) = (last_above(FOLLOWED_BACK.0)? + 1, last_above(FOLLOWED_BACK.1)? + 1);
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
    use super::super::made::{Made, RATE_HZ, Shape, WAY_M, Way, near};
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

    #[track_caller]
    fn is(found: f64, expected: f64) {
        assert!((found - expected).abs() < 1e-6, "{found} is not {expected}");
    }

    /// A course of body heights alone.
    fn body(height: impl Fn(f64) -> f64) -> Made {
        Made::by_hand((0..400).map(|i| height(f64::from(i))).collect(), Vec::new(), Vec::new())
    }

    /// From a valley of 380 px at sample 120 by 10 px a sample to 600 px: 2 % of the way from
    /// there, 384.4 px, at 120.44; before it the body comes down from 400 px by 1 px a sample.
    #[test]
    fn two_per_cent_above_the_valley() {
        let rise = |i: f64| {
            if i < 120.0 { (500.0 - i).min(400.0) } else { (380.0 + 10.0 * (i - 120.0)).min(600.0) }
        };
        let found = |made: &Made, up: Range<usize>, within: Range<usize>| {
            seat_off(&made.course(), &up, &within, 600.0).unwrap()
        };
        let (seat_off, valley_px) = found(&body(rise), 130..200, 0..400);
        is(seat_off, 120.44);
        is(valley_px, 380.0);
        // It wavers: the last time it was so low.
        let wavers = |i: f64| if i == 123.0 { 383.0 } else { rise(i) };
        is(found(&body(wavers), 130..200, 0..400).0, 123.0 + 1.4 / 37.0);
        // The search goes no further back than the last rep, nor than 1.2 s.
        let falls = |i: f64| if i < 130.0 { 380.0 + i / 10.0 } else { rise(i) };
        is(found(&body(falls), 130..200, 100..400).1, 390.0);
        is(found(&body(falls), 130..200, 0..400).1, 381.0);
        let up_at_once = |i: f64| if i < 130.0 { 380.0 } else { 600.0 };
        let (seat_off, valley_px) = found(&body(up_at_once), 130..200, 130..400);
        is(valley_px, 600.0);
        is(seat_off, 131.0);
    }

    /// A deeper valley before the nearest counts where no more than 0.25 s lie between.
    #[test]
    fn the_nearest_valley_within_a_quarter_of_a_second() {
        let with_another = |at: f64| {
            body(move |i: f64| match i {
                i if i == at => 370.0,
                i if i < 120.0 => 400.0,
                i => (380.0 + 10.0 * (i - 120.0)).min(600.0),
            })
        };
        let valley = |at: f64| {
            seat_off(&with_another(at).course(), &(130..200), &(0..400), 600.0).unwrap().1
        };
        is(valley(95.0), 370.0);
        is(valley(94.0), 380.0);
        // A flat valley ends where the rise begins.
        let flat = body(|i: f64| match i {
            70.0 => 370.0,
            i if i < 60.0 => 400.0,
            i => (380.0 + 10.0 * (i - 120.0).max(0.0)).min(600.0),
        });
        is(seat_off(&flat.course(), &(130..200), &(0..400), 600.0).unwrap().1, 380.0);
    }

    /// A speed that falls as (1 − (x − 100)/40)² is a twentieth of its peak at
    /// 100 + 40·(1 − √0.05) = 131.06.
    #[test]
    fn at_rest_where_the_speed_is_a_twentieth_of_its_peak() {
        let speed: Vec<f64> = (0..200)
            .map(f64::from)
            .map(|i| {
                if i < 100.0 {
                    200.0 * i / 100.0
                } else {
                    200.0 * (1.0 - (i - 100.0).min(40.0) / 40.0).powi(2)
                }
            })
            .collect();
        let rests = 100.0 + 40.0 * (1.0 - 0.05f64.sqrt());
        // 95 % of 400 to 600 px is 590.
        let body = |upright: f64| -> Vec<f64> {
            (0..200)
                .map(|i| (590.0 + 10.0 * (f64::from(i) - upright)).clamp(400.0, 600.0))
                .collect()
        };
        let found =
            |upright: f64, up: Range<usize>| stand(&body(upright), &speed, &up, 600.0, 400.0);
        is(found(110.25, 90..180).unwrap(), rests);
        is(found(131.25, 90..180).unwrap(), 131.25);
        is(found(110.25, 90..125).unwrap(), 125.0);
        // The fastest sample may be the one before the stretch «up».
        is(found(120.25, 101..180).unwrap(), rests);
        assert_eq!(found(185.0, 90..180), None, "never upright");
    }

    /// Two samples of slowing down tell no line: at rest after the last of them; none at all,
    /// where it is upright.
    #[test]
    fn a_stand_that_comes_at_once() {
        let body: Vec<f64> = (0..50).map(|i| (400.0 + 10.0 * f64::from(i)).min(600.0)).collect();
        let found = |slowing: &[f64]| {
            let mut speed = vec![0.0; 50];
            speed[..20].fill(100.0);
            speed[20..20 + slowing.len()].copy_from_slice(slowing);
            stand(&body, &speed, &(5..45), 600.0, 400.0).unwrap()
        };
        is(found(&[40.0, 20.0]), 22.0);
        is(found(&[]), 19.0);
        // From half of the peak to 8 % of it, and no further.
        is(found(&[51.0, 49.0, 7.9, 20.0]), 22.0);
        is(found(&[49.0, 8.1, 7.9]), 22.0);
        is(found(&[50.0, 49.0, 20.0, 8.0, 1.0]), 23.0);
        // Not slowing down at all.
        is(found(&[20.0, 20.0, 20.0, 20.0]), 24.0);
    }

    /// From 0.80 m at sample 100 by 4 mm a sample to a seat of 0.40 m at sample 200: 2 % above
    /// it, 0.408 m, at 198. What the pelvis does later than 0.25 s after has no say.
    #[test]
    fn contact_at_two_per_cent_above_the_level_after_it() {
        let fall = |i: f64| (0.80 - 0.004 * (i - 100.0)).clamp(0.40, 0.80);
        let found_within = |within: usize, height: &dyn Fn(f64) -> f64| {
            let height_m: Vec<f64> = (0..400).map(|i| height(f64::from(i))).collect();
            let velocity_m_s = signal::derivative(&height_m, RATE_HZ);
            let made = Made::by_hand(vec![0.0; 400], height_m, velocity_m_s);
            contact(&made.course(), &(20..170), &(0..within), 0.80)
        };
        let found = |height: &dyn Fn(f64) -> f64| found_within(399, height);
        let near = |(at, seated_m): (f64, f64), expected: (f64, f64)| {
            // Eight half steps from the first guess, some three samples away.
            assert!((at - expected.0).abs() < 0.03, "{at} is not {}", expected.0);
            is(seated_m, expected.1);
        };
        near(found(&fall).unwrap(), (198.0, 0.40));
        near(found(&|i| if i > 224.0 { 0.45 } else { fall(i) }).unwrap(), (198.0, 0.40));
        near(found(&|i| if i < 202.0 { fall(i) } else { 0.41 }).unwrap(), (195.55, 0.41));
        // With its first and its last sample: eleven of 21 at the higher level.
        near(found(&|i| if i < 211.0 { fall(i) } else { 0.41 }).unwrap(), (195.55, 0.41));
        assert!(found(&|i| 0.80 - 0.001 * i).is_none(), "never stops");
        // Up to the next rise and with its first sample: eight of fifteen at the higher level.
        let later = |i: f64| if i < 208.0 { fall(i) } else { 0.41 };
        near(found_within(215, &later).unwrap(), (195.55, 0.41));
    }

    /// Depth ((x − 100.5)/100)² from 5 to 25 % of a way of 0.40 m, which is where it is read;
    /// nothing before and all after. Its speed is 0.80·(x − 100.5)/10000 m a sample, a twentieth
    /// of a peak of 0.40 m/s, 0.0002 m a sample, at 103.
    fn depth(x: f64) -> f64 {
        match ((x - 100.5).max(0.0) / 100.0).powi(2) {
            d if d < 0.05 => 0.0,
            _ if x > 151.0 => 1.0,
            d => d,
        }
    }

    fn descent(by_body: f64, by_pelvis: f64) -> Made {
        let depths = || (0..300).map(|i| depth(f64::from(i)));
        Made::by_hand(
            depths().map(|d| 600.0 - 200.0 * by_body * d).collect(),
            depths().map(|d| 0.80 - 0.40 * by_pelvis * d).collect(),
            vec![0.0; 300],
        )
    }

    #[test]
    fn a_descent_starts_at_a_twentieth_of_its_speed() {
        let start = |made: &Made, peak_m_s: f64| {
            descent_start(&made.course(), &(20..180), (0.80, 0.40), 200.0, peak_m_s).unwrap()
        };
        // Body and pelvis have half of the say each.
        for made in [descent(1.0, 1.0), descent(1.5, 0.5), descent(0.25, 1.75)] {
            is(start(&made, 0.40), 103.0);
            is(start(&made, 0.80), 105.5);
            // Not later than where it is a quarter down.
            is(start(&made, 40.0), 151.0);
        }
        // What is never above a twentieth of the way has no start.
        let low = Made::by_hand(vec![500.0; 300], vec![0.5; 300], vec![0.0; 300]);
        let level = (600.0, 0.40);
        assert_eq!(descent_start(&low.course(), &(20..180), level, 200.0, 0.4), None);
        // All the way down at once tells no line: from the sample that is down.
        let drop = Made::by_hand(
            (0..300).map(|i| if i < 100 { 600.0 } else { 400.0 }).collect(),
            (0..300).map(|i| if i < 100 { 0.80 } else { 0.40 }).collect(),
            vec![0.0; 300],
        );
        is(start(&drop, 0.40), 100.0);
    }

    /// `numpy.polyfit` of degree 2 through the last 0.2 s of a cubic fall.
    #[test]
    fn the_speed_at_the_seat_is_that_of_a_parabola() {
        let fallen = |i: i32| 0.9 * f64::from((i - 60).max(0)).powi(3) / 60f64.powi(3);
        let height: Vec<f64> = (0..120).map(|i| 0.8 - fallen(i)).collect();
        let (end, peak) = speeds(&height, 60.0, 60.0, 100.4);
        assert!((end - 1.19965).abs() < 1e-5 && peak == end, "{end} {peak}");
    }

    /// Steadily faster up to sample 170 and then at rest: `scipy.signal.savgol_filter(h, 31, 2,
    /// deriv=1)`, 0.5 s, is largest at sample 156; read from the stand to a quarter of a second
    /// before contact, so that the window sees nothing of the seat.
    #[test]
    fn the_largest_speed_is_read_clear_of_the_seat() {
        let fallen = |i: i32| 0.3 * (f64::from(i.clamp(60, 170) - 60) / 60.0).powi(2);
        let height: Vec<f64> = (0..240).map(|i| -fallen(i)).collect();
        let peak = |stand: f64| speeds(&height, 60.0, stand, 180.5).1;
        for (stand, scipy) in [(60.0, 0.95331653), (-3.0, 0.95331653), (164.0, 0.78630040)] {
            assert!((peak(stand) - scipy).abs() < 1e-7, "{stand}: {}", peak(stand));
        }
        // A stand later than that leaves the last sample that is clear.
        assert!((peak(178.0) - 0.74727824).abs() < 1e-7);
    }

    /// Within 5 % of the range below the top, both sides of it.
    #[test]
    fn the_plateau_reaches_a_twentieth_down() {
        let series = |level: f64| [vec![0.0; 2], vec![level; 50], vec![100.0; 40]].concat();
        assert_eq!(plateau(&series(95.1)), Some(95.1));
        assert_eq!(plateau(&series(94.9)), Some(100.0));
    }

    fn events(seat_off_s: f64, stand_s: f64, descent_start_s: f64, seat_contact_s: f64) -> Events {
        Events {
            seat_off_s,
            stand_s,
            descent_start_s,
            seat_contact_s,
            began_before: false,
            ended_after: false,
            reached: 1.0,
            standing_m: 0.85,
            seated_m: 0.45,
            end_speed_m_s: 0.1,
            peak_speed_m_s: 0.4,
        }
    }

    /// From seat to seat and from stand to stand.
    #[test]
    fn spans_of_either_cycle() {
        let up_first = events(1.0, 2.0, 3.0, 5.0);
        assert!(!up_first.from_standing() && !events(3.0, 4.0, 3.0, 5.0).from_standing());
        assert_eq!((up_first.span_s(), up_first.loaded(30.0)), ((1.0, 5.0), 30..150));
        let down_first = events(3.0, 4.52, 1.0, 2.0);
        assert!(down_first.from_standing());
        assert_eq!((down_first.span_s(), down_first.loaded(50.0)), ((1.0, 4.52), 50..226));
        is(up_first.excursion_m(), 0.40);
        let cut =
            [(false, false), (true, false), (false, true)].map(|(began_before, ended_after)| {
                Events { began_before, ended_after, ..up_first }.cut_off()
            });
        assert_eq!(cut, [false, true, true]);
    }
}
