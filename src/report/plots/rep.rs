//! One rep: the knee over the foot, and the pelvis up and down. All reps of a set on the
//! same scales, so that they can be held side by side.

use super::chart::{Axis, Drawing, Frame};
use crate::judgement::criteria::Criteria;
use crate::judgement::document::{Assessment, Rep};
use crate::judgement::trajectories::Trajectories;
use crate::report::wording;
use crate::session::Plot;

/// Shown before the first and after the last event, seconds (design choice).
const AROUND_S: f64 = 0.3;
/// Points of a course at most; more are not seen (design choice).
const POINTS: usize = 110;

/// Plots of every rep, in the order of the reps; none where nothing was seen.
pub fn rep_plots(
    a: &Assessment,
    trajectories: &Trajectories,
    criteria: &Criteria,
) -> Vec<Vec<Plot>> {
    let Some(courses) = Courses::of(a, trajectories) else {
        return vec![Vec::new(); a.reps.len()];
    };
    let limit_cm = 100.0 * criteria.knee_offset_limit_m(a.scale.stature_m);
    a.reps
        .iter()
        .map(|rep| {
            let Some(span_s) = span_s(rep, trajectories) else { return Vec::new() };
            [courses.knee(rep, span_s, limit_cm), courses.pelvis(rep, span_s)]
                .into_iter()
                .flatten()
                .collect()
        })
        .collect()
}

/// From the first known event of a rep to the last, and what of it lies beyond, as where the
/// recording begins or ends within it, seconds.
fn span_s(rep: &Rep, trajectories: &Trajectories) -> Option<(f64, f64)> {
    let (from, to) = rep.span_s()?;
    let (first, last) = trajectories.rep_s(rep.number).unwrap_or((from, to));
    Some((from.min(first), to.max(last)))
}

type Point = (f64, Option<f64>, Option<f64>);

/// A course with its standard errors, sample by sample.
type Course<'a> = (&'a [Option<f64>], Option<&'a [Option<f64>]>);

struct Courses<'a> {
    trajectories: &'a Trajectories,
    longest_s: f64,
    knee: Course<'a>,
    height: Course<'a>,
    speed: Course<'a>,
    knee_cm: Axis,
    height_m: Axis,
    speed_m_s: Axis,
}

impl<'a> Courses<'a> {
    fn of(a: &Assessment, trajectories: &'a Trajectories) -> Option<Self> {
        let course = |name: &str, error: &str| -> Option<Course> {
            Some((trajectories.column(name)?, trajectories.column(error)))
        };
        let knee = course("knee_offset_m", "knee_offset_standard_error_m")?;
        let height = course("pelvis_height_m", "pelvis_height_standard_error_m")?;
        let speed = course("pelvis_velocity_m_s", "pelvis_velocity_standard_error_m_s")?;
        let spans: Vec<(f64, f64)> =
            a.reps.iter().filter_map(|rep| span_s(rep, trajectories)).collect();
        let longest_s = spans.iter().map(|(from, to)| to - from).fold(0.0, f64::max);
        let within = |course: Course<'a>, factor: f64| {
            let rate_hz = trajectories.rate_hz;
            let each = spans.clone().into_iter().flat_map(move |(from, to)| {
                let samples = (from * rate_hz) as usize..=(to * rate_hz) as usize;
                samples.filter_map(move |i| {
                    let value = |series: &[Option<f64>]| series.get(i).copied().flatten();
                    let (middle, error) = (value(course.0)?, course.1.and_then(value));
                    Some([-1.0, 1.0].map(|side| factor * (middle + side * error.unwrap_or(0.0))))
                })
            });
            each.flatten()
        };
        Some(Self {
            trajectories,
            longest_s,
            knee,
            height,
            speed,
            knee_cm: Axis::around(within(knee, 100.0), (-2.0, 5.0)),
            height_m: Axis::around(within(height, 1.0), (0.4, 0.8)),
            speed_m_s: Axis::around(within(speed, 1.0), (-0.5, 0.5)),
        })
    }

    /// Seconds from the rep's first event.
    fn time(&self) -> Axis {
        Axis::new(-AROUND_S, self.longest_s + AROUND_S)
    }

    fn points(&self, course: Course, (from_s, to_s): (f64, f64), factor: f64) -> Vec<Point> {
        let rate_hz = self.trajectories.rate_hz;
        let first = ((from_s - AROUND_S).max(0.0) * rate_hz).ceil() as usize;
        let last = ((to_s + AROUND_S) * rate_hz).floor() as usize;
        let step = ((last.saturating_sub(first)) / POINTS).max(1);
        let value =
            |series: &[Option<f64>], i: usize| Some(factor * series.get(i).copied().flatten()?);
        (first..=last)
            .step_by(step)
            .map(|i| {
                let error = course.1.and_then(|series| value(series, i));
                (i as f64 / rate_hz - from_s, value(course.0, i), error)
            })
            .collect()
    }

    fn knee(&self, rep: &Rep, span_s: (f64, f64), limit_cm: f64) -> Option<Plot> {
        let points = self.points(self.knee, span_s, 100.0);
        points.iter().find(|p| p.1.is_some())?;
        let alternative = wording::knee_plot(rep, span_s.0, limit_cm);
        let mut drawing = Drawing::new(172.0);
        let frame = drawing.frame((32.0, 142.0), self.time(), self.knee_cm, "cm");
        phases(&mut drawing, &[frame], rep, span_s);
        drawing.allowed(&frame, limit_cm, &wording::limit_is(limit_cm));
        drawing.course(&frame, &points);
        if let (Some(at_s), Some(cm)) = (rep.knee_offset_peak_at_s, rep.knee_offset_peak_cm) {
            drawing.ring(&frame, (at_s - span_s.0, cm), &wording::number(cm, 1));
        }
        drawing.level_axis(&frame, "s", false);
        let svg = drawing.finish(&alternative);
        Some(Plot { title: wording::KNEE_PLOT.into(), alternative, svg })
    }

    fn pelvis(&self, rep: &Rep, span_s: (f64, f64)) -> Option<Plot> {
        let heights = self.points(self.height, span_s, 1.0);
        heights.iter().find(|p| p.1.is_some())?;
        let alternative = wording::pelvis_plot(rep);
        let mut drawing = Drawing::new(238.0);
        let upper = drawing.frame((32.0, 112.0), self.time(), self.height_m, "m");
        let lower = drawing.frame((138.0, 208.0), self.time(), self.speed_m_s, "m/s");
        phases(&mut drawing, &[upper, lower], rep, span_s);
        drawing.course(&upper, &heights);
        drawing.course(&lower, &self.points(self.speed, span_s, 1.0));
        drawing.level_axis(&lower, "s", false);
        let svg = drawing.finish(&alternative);
        Some(Plot { title: wording::PELVIS_PLOT.into(), alternative, svg })
    }
}

/// Events as upright lines, and the phases between them by name above the first frame.
fn phases(drawing: &mut Drawing, frames: &[Frame], rep: &Rep, span_s: (f64, f64)) {
    let events = [rep.seat_off_s, rep.stand_s, rep.descent_start_s, rep.seat_contact_s];
    for frame in frames {
        for at_s in events.iter().flatten() {
            drawing.moment(frame, at_s - span_s.0);
        }
    }
    let spans = [
        (rep.seat_off_s, rep.stand_s, wording::UP),
        (rep.stand_s, rep.descent_start_s, wording::STANDING),
        (rep.descent_start_s, rep.seat_contact_s, wording::DOWN),
    ];
    for (from, to, name) in spans {
        if let (Some(from), Some(to)) = (from, to)
            && let Some(first) = frames.first()
        {
            drawing.span_name(first, (from - span_s.0, to - span_s.0), name);
        }
    }
}
