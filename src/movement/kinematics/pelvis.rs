//! Height of the pelvis above the stance ankle.

use super::leg::TwoLinkLeg;
use super::scale::Scale;
use super::stance::Stance;
use super::tracks::Tracks;
use crate::body::{Landmark, Side};
use crate::settings;
use crate::signal;

/// Pelvis height from two views of it, averaged.
///
/// 1. The hip points, each row seen at the distance of the hip, which goes back some
///    0.3 m to the seat (from the two-link leg at that height). They sink while the
///    trunk leans forward, because the network sees the fold between thigh and trunk,
///    not the joint.
/// 2. The shoulders less a trunk of constant length, whose lean is told by how much
///    wider the shoulders look, z = D·(1 − w₀/w), √(T² − z²). That errs upward with
///    lean, and its size by a tenth, because the hip's own way back hides part of the
///    lean; so it is scaled to the way that the hip points make from seat to stand, and
///    gives the course only.
///
/// Trunk length T and shoulder width w₀ come from the person's own standing.
#[derive(Debug, Clone)]
pub struct Pelvis {
    /// Height above the ankle, metres, low-passed.
    pub height_m: Vec<f64>,
    /// Height by the hip points alone, metres, low-passed: the steadier witness of who
    /// sits and who is up, as a trunk that rights itself does not lift it.
    pub hip_height_m: Vec<f64>,
    /// `height_m` unfiltered, for what happens within a few frames.
    pub raw_height_m: Vec<f64>,
    /// Vertical velocity, metres per second, upward positive.
    pub velocity_m_s: Vec<f64>,
    /// Forward lean of the trunk from the shoulders' nearness, degrees.
    pub forward_lean_deg: Vec<f64>,
}

impl Pelvis {
    /// Hip height as a share of the way from seat to stand.
    pub fn hip_share(&self, stance: &Stance) -> Vec<f64> {
        let (top_m, seat_m) = stance.levels(&self.hip_height_m);
        let way_m = (top_m - seat_m).max(1e-6);
        self.hip_height_m.iter().map(|h| (h - seat_m) / way_m).collect()
    }

    /// Measures it.
    pub fn new(tracks: &Tracks, stance: &Stance, scale: &Scale) -> Self {
        let share = stance.share();
        let typical = |s: &[f64]| stance.levels(s).0;
        let (hips, shoulders) =
            (tracks.mid_v_px(Landmark::Hip), tracks.mid_v_px(Landmark::Shoulder));
        let width: Vec<f64> = (0..tracks.count)
            .map(|i| {
                let du = tracks.u_px(Landmark::Shoulder, Side::Left)[i]
                    - tracks.u_px(Landmark::Shoulder, Side::Right)[i];
                let dv = tracks.v_px(Landmark::Shoulder, Side::Left)[i]
                    - tracks.v_px(Landmark::Shoulder, Side::Right)[i];
                du.hypot(dv)
            })
            .collect();
        let smooth_width =
            signal::LowPass::zero_lag(&width, settings::WIDTH_CUTOFF_HZ, tracks.rate_hz);
        let standing_width = typical(&width).max(1.0);
        let trunk_m = (typical(&hips) - typical(&shoulders)) * scale.m_per_px;
        let height_px = tracks.size_px.1;
        let ankle_m = scale.above_camera_m(stance.ankle_px.1, height_px, 0.0);

        // Heights by the hips alone, first as if the hips stayed over the foot.
        let near: Vec<f64> =
            hips.iter().map(|v| scale.above_camera_m(*v, height_px, 0.0) - ankle_m).collect();
        let leg = TwoLinkLeg::expected(stance, &near);

        let mut by_hips_m = Vec::with_capacity(tracks.count);
        let mut by_shoulders_m = Vec::with_capacity(tracks.count);
        let mut forward_lean_deg = Vec::with_capacity(tracks.count);
        for i in 0..tracks.count {
            let first_back_m = leg.at_height(near[i]).hip_forward_m;
            let second_m = scale.above_camera_m(hips[i], height_px, first_back_m) - ankle_m;
            let back_m = leg.at_height(second_m).hip_forward_m;
            let above_joint_m = settings::HIP_ROW_SEATED_M * (1.0 - share[i]).clamp(0.0, 1.0);
            by_hips_m
                .push(scale.above_camera_m(hips[i], height_px, back_m) - ankle_m - above_joint_m);
            let nearer_m = scale.distance_m * (1.0 - standing_width / smooth_width[i].max(1.0));
            let nearer_m = nearer_m.clamp(0.0, 0.9 * trunk_m.max(0.0));
            let upright_m = (trunk_m * trunk_m - nearer_m * nearer_m).max(0.0).sqrt();
            let shoulder_m = scale.above_camera_m(shoulders[i], height_px, nearer_m);
            by_shoulders_m.push(shoulder_m - upright_m - ankle_m);
            let lean_m = (nearer_m - back_m).clamp(0.0, 0.98 * trunk_m.max(0.0));
            forward_lean_deg.push((lean_m / trunk_m.max(1e-6)).asin().to_degrees());
        }
        let (top_m, seat_m) = stance.levels(&by_hips_m);
        let (shoulder_top_m, shoulder_seat_m) = stance.levels(&by_shoulders_m);
        let size = (top_m - seat_m) / (shoulder_top_m - shoulder_seat_m).max(1e-6);
        let raw_height_m: Vec<f64> = by_hips_m
            .iter()
            .zip(&by_shoulders_m)
            .map(|(hip, shoulder)| (hip + top_m + size * (shoulder - shoulder_top_m)) / 2.0)
            .collect();
        let height_m = tracks.smooth(&raw_height_m);
        let velocity_m_s = signal::derivative(&height_m, tracks.rate_hz);
        let hip_height_m = tracks.smooth(&by_hips_m);
        Self { height_m, hip_height_m, raw_height_m, velocity_m_s, forward_lean_deg }
    }
}
