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
