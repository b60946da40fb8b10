//! Height of the pelvis above the stance ankle.

use super::scale::Scale;
use super::stance::{Stance, pick};
use super::tracks::Tracks;
use crate::settings;
use crate::signal;
use crate::skeleton::{Landmark, Side};

/// Pelvis height from two views of it, averaged.
///
/// 1. The hip points. They sink while the trunk leans forward, because the
///    network sees the fold between thigh and trunk, not the joint.
/// 2. The shoulders less a trunk of constant length. How far the trunk leans
///    is told by how much wider the shoulders look: they come nearer to the
///    camera by z = D·(1 − w₀/w), and the trunk's height is √(T² − z²).
///
/// The first errs downward and the second upward with lean. Trunk length T and
/// shoulder width w₀ come from the person's own standing.
#[derive(Debug, Clone)]
pub struct Pelvis {
    /// Height above the ankle, metres, low-passed.
    pub height_m: Vec<f64>,
    /// The same unfiltered, for what happens within a few frames.
    pub raw_height_m: Vec<f64>,
    /// Vertical velocity, metres per second, upward positive.
    pub velocity_m_s: Vec<f64>,
    /// Forward lean of the trunk from the shoulders' nearness, degrees.
    pub forward_lean_deg: Vec<f64>,
}

impl Pelvis {
    /// Measures it.
    pub fn new(tracks: &Tracks, stance: &Stance, scale: &Scale) -> Self {
        let share = stance.share();
        let standing: Vec<usize> = (0..tracks.count).filter(|i| share[*i] > 0.95).collect();
        let typical = |s: &[f64]| signal::median(&pick(s, &standing)).unwrap_or(0.0);
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

        let mut raw_height_m = Vec::with_capacity(tracks.count);
        let mut forward_lean_deg = Vec::with_capacity(tracks.count);
        for i in 0..tracks.count {
            let nearer_m = scale.distance_m * (1.0 - standing_width / smooth_width[i].max(1.0));
            let nearer_m = nearer_m.clamp(0.0, 0.9 * trunk_m.max(0.0));
            let upright_m = (trunk_m * trunk_m - nearer_m * nearer_m).max(0.0).sqrt();
            let shoulder_m = scale.above_camera_m(shoulders[i], height_px, nearer_m);
            let by_shoulders_m = shoulder_m - upright_m - ankle_m;
            let by_hips_m = (stance.ankle_px.1 - hips[i]) * scale.m_per_px;
            raw_height_m.push((by_hips_m + by_shoulders_m) / 2.0);
            forward_lean_deg.push((nearer_m / trunk_m.max(1e-6)).asin().to_degrees());
        }
        let height_m = tracks.smooth(&raw_height_m);
        let velocity_m_s = signal::derivative(&height_m, tracks.rate_hz);
        Self { height_m, raw_height_m, velocity_m_s, forward_lean_deg }
    }
}
