//! Movements in closed form, for tests: ways of the pelvis from level to level, one after
//! the other, as points in three dimensions see them.

use nalgebra::Point3;

use super::course::Course;
use crate::body::{Landmark, Side};
use crate::movement::kinematics::made::stance;
use crate::movement::kinematics::{Pelvis, Stance, Tracks};
use crate::record::markers::{Motion, PointCourse};
use crate::signal::MinimumJerk;

/// Samples per second of what is made.
pub const RATE_HZ: f64 = 100.0;
/// Pelvis above the ankle when seated, and its way up, metres.
pub const SEAT_M: f64 = 0.40;
pub const WAY_M: f64 = 0.40;

/// How a way is gone: share of the way by share of its time.
#[derive(Debug, Clone, Copy)]
pub enum Shape {
    /// [Flash1985].
    MinimumJerk,
    /// Half a wave of a cosine.
    Sine,
    /// Steadily faster up to the middle, steadily slower from there.
    Steady,
}

impl Shape {
    pub const ALL: [Shape; 3] = [Shape::MinimumJerk, Shape::Sine, Shape::Steady];

    fn gone(self, t: f64) -> f64 {
        match self {
            Shape::MinimumJerk => MinimumJerk { distance_m: 1.0, duration_s: 1.0 }.position_m(t),
            Shape::Sine => (1.0 - (std::f64::consts::PI * t).cos()) / 2.0,
            Shape::Steady if t < 0.5 => 2.0 * t * t,
            Shape::Steady => 1.0 - 2.0 * (1.0 - t) * (1.0 - t),
        }
    }

    /// Share of the time after which `share` of the way is gone.
    pub fn time_of(self, share: f64) -> f64 {
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let middle = (low + high) / 2.0;
            if self.gone(middle) < share { low = middle } else { high = middle }
        }
        low
    }

    /// Share of the time after which a twentieth of the highest speed is reached; as much
    /// before the end it is reached again. From the derivatives by hand.
    pub fn slow_edge(self) -> f64 {
        match self {
            // 16 t²(1 − t)² = 0.05.
            Shape::MinimumJerk => (1.0 - (1.0 - 4.0 * (0.05f64 / 16.0).sqrt()).sqrt()) / 2.0,
            // sin πt = 0.05.
            Shape::Sine => 0.05f64.asin() / std::f64::consts::PI,
            // 2t = 0.05.
            Shape::Steady => 0.025,
        }
    }
}

/// A way to a level (0 seated, 1 standing) within so many seconds.
#[derive(Debug, Clone, Copy)]
pub struct Way(pub f64, pub f64);

/// The courses of a movement.
pub struct Made {
    tracks: Tracks,
    stance: Stance,
    pelvis: Pelvis,
}

impl Made {
    /// The whole of a movement that begins at the level `start`.
    pub fn new(shape: Shape, start: f64, ways: &[Way]) -> Self {
        let lasts_s: f64 = ways.iter().map(|way| way.1).sum();
        Self::between(shape, start, ways, (0.0, lasts_s))
    }

    /// A recording of it from one moment to another, seconds.
    pub fn between(shape: Shape, start: f64, ways: &[Way], (from_s, to_s): (f64, f64)) -> Self {
        let count = ((to_s - from_s) * RATE_HZ).round() as usize + 1;
        let level = |time_s: f64| {
            let (mut level, mut begins_s) = (start, 0.0);
            for Way(to, lasts_s) in ways {
                if time_s < begins_s + lasts_s {
                    return level + (to - level) * shape.gone((time_s - begins_s) / lasts_s);
                }
                (level, begins_s) = (*to, begins_s + lasts_s);
            }
            level
        };
        let pelvis_m: Vec<f64> =
            (0..count).map(|i| SEAT_M + WAY_M * level(from_s + i as f64 / RATE_HZ)).collect();
        let mut motion = Motion::new(RATE_HZ, count);
        for (landmark, above_m) in
            [(Landmark::Shoulder, 0.5), (Landmark::Hip, 0.0), (Landmark::Ankle, f64::NAN)]
        {
            for (side, x) in [(Side::Left, 0.1), (Side::Right, -0.1)] {
                let height = |m: &f64| if above_m.is_nan() { 0.0 } else { m + above_m };
                let place_m = pelvis_m.iter().map(|m| Point3::new(x, height(m), 0.0)).collect();
                motion.set(landmark, side, PointCourse { place_m, seen: vec![true; count] });
            }
        }
        let tracks = Tracks::from_motion(&motion);
        let stance = Stance::from_motion(&tracks, &motion, None).expect("it rises");
        let pelvis = Pelvis::from_motion(&tracks, &stance, &motion);
        Self { tracks, stance, pelvis }
    }

    /// Seated at 400 px and standing at 600, with the body height that is given; the pelvis and
    /// its velocity likewise.
    pub fn by_hand(body_px: Vec<f64>, height_m: Vec<f64>, velocity_m_s: Vec<f64>) -> Self {
        let stance = stance(body_px, 400.0, 600.0);
        let pelvis = Pelvis {
            hip_height_m: height_m.clone(),
            raw_height_m: height_m.clone(),
            forward_lean_deg: vec![0.0; height_m.len()],
            height_m,
            velocity_m_s,
        };
        let tracks = Tracks::from_motion(&Motion::new(RATE_HZ, pelvis.height_m.len()));
        Self { tracks, stance, pelvis }
    }

    /// Another velocity at one sample.
    pub fn set_velocity(&mut self, sample: usize, velocity_m_s: f64) {
        self.pelvis.velocity_m_s[sample] = velocity_m_s;
    }

    pub fn course(&self) -> Course<'_> {
        Course { tracks: &self.tracks, stance: &self.stance, pelvis: &self.pelvis }
    }
}

/// Found and true moment, seconds.
pub fn near(found_s: f64, true_s: f64, budget_s: f64, what: &str) {
    assert!((found_s - true_s).abs() < budget_s, "{what}: {found_s:.3} s, not {true_s:.3} s");
}
