//! From a film: the points the measures rest on, in three dimensions, so that
//! any laboratory program can open them.

use nalgebra::Point3;

use super::alignment::Alignment;
use super::courses::Courses;
use crate::body::anthropometry as body;
use crate::body::{Landmark, Side};
use crate::record::markers::{Motion, PointCourse};
use crate::settings;
use crate::signal;

/// Points of a film, metres: X picture-right and Z toward the camera from the
/// stance ankle, Y up from the floor.
///
/// X and Y are seen; perspective is undone by the depth Z. Z is a model: of the
/// stance leg and both hips the two-link leg, of its foot the usual proportions,
/// of the shoulders their apparent width, of the rest the slow part of the
/// network's own guess. Ankle and second toe of the stance leg lie on the foot's
/// axis as found. What is hidden, or lost, is not seen.
/// `alignment` is that of the working leg, also where the view shows no knee over foot.
pub fn believed_points(courses: &Courses, alignment: &Alignment) -> Motion {
    let Courses { tracks, stance, scale, pelvis, .. } = *courses;
    let poses = &alignment.leg;
    let (hips_v, shoulders_v) =
        (tracks.mid_v_px(Landmark::Hip), tracks.mid_v_px(Landmark::Shoulder));
    let trunk_m = (stance.levels(&hips_v).0 - stance.levels(&shoulders_v).0) * scale.m_per_px;
    let (width_px, height_px) = tracks.size_px;
    let ankle_above_floor_m = body::ANKLE_HEIGHT * scale.stature_m;
    let floor_m = scale.above_camera_m(stance.ankle_px.1, height_px, 0.0) - ankle_above_floor_m;
    let ankle_m = scale.across_m(stance.ankle_px.0, width_px, 0.0);
    let across_m = |u: f64, z: f64| scale.across_m(u, width_px, z) - ankle_m;
    let toe_m = body::ANKLE_TO_TOE * scale.stature_m;
    // From the side the foot's axis is not seen, and its points stay where they were.
    let axis = (!courses.alignments.is_empty())
        .then(|| (alignment.foot_axis_m - ankle_m, alignment.foot_heading_rad.tan()));

    let mut motion = Motion::new(tracks.rate_hz, tracks.count);
    for landmark in Landmark::ALL {
        for side in [Side::Left, Side::Right] {
            let working = side == stance.side;
            let guess = signal::LowPass::zero_lag(
                tracks.network_forward_m(landmark, side),
                settings::GUESSED_DEPTH_HZ,
                tracks.rate_hz,
            );
            let forward_m = |i: usize| match landmark {
                Landmark::Hip => poses[i].hip_forward_m,
                Landmark::Shoulder => {
                    let lean = pelvis.forward_lean_deg[i].to_radians();
                    poses[i].hip_forward_m + trunk_m * lean.sin()
                }
                Landmark::Knee if working => poses[i].knee_forward_m,
                Landmark::Ankle if working => 0.0,
                Landmark::Heel if working => -body::HEEL_TO_ANKLE * scale.stature_m,
                Landmark::FootIndex if working => toe_m,
                _ => poses[i].hip_forward_m + guess[i],
            };
            let (u, v) = (tracks.u_px(landmark, side), tracks.v_px(landmark, side));
            // What the foot does moves its points about their place on the axis.
            let shift_m = match (axis, landmark) {
                (Some((across, _)), Landmark::Ankle) if working => across,
                (Some((across, slope)), Landmark::FootIndex) if working => {
                    let usual_u = signal::median(u).unwrap_or(stance.ankle_px.0);
                    across + slope * toe_m - across_m(usual_u, toe_m)
                }
                _ => 0.0,
            };
            let place_m = (0..tracks.count)
                .map(|i| {
                    let z = forward_m(i);
                    let y = scale.above_camera_m(v[i], height_px, z) - floor_m;
                    Point3::new(across_m(u[i], z) + shift_m, y, z)
                })
                .collect();
            let seen = (0..tracks.count)
                .map(|i| tracks.measured[i] && tracks.is_seen(landmark, side, i))
                .collect();
            motion.set(landmark, side, PointCourse { place_m, seen });
        }
    }
    let course = |place: &dyn Fn(usize) -> Point3<f64>| {
        let place_m = (0..tracks.count).map(place).collect();
        Some(PointCourse { place_m, seen: tracks.measured.clone() })
    };
    let hips_u = tracks.mid_u_px(Landmark::Hip);
    motion.pelvis = course(&|i| {
        let z = poses[i].hip_forward_m;
        Point3::new(across_m(hips_u[i], z), pelvis.raw_height_m[i] + ankle_above_floor_m, z)
    });
    motion.trunk_by_camera = course(&|i| {
        let above_px = stance.ankle_px.1 - (hips_v[i] + shoulders_v[i]) / 2.0;
        let y = above_px * scale.m_per_px + ankle_above_floor_m;
        Point3::new(across_m(hips_u[i], 0.0), y, 0.0)
    });
    motion
}

#[cfg(test)]
mod tests {
    use super::super::made::{Body, FOCAL_PX, RATE_HZ, Seen, near};
    use super::super::{Pelvis, Tracks};
    use super::*;

    /// The points and the courses they come from; with or without a view of knee over foot.
    fn believed(body: &Body, from_the_front: bool, change: impl Fn(&mut Tracks)) -> Motion {
        let mut tracks = Tracks::measure(&body.recording()).unwrap();
        change(&mut tracks);
        Seen::of(tracks, body.stature_m).with_courses(from_the_front, believed_points)
    }

    /// Standing, half-way and seated every point of the working leg is where it truly is, above
    /// the floor and from the ankle; those whose depth is a guess as far as that goes.
    #[test]
    fn points_are_where_they_are() {
        for side in [Side::Left, Side::Right] {
            let body = Body { side, toe_out_deg: 7.0, right_m: 0.1, ..Body::USUAL };
            let motion = believed(&body, true, |_| ());
            let floor_m = body::ANKLE_HEIGHT * body.stature_m;
            for (landmark, of, budget_m) in [
                (Landmark::Ankle, side, 0.012),
                (Landmark::Heel, side, 0.012),
                (Landmark::FootIndex, side, 0.03),
                (Landmark::Knee, side, 0.03),
                (Landmark::Hip, side, 0.03),
                (Landmark::Hip, side.opposite(), 0.03),
                (Landmark::Wrist, side, 0.04),
                (Landmark::Ankle, side.opposite(), 0.04),
            ] {
                let found = motion.get(landmark, of).unwrap();
                for i in [40, 115, 180, 370] {
                    let truth = body.point_m(landmark, of, i as f64 / RATE_HZ);
                    let p = found.place_m[i];
                    assert!(
                        (p.x - truth.x).abs() < budget_m
                            && (p.y - floor_m - truth.y).abs() < budget_m
                            && (p.z - truth.z).abs() < budget_m,
                        "{landmark:?} at {i}: {p}, not {truth}"
                    );
                }
                assert!(found.seen.iter().all(|seen| *seen));
            }
            // The middle of the hips, and of the trunk in the ankle's plane.
            for i in [40, 115, 180, 370] {
                let time_s = i as f64 / RATE_HZ;
                let middle = |l: Landmark| {
                    let [a, b] = [Side::Left, Side::Right].map(|s| body.point_m(l, s, time_s));
                    nalgebra::center(&a, &b)
                };
                let pelvis = motion.pelvis.as_ref().unwrap().place_m[i];
                let hips = middle(Landmark::Hip);
                near(pelvis.x, hips.x, 0.02);
                near(pelvis.y - floor_m, hips.y, 0.03);
                near(pelvis.z, hips.z, 0.03);
                let per_m = FOCAL_PX / body.distance_m;
                let row = |l| body.picture_px(middle(l)).y;
                let ankle = body.picture_px(Point3::origin());
                let above_m =
                    (ankle.y - (row(Landmark::Hip) + row(Landmark::Shoulder)) / 2.0) / per_m;
                let trunk = motion.trunk_by_camera.as_ref().unwrap().place_m[i];
                near(trunk.y - floor_m, above_m, 0.012);
                assert_eq!(trunk.z, 0.0);
                near(trunk.x, (body.picture_px(hips).x - ankle.x) / per_m, 0.012);
            }
        }
    }

    /// Shoulders forward of the hips by the lean that was found.
    #[test]
    fn shoulders_lean_forward() {
        let body = Body { lean_deg: 35.0, ..Body::USUAL };
        let seen = body.seen();
        let pelvis = Pelvis::measure(&seen.tracks, &seen.stance, &seen.scale);
        let motion = believed(&body, true, |_| ());
        for i in [75, 180] {
            let z = |l| motion.get(l, body.side).unwrap().place_m[i].z;
            let forward_m = body.trunk_m() * pelvis.forward_lean_deg[i].to_radians().sin();
            near(z(Landmark::Shoulder) - z(Landmark::Hip), forward_m, 0.01);
        }
    }

    /// The network's ankle is 3 cm beside the axis through heel and toe: as found, a third of
    /// that, the ankle lies on the axis. From the side no axis is seen, and it stays.
    #[test]
    fn ankle_and_toe_lie_on_the_axis_of_the_foot() {
        let body = Body { distance_m: 60.0, ..Body::USUAL };
        let aside_px = 0.03 * FOCAL_PX / body.distance_m;
        let change = |tracks: &mut Tracks| {
            tracks.u_px[Landmark::Ankle.at(body.side)].iter_mut().for_each(|u| *u += aside_px);
        };
        let at = |motion: &Motion, l| motion.get(l, body.side).unwrap().place_m[180].x;
        let (front, side) = (believed(&body, true, change), believed(&body, false, change));
        // Heel 0.07 m behind, toes 0.196 m ahead: of the line through (−0.07, 0), (0, 0.03) and
        // (0.196, 0) the value at 0 is 0.0117, at the toes 0.0064.
        let heel_m = -0.040 * body.stature_m;
        let toe_m = 0.112 * body.stature_m;
        let mean = (heel_m + toe_m) / 3.0;
        let square = heel_m * heel_m + toe_m * toe_m - 3.0 * mean * mean;
        let slope = -mean * 0.03 / square;
        let at_ankle = 0.01 - slope * mean;
        let moved = at(&front, Landmark::Ankle) - at(&side, Landmark::Ankle);
        // The picture's origin is the ankle as it was seen: 3 cm aside.
        near(moved, at_ankle - 0.03, 0.002);
        near(at(&front, Landmark::FootIndex), at_ankle + slope * toe_m - 0.03, 0.002);
        let big_toe_m = body::BIG_TOE_TO_SECOND * body.stature_m * body.side.medial();
        near(at(&side, Landmark::FootIndex), big_toe_m - 0.03, 0.002);
    }

    /// Hidden at some samples, lost at others.
    #[test]
    fn what_is_hidden_or_lost_is_not_seen() {
        let body = Body::USUAL;
        let motion = believed(&body, true, |tracks| {
            tracks.sight[Landmark::Knee.at(Side::Left)][50] = 0.1;
            tracks.measured[60] = false;
        });
        let seen = |l, side: Side, i: usize| motion.get(l, side).unwrap().seen[i];
        assert!(!seen(Landmark::Knee, Side::Left, 50) && seen(Landmark::Knee, Side::Right, 50));
        assert!(!seen(Landmark::Knee, Side::Right, 60) && seen(Landmark::Knee, Side::Right, 61));
        assert!(!motion.pelvis.as_ref().unwrap().seen[60]);
        assert!(motion.pelvis.as_ref().unwrap().seen[50]);
    }
}
