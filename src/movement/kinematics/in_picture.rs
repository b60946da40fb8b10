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
            return vec![Self::measure(courses, courses.stance.side, None)];
        }
        courses.alignments.iter().map(|a| Self::measure(courses, a.side, Some(a))).collect()
    }

    fn measure(courses: &Courses, side: Side, alignment: Option<&Alignment>) -> Self {
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
            // The floor is drawn from the heel to half a foot's length before it (design choice).
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

#[cfg(test)]
mod tests {
    use nalgebra::Point3;

    use super::super::made::{Body, RATE_HZ, near};
    use super::*;

    /// Joints where the camera sees them; the plumb line from the knee meets the floor below
    /// it, and the foot's axis as far aside as the knee is from it.
    #[test]
    fn a_leg_with_its_plumb_line() {
        for side in [Side::Left, Side::Right] {
            let body =
                Body { side, toe_out_deg: 7.0, lean_deg: 30.0, knee_in_m: 0.05, ..Body::USUAL };
            let seen = body.seen();
            let legs = seen.with_courses(true, |courses, _| LegInPicture::of(courses));
            let [leg] = &legs[..] else { panic!("{}", legs.len()) };
            assert_eq!(leg.side, side);
            let at = |l, i: usize| body.picture_px(body.point_m(l, side, i as f64 / RATE_HZ));
            let foot_rad = -side.medial() * 7f64.to_radians();
            for i in [100, 115, 130, 260] {
                for (found, landmark) in [
                    (leg.hip_px[i], Landmark::Hip),
                    (leg.knee_px[i], Landmark::Knee),
                    (leg.ankle_px[i], Landmark::Ankle),
                ] {
                    assert!((found - at(landmark, i)).norm() < 2.0, "{found}");
                }
                let plumb = leg.plumb.as_ref().unwrap()[i];
                let knee = body.point_m(Landmark::Knee, side, i as f64 / RATE_HZ);
                let floor_m = body.point_m(Landmark::Heel, side, 0.0).y;
                let below = body.picture_px(Point3::new(knee.x, floor_m, knee.z));
                near(plumb.floor_px.x, at(Landmark::Knee, i).x, 2.0);
                near(plumb.floor_px.y, below.y, 6.0);
                // Where the knee's depth is reached on the foot's axis.
                let axis = Point3::new(knee.z * foot_rad.tan(), floor_m, knee.z);
                near(plumb.axis_px, body.picture_px(axis).x, 6.0);
                let metre =
                    body.picture_px(axis + nalgebra::Vector3::x()).x - body.picture_px(axis).x;
                near(plumb.px_per_m, side.medial() * metre / foot_rad.cos(), 12.0);
            }
            for (found, landmark) in leg.foot_px.iter().zip([Landmark::Heel, Landmark::FootIndex]) {
                assert!((found - at(landmark, 180)).norm() < 0.1, "{found}");
            }
        }
    }

    /// On the heel's side of the foot and far beyond its toes the floor ends.
    #[test]
    fn the_floor_lies_along_the_foot() {
        let body = Body { toe_out_deg: 7.0, lean_deg: 30.0, seated_shank_deg: 30.0, ..Body::USUAL };
        let seen = body.seen();
        seen.with_courses(true, |courses, alignment| {
            let mut alignment = alignment.clone();
            // Behind the heel, between, and further ahead than half a foot.
            for (pose, forward_m) in alignment.leg.iter_mut().zip([-0.2, 0.1, 0.6]) {
                pose.knee_forward_m = forward_m;
            }
            let knees = vec![Point2::new(500.0, 900.0); alignment.leg.len()];
            let foot = [Point2::new(500.0, 1000.0), Point2::new(500.0, 1100.0)];
            let rows = plumb_line(courses, &alignment, &knees, foot);
            // Heel 0.040 behind the ankle, foot 0.152 of stature long.
            let between = 1000.0 + 100.0 * (0.1 / body.stature_m + 0.040) / 0.152;
            for (row, expected) in rows.iter().zip([1000.0, between, 1150.0]) {
                near(row.floor_px.y, expected, 0.01);
            }
        });
    }

    #[test]
    fn what_was_not_judged_has_no_plumb_line_and_what_was_not_filmed_no_picture() {
        let mut seen = Body::USUAL.seen();
        let legs = seen.with_courses(false, |courses, _| LegInPicture::of(courses));
        let [leg] = &legs[..] else { panic!("{}", legs.len()) };
        assert!(leg.side == Side::Right && leg.plumb.is_none());
        seen.tracks.size_px = (0.0, 0.0);
        assert!(seen.with_courses(true, |courses, _| LegInPicture::of(courses)).is_empty());
    }
}
