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
use std::thread;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, Normal, StandardUniform};

use crate::assessment::{Rep, Told};
use crate::pose::landmarks::PoseFrame;
use crate::record::Recording;
use crate::settings;
use crate::signal;
use crate::skeleton::{Landmark, Side};

/// Standard error of each number of a rep, by the number's own name and in its unit.
pub type StandardErrors = BTreeMap<String, f64>;

/// Runs the trials on all cores. Each has its own seed, so the result depends on
/// neither their order nor the machine. Trials that find nothing are left out.
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
        lanes.into_iter().filter_map(|lane| lane.join().ok()).flatten().collect()
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
            let mut found: BTreeMap<String, Vec<f64>> = BTreeMap::new();
            for trial in trials {
                let same = trial.iter().find(|other| {
                    let (Some(a), Some(b)) = (rep.span_s(), other.span_s()) else { return false };
                    a.0.max(b.0) < a.1.min(b.1)
                });
                for (name, value) in same.into_iter().flat_map(numbers) {
                    found.entry(name).or_default().push(value);
                }
            }
            let known: BTreeMap<String, f64> = numbers(rep).into_iter().collect();
            found.retain(|name, values| {
                known.contains_key(name) && 2 * values.len() as u64 >= settings::TRIALS
            });
            found
                .into_iter()
                .filter_map(|(name, values)| {
                    let spread = signal::deviation(&values)?;
                    // Times are read from samples: the spread of an even distribution
                    // between two, 1/√12 of their distance, more.
                    let sampled =
                        if name.ends_with("_s") { 12f64.sqrt().recip() / rate_hz } else { 0.0 };
                    let value = known.get(&name).copied().unwrap_or(0.0);
                    let error = spread.hypot(sampled).hypot(of_the_method(&name, value));
                    let unit = 10f64.powf(2.0 - error.max(1e-9).log10().ceil());
                    Some((name, (error * unit).round() / unit))
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

/// What the method itself adds to the error of a number of this name and size.
fn of_the_method(name: &str, value: f64) -> f64 {
    settings::METHOD_ERRORS
        .iter()
        .find(|(of, _, _)| *of == name)
        .map_or(0.0, |(_, fixed, share)| fixed + share * value.abs())
}

/// The known numbers of a rep by name, without what is counted or graded.
fn numbers(rep: &Rep) -> Vec<(String, f64)> {
    const COUNTED: [&str; 3] = ["knee_offset_grade", "wobble_turns", "well_seen_percent"];
    rep.numbers()
        .into_iter()
        .filter(|(name, _)| !COUNTED.contains(&name.as_str()))
        .filter_map(|(name, value)| Some((name, value?)))
        .collect()
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
                / crate::anthropometry::ANKLE_TO_SHOULDER
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
