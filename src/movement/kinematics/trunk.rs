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
    pub fn new(tracks: &Tracks, stance: &Stance, forward_lean_deg: &[f64], yaw_deg: f64) -> Self {
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
