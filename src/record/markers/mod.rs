//! Motion capture in and out: marker files (TRC) to points of the body.
//!
//! ```text
//! file ─ trc ─▶ markers ─ names ─▶ named points ─ body ─▶ joint centres, turned
//!                                                         to face the reader
//! ```
//!
//! Axes of what comes out: X to the person's left (the picture's right when
//! they face the camera), Y up, Z forward, metres.

mod body;
mod names;
mod rigid;
mod trc;

use std::path::Path;

pub use body::{Captured, read_motion};
pub use names::MarkerNames;
pub use trc::{Axis, Trc};

use nalgebra::Point3;

use crate::body::{Landmark, Side};

/// Our own name of the pelvis' middle.
pub const PELVIS: &str = "Pelvis";
/// Our own name of the trunk's middle as one camera sees it; it tells an export
/// of a film.
pub const TRUNK_BY_CAMERA: &str = "TrunkByCamera";

/// True for a file that holds markers, not pictures: `.trc` in any case.
pub fn is_motion_file(path: &Path) -> bool {
    path.extension().is_some_and(|e| e.eq_ignore_ascii_case("trc"))
}

/// The course of one point on the time grid.
#[derive(Debug, Clone, PartialEq)]
pub struct PointCourse {
    /// Places, metres; within a gap the last known place is held.
    pub place_m: Vec<Point3<f64>>,
    /// False within gaps longer than can be bridged.
    pub seen: Vec<bool>,
}

/// The points of one body on a uniform time grid that begins at 0 s.
#[derive(Debug, Clone, PartialEq)]
pub struct Motion {
    /// Samples per second.
    pub rate_hz: f64,
    /// Number of samples.
    pub count: usize,
    /// The pelvis' middle: of its markers, which is measured, where hip centres
    /// are computed and go up and down when the pelvis tilts; `None` if only
    /// hip centres are known.
    pub pelvis: Option<PointCourse>,
    /// In the export of a film: the middle of hips and shoulders as seen, in the
    /// plane of the stance foot, by which a film's reps are timed. Depths are
    /// then a model's.
    pub trunk_by_camera: Option<PointCourse>,
    points: Vec<Option<PointCourse>>,
}

impl Motion {
    /// Without any point yet.
    pub fn new(rate_hz: f64, count: usize) -> Self {
        let points = vec![None; 2 * Landmark::ALL.len()];
        Self { rate_hz, count, pelvis: None, trunk_by_camera: None, points }
    }

    /// The course of a landmark; `None` if no marker tells it.
    pub fn get(&self, landmark: Landmark, side: Side) -> Option<&PointCourse> {
        self.points[place(landmark, side)].as_ref()
    }

    /// Sets the course of a landmark.
    pub fn set(&mut self, landmark: Landmark, side: Side, course: PointCourse) {
        self.points[place(landmark, side)] = Some(course);
    }

    /// How far one foot is ahead of the other, metres, typical.
    pub fn stagger_m(&self) -> Option<f64> {
        let [left, right] =
            [Side::Left, Side::Right].map(|side| self.get(Landmark::FootIndex, side));
        let pairs = left?.place_m.iter().zip(&right?.place_m);
        let ahead: Vec<f64> = pairs.map(|(l, r)| l.z - r.z).collect();
        crate::signal::median(&ahead).map(f64::abs)
    }

    /// As a marker file, the points named plainly.
    pub fn to_trc(&self) -> Trc {
        let times_s = (0..self.count).map(|i| i as f64 / self.rate_hz).collect();
        let mut trc = Trc { rate_hz: self.rate_hz, times_s, ..Trc::default() };
        let mut add = |name: String, course: &PointCourse| {
            trc.names.push(name);
            let known = course.place_m.iter().zip(&course.seen);
            trc.places_m.push(known.map(|(p, seen)| seen.then_some(*p)).collect());
        };
        for landmark in Landmark::ALL {
            for side in [Side::Left, Side::Right] {
                if let Some(course) = self.get(landmark, side) {
                    add(own_name(landmark, side), course);
                }
            }
        }
        for (name, course) in [(PELVIS, &self.pelvis), (TRUNK_BY_CAMERA, &self.trunk_by_camera)] {
            if let Some(course) = course {
                add(name.into(), course);
            }
        }
        trc
    }
}

/// Our own plain name of a point: «HipLeft».
pub fn own_name(landmark: Landmark, side: Side) -> String {
    let point = match landmark {
        Landmark::Shoulder => "Shoulder",
        Landmark::Elbow => "Elbow",
        Landmark::Wrist => "Wrist",
        Landmark::Index => "Hand",
        Landmark::Hip => "Hip",
        Landmark::Knee => "Knee",
        Landmark::Ankle => "Ankle",
        Landmark::Heel => "Heel",
        Landmark::FootIndex => "Toe",
    };
    format!("{point}{}", if side == Side::Left { "Left" } else { "Right" })
}

fn place(landmark: Landmark, side: Side) -> usize {
    let at = Landmark::ALL.iter().position(|l| *l == landmark).unwrap_or(0);
    2 * at + usize::from(side == Side::Right)
}
