//! Standard errors of all measures at once, by trial: the landmarks are disturbed as
//! the network errs, the size of the body and the level of the camera as far as they
//! are unknown, and the very same kinematics are run again ([JCGM101], propagation of
//! distributions by a Monte Carlo method).
//!
//! The errors of a pose network are not jitter: they last through a clip, change with
//! the posture, and wander slowly. Their sizes, shares of stature, were read from the
//! landmarks of rendered people against the true joints; those clips are not among the
//! ones that the accuracy table is made of (`scripts/landmark-errors.py`).

use std::collections::BTreeMap;
use std::num::NonZero;
use std::panic::resume_unwind;
use std::thread;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, Normal, StandardUniform};

use crate::body::{Landmark, Side};
use crate::judgement::document::{Rep, Told};
use crate::judgement::measures::{self, Measure, Unit};
use crate::record::Recording;
use crate::record::landmarks::PoseFrame;
use crate::settings;
use crate::signal;

/// Standard error of each number of a rep, by the number's own name and in its unit.
pub type StandardErrors = BTreeMap<String, f64>;

/// Runs the trials on all cores. Each has its own seed, so the result depends on
/// neither their order nor the machine. Trials that find nothing are left out; a trial
/// that panics is a fault of the program, and panics here.
pub fn trials<T: Send>(run: impl Fn(u64) -> Option<T> + Sync) -> Vec<T> {
    let lanes = thread::available_parallelism().map_or(1, NonZero::get).min(8) as u64;
    let run = &run;
    let mut found: Vec<(u64, T)> = thread::scope(|scope| {
        let lanes: Vec<_> = (0..lanes)
            .map(|lane| {
                let own = (lane..settings::TRIALS).step_by(lanes as usize);
                scope.spawn(move || own.filter_map(|t| Some((t, run(t)?))).collect::<Vec<_>>())
            })
            .collect();
        let done = lanes.into_iter().map(|lane| lane.join());
        done.flat_map(|found| found.unwrap_or_else(|fault| resume_unwind(fault))).collect()
    });
    found.sort_by_key(|(trial, _)| *trial);
    found.into_iter().map(|(_, result)| result).collect()
}

/// The recording as the network might as well have seen it, and what might as well be
/// true of the person: one draw of all errors.
pub fn disturbed(recording: &Recording, told: &Told, trial: u64) -> (Recording, Told) {
    let mut random = ChaCha8Rng::seed_from_u64(trial);
    let mut draw = |spread: f64| normal(&mut random, spread);

    // The size of the body: as given it is right, its proportions are not.
    let size = 1.0 + draw(settings::SCALE_SE_STATURE);
    let guess = 1.0 + draw(settings::SCALE_SE_NETWORK);
    let told = Told {
        stature_m: told.stature_m.map(|h| h * size),
        seat_height_m: told.seat_height_m.map(|h| h + draw(settings::HIP_ROW_SE_M)),
        ..*told
    };
    let roll_rad = draw(settings::CAMERA_ROLL_SE_DEG).to_radians();

    let mut recording = recording.clone();
    let (width, height) =
        (recording.clip.width_px.unwrap_or(0), recording.clip.height_px.unwrap_or(0));
    let middle = (f64::from(width) / 2.0, f64::from(height) / 2.0);
    let (stature_px, posture) = posture(&recording.frames);
    let errors: Vec<(Landmark, Side, LandmarkError)> = Landmark::ALL
        .iter()
        .flat_map(|landmark| [(*landmark, Side::Left), (*landmark, Side::Right)])
        .map(|(landmark, side)| (landmark, side, LandmarkError::draw(&mut random, stature_px)))
        .collect();
    for (frame, posture) in recording.frames.iter_mut().zip(posture) {
        let Some(pose) = &mut frame.pose else { continue };
        for (landmark, side, error) in &errors {
            let place = &mut pose.image[landmark.at(*side)].place_px;
            let (du, dv) = error.at(frame.time_s, posture);
            *place += nalgebra::Vector2::new(du, dv);
        }
        let (sin, cos) = roll_rad.sin_cos();
        for point in &mut pose.image {
            let (x, y) = (point.place_px.x - middle.0, point.place_px.y - middle.1);
            point.place_px.x = middle.0 + cos * x - sin * y;
            point.place_px.y = middle.1 + sin * x + cos * y;
        }
        pose.metric_m.iter_mut().for_each(|point| point.coords *= guess);
    }
    (recording, told)
}

/// Standard deviation over the trials of every number of each rep; a rep of a trial
/// is the same rep if it overlaps in time. Numbers that few trials gave have none.
pub fn standard_errors(reps: &[Rep], trials: &[Vec<Rep>], rate_hz: f64) -> Vec<StandardErrors> {
    reps.iter()
        .map(|rep| {
            let mut found: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
            for trial in trials {
                let same = trial.iter().find(|other| {
                    let (Some(a), Some(b)) = (rep.span_s(), other.span_s()) else { return false };
                    a.0.max(b.0) < a.1.min(b.1)
                });
                for (measure, value) in same.into_iter().flat_map(numbers) {
                    found.entry(measure.key()).or_default().push(value);
                }
            }
            numbers(rep)
                .filter_map(|(measure, value)| {
                    let values = found.get(measure.key())?;
                    if 2 * (values.len() as u64) < settings::TRIALS {
                        return None;
                    }
                    let spread = signal::deviation(values)?;
                    // Times are read from samples: the spread of an even distribution
                    // between two, 1/√12 of their distance, more.
                    let timed = measure.unit == Unit::Second;
                    let sampled = if timed { 12f64.sqrt().recip() / rate_hz } else { 0.0 };
                    let (fixed, share) = measure.method_error;
                    let error = spread.hypot(sampled).hypot(fixed + share * value.abs());
                    let unit = 10f64.powf(2.0 - error.max(1e-9).log10().ceil());
                    Some((measure.key().to_owned(), (error * unit).round() / unit))
                })
                .collect()
        })
        .collect()
}

/// Standard deviation over the trials of a course, sample by sample; `None` where few
/// trials know it.
pub fn course_error(trials: &[&[Option<f64>]]) -> Vec<Option<f64>> {
    let samples = trials.iter().map(|course| course.len()).max().unwrap_or(0);
    (0..samples)
        .map(|i| {
            let values: Vec<f64> =
                trials.iter().filter_map(|course| course.get(i).copied().flatten()).collect();
            let enough = 2 * values.len() as u64 >= settings::TRIALS;
            enough.then(|| signal::deviation(&values)).flatten()
        })
        .collect()
}

/// The known numbers of a rep that have a standard error.
fn numbers(rep: &Rep) -> impl Iterator<Item = (&'static Measure, f64)> {
    let known = |m: &'static Measure| Some((m, (m.of)(rep)?));
    measures::all().filter(|m| m.kind.has_error()).filter_map(known)
}

/// Stature in pixels, and in each frame how far the person is up, 0–1, from the rows
/// of the hips.
fn posture(frames: &[PoseFrame]) -> (f64, Vec<f64>) {
    let rows: Vec<Option<f64>> =
        frames.iter().map(|f| f.pose.as_ref().map(|p| p.hips_px().y)).collect();
    let known: Vec<f64> = rows.iter().flatten().copied().collect();
    let up = signal::percentile(&known, 3.0).unwrap_or(0.0);
    let down = signal::percentile(&known, 97.0).unwrap_or(1.0);
    let share = |row: f64| ((down - row) / (down - up).max(1.0)).clamp(0.0, 1.0);
    let tall: Vec<f64> = frames
        .iter()
        .filter_map(|f| f.pose.as_ref())
        .filter(|p| share(p.hips_px().y) > 0.9)
        .map(|p| {
            let row =
                |l: Landmark| (p.place_px(l, Side::Left).y + p.place_px(l, Side::Right).y) / 2.0;
            (row(Landmark::Ankle) - row(Landmark::Shoulder))
                / crate::body::anthropometry::ANKLE_TO_SHOULDER
        })
        .collect();
    let stature_px = signal::median(&tall).unwrap_or(0.0).max(0.0);
    (stature_px, rows.into_iter().map(|row| row.map_or(0.5, share)).collect())
}

/// One draw of the error of one landmark, pixels, for both directions.
struct LandmarkError {
    always: (f64, f64),
    /// Standing as against sitting.
    posture: (f64, f64),
    /// Amplitude across and down, angular frequency, phases.
    waves: Vec<(f64, f64, f64, f64, f64)>,
}

impl LandmarkError {
    fn draw(random: &mut ChaCha8Rng, stature_px: f64) -> Self {
        let both = |random: &mut ChaCha8Rng, share: (f64, f64)| {
            (normal(random, share.0 * stature_px), normal(random, share.1 * stature_px))
        };
        const WAVES: usize = 5;
        let always = both(random, settings::LANDMARK_ALWAYS);
        let posture = both(random, settings::LANDMARK_POSTURE);
        let waves = (0..WAVES)
            .map(|_| {
                let share = (2.0 / WAVES as f64).sqrt();
                let across = share * settings::LANDMARK_WANDER.0 * stature_px;
                let down = share * settings::LANDMARK_WANDER.1 * stature_px;
                let (slow, fast) = settings::LANDMARK_WANDER_HZ;
                let mut share = || -> f64 { StandardUniform.sample(random) };
                let turn = std::f64::consts::TAU;
                let hz = slow * (fast / slow).powf(share());
                (across, down, turn * hz, turn * share(), turn * share())
            })
            .collect();
        Self { always, posture, waves }
    }

    fn at(&self, time_s: f64, posture: f64) -> (f64, f64) {
        let start = (
            self.always.0 + (posture - 0.5) * self.posture.0,
            self.always.1 + (posture - 0.5) * self.posture.1,
        );
        self.waves.iter().fold(start, |(u, v), (across, down, pace, a, b)| {
            (u + across * (pace * time_s + a).sin(), v + down * (pace * time_s + b).sin())
        })
    }
}

fn normal(random: &mut ChaCha8Rng, spread: f64) -> f64 {
    Normal::new(0.0, spread.max(0.0)).map_or(0.0, |n| n.sample(random))
}

#[cfg(test)]
mod tests {
    use std::panic::catch_unwind;

    use nalgebra::{Point2, Point3};

    use super::*;
    use crate::body::LANDMARKS;
    use crate::body::anthropometry::ANKLE_TO_SHOULDER;
    use crate::record::landmarks::{ImageLandmark, Pose};
    use crate::record::{ClipFacts, Filming};

    #[test]
    fn every_trial_is_run_once_and_in_order() {
        assert!(trials(Some).into_iter().eq(0..settings::TRIALS));
        let odd = trials(|trial| (trial % 2 == 1).then_some(trial));
        assert!(odd.into_iter().eq((0..settings::TRIALS).filter(|t| t % 2 == 1)));
    }

    /// Whichever trial it is: a fault must not make the others fewer in silence.
    #[test]
    fn a_fault_in_one_trial_is_a_fault() {
        for bad in [0, 7, settings::TRIALS - 1] {
            let fault = catch_unwind(|| {
                trials(|trial| {
                    assert!(trial != bad, "on purpose");
                    Some(trial)
                })
            });
            let words = fault.expect_err("it panics");
            assert!(words.downcast_ref::<&str>().is_some_and(|s| s.contains("on purpose")));
        }
    }

    fn rep(start_s: f64, fields: &[(&str, f64)]) -> Rep {
        let mut rep = serde_json::json!({ "seat_off_s": start_s, "seat_contact_s": start_s + 4.0 });
        for (name, value) in fields {
            rep[*name] = (*value).into();
        }
        Rep::made(rep)
    }

    /// Trials in which a number is one below and one above its value in turn: their median
    /// deviation is 1, 1.4826 by the factor for normal noise.
    fn one_off(trial: u64) -> f64 {
        if trial.is_multiple_of(2) { 1.0 } else { -1.0 }
    }

    #[test]
    fn the_spread_of_the_trials_is_the_standard_error() {
        let rate_hz = 30.0;
        let measured = |start_s: f64, off: f64| {
            let numbers = [
                ("knee_offset_peak_cm", 2.0 + 0.1 * off),
                ("rise_s", 1.5 + 0.02 * off),
                ("descent_peak_m_s", 0.4 + 0.01 * off),
                ("descent_end_m_s", 0.3 + 0.001 * off),
                ("well_seen_percent", 90.0 + off),
            ];
            let mut rep = rep(start_s, &numbers);
            rep.wobble_turns = Some(if off > 0.0 { 4 } else { 2 });
            rep.knee_offset_grade = Some(if off > 0.0 { 2 } else { 0 });
            rep
        };
        let known = measured(1.0, 0.0);
        let each: Vec<Vec<Rep>> = (0..settings::TRIALS)
            .map(|trial| {
                let mut same = measured(1.0, one_off(trial));
                same.fppa_peak_deg = Some(5.0);
                // Another rep, which overlaps with none, is not to be taken for this one.
                vec![measured(9.0, 50.0 * one_off(trial)), same]
            })
            .collect();
        let errors = standard_errors(std::slice::from_ref(&known), &each, rate_hz);
        let error = |name: &str| errors[0].get(name).copied();
        // To the two digits that are kept.
        let is = |name: &str, expected: f64| {
            let found = error(name).unwrap_or_else(|| panic!("{name} has none"));
            assert!((found / expected - 1.0).abs() < 0.05, "{name}: {found}, not {expected}");
        };
        is("knee_offset_peak_cm", 0.14826);
        // A time is read from samples, evenly spread between two: 1/√12 of their distance.
        is("rise_s", 0.029652f64.hypot(1.0 / 30.0 / 12f64.sqrt()));
        is("seat_off_s", 1.0 / 30.0 / 12f64.sqrt());
        // A speed is none, whatever its name ends in.
        is("descent_end_m_s", 0.0014826);
        // The method adds 25 % of a peak speed, and 0.09 s to the contact.
        is("descent_peak_m_s", 0.014826f64.hypot(0.25 * 0.4));
        is("seat_contact_s", 0.09f64.hypot(1.0 / 30.0 / 12f64.sqrt()));
        for counted in ["wobble_turns", "knee_offset_grade", "well_seen_percent", "number"] {
            assert_eq!(error(counted), None, "{counted}");
        }
        assert_eq!(error("fppa_peak_deg"), None, "not known of the rep itself");
    }

    /// Half of the trials have to know a number.
    #[test]
    fn what_few_trials_know_has_no_standard_error() {
        let half = settings::TRIALS.div_ceil(2);
        for (knowing, known) in [(half, true), (half - 1, false)] {
            let each: Vec<Vec<Rep>> = (0..settings::TRIALS)
                .map(|t| vec![rep(1.0, if t < knowing { &[("fppa_peak_deg", 5.0)] } else { &[] })])
                .collect();
            let reps = [rep(1.0, &[("fppa_peak_deg", 5.0)])];
            let errors = standard_errors(&reps, &each, 30.0);
            assert_eq!(errors[0].contains_key("fppa_peak_deg"), known, "{knowing} trials");

            let course = |t| vec![Some(one_off(t)), (t < knowing).then_some(one_off(t))];
            let courses: Vec<_> = (0..settings::TRIALS).map(course).collect();
            let courses: Vec<&[Option<f64>]> = courses.iter().map(Vec::as_slice).collect();
            let [always, at_times] = course_error(&courses)[..] else { panic!("two samples") };
            assert!(always.is_some_and(|e| (e - 1.4826).abs() < 1e-9));
            assert_eq!(at_times.is_some(), known);
        }
    }

    /// A person of 1000 px standing, seated, standing; every landmark but shoulders and ankles
    /// in the middle of the picture, which a roll of the camera leaves where it is.
    fn recording() -> Recording {
        let frames = (0..3).map(|index| {
            let hips_px = if index == 1 { 1200.0 } else { 800.0 };
            let mut image = [ImageLandmark {
                place_px: Point2::new(500.0, 1000.0),
                depth_px: 0.0,
                visibility: 1.0,
                heat: Some(1.0),
            }; LANDMARKS];
            for side in [Side::Left, Side::Right] {
                image[Landmark::Hip.at(side)].place_px.y = hips_px;
                image[Landmark::Ankle.at(side)].place_px.y = 1600.0;
                let shoulders_px = 1600.0 - 1000.0 * ANKLE_TO_SHOULDER;
                image[Landmark::Shoulder.at(side)].place_px.y = shoulders_px;
            }
            let metric_m = [Point3::new(0.0, 1.0, 0.0); LANDMARKS];
            PoseFrame { index, time_s: index as f64, pose: Some(Pose { image, metric_m }) }
        });
        Recording {
            clip: ClipFacts {
                file: "made.mp4".into(),
                sha256: String::new(),
                width_px: Some(1000),
                height_px: Some(2000),
                duration_s: 3.0,
                frames: 3,
                frame_rate_hz: 1.0,
                recorded_at: None,
            },
            filming: Filming::default(),
            frames: frames.collect(),
            heads: Vec::new(),
            motion: None,
        }
    }

    /// Landmarks, body and camera are disturbed as far as the settings say: independent
    /// errors add up by their squares; a posture's share is half of it up, half of it down.
    #[test]
    fn disturbances_are_as_large_as_the_settings_say() {
        let recording = recording();
        let told = Told { stature_m: Some(2.0), seat_height_m: Some(0.45), ..Told::default() };
        let draws: Vec<(Recording, Told)> =
            (0..2000).map(|trial| disturbed(&recording, &told, trial)).collect();
        let is = |what: &str, expected: f64, value: &dyn Fn(&(Recording, Told)) -> f64| {
            let values: Vec<f64> = draws.iter().map(value).collect();
            let mean = signal::mean(&values).unwrap();
            let spread = signal::rms(&values.iter().map(|v| v - mean).collect::<Vec<_>>()).unwrap();
            // 2000 draws know a standard deviation to 1.6 %; three times that.
            assert!((spread / expected - 1.0).abs() < 0.05, "{what}: {spread}, not {expected}");
        };
        let pose = |d: &(Recording, Told)| d.0.frames[0].pose.clone().unwrap();
        let knee = |d: &(Recording, Told)| pose(d).place_px(Landmark::Knee, Side::Left);
        let together = |always: f64, posture: f64, wander: f64| {
            1000.0 * always.hypot(0.5 * posture).hypot(wander)
        };
        let (always, posture, wander) =
            (settings::LANDMARK_ALWAYS, settings::LANDMARK_POSTURE, settings::LANDMARK_WANDER);
        is("knee across", together(always.0, posture.0, wander.0), &|d| knee(d).x);
        is("knee down", together(always.1, posture.1, wander.1), &|d| knee(d).y);
        // A roll about the middle of the picture moves the ankles aside, 600 px below it.
        let roll_px = 600.0 * settings::CAMERA_ROLL_SE_DEG.to_radians();
        is("ankle across", together(always.0, posture.0, wander.0).hypot(roll_px), &|d| {
            pose(d).place_px(Landmark::Ankle, Side::Right).x
        });
        is("stature", 2.0 * settings::SCALE_SE_STATURE, &|d| d.1.stature_m.unwrap());
        is("seat", settings::HIP_ROW_SE_M, &|d| d.1.seat_height_m.unwrap());
        is("the network's metres", settings::SCALE_SE_NETWORK, &|d| pose(d).metric_m[0].y);
        // About what is true, to three standard errors of the mean of 2000 draws.
        let about =
            |what: &str, truth: f64, spread: f64, value: &dyn Fn(&(Recording, Told)) -> f64| {
                let mean = signal::mean(&draws.iter().map(value).collect::<Vec<_>>()).unwrap();
                assert!((mean - truth).abs() < 3.0 * spread / 2000f64.sqrt(), "{what}: {mean}");
            };
        about("stature", 2.0, 2.0 * settings::SCALE_SE_STATURE, &|d| d.1.stature_m.unwrap());
        about("seat", 0.45, settings::HIP_ROW_SE_M, &|d| d.1.seat_height_m.unwrap());
        about("metres", 1.0, settings::SCALE_SE_NETWORK, &|d| pose(d).metric_m[0].y);
        about("knee", 500.0, together(always.0, posture.0, wander.0), &|d| knee(d).x);
        // What wanders is all that changes between two frames of one posture, 2 s apart: as far
        // as waves of any phase, their frequencies even on a logarithmic scale, differ by then.
        let (slow_hz, fast_hz) = settings::LANDMARK_WANDER_HZ;
        let alike: f64 = (0..10_000)
            .map(|k| slow_hz * (fast_hz / slow_hz).powf((f64::from(k) + 0.5) / 10_000.0))
            .map(|hz| (std::f64::consts::TAU * hz * 2.0).cos() / 10_000.0)
            .sum();
        is("wander", 1000.0 * wander.0 * (2.0 * (1.0 - alike)).sqrt(), &|d| {
            let at = |i: usize| d.0.frames[i].pose.as_ref().unwrap();
            let knee_px = |i: usize| at(i).place_px(Landmark::Knee, Side::Left).x;
            knee_px(2) - knee_px(0)
        });
    }

    #[test]
    fn a_trial_is_the_same_whenever_it_is_drawn() {
        let recording = recording();
        let drawn = |trial| disturbed(&recording, &Told::default(), trial).0;
        assert_eq!(drawn(3), drawn(3));
        assert_ne!(drawn(3), drawn(4));
    }

    /// By hand: always, half of what standing makes, and a wave at its top or back at nought.
    #[test]
    fn an_error_is_a_sum() {
        let half_turn = std::f64::consts::PI;
        let error = LandmarkError {
            always: (1.0, 2.0),
            posture: (4.0, 8.0),
            waves: vec![
                (3.0, 5.0, half_turn, 0.0, half_turn / 2.0),
                (7.0, 11.0, 0.0, 0.0, half_turn / 2.0),
            ],
        };
        let near = |found: (f64, f64), expected: (f64, f64)| {
            let apart = (found.0 - expected.0).hypot(found.1 - expected.1);
            assert!(apart < 1e-9, "{found:?} is not {expected:?}");
        };
        near(error.at(0.5, 1.0), (1.0 + 2.0 + 3.0, 2.0 + 4.0 + 11.0));
        near(error.at(0.0, 0.0), (1.0 - 2.0, 2.0 - 4.0 + 5.0 + 11.0));
        near(error.at(1.0, 0.5), (1.0, 2.0 - 5.0 + 11.0));
    }

    /// Five waves, each of any phase: together as large as is said, and as fast as is said.
    #[test]
    fn waves_are_as_fast_as_the_settings_say() {
        let mut random = ChaCha8Rng::seed_from_u64(1);
        let (slow_hz, fast_hz) = settings::LANDMARK_WANDER_HZ;
        let (mut slowest, mut fastest) = (f64::INFINITY, 0.0f64);
        for _ in 0..200 {
            let error = LandmarkError::draw(&mut random, 100.0);
            assert_eq!(error.waves.len(), 5);
            for (across, down, pace, a, b) in error.waves {
                let share = 100.0 * 0.4f64.sqrt();
                assert!((across - share * settings::LANDMARK_WANDER.0).abs() < 1e-9);
                assert!((down - share * settings::LANDMARK_WANDER.1).abs() < 1e-9);
                let hz = pace / std::f64::consts::TAU;
                (slowest, fastest) = (slowest.min(hz), fastest.max(hz));
                assert!([a, b].iter().all(|phase| (0.0..std::f64::consts::TAU).contains(phase)));
            }
        }
        assert!(slow_hz <= slowest && slowest < 1.1 * slow_hz, "{slowest}");
        assert!(0.9 * fast_hz < fastest && fastest <= fast_hz, "{fastest}");
    }

    /// Hips 400 px higher standing than seated, at 3 and 97 % of the frames; half-way up is
    /// half; whoever is lost is taken for half-way. The stature is that of those frames in
    /// which the hips are nine tenths up.
    #[test]
    fn how_far_somebody_is_up() {
        let template = recording().frames[0].clone();
        let frame = |hips_px: Option<f64>, ankles_px: f64| {
            let mut frame = template.clone();
            let Some(hips_px) = hips_px else {
                frame.pose = None;
                return frame;
            };
            let pose = frame.pose.as_mut().unwrap();
            for (side, apart) in [(Side::Left, 30.0), (Side::Right, -30.0)] {
                let mut set = |l: Landmark, row| pose.image[l.at(side)].place_px.y = row + apart;
                set(Landmark::Hip, hips_px);
                set(Landmark::Ankle, ankles_px);
                set(Landmark::Shoulder, ankles_px - 500.0 * ANKLE_TO_SHOULDER);
            }
            frame
        };
        let mut frames = vec![frame(Some(800.0), 1600.0); 45];
        frames.extend(vec![frame(Some(1200.0), 1600.0); 45]);
        // Not upright: their stature is not asked.
        for hips_px in [1000.0, 845.0] {
            let mut stooped = frame(Some(hips_px), 1600.0);
            stooped.pose.as_mut().unwrap().image[Landmark::Shoulder.at(Side::Left)].place_px.y =
                0.0;
            frames.push(stooped);
        }
        frames.push(frame(None, 0.0));
        frames.push(frame(Some(600.0), 1600.0));
        frames.push(frame(Some(1400.0), 1600.0));
        let (stature_px, up) = posture(&frames);
        assert!((stature_px - 500.0).abs() < 1e-9, "{stature_px}");
        let found = [0, 50, 90, 92, 93, 94].map(|i| up[i]);
        let expected = [1.0, 0.0, 0.5, 0.5, 1.0, 0.0];
        let apart = found.iter().zip(expected).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(apart < 1e-9, "{found:?}");
        // Nobody at all, and somebody who never moves.
        assert_eq!(posture(&[frame(None, 0.0)]), (0.0, vec![0.5]));
        assert_eq!(posture(&vec![frame(Some(800.0), 1600.0); 2]).1, [0.0, 0.0]);
    }

    /// Two digits that count.
    #[test]
    fn errors_are_told_to_two_digits() {
        for (off, told) in [(10.0, 15.0), (1.0, 1.5), (0.1, 0.15), (0.08, 0.12), (0.001, 0.0015)] {
            let each: Vec<Vec<Rep>> = (0..settings::TRIALS)
                .map(|t| vec![rep(1.0, &[("fppa_peak_deg", 5.0 + off * one_off(t))])])
                .collect();
            let errors = standard_errors(&[rep(1.0, &[("fppa_peak_deg", 5.0)])], &each, 30.0);
            let found = errors[0]["fppa_peak_deg"];
            assert!((found / told - 1.0).abs() < 1e-9, "{found} is not {told}");
        }
    }

    /// Reps of 4 s: one that begins when another ends is another rep, one that begins a moment
    /// before is the same.
    #[test]
    fn a_rep_of_a_trial_is_the_same_where_it_overlaps() {
        for (start_s, same) in [(5.0, false), (4.99, true), (-3.0, false), (-2.99, true)] {
            let each: Vec<Vec<Rep>> = (0..settings::TRIALS)
                .map(|t| vec![rep(start_s, &[("fppa_peak_deg", 5.0 + one_off(t))])])
                .collect();
            let errors = standard_errors(&[rep(1.0, &[("fppa_peak_deg", 5.0)])], &each, 30.0);
            assert_eq!(errors[0].contains_key("fppa_peak_deg"), same, "{start_s}");
        }
    }

    /// Trials of unequal length: the longest tells how many samples there are.
    #[test]
    fn the_error_of_a_course_sample_by_sample() {
        let long: Vec<Option<f64>> = vec![Some(1.0), Some(2.0)];
        let trials: Vec<&[Option<f64>]> =
            (0..settings::TRIALS).map(|t| if t < 4 { &long[..] } else { &long[..1] }).collect();
        assert_eq!(course_error(&trials), [Some(0.0), None]);
        assert!(course_error(&[]).is_empty());
    }

    /// What nobody told stays untold, and who is lost stays lost.
    #[test]
    fn what_is_not_known_is_not_disturbed() {
        let mut recording = recording();
        recording.frames[1].pose = None;
        let (drawn, told) = disturbed(&recording, &Told::default(), 3);
        assert_eq!((told.stature_m, told.seat_height_m), (None, None));
        assert!(drawn.frames[1].pose.is_none() && drawn.frames[0].pose.is_some());
        assert_eq!(drawn.frames[0].time_s, recording.frames[0].time_s);
    }

    /// A phone that rolls by φ turns the picture about its middle, clockwise: a point 600 px
    /// below it goes to the left by 600·sin φ and up by 600·(1 − cos φ), one 500 px to the right
    /// of it down by 500·sin φ. Points that are no landmarks of ours are only turned.
    #[test]
    fn a_roll_turns_the_picture_about_its_middle() {
        let mut recording = recording();
        for frame in &mut recording.frames {
            let image = &mut frame.pose.as_mut().unwrap().image;
            image[0].place_px = Point2::new(500.0, 1600.0);
            image[1].place_px = Point2::new(1000.0, 1000.0);
        }
        for trial in 0..5 {
            let (drawn, _) = disturbed(&recording, &Told::default(), trial);
            let image = &drawn.frames[0].pose.as_ref().unwrap().image;
            let roll_rad = ((500.0 - image[0].place_px.x) / 600.0).asin();
            assert!((image[0].place_px.y - (1000.0 + 600.0 * roll_rad.cos())).abs() < 1e-9);
            assert!((image[1].place_px.x - (500.0 + 500.0 * roll_rad.cos())).abs() < 1e-9);
            assert!((image[1].place_px.y - (1000.0 + 500.0 * roll_rad.sin())).abs() < 1e-9);
            assert!(roll_rad.abs() > 1e-5);
        }
    }
}
