//! The stance leg in its own sagittal plane: two links, foot planted.

use super::pelvis::Pelvis;
use super::scale::Scale;
use super::stance::{Stance, pick};
use super::tracks::Tracks;
use crate::anthropometry as body;
use crate::settings;
use crate::signal;
use crate::skeleton::Landmark;

/// Shank and thigh of constant length whose forward tilts grow in a constant
/// ratio while the pelvis sinks.
///
/// One camera in front sees how high the hip is, not how far the knee comes
/// forward; with the ratio, height gives both tilts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoLinkLeg {
    /// Ankle to knee, metres.
    pub shank_m: f64,
    /// Knee to hip, metres.
    pub thigh_m: f64,
    /// Thigh tilt over shank tilt.
    pub tilt_ratio: f64,
}

/// Where the leg is at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LegPose {
    /// Forward tilt of the shank from vertical, radians.
    pub shank_tilt_rad: f64,
    /// Backward tilt of the thigh from vertical, radians.
    pub thigh_tilt_rad: f64,
    /// Knee forward of the ankle, metres.
    pub knee_forward_m: f64,
    /// Hip forward of the ankle, metres (negative: behind it).
    pub hip_forward_m: f64,
}

impl LegPose {
    /// Knee flexion, degrees; straight 0.
    pub fn knee_flexion_deg(&self) -> f64 {
        (self.shank_tilt_rad + self.thigh_tilt_rad).to_degrees()
    }
}

impl TwoLinkLeg {
    /// Lengths from the standing hip height, ratio from the clip's own knee
    /// rows where they can tell it.
    pub fn fit(tracks: &Tracks, stance: &Stance, scale: &Scale, pelvis: &Pelvis) -> Self {
        let share = stance.share();
        let standing: Vec<usize> = (0..tracks.count).filter(|i| share[*i] > 0.95).collect();
        let standing_m = signal::median(&pick(&pelvis.height_m, &standing)).unwrap_or(0.0);
        // Standing knees are a little bent; the height loses 1 − cos of half that.
        let bend = (settings::STANDING_FLEXION_DEG / 2.0).to_radians();
        let length_m = standing_m / bend.cos();
        let shank_m = length_m * body::SHANK / (body::SHANK + body::THIGH);
        let with_ratio = |tilt_ratio| Self { shank_m, thigh_m: length_m - shank_m, tilt_ratio };

        let knees = tracks.smooth(tracks.v_px(Landmark::Knee, stance.side));
        let deep: Vec<usize> =
            (0..tracks.count).filter(|i| (0.15..0.75).contains(&share[*i])).collect();
        let height_px = tracks.size_px.1;
        let ankle_m = scale.above_camera_m(stance.ankle_px.1, height_px, 0.0);
        let misfit = |ratio: f64| {
            let leg = with_ratio(ratio);
            let residuals: Vec<f64> = deep
                .iter()
                .map(|i| {
                    let pose = leg.at_height(pelvis.height_m[*i]);
                    let seen =
                        scale.above_camera_m(knees[*i], height_px, pose.knee_forward_m) - ankle_m;
                    (seen - leg.shank_m * pose.shank_tilt_rad.cos()) / settings::KNEE_ROW_SE_M
                })
                .collect();
            let prior = (ratio - settings::TILT_RATIO.0) / settings::TILT_RATIO.1;
            signal::mean(&residuals.iter().map(|r| r * r).collect::<Vec<_>>()).unwrap_or(0.0)
                + prior * prior
        };
        let ratio = (8..=30)
            .map(|k| f64::from(k) / 10.0)
            .min_by(|a, b| misfit(*a).total_cmp(&misfit(*b)))
            .unwrap_or(settings::TILT_RATIO.0);
        with_ratio(ratio)
    }

    /// The leg when the hip is `height_m` above the ankle. Above full length it
    /// is straight.
    pub fn at_height(&self, height_m: f64) -> LegPose {
        // Hip height falls steadily with tilt: bisection on the shank's.
        let thigh = |shank: f64| (self.tilt_ratio * shank).min(std::f64::consts::FRAC_PI_2 * 1.1);
        let height = |shank: f64| self.shank_m * shank.cos() + self.thigh_m * thigh(shank).cos();
        let (mut low, mut high) = (0.0, 1.2);
        for _ in 0..40 {
            let middle = (low + high) / 2.0;
            if height(middle) > height_m {
                low = middle;
            } else {
                high = middle;
            }
        }
        let (s, t) = (low, thigh(low));
        let knee_forward_m = self.shank_m * s.sin();
        LegPose {
            shank_tilt_rad: s,
            thigh_tilt_rad: t,
            knee_forward_m,
            hip_forward_m: knee_forward_m - self.thigh_m * t.sin(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn height_and_tilt_agree_with_trigonometry() {
        let leg = TwoLinkLeg { shank_m: 0.43, thigh_m: 0.42, tilt_ratio: 2.0 };
        let (s, t) = (20f64.to_radians(), 40f64.to_radians());
        let pose = leg.at_height(0.43 * s.cos() + 0.42 * t.cos());
        assert!((pose.knee_flexion_deg() - 60.0).abs() < 1e-6);
        assert!((pose.knee_forward_m - 0.43 * s.sin()).abs() < 1e-9);
        assert!(leg.at_height(2.0).knee_flexion_deg() < 1e-6, "straight beyond its length");
    }
}
