//! A working leg as it lies in the picture, for drawing on the film what was measured.

use nalgebra::Point2;

use super::alignment::Alignment;
use super::courses::Courses;
use crate::body::anthropometry as body;
use crate::body::{Landmark, Side};

/// A leg sample by sample, clip pixels, low-passed like the courses.
#[derive(Debug, Clone)]
pub struct LegInPicture {
    /// Whose it is.
    pub side: Side,
    /// Hip joint.
    pub hip_px: Vec<Point2<f64>>,
    /// Knee joint.
    pub knee_px: Vec<Point2<f64>>,
    /// Ankle joint.
    pub ankle_px: Vec<Point2<f64>>,
    /// Where heel and toes usually are while the foot carries.
    pub foot_px: [Point2<f64>; 2],
    /// The plumb line from the knee; `None` where it was not judged.
    pub plumb: Option<Vec<Plumb>>,
}

/// The plumb line of one sample. The knee offset is how far its foot lies from the
/// foot's axis: drawn like this, knee and limit stand to each other in the picture as
/// they do in the judgement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plumb {
    /// Where it meets the floor, clip pixels.
    pub floor_px: Point2<f64>,
    /// Column of the foot's axis at that depth, clip pixels.
    pub axis_px: f64,
    /// Columns of a metre inward there, to the picture's right positive, clip pixels.
    pub px_per_m: f64,
}

impl LegInPicture {
    /// The legs that were watched: those of the alignments, else the stance leg without
    /// a plumb line.
    pub(crate) fn of(courses: &Courses) -> Vec<Self> {
        if courses.tracks.size_px.0 <= 0.0 {
            return Vec::new();
        }
        if courses.alignments.is_empty() {
            return vec![Self::new(courses, courses.stance.side, None)];
        }
        courses.alignments.iter().map(|a| Self::new(courses, a.side, Some(a))).collect()
    }

    fn new(courses: &Courses, side: Side, alignment: Option<&Alignment>) -> Self {
        let Courses { tracks, stance, .. } = *courses;
        let course = |landmark| -> Vec<Point2<f64>> {
            let u = tracks.smooth(tracks.u_px(landmark, side));
            let v = tracks.smooth(tracks.v_px(landmark, side));
            u.into_iter().zip(v).map(|(u, v)| Point2::new(u, v)).collect()
        };
        let usual = |landmark| {
            let over = |s: &[f64]| stance.while_planted(s).unwrap_or(0.0);
            Point2::new(over(tracks.u_px(landmark, side)), over(tracks.v_px(landmark, side)))
        };
        let foot_px = [usual(Landmark::Heel), usual(Landmark::FootIndex)];
        let knee_px = course(Landmark::Knee);
        let plumb = alignment.map(|a| plumb_line(courses, a, &knee_px, foot_px));
        let (hip_px, ankle_px) = (course(Landmark::Hip), course(Landmark::Ankle));
        Self { side, hip_px, knee_px, ankle_px, foot_px, plumb }
    }
}

/// [`Alignment::knee_offset_m`] turned round: offset = medial·(x·cos ζ − z·sin ζ) with
/// x = u·μ·(1 − z/D) from the axis, so a metre of offset is medial/(cos ζ·μ·(1 − z/D))
/// columns. The floor's row at depth z lies on the line through heel and toes.
fn plumb_line(
    courses: &Courses,
    alignment: &Alignment,
    knee_px: &[Point2<f64>],
    [heel_px, toe_px]: [Point2<f64>; 2],
) -> Vec<Plumb> {
    let scale = courses.scale;
    let medial = alignment.side.medial();
    let heel_m = -body::HEEL_TO_ANKLE * scale.stature_m;
    let foot_m = (body::HEEL_TO_ANKLE + body::ANKLE_TO_TOE) * scale.stature_m;
    knee_px
        .iter()
        .zip(&alignment.knee_offset_m)
        .zip(&alignment.leg)
        .map(|((knee, offset_m), pose)| {
            let forward_m = pose.knee_forward_m;
            let m_per_px = scale.m_per_px * (1.0 - forward_m / scale.distance_m);
            let px_per_m = medial / (alignment.foot_heading_rad.cos() * m_per_px);
            let along = ((forward_m - heel_m) / foot_m).clamp(0.0, 1.5);
            let row_px = heel_px.y + along * (toe_px.y - heel_px.y);
            Plumb {
                floor_px: Point2::new(knee.x, row_px),
                axis_px: knee.x - offset_m * px_per_m,
                px_per_m,
            }
        })
        .collect()
}
