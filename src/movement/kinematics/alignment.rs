//! The knee over the foot, seen from the front.

use super::leg::{LegPose, TwoLinkLeg};
use super::pelvis::Pelvis;
use super::scale::Scale;
use super::stance::{Stance, pick};
use super::tracks::Tracks;
use crate::body::anthropometry as body;
use crate::body::{Landmark, Side};
use crate::settings;
use crate::signal;

/// Frontal alignment of the stance leg, sample by sample.
#[derive(Debug, Clone)]
pub struct Alignment {
    /// The leg.
    pub side: Side,
    /// Heading of the body, degrees from facing the lens, to the picture's
    /// right positive.
    pub yaw_deg: f64,
    /// Standard error of the yaw, degrees.
    pub yaw_se_deg: f64,
    /// Turn-out of the stance foot against the body, degrees, outward positive.
    pub toe_out_deg: f64,
    /// How wide the shoulders look for the trunk's length while standing.
    pub shoulder_to_trunk: f64,
    /// The person faces the camera (their left is at the picture's right).
    pub facing: bool,
    /// Knee from the vertical plane through ankle and second toe, metres,
    /// medial positive.
    pub knee_offset_m: Vec<f64>,
    /// Frontal plane projection angle in the picture, degrees, inward positive.
    pub fppa_picture_deg: Vec<f64>,
    /// The same in the body's own frontal plane, degrees.
    pub fppa_deg: Vec<f64>,
    /// Knee flexion from the pelvis height, degrees.
    pub knee_flexion_deg: Vec<f64>,
    /// The two-link leg, sample by sample.
    pub(super) leg: Vec<LegPose>,
    /// Where the stance foot's axis passes the ankle, metres right of the picture's
    /// middle, and where it points, radians toward the picture's right.
    pub(super) foot_axis_m: f64,
    /// See `foot_axis_m`.
    pub(super) foot_heading_rad: f64,
}

impl Alignment {
    /// Measures it. `loaded` are the spans of samples in which the leg carries
    /// the body, one a rep.
    pub fn measure(
        tracks: &Tracks,
        stance: &Stance,
        scale: &Scale,
        pelvis: &Pelvis,
        loaded: &[std::ops::Range<usize>],
    ) -> Self {
        let leg = TwoLinkLeg::fit(tracks, stance, scale, &pelvis.height_m);
        let poses: Vec<LegPose> = pelvis.height_m.iter().map(|h| leg.at_height(*h)).collect();
        let medial = stance.medial();
        let width_px = tracks.size_px.0;
        let heading = Heading::find(tracks, stance, scale, &poses, loaded);
        let (sin, cos) = heading.foot_rad.sin_cos();
        let smooth_u = |l| tracks.smooth(tracks.u_px(l, stance.side));
        let smooth_v = |l| tracks.smooth(tracks.v_px(l, stance.side));
        let (knee_u, knee_v) = (smooth_u(Landmark::Knee), smooth_v(Landmark::Knee));
        let (hip_u, hip_v) = (smooth_u(Landmark::Hip), smooth_v(Landmark::Hip));

        let knee_offset_m = (0..tracks.count)
            .map(|i| {
                let forward_m = poses[i].knee_forward_m;
                let across_m = scale.across_m(knee_u[i], width_px, forward_m) - heading.ankle_m;
                medial * (across_m * cos - forward_m * sin)
            })
            .collect();
        let fppa_picture_deg: Vec<f64> = (0..tracks.count)
            .map(|i| {
                frontal_plane_projection_angle_deg(
                    (medial * hip_u[i], -hip_v[i]),
                    (medial * knee_u[i], -knee_v[i]),
                    (medial * stance.ankle_px.0, -stance.ankle_px.1),
                )
            })
            .collect();
        let fppa_deg = fppa_picture_deg
            .iter()
            .zip(&poses)
            .map(|(seen, pose)| {
                let (s, t) = (pose.shank_tilt_rad, pose.thigh_tilt_rad);
                seen - yaw_error_deg(s, t, medial * heading.yaw_rad)
            })
            .collect();
        let (shoulder_to_trunk, facing) = breadth(tracks, stance);
        Self {
            side: stance.side,
            yaw_deg: heading.yaw_rad.to_degrees(),
            yaw_se_deg: heading.yaw_se_rad.to_degrees(),
            toe_out_deg: medial * (heading.yaw_rad - heading.foot_rad).to_degrees(),
            shoulder_to_trunk,
            facing,
            knee_offset_m,
            fppa_picture_deg,
            fppa_deg,
            knee_flexion_deg: poses.iter().map(LegPose::knee_flexion_deg).collect(),
            leg: poses,
            foot_axis_m: heading.ankle_m,
            foot_heading_rad: heading.foot_rad,
        }
    }
}

/// Frontal plane projection angle, degrees: 0 for a straight leg, positive
/// when the knee is medial of the line hip–ankle. Points are (medial, up) in
/// any one unit. Definition [Willson2006], sign as [Munro2012].
pub fn frontal_plane_projection_angle_deg(
    hip: (f64, f64),
    knee: (f64, f64),
    ankle: (f64, f64),
) -> f64 {
    let thigh = (knee.0 - hip.0).atan2(hip.1 - knee.1);
    let shank = (knee.0 - ankle.0).atan2(knee.1 - ankle.1);
    (thigh + shank).to_degrees()
}

/// Degrees by which a straight leg seems to bend inward when it is turned by
/// `yaw_rad` toward medial, with shank and thigh tilted in their own plane.
/// Derived for a distant camera: atan(tan s·sin ψ) + atan(tan t·sin ψ).
pub fn yaw_error_deg(shank_tilt_rad: f64, thigh_tilt_rad: f64, yaw_rad: f64) -> f64 {
    let part = |tilt: f64| (tilt.tan() * yaw_rad.sin()).atan();
    (part(shank_tilt_rad) + part(thigh_tilt_rad.min(1.5))).to_degrees()
}

/// Where foot and body point, radians toward the picture's right, and where
/// the foot's axis passes the ankle, metres across.
struct Heading {
    foot_rad: f64,
    ankle_m: f64,
    yaw_rad: f64,
    yaw_se_rad: f64,
}

impl Heading {
    fn find(
        tracks: &Tracks,
        stance: &Stance,
        scale: &Scale,
        poses: &[LegPose],
        loaded: &[std::ops::Range<usize>],
    ) -> Self {
        let medial = stance.medial();
        // The foot is best seen when the knee is deep and its toes are free of it.
        let deep: Vec<usize> = loaded
            .iter()
            .cloned()
            .flatten()
            .filter(|i| poses[*i].knee_flexion_deg() > settings::DEEP_FLEXION_DEG)
            .collect();
        let axis = foot_axis(tracks, stance, scale, &deep);
        let path = trunk_path(tracks, stance, scale, poses, loaded);

        // Three things are known of two angles: the foot as seen, the path of
        // the leaning trunk, and how far people turn their feet out. Each is weighed by its
        // own error.
        let degrees = |(mean, se): (f64, f64)| (mean.to_radians(), se.to_radians());
        let turn_out = degrees(body::TOE_OUT_DEG);
        let seen_se = settings::FOOT_AXIS_SE_DEG.to_radians();
        let path_se = settings::TRUNK_PATH_SE_DEG.to_radians();
        let seen = axis.slope.atan();
        let by_foot = (seen + medial * turn_out.0, seen_se.hypot(turn_out.1));
        let (yaw_rad, yaw_se_rad) = match path {
            Some(path) => {
                let (mean, se) = weighed(by_foot, (path, path_se));
                // Two cues that disagree are less sure than either claims.
                (mean, se.max((by_foot.0 - path).abs() / 2.0))
            }
            None => by_foot,
        };
        let foot_rad = match path {
            Some(path) => {
                weighed((seen, seen_se), (path - medial * turn_out.0, path_se.hypot(turn_out.1))).0
            }
            None => seen,
        };
        Self { foot_rad, ankle_m: axis.intercept, yaw_rad, yaw_se_rad }
    }
}

/// Mean of two estimates weighed by their variances, with its standard error.
fn weighed(a: (f64, f64), b: (f64, f64)) -> (f64, f64) {
    let (wa, wb) = (a.1.powi(-2), b.1.powi(-2));
    ((wa * a.0 + wb * b.0) / (wa + wb), (wa + wb).sqrt().recip())
}

/// The foot's axis seen from above: across on forward position, a line through
/// heel, ankle and second toe. The network puts the ankle a little outward and
/// the heel a little inward of it; together they are nearer to the axis than
/// either.
fn foot_axis(tracks: &Tracks, stance: &Stance, scale: &Scale, deep: &[usize]) -> signal::Line {
    let stature_m = scale.stature_m;
    let big_toe_m = stance.medial() * body::BIG_TOE_TO_SECOND * stature_m;
    let points = [
        (Landmark::Heel, -body::HEEL_TO_ANKLE * stature_m, 0.0),
        (Landmark::Ankle, 0.0, 0.0),
        (Landmark::FootIndex, body::ANKLE_TO_TOE * stature_m, big_toe_m),
    ];
    let forward: Vec<f64> = points.iter().map(|(_, z, _)| *z).collect();
    let across: Vec<f64> = points
        .iter()
        .map(|(landmark, z, aside)| {
            let u = signal::median(&pick(tracks.u_px(*landmark, stance.side), deep));
            let u = u.unwrap_or(stance.ankle_px.0);
            scale.across_m(u, tracks.size_px.0, *z) - aside
        })
        .collect();
    signal::line_fit(&forward, &across).unwrap_or(signal::Line {
        slope: 0.0,
        intercept: across[1],
        slope_se: 0.0,
    })
}

/// Before the seat is left the trunk leans forward over a pelvis that rests, and after
/// contact it comes back: the shoulders travel some 0.3 m in the body's sagittal plane,
/// and where that goes in the picture is the body's heading. How far forward they are
/// follows from how far they sink, with a trunk of constant length. Median of the
/// slopes of sideways on forward position; the pelvis path is not used, because the
/// pelvis shifts sideways over the foot as it rises.
fn trunk_path(
    tracks: &Tracks,
    stance: &Stance,
    scale: &Scale,
    poses: &[LegPose],
    loaded: &[std::ops::Range<usize>],
) -> Option<f64> {
    let (hips, shoulders) = (tracks.mid_v_px(Landmark::Hip), tracks.mid_v_px(Landmark::Shoulder));
    let trunk_m = (stance.levels(&hips).0 - stance.levels(&shoulders).0) * scale.m_per_px;
    let across_px = tracks.mid_u_px(Landmark::Shoulder);
    let lean = tracks.samples(settings::TRUNK_LEAN_S);
    let spans = loaded.iter().flat_map(|rep| {
        [rep.start.saturating_sub(lean)..rep.start, rep.end..(rep.end + lean).min(tracks.count)]
    });
    let slopes: Vec<f64> = spans
        .filter_map(|span| {
            let rows = &shoulders[span.clone()];
            // The highest but for outliers (design choice).
            let upright_px = signal::percentile(rows, 5.0)?;
            let forward_m: Vec<f64> = rows
                .iter()
                .map(|v| {
                    let sunk_m = (v - upright_px) * scale.m_per_px;
                    let height_m = (trunk_m - sunk_m).clamp(0.0, trunk_m);
                    (trunk_m * trunk_m - height_m * height_m).sqrt()
                })
                .collect();
            let reach = forward_m.iter().fold(0.0f64, |m, z| m.max(*z));
            let across_m: Vec<f64> = span
                .zip(&forward_m)
                .map(|(i, z)| {
                    let nearer_m = poses[i].hip_forward_m + z;
                    scale.across_m(across_px[i], tracks.size_px.0, nearer_m)
                })
                .collect();
            signal::line_fit(&forward_m, &across_m)
                .filter(|_| reach > settings::MIN_TRUNK_PATH_M)
                .map(|line| line.slope)
        })
        .collect();
    signal::median(&slopes).map(f64::atan)
}

/// Shoulder width over trunk length while standing (nine tenths up, design choice), and whether
/// the person's left is at the picture's right.
fn breadth(tracks: &Tracks, stance: &Stance) -> (f64, bool) {
    let share = stance.share();
    let standing: Vec<usize> = (0..tracks.count).filter(|i| share[*i] > 0.9).collect();
    let typical = |s: &[f64]| signal::median(&pick(s, &standing)).unwrap_or(0.0);
    let side_u = |side: Side| typical(tracks.u_px(Landmark::Shoulder, side));
    let width = side_u(Side::Left) - side_u(Side::Right);
    let trunk =
        typical(&tracks.mid_v_px(Landmark::Hip)) - typical(&tracks.mid_v_px(Landmark::Shoulder));
    (width.abs() / trunk.max(1.0), width > 0.0)
}

#[cfg(test)]
mod tests {
    use nalgebra::Vector2;

    use super::super::made::{Body, RATE_HZ, SHOULDERS_M, Seen, loaded, near};
    use super::*;

    /// Check values derived from the definition ([Willson2006] lines, medial
    /// positive as [Munro2012]).
    #[test]
    fn fppa_check_values() {
        let fppa = frontal_plane_projection_angle_deg;
        for (hip, knee, expected) in [
            ((0.0, 0.84), (0.05, 0.42), 13.578),
            ((0.0, 0.84), (-0.05, 0.42), -13.578),
            ((0.0, 0.84), (0.02, 0.42), 5.453),
            ((0.0, 0.84), (0.01, 0.42), 2.728),
            ((0.0, 0.84), (0.0, 0.42), 0.0),
            ((-0.02, 0.82), (0.03, 0.42), 11.211),
        ] {
            assert!((fppa(hip, knee, (0.0, 0.0)) - expected).abs() < 1e-3);
        }
    }

    /// Derived table of false inward angles by yaw, compatible with
    /// [Englander2019].
    #[test]
    fn yaw_table() {
        for (s, t, yaw, expected) in [
            (10.0f64, 20.0f64, 5.0f64, 2.70),
            (20.0, 40.0, 5.0, 6.00),
            (20.0, 70.0, 5.0, 15.28),
            (15.0, 60.0, 10.0, 19.40),
            (20.0, 70.0, 15.0, 40.80),
        ] {
            let found = yaw_error_deg(s.to_radians(), t.to_radians(), yaw.to_radians());
            assert!((found - expected).abs() < 0.01, "{s} {t} {yaw}: {found}");
        }
    }

    /// Camera 60 m away: what is derived for a distant camera holds to the digits shown.
    const AWAY: Body = Body { distance_m: 60.0, toe_out_deg: 7.0, lean_deg: 30.0, ..Body::USUAL };

    fn aligned(body: &Body) -> (Alignment, Seen) {
        let seen = body.seen();
        let pelvis = Pelvis::measure(&seen.tracks, &seen.stance, &seen.scale);
        let alignment =
            Alignment::measure(&seen.tracks, &seen.stance, &seen.scale, &pelvis, &[loaded()]);
        (alignment, seen)
    }

    /// A foot turned out by the usual 7 degrees and a trunk that leans straight ahead agree.
    /// Errors by hand: foot and turn-out √(5² + 6²) = 7.8, with the trunk's 4 degrees 3.56.
    #[test]
    fn foot_and_trunk_tell_the_heading() {
        for (side, yaw_deg) in [(Side::Left, 10.0), (Side::Right, 10.0), (Side::Right, -6.0)] {
            let (a, _) = aligned(&Body { side, yaw_deg, ..AWAY });
            assert_eq!((a.side, a.facing), (side, true));
            near(a.yaw_deg, yaw_deg, 0.5);
            near(a.toe_out_deg, 7.0, 0.7);
            near(a.yaw_se_deg, 3.56, 0.005);
        }
        // So near that depth counts.
        for (side, yaw_deg, right_m) in [(Side::Left, 8.0, -0.3), (Side::Right, 8.0, 0.3)] {
            let (a, _) = aligned(&Body { side, yaw_deg, right_m, distance_m: 2.5, ..AWAY });
            near(a.yaw_deg, yaw_deg, 4.0);
        }
    }

    /// Foot 20 degrees further out than usual, the trunk straight ahead: by the weights 1/61
    /// and 1/16 the heading is 20·16/77 outward, by 1/25 and 1/52 the foot's 27 − 20·25/77; and
    /// half of what they disagree by is the error.
    #[test]
    fn foot_and_trunk_that_disagree() {
        for side in [Side::Left, Side::Right] {
            let (a, _) = aligned(&Body { side, toe_out_deg: 27.0, ..AWAY });
            let outward_deg = -side.medial() * a.yaw_deg;
            near(outward_deg, 4.16, 0.6);
            // The big toe of a foot turned that far lies further back too.
            near(a.toe_out_deg, 20.51 - 4.16, 1.2);
            near(a.yaw_se_deg, 10.0, 1.2);
        }
    }

    /// Without a lean the foot alone tells; the shoulders have to go 0.12 m forward.
    #[test]
    fn a_trunk_that_hardly_leans_tells_no_heading() {
        let (a, _) = aligned(&Body { yaw_deg: 5.0, toe_out_deg: 0.0, lean_deg: 0.0, ..AWAY });
        near(a.yaw_deg, 5.0 + 7.0, 0.3);
        near(a.toe_out_deg, 7.0, 1e-9);
        near(a.yaw_se_deg, 7.81, 0.005);
        let limit_deg = (0.12 / AWAY.trunk_m()).asin().to_degrees();
        for (lean_deg, se_deg) in [(limit_deg - 1.0, 7.81), (limit_deg + 1.0, 3.56)] {
            near(aligned(&Body { lean_deg, ..AWAY }).0.yaw_se_deg, se_deg, 0.2);
        }
    }

    /// The knee from the plane of the foot, by where it truly is.
    #[test]
    fn the_knee_over_the_foot() {
        for (side, knee_in_m, yaw_deg) in [
            (Side::Left, 0.04, 0.0),
            (Side::Right, 0.04, 0.0),
            (Side::Right, -0.03, 0.0),
            (Side::Left, 0.04, 8.0),
            (Side::Right, 0.04, 8.0),
        ] {
            for (distance_m, budget_m) in [(60.0, 0.007), (3.0, 0.012)] {
                let body = Body { side, knee_in_m, yaw_deg, distance_m, ..AWAY };
                let (a, _) = aligned(&body);
                let foot_rad = (yaw_deg - side.medial() * body.toe_out_deg).to_radians();
                for i in [100, 115, 130, 180, 260] {
                    let knee = body.point_m(Landmark::Knee, side, i as f64 / RATE_HZ);
                    let from_plane_m = knee.x * foot_rad.cos() - knee.z * foot_rad.sin();
                    near(a.knee_offset_m[i], side.medial() * from_plane_m, budget_m);
                }
            }
        }
    }

    /// Where the knee is bent enough for the toes to be free of it, and nowhere else.
    #[test]
    fn the_foot_is_read_where_the_knee_is_deep() {
        let seen = AWAY.seen();
        let pelvis = Pelvis::measure(&seen.tracks, &seen.stance, &seen.scale);
        let mut turned = seen.tracks.clone();
        let toes = Landmark::FootIndex.at(AWAY.side);
        let bent_deg = |i: usize| {
            let (shank, thigh) = AWAY.tilts_rad(i as f64 / RATE_HZ);
            (shank + thigh).to_degrees()
        };
        for i in (0..turned.count).filter(|i| bent_deg(*i) < 46.0 || !loaded().contains(i)) {
            turned.u_px[toes][i] += 4.0;
        }
        let with = |tracks: &Tracks| {
            Alignment::measure(tracks, &seen.stance, &seen.scale, &pelvis, &[loaded()])
        };
        assert_eq!(with(&turned).toe_out_deg, with(&seen.tracks).toe_out_deg);
        for i in loaded() {
            turned.u_px[toes][i] = seen.tracks.u_px[toes][i];
            if bent_deg(i) > 55.0 {
                turned.u_px[toes][i] += 4.0;
            }
        }
        assert_ne!(with(&turned).toe_out_deg, with(&seen.tracks).toe_out_deg);
    }

    /// In the picture the angle at the knee between the lines to hip and ankle, less 180
    /// degrees; in the body's own frontal plane that without what the turn makes of it: a
    /// straight leg stays straight.
    #[test]
    fn the_angle_in_the_picture_and_in_the_frontal_plane() {
        for (side, yaw_deg, knee_in_m) in [
            (Side::Left, 0.0, 0.03),
            (Side::Right, 0.0, 0.03),
            (Side::Left, 10.0, 0.0),
            (Side::Right, 10.0, 0.0),
            (Side::Right, -10.0, 0.0),
        ] {
            let body = Body { side, yaw_deg, knee_in_m, ..AWAY };
            let (a, _) = aligned(&body);
            for i in [105, 115, 125, 135, 255] {
                let time_s = i as f64 / RATE_HZ;
                let at = |l| body.picture_px(body.point_m(l, side, time_s));
                let (hip, knee, ankle) =
                    (at(Landmark::Hip), at(Landmark::Knee), at(Landmark::Ankle));
                let (up, down): (Vector2<f64>, Vector2<f64>) = (hip - knee, ankle - knee);
                let beside = up.x * down.y - up.y * down.x;
                let bent_deg = 180.0 - up.angle(&down).to_degrees();
                let inward_deg = side.medial() * bent_deg * beside.signum();
                near(a.fppa_picture_deg[i], -inward_deg, 0.4);
                let turned_deg = {
                    let (shank, thigh) = body.tilts_rad(time_s);
                    let sin = (side.medial() * yaw_deg).to_radians().sin();
                    ((shank.tan() * sin).atan() + (thigh.tan() * sin).atan()).to_degrees()
                };
                // The tilts are those of the leg as fitted, known to some 3 degrees.
                let budget_deg = if yaw_deg == 0.0 { 0.5 } else { 4.0 };
                near(a.fppa_deg[i], -inward_deg - turned_deg, budget_deg);
            }
        }
    }

    /// Flexion is the sum of both tilts.
    #[test]
    fn flexion_by_the_height_of_the_pelvis() {
        let body = Body { fold_m: 0.02, lean_deg: 0.0, ..AWAY };
        let (a, _) = aligned(&body);
        for i in (0..Body::count()).step_by(15) {
            let (shank, thigh) = body.tilts_rad(i as f64 / RATE_HZ);
            near(a.knee_flexion_deg[i], (shank + thigh).to_degrees(), 4.0);
        }
    }

    /// Turned by ψ the shoulders look as wide as their breadth times cos ψ; somebody whose
    /// left is at the picture's left is seen from behind.
    #[test]
    fn breadth_and_side_of_the_view() {
        for yaw_deg in [0.0f64, 30.0] {
            let body = Body { yaw_deg, ..AWAY };
            let (a, seen) = aligned(&body);
            let expected = SHOULDERS_M * yaw_deg.to_radians().cos() / body.trunk_m();
            near(a.shoulder_to_trunk, expected, 0.01);
            let mut behind = seen.tracks.clone();
            let [left, right] = [Side::Left, Side::Right].map(|s| Landmark::Shoulder.at(s));
            behind.u_px.swap(left, right);
            let (breadth, facing) = breadth(&behind, &seen.stance);
            near(breadth, expected, 0.01);
            assert!(a.facing && !facing);
        }
        // How wide the shoulders look while standing, whatever they do before.
        let mut seen = AWAY.seen();
        let upright = breadth(&seen.tracks, &seen.stance);
        let shoulder = Landmark::Shoulder.at(Side::Left);
        for i in (0..Body::count()).filter(|i| seen.stance.share()[*i] < 0.85) {
            seen.tracks.u_px[shoulder][i] += 50.0;
            seen.tracks.v_px[shoulder][i] -= 5.0;
        }
        assert_eq!(breadth(&seen.tracks, &seen.stance), upright);
    }

    /// By hand: weights 1 and 1/4.
    #[test]
    fn the_mean_of_two_by_their_errors() {
        let (mean, se) = weighed((0.0, 1.0), (10.0, 2.0));
        near(mean, 2.0, 1e-12);
        near(se, 1.25f64.sqrt().recip(), 1e-12);
    }
}
