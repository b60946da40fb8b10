//! The numbers of one rep.

use std::collections::BTreeMap;
use std::ops::Range;

use crate::body::Side;
use crate::judgement::criteria::Criteria;
use crate::judgement::document::Phase;
use crate::judgement::measures::{FPPA_PEAK, KNEE_OFFSET_PEAK, Measure};
use crate::movement::kinematics::{Alignment, Courses, Pelvis, Quality, Touch, supported_hand};
use crate::movement::repetition::Events;
use crate::{settings, signal};

/// Everything measured in one rep; `None` where it cannot be.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub struct Measures {
    pub events: Events,
    pub descent_mean_m_s: f64,
    pub descent_peak_m_s: f64,
    pub descent_final_m_s: f64,
    pub descent_end_m_s: f64,
    pub descent_acceleration_m_s2: Option<f64>,
    pub lower_half_share: f64,
    pub knee: Option<Knee>,
    pub trunk_lean_deg: f64,
    pub pelvic_drop_deg: f64,
    pub forward_lean_deg: f64,
    pub touches: Vec<Touch>,
    pub free_foot_height_m: f64,
    pub hands_used: Option<bool>,
    pub stance_foot_shift_m: f64,
    pub sparc_rise: Option<f64>,
    pub sparc_descent: Option<f64>,
    pub jerk_rise: Option<f64>,
    pub jerk_descent: Option<f64>,
    /// Samples of the rep by quality: good, occluded, out of frame, lost.
    pub seen: [usize; 4],
    /// The person was lost for longer than can be bridged, in the rep or so
    /// near to it that its events may be false.
    pub gap: bool,
    /// Whether seat-off, stand, descent start and contact lie within the recording and
    /// clear of such gaps.
    pub events_sure: [bool; 4],
    /// Standard errors of the numbers by name, as far as they are known.
    pub errors: BTreeMap<String, f64>,
}

impl Measures {
    /// Standard error of a number; `otherwise` where the trials do not tell it.
    pub(super) fn error(&self, of: &Measure, otherwise: f64) -> f64 {
        self.errors.get(of.key()).copied().unwrap_or(otherwise)
    }
}

/// Frontal measures of the knee.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub struct Knee {
    pub side: Side,
    pub offset_peak_m: f64,
    pub offset_se_m: f64,
    pub offset_peak_at_s: f64,
    pub offset_peak_phase: Phase,
    /// Longest stretch past the limit, s; past it by one standard error; and
    /// past all but one standard error of it.
    pub past_limit_s: f64,
    pub clearly_past_limit_s: f64,
    pub nearly_past_limit_s: f64,
    /// When it was past the limit for as long as the criterion asks, s.
    pub past_limit_spans_s: Vec<(f64, f64)>,
    pub fppa: Option<Fppa>,
    pub wobble_m: f64,
    pub wobble_turns: usize,
}

/// Frontal plane projection angle at its peak.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub struct Fppa {
    pub peak_deg: f64,
    pub picture_peak_deg: f64,
    pub se_deg: f64,
    pub phase: Phase,
}

/// Measures one rep. `errors` are the standard errors of its numbers by name, as far
/// as they are known; the settings stand in for those that are not.
pub fn measure(
    courses: &Courses,
    events: Events,
    criteria: &Criteria,
    errors: &BTreeMap<String, f64>,
) -> Measures {
    let Courses { tracks, scale, pelvis, trunk, feet, alignments, quality, .. } = *courses;
    let at = |s: f64| tracks.index(s);
    let rise = at(events.seat_off_s)..at(events.stand_s).max(at(events.seat_off_s) + 1);
    let descent =
        at(events.descent_start_s)..at(events.seat_contact_s).max(at(events.descent_start_s) + 1);
    let loaded = rise.start.min(descent.start)..rise.end.max(descent.end);

    let excursion_m = events.excursion_m();
    let duration_s = events.seat_contact_s - events.descent_start_s;
    let height_at = |d: f64| events.standing_m - d * excursion_m;
    let last_above = |level: f64| {
        descent
            .clone()
            .rev()
            .find(|i| pelvis.height_m[*i] > level)
            .map_or(descent.start as f64, |i| {
                signal::crossing(&pelvis.height_m, (i + 1).min(tracks.count - 1), level)
            })
            / tracks.rate_hz
    };
    let half_s = events.seat_contact_s - last_above(height_at(0.5));
    // Contact lies 2 % above the seat, the start next to nothing below the stand.
    let mean = (1.0 - 0.02) * excursion_m / duration_s;
    let largest = |s: &[f64], range: &Range<usize>| {
        s[range.clone()].iter().fold(0.0f64, |m, v| if v.abs() > m.abs() { *v } else { m })
    };
    let speed_of = |range: &Range<usize>| -> Vec<f64> {
        pelvis.velocity_m_s[range.clone()].iter().map(|v| v.abs()).collect()
    };
    let (up, down) = (speed_of(&rise), speed_of(&descent));
    let mut seen = [0; 4];
    for q in &quality[loaded.clone()] {
        seen[*q as usize] += 1;
    }
    let margin = tracks.samples(settings::GAP_MARGIN_S);
    let lost_near = |first: usize, last: usize| {
        let near = first.saturating_sub(margin)..(last + margin + 1).min(tracks.count);
        quality[near].contains(&Quality::Lost)
    };
    let times = [events.seat_off_s, events.stand_s, events.descent_start_s, events.seat_contact_s];
    let inner = tracks.samples(0.1);
    let touch_span =
        loaded.start + inner..loaded.end.saturating_sub(2 * inner).max(loaded.start + inner);
    // The first half of the rise is where hands help.
    let help = rise.start..rise.start + (rise.len() / 2).max(2);
    Measures {
        events,
        descent_mean_m_s: mean,
        descent_peak_m_s: events.peak_speed_m_s,
        descent_final_m_s: final_speed_m_s(
            &pelvis.height_m,
            tracks.rate_hz,
            (events.standing_m, events.seated_m),
            events.seat_contact_s,
        ),
        descent_end_m_s: events.end_speed_m_s,
        descent_acceleration_m_s2: held_acceleration(pelvis, &descent, tracks.rate_hz),
        lower_half_share: half_s / duration_s,
        knee: alignments
            .iter()
            .map(|a| knee(a, courses, &events, &rise, &descent, criteria, errors))
            .max_by(|a, b| a.offset_peak_m.total_cmp(&b.offset_peak_m)),
        trunk_lean_deg: largest(&trunk.lateral_lean_deg, &loaded),
        pelvic_drop_deg: trunk.pelvic_drop_deg[loaded.clone()]
            .iter()
            .fold(f64::NEG_INFINITY, |m, v| m.max(*v)),
        forward_lean_deg: largest(&pelvis.forward_lean_deg, &loaded),
        touches: feet.touches(touch_span),
        free_foot_height_m: signal::percentile(&feet.free_height_m[loaded.clone()], 5.0)
            .unwrap_or(0.0),
        hands_used: supported_hand(tracks, scale, help),
        stance_foot_shift_m: signal::percentile(&feet.stance_shift_m[loaded.clone()], 90.0)
            .unwrap_or(0.0),
        sparc_rise: signal::sparc(&up, tracks.rate_hz, Default::default()),
        sparc_descent: signal::sparc(&down, tracks.rate_hz, Default::default()),
        jerk_rise: signal::log_dimensionless_jerk(&up, tracks.rate_hz),
        jerk_descent: signal::log_dimensionless_jerk(&down, tracks.rate_hz),
        seen,
        gap: lost_near(loaded.start, loaded.end),
        events_sure: std::array::from_fn(|i| {
            let unseen = [false, events.ended_after, events.began_before, false][i];
            !(unseen || lost_near(at(times[i]), at(times[i])))
        }),
        errors: errors.clone(),
    }
}

/// Mean speed over the last tenth of the way before the seat is reached, which is at 2 %
/// of the way from `standing_m` to `seated_m`.
fn final_speed_m_s(
    height_m: &[f64],
    rate_hz: f64,
    (standing_m, seated_m): (f64, f64),
    contact_s: f64,
) -> f64 {
    let level = seated_m + 0.12 * (standing_m - seated_m);
    let last = ((contact_s * rate_hz) as usize).min(height_m.len().saturating_sub(1));
    let above = (0..=last).rev().find(|i| height_m[*i] > level).unwrap_or(0);
    let next = (above + 1).min(height_m.len().saturating_sub(1));
    let from_s = signal::crossing(height_m, next, level) / rate_hz;
    0.1 * (standing_m - seated_m) / (contact_s - from_s).max(0.5 / rate_hz)
}

/// Largest downward acceleration that lasts 80 ms.
fn held_acceleration(pelvis: &Pelvis, descent: &Range<usize>, rate_hz: f64) -> Option<f64> {
    let acceleration = signal::derivative(&pelvis.velocity_m_s[descent.clone()], rate_hz);
    let held = (0.08 * rate_hz).ceil().max(1.0) as usize;
    acceleration
        .windows(held)
        .map(|w| w.iter().fold(f64::INFINITY, |m, a| m.min(-a)))
        .max_by(f64::total_cmp)
}

fn knee(
    a: &Alignment,
    courses: &Courses,
    events: &Events,
    rise: &Range<usize>,
    descent: &Range<usize>,
    criteria: &Criteria,
    errors: &BTreeMap<String, f64>,
) -> Knee {
    let tracks = courses.tracks;
    // From stand to stand the rest on the seat lies within the rep; the leg does
    // not carry there.
    let seat = descent.end..rise.start.max(descent.end);
    let loaded: Vec<usize> = (rise.start.min(descent.start)..rise.end.max(descent.end))
        .filter(|i| !seat.contains(i))
        .collect();
    let phase = |i: usize| {
        if rise.contains(&i) {
            Phase::Rise
        } else if descent.contains(&i) {
            Phase::Descent
        } else {
            Phase::Stand
        }
    };
    let peak_of = |s: &[f64], keep: &dyn Fn(usize) -> bool| {
        loaded.iter().copied().filter(|i| keep(*i)).max_by(|x, y| s[*x].total_cmp(&s[*y]))
    };
    // Near the seat the leg does not yet carry the body, and the thigh points at the
    // camera: what the knee does there is neither loaded nor well seen.
    let height = &courses.pelvis.height_m;
    let clear_m =
        events.seated_m + settings::KNEE_CLEAR_OF_SEAT * (events.standing_m - events.seated_m);
    let clear = |i: usize| height[i] > clear_m;
    let peak = peak_of(&a.knee_offset_m, &clear).unwrap_or(rise.start);
    let offset_se_m =
        errors.get(KNEE_OFFSET_PEAK.key()).map_or(settings::KNEE_OFFSET_SE_M, |cm| cm / 100.0);
    let limit_m = criteria.knee_offset_limit_m(courses.scale.stature_m);
    let past = |limit: f64| signal::runs(&loaded, |i| clear(*i) && a.knee_offset_m[*i] > limit);
    let lasts_s = |run: &Range<usize>| run.len() as f64 / tracks.rate_hz;
    let longest_past = |limit: f64| past(limit).iter().map(lasts_s).fold(0.0, f64::max);
    let seconds = |i: usize| loaded[i] as f64 / tracks.rate_hz;
    let past_limit_spans_s = past(limit_m)
        .into_iter()
        .filter(|run| lasts_s(run) >= criteria.knee_offset_hold.value)
        .map(|run| (seconds(run.start), seconds(run.end - 1)))
        .collect();
    let (low, high) = settings::FPPA_FLEXION_DEG;
    let bent = |i: usize| (low..=high).contains(&a.knee_flexion_deg[i]);
    let fppa = peak_of(&a.fppa_deg, &bent).map(|i| Fppa {
        peak_deg: a.fppa_deg[i],
        picture_peak_deg: peak_of(&a.fppa_picture_deg, &bent)
            .map_or(a.fppa_picture_deg[i], |j| a.fppa_picture_deg[j]),
        se_deg: errors.get(FPPA_PEAK.key()).copied().unwrap_or(settings::FPPA_SE_DEG),
        phase: phase(i),
    });
    let (slow_hz, fast_hz) = settings::WOBBLE_BAND_HZ;
    let slow = signal::LowPass::zero_lag(&a.knee_offset_m, slow_hz, tracks.rate_hz);
    let fast = signal::LowPass::zero_lag(&a.knee_offset_m, fast_hz, tracks.rate_hz);
    let shake: Vec<f64> = loaded.iter().map(|i| fast[*i] - slow[*i]).collect();
    Knee {
        side: a.side,
        offset_peak_m: a.knee_offset_m[peak],
        offset_se_m,
        offset_peak_at_s: peak as f64 / tracks.rate_hz,
        offset_peak_phase: phase(peak),
        past_limit_s: longest_past(limit_m),
        past_limit_spans_s,
        clearly_past_limit_s: longest_past(limit_m + offset_se_m),
        nearly_past_limit_s: longest_past(limit_m - offset_se_m),
        fppa,
        wobble_m: signal::rms(&shake).unwrap_or(0.0),
        wobble_turns: turns(&shake, settings::WOBBLE_STEP_M),
    }
}

/// Changes of direction between swings larger than `step`.
fn turns(series: &[f64], step: f64) -> usize {
    let Some(first) = series.first() else { return 0 };
    let (mut extreme, mut heading, mut count) = (*first, 0.0, 0);
    for value in series {
        let change = value - extreme;
        if heading == 0.0 {
            if change.abs() > step {
                heading = change.signum();
                extreme = *value;
            }
        } else if change * heading > 0.0 {
            extreme = *value;
        } else if change.abs() > step {
            count += 1;
            heading = -heading;
            extreme = *value;
        }
    }
    count
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judgement::Conditions;
    use crate::judgement::document::{Outcome, Rung, View, ViewKind};
    use crate::judgement::verdict::drop;
    use crate::judgement::verdict::tests::{good, limits};
    use crate::movement::kinematics::Feet;
    use crate::movement::kinematics::made::{Body, RATE_HZ, near};
    use crate::movement::repetition::Course;
    use crate::signal::MinimumJerk;

    /// Standing 0.5 s at 0.40 m, then `descent` (height above the seat by time,
    /// seconds) for `duration_s`, then the seat. `phase` shifts the samples.
    fn course(
        rate_hz: f64,
        phase: f64,
        duration_s: f64,
        descent: &dyn Fn(f64) -> f64,
    ) -> (Vec<f64>, f64, f64) {
        let start_s = 0.5 + phase / rate_hz;
        let count = ((start_s + duration_s + 0.5) * rate_hz) as usize;
        let heights = (0..count)
            .map(|i| {
                let t = i as f64 / rate_hz - start_s;
                if t <= 0.0 {
                    0.40
                } else if t >= duration_s {
                    0.0
                } else {
                    descent(t)
                }
            })
            .collect();
        // Contact is where 2 % of the excursion are left.
        let contact_s = (0..100_000)
            .map(|k| k as f64 * 1e-4)
            .find(|t| *t >= duration_s || descent(*t) < 0.02 * 0.40)
            .unwrap_or(duration_s);
        (heights, start_s * rate_hz, (start_s + contact_s) * rate_hz)
    }

    /// Would the default limits call it a drop?
    fn dropped(rate_hz: f64, duration_s: f64, descent: &dyn Fn(f64) -> f64) -> Vec<bool> {
        let criteria = limits();
        let conditions = Conditions {
            rung: Rung::SingleLeg,
            view: &View {
                kind: ViewKind::Frontal,
                yaw_deg: Some(0.0),
                yaw_standard_error_deg: None,
                toe_out_deg: None,
            },
            rate_hz,
            camera_moved_s: &[],
            pause_s: None,
        };
        (0..10)
            .map(|p| {
                let (heights, stand, contact) =
                    course(rate_hz, f64::from(p) / 10.0, duration_s, descent);
                let smooth = signal::LowPass::zero_lag(&heights, settings::CUTOFF_HZ, rate_hz);
                let end_s = contact / rate_hz;
                let m = Measures {
                    descent_final_m_s: final_speed_m_s(&smooth, rate_hz, (0.40, 0.0), end_s),
                    descent_mean_m_s: 0.98 * 0.40 / ((contact - stand) / rate_hz),
                    ..good()
                };
                drop(&m, &conditions, &criteria, None).outcome == Outcome::NotMet
            })
            .collect()
    }

    /// Minimum-jerk and constant-speed descents of 1 s and longer are no drops.
    #[test]
    fn smooth_descents_are_not_drops() {
        for rate_hz in [30.0, 60.0] {
            for duration_s in [1.0, 1.5, 2.0, 3.0] {
                let smooth = MinimumJerk { distance_m: 0.40, duration_s };
                let jerk = |t: f64| 0.40 - smooth.position_m(t);
                let constant = |t: f64| 0.40 * (1.0 - t / duration_s);
                assert!(!dropped(rate_hz, duration_s, &jerk).contains(&true), "{duration_s} s");
                assert!(!dropped(rate_hz, duration_s, &constant).contains(&true), "{duration_s} s");
            }
        }
    }

    /// A lowering at constant speed v whose last 5 cm are a free fall
    /// (h = v·t + g·t²/2; from rest it would take 0.101 s and end at 0.990 m/s) is a
    /// drop at any frame rate and wherever the frames lie.
    #[test]
    fn a_free_fall_of_the_last_5_cm_is_a_drop() {
        let g = 9.81;
        // A faster lowering hides so short a fall at 30 frames per second.
        for (rate_hz, fastest_s) in [(30.0, 1.5), (60.0, 1.2)] {
            for lowering_s in [fastest_s, 2.0, 3.0] {
                let v = 0.35 / lowering_s;
                let fall_s = ((v * v + 2.0 * g * 0.05f64).sqrt() - v) / g;
                let descent = |t: f64| {
                    let falling = (t - lowering_s).max(0.0);
                    0.40 - v * t - g * falling * falling / 2.0
                };
                let found = dropped(rate_hz, lowering_s + fall_s, &descent);
                assert!(found.iter().all(|d| *d), "{rate_hz} Hz, {lowering_s} s: {found:?}");
            }
        }
    }

    /// What is seen of a rep.
    struct Rise {
        pelvis: Pelvis,
        alignment: Alignment,
        feet: Feet,
        quality: Vec<Quality>,
        events: Events,
    }

    /// What the rep of a made body measures, after a change of what was seen of it.
    fn measured(change: &dyn Fn(&mut Rise)) -> Measures {
        let seen = Body::USUAL.seen();
        seen.with_courses(true, |courses, alignment| {
            let Courses { tracks, stance, pelvis, feet, .. } = *courses;
            let mut rise = Rise {
                pelvis: pelvis.clone(),
                alignment: alignment.clone(),
                feet: feet.clone(),
                quality: vec![Quality::Good; tracks.count],
                events: Course { tracks, stance, pelvis }.find(0.8).reps[0],
            };
            change(&mut rise);
            let Rise { pelvis, alignment, feet, quality, events } = &rise;
            let alignments = std::slice::from_ref(alignment);
            let courses = Courses { pelvis, alignments, feet, quality, ..*courses };
            measure(&courses, *events, &limits(), &BTreeMap::new())
        })
    }

    #[test]
    fn what_is_lost_near_a_moment_makes_it_unsure() {
        let lost_at = |of: &dyn Fn(&Events) -> f64, away: isize| {
            measured(&|rise| {
                let at = (of(&rise.events) * RATE_HZ).round() as isize + away;
                rise.quality[at as usize] = Quality::Lost;
            })
        };
        let moments: [&dyn Fn(&Events) -> f64; 4] =
            [&|e| e.seat_off_s, &|e| e.stand_s, &|e| e.descent_start_s, &|e| e.seat_contact_s];
        // A moment lies between two samples.
        let margin = (settings::GAP_MARGIN_S * RATE_HZ).round() as isize;
        for (i, moment) in moments.iter().enumerate() {
            for sign in [-1, 1] {
                assert!(!lost_at(moment, sign * (margin - 1)).events_sure[i], "{i} {sign}");
                assert!(lost_at(moment, sign * (margin + 2)).events_sure[i], "{i} {sign}");
            }
        }
        let (off, contact) = (moments[0], moments[3]);
        assert!(lost_at(off, 1 - margin).gap && lost_at(contact, margin - 1).gap);
        assert!(!lost_at(off, -margin - 2).gap && !lost_at(contact, margin + 2).gap);
    }

    /// 0.4 m at a steady 0.2 m/s, of which 2 % are left at contact; the velocity by itself, with a
    /// steady 0.5 m/s².
    #[test]
    fn the_way_down_is_measured_by_its_heights() {
        let m = measured(&|Rise { pelvis, events, .. }| {
            (events.standing_m, events.seated_m) = (0.9, 0.5);
            (events.descent_start_s, events.seat_contact_s) = (4.0, 4.0 + 0.98 * 2.0);
            for (i, height_m) in pelvis.height_m.iter_mut().enumerate() {
                let fallen_m = 0.2 * (i as f64 / RATE_HZ - 4.0).clamp(0.0, 2.0);
                *height_m = 0.9 - fallen_m;
            }
            for (i, speed) in pelvis.velocity_m_s.iter_mut().enumerate() {
                *speed = -0.5 * (i as f64 / RATE_HZ - 4.0);
            }
        });
        near(m.descent_mean_m_s, 0.2, 1e-6);
        near(m.descent_final_m_s, 0.2, 1e-3);
        near(m.lower_half_share, 0.96 / 1.96, 1e-3);
        near(m.descent_acceleration_m_s2.unwrap(), 0.5, 1e-6);
    }

    /// While the body leaves the seat and comes back to it the free foot is lifted and put down:
    /// touches count from a tenth of a second after to two tenths before.
    #[test]
    fn touches_count_while_one_leg_carries() {
        let sample_s = 1.0 / RATE_HZ;
        let touched = |of: &dyn Fn(&Events) -> f64, away_s: f64| {
            let m = measured(&|rise| {
                // The moment's own sample, as the ends of the rep are taken.
                let at_s = (of(&rise.events) * RATE_HZ).round() / RATE_HZ + away_s;
                for (i, height_m) in rise.feet.free_height_m.iter_mut().enumerate() {
                    let away_s = (i as f64 / RATE_HZ - at_s).abs();
                    *height_m = 0.1 + (2.0 * away_s).min(0.2);
                }
            });
            m.touches.len()
        };
        let off = &|e: &Events| e.seat_off_s;
        let contact = &|e: &Events| e.seat_contact_s;
        // Beside a kink of 4 m/s the slopes still tell one, in the two or three samples about it.
        assert_eq!(touched(off, -0.1), 0);
        assert_eq!(touched(off, 0.1 + 3.0 * sample_s), 1);
        assert_eq!(touched(off, 1.5), 1);
        assert_eq!(touched(contact, -0.2 - 3.0 * sample_s), 1);
        assert_eq!(touched(contact, -0.2 + 3.0 * sample_s), 0);
        assert_eq!(touched(contact, 0.0), 0);
    }

    /// A knee that is past the limit for 0.5 s, by half its standard error and by more than it.
    #[test]
    fn how_long_the_knee_was_past_the_limit_is_counted_clear_of_the_seat() {
        let limit_m = limits().knee_offset_limit_m(Body::USUAL.stature_m);
        let run = 210..235;
        let of = |high_m: f64, low_seat: bool| {
            measured(&|Rise { pelvis, alignment, events, .. }| {
                alignment.knee_offset_m.fill(0.0);
                alignment.knee_offset_m[run.clone()].fill(limit_m + high_m);
                // Where it is low as on the seat it counts for nothing.
                pelvis.height_m.fill(events.standing_m);
                if low_seat {
                    pelvis.height_m[run.clone()].fill(events.seated_m);
                }
            })
            .knee
            .unwrap()
        };
        let se_m = settings::KNEE_OFFSET_SE_M;
        let knee = of(0.5 * se_m, false);
        near(knee.offset_peak_m, limit_m + 0.5 * se_m, 1e-9);
        near(knee.past_limit_s, 0.5, 1e-9);
        near(knee.clearly_past_limit_s, 0.0, 1e-9);
        near(knee.nearly_past_limit_s, 0.5, 1e-9);
        let [(from_s, to_s)] = knee.past_limit_spans_s[..] else { panic!("one span") };
        near(from_s, 210.0 / RATE_HZ, 1e-6);
        near(to_s, 234.0 / RATE_HZ, 1e-6);
        assert_eq!((knee.offset_peak_phase, knee.offset_se_m), (Phase::Descent, se_m));
        assert!((4.2 - 1e-6..4.68 + 1e-6).contains(&knee.offset_peak_at_s), "{knee:?}");
        near(of(1.5 * se_m, false).clearly_past_limit_s, 0.5, 1e-9);
        let below = of(-0.5 * se_m, false);
        near(below.past_limit_s, 0.0, 1e-9);
        near(below.nearly_past_limit_s, 0.5, 1e-9);
        assert_eq!(below.past_limit_spans_s, []);
        assert_eq!(of(-1.5 * se_m, false).nearly_past_limit_s, 0.0);
        let seated = of(0.5 * se_m, true);
        assert_eq!((seated.past_limit_s, seated.nearly_past_limit_s), (0.0, 0.0));
        near(seated.offset_peak_m, 0.0, 1e-9);
    }

    #[test]
    fn a_sine_of_two_periods_turns_four_times() {
        let wave: Vec<f64> = (0..=100)
            .map(|i| 0.01 * (i as f64 / 100.0 * 4.0 * std::f64::consts::PI).sin())
            .collect();
        assert_eq!(turns(&wave, 0.005), 4);
        assert_eq!(turns(&wave, 0.05), 0);
        assert_eq!(turns(&wave.iter().map(|v| -v).collect::<Vec<_>>(), 0.005), 4);
        assert_eq!(turns(&[], 0.005), 0);
        // Swings of as much as the step are none.
        assert_eq!(turns(&[0.0, 1.0, 0.5, 1.0, 0.5], 0.5), 0);
        assert_eq!(turns(&[0.0, 0.5, 0.0, 0.5], 0.5), 0);
    }
}
