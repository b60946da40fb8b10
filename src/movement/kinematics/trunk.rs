//! Trunk and pelvis seen from the front.

use super::stance::Stance;
use super::tracks::Tracks;
use crate::body::Landmark;

/// Sideways attitude of trunk and pelvis, sample by sample.
#[derive(Debug, Clone)]
pub struct Trunk {
    /// Mid-hip to mid-shoulder from vertical, degrees, toward the stance leg
    /// positive.
    pub lateral_lean_deg: Vec<f64>,
    /// Line of the hips from horizontal, degrees, free side lower positive.
    pub pelvic_drop_deg: Vec<f64>,
}

impl Trunk {
    /// Measures both. A trunk that leans forward seems to lean sideways when the body is
    /// turned by `yaw_deg` (to the picture's right positive): that part is taken off.
    pub fn measure(
        tracks: &Tracks,
        stance: &Stance,
        forward_lean_deg: &[f64],
        yaw_deg: f64,
    ) -> Self {
        let smooth = |s: Vec<f64>| tracks.smooth(&s);
        let (hip_u, hip_v) =
            (smooth(tracks.mid_u_px(Landmark::Hip)), smooth(tracks.mid_v_px(Landmark::Hip)));
        let (top_u, top_v) = (
            smooth(tracks.mid_u_px(Landmark::Shoulder)),
            smooth(tracks.mid_v_px(Landmark::Shoulder)),
        );
        let medial = stance.medial();
        let lateral_lean_deg = (0..tracks.count)
            .map(|i| {
                let tall = (hip_v[i] - top_v[i]).max(1.0);
                let forward = tall * forward_lean_deg[i].clamp(0.0, 60.0).to_radians().tan();
                let aside = -medial * (top_u[i] - hip_u[i] - forward * yaw_deg.to_radians().sin());
                aside.atan2(tall).to_degrees()
            })
            .collect();
        let hip = |side| {
            (
                smooth(tracks.u_px(Landmark::Hip, side).to_vec()),
                smooth(tracks.v_px(Landmark::Hip, side).to_vec()),
            )
        };
        let (stance_u, stance_v) = hip(stance.side);
        let (free_u, free_v) = hip(stance.side.opposite());
        let pelvic_drop_deg = (0..tracks.count)
            .map(|i| {
                let across = (free_u[i] - stance_u[i]).abs().max(1.0);
                (free_v[i] - stance_v[i]).atan2(across).to_degrees()
            })
            .collect();
        Self { lateral_lean_deg, pelvic_drop_deg }
    }
}

#[cfg(test)]
mod tests {
    use super::super::made::{Body, HIPS_M, near};
    use super::*;
    use crate::body::Side;

    /// Half-way up, standing and seated, of each leg: the lean toward the working leg that the
    /// body has, and a free hip lower by so much over the breadth of the hips.
    #[test]
    fn leans_and_drops_of_either_leg() {
        for side in [Side::Left, Side::Right] {
            for (aside_deg, drop_m) in [(0.0, 0.0), (9.0, 0.02), (-6.0, -0.03)] {
                let body = Body { side, aside_deg, drop_m, ..Body::USUAL };
                let seen = body.seen();
                let trunk =
                    Trunk::measure(&seen.tracks, &seen.stance, &vec![0.0; seen.tracks.count], 0.0);
                for i in [40, 120, 200] {
                    near(trunk.lateral_lean_deg[i], aside_deg, 0.1);
                    near(trunk.pelvic_drop_deg[i], (drop_m / HIPS_M).atan().to_degrees(), 0.1);
                }
            }
        }
    }

    /// Turned by 12 degrees a trunk that leans 30 degrees forward and not aside seems to lean
    /// by atan(tan 30°·sin 12°) = 6.84 degrees to a distant camera, which is taken off.
    #[test]
    fn a_forward_lean_of_a_turned_body_is_no_lean_aside() {
        for (side, yaw_deg) in [(Side::Left, 12.0), (Side::Right, 12.0), (Side::Right, -12.0)] {
            let body = Body { side, yaw_deg, lean_deg: 30.0, distance_m: 60.0, ..Body::USUAL };
            let seen = body.seen();
            assert_eq!(seen.stance.side, side);
            let lean = |i: usize| body.lean_rad(i as f64 / seen.tracks.rate_hz).to_degrees();
            let forward_deg: Vec<f64> = (0..seen.tracks.count).map(lean).collect();
            let at_seat_off = 75;
            near(forward_deg[at_seat_off], 30.0, 1e-9);
            let lean = |forward_deg: &[f64], yaw_deg: f64| {
                let trunk = Trunk::measure(&seen.tracks, &seen.stance, forward_deg, yaw_deg);
                trunk.lateral_lean_deg[at_seat_off]
            };
            let seeming = -side.medial() * yaw_deg.signum() * 6.84;
            near(lean(&vec![0.0; seen.tracks.count], yaw_deg), seeming, 0.15);
            near(lean(&forward_deg, 0.0), seeming, 0.15);
            near(lean(&forward_deg, yaw_deg), 0.0, 0.15);
        }
    }
}
