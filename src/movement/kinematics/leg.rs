//! The stance leg in its own sagittal plane: two links, foot planted.

use super::scale::Scale;
use super::stance::Stance;
use super::tracks::Tracks;
use crate::body::Landmark;
use crate::body::anthropometry as body;
use crate::settings;
use crate::signal;

/// Cosine of the thigh's backward tilt when seated: from a seat so high that the thigh slopes
/// down by half a right angle to a stool so low that the hip is below the knee, 46 to 102
/// degrees (design choice: further out the height is wrong, not the seat).
const SEATED_THIGH_COS: (f64, f64) = (-0.2, 0.7);
/// The knee's rows are compared between these shares of the way: standing all legs are straight,
/// and near the seat the seat has its say as well as the leg (design choice).
const FITTED_SHARE: std::ops::Range<f64> = 0.05..0.75;
/// Ratios of the tilts that are tried, fifths: two spreads of [`settings::TILT_RATIO`] below its
/// mean, more above, where legs are less alike; half a spread apart (design choice).
const RATIOS_FIFTHS: std::ops::RangeInclusive<u32> = 4..=15;
/// Tilts of the seated shank that are tried, steps of 3 degrees: two spreads of
/// [`settings::SEATED_SHANK_DEG`] below its mean, three above (design choice).
const SEATED_STEPS: std::ops::RangeInclusive<u32> = 1..=10;
/// The most that a thigh tilts, radians: 109 degrees, beyond [`SEATED_THIGH_COS`].
const MOST_THIGH_RAD: f64 = 1.9;
/// Halvings of that: 2⁻³² of it is far below what any picture tells (derived).
const HALVINGS: usize = 32;
/// The seat has its say in the last tenth before it at least, however high it is: so that the
/// shank's tilt is continuous (design choice).
const LEAST_FREE: f64 = 0.9;

/// Shank and thigh of constant length. Off the seat their forward tilts grow in a
/// constant ratio while the pelvis sinks; toward the seat the shank comes back to the
/// tilt it has when seated, because the foot stays where it was put before the rise.
///
/// One camera in front sees how high the hip is, not how far the knee comes
/// forward; with this course, height gives both tilts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoLinkLeg {
    /// Ankle to knee, metres.
    pub shank_m: f64,
    /// Knee to hip, metres.
    pub thigh_m: f64,
    /// Thigh tilt over shank tilt, off the seat.
    pub tilt_ratio: f64,
    /// Forward tilt of the shank when seated, radians.
    pub seated_shank_rad: f64,
    /// Backward tilt of the thigh when seated, radians.
    pub seated_thigh_rad: f64,
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
    /// Lengths from the standing hip height above the ankle, tilts as expected before
    /// looking at the knee. `heights_m` one a sample.
    pub fn expected(stance: &Stance, heights_m: &[f64]) -> Self {
        let (standing_m, seated_m) = stance.levels(heights_m);
        Self::with(standing_m, seated_m, settings::TILT_RATIO.0, settings::SEATED_SHANK_DEG.0)
    }

    fn with(standing_m: f64, seated_m: f64, tilt_ratio: f64, seated_shank_deg: f64) -> Self {
        // Standing knees are a little bent; the height loses 1 − cos of half that.
        let bend = (settings::STANDING_FLEXION_DEG / 2.0).to_radians();
        let length_m = standing_m / bend.cos();
        let shank_m = length_m * body::SHANK / (body::SHANK + body::THIGH);
        let thigh_m = length_m - shank_m;
        let seated_shank_rad = seated_shank_deg.to_radians();
        let cos = (seated_m - shank_m * seated_shank_rad.cos()) / thigh_m.max(1e-6);
        let seated_thigh_rad = cos.clamp(SEATED_THIGH_COS.0, SEATED_THIGH_COS.1).acos();
        Self { shank_m, thigh_m, tilt_ratio, seated_shank_rad, seated_thigh_rad }
    }

    /// The expected leg, its tilts fitted to the clip's own knee rows as far as they
    /// can tell them. `heights_m` of the pelvis, one a sample.
    pub fn fit(tracks: &Tracks, stance: &Stance, scale: &Scale, heights_m: &[f64]) -> Self {
        let (standing_m, seated_m) = stance.levels(heights_m);
        let with = |ratio, seated_deg| Self::with(standing_m, seated_m, ratio, seated_deg);
        let share = stance.share();

        let knees = tracks.smooth(tracks.v_px(Landmark::Knee, stance.side));
        let deep: Vec<usize> =
            (0..tracks.count).filter(|i| FITTED_SHARE.contains(&share[*i])).collect();
        // The course is smooth: more samples tell no more of it.
        let every = deep.len() / settings::LEG_FIT_SAMPLES + 1;
        let deep: Vec<usize> = deep.into_iter().step_by(every).collect();
        let height_px = tracks.size_px.1;
        let ankle_m = scale.above_camera_m(stance.ankle_px.1, height_px, 0.0);
        let misfit = |leg: &Self| {
            let residuals: Vec<f64> = deep
                .iter()
                .map(|i| {
                    let pose = leg.at_height(heights_m[*i]);
                    let seen =
                        scale.above_camera_m(knees[*i], height_px, pose.knee_forward_m) - ankle_m;
                    (seen - leg.shank_m * pose.shank_tilt_rad.cos()) / settings::KNEE_ROW_SE_M
                })
                .collect();
            let beside = |value: f64, (mean, spread): (f64, f64)| ((value - mean) / spread).powi(2);
            // One row of the knee errs the same way throughout: it counts once.
            signal::mean(&residuals.iter().map(|r| r * r).collect::<Vec<_>>()).unwrap_or(0.0)
                + beside(leg.tilt_ratio, settings::TILT_RATIO)
                + beside(leg.seated_shank_rad.to_degrees(), settings::SEATED_SHANK_DEG)
        };
        let ratios = RATIOS_FIFTHS.map(|k| f64::from(k) / 5.0);
        ratios
            .flat_map(|ratio| SEATED_STEPS.map(move |k| (ratio, 3.0 * f64::from(k))))
            .map(|(ratio, seated)| with(ratio, seated))
            .min_by(|a, b| misfit(a).total_cmp(&misfit(b)))
            .unwrap_or_else(|| with(settings::TILT_RATIO.0, settings::SEATED_SHANK_DEG.0))
    }

    /// The leg when the hip is `height_m` above the ankle. Above full length it
    /// is straight.
    pub fn at_height(&self, height_m: f64) -> LegPose {
        // Hip height falls steadily as the thigh tilts: bisection on that.
        let height =
            |thigh: f64| self.shank_m * self.shank_rad(thigh).cos() + self.thigh_m * thigh.cos();
        let (mut low, mut high) = (0.0, MOST_THIGH_RAD);
        for _ in 0..HALVINGS {
            let middle = (low + high) / 2.0;
            if height(middle) > height_m {
                low = middle;
            } else {
                high = middle;
            }
        }
        let (s, t) = (self.shank_rad(low), low);
        let knee_forward_m = self.shank_m * s.sin();
        LegPose {
            shank_tilt_rad: s,
            thigh_tilt_rad: t,
            knee_forward_m,
            hip_forward_m: knee_forward_m - self.thigh_m * t.sin(),
        }
    }

    /// Tilt of the shank that goes with one of the thigh.
    fn shank_rad(&self, thigh: f64) -> f64 {
        let free = thigh / self.tilt_ratio;
        let from = settings::FREE_THIGH_DEG.to_radians().min(LEAST_FREE * self.seated_thigh_rad);
        let x = ((thigh - from) / (self.seated_thigh_rad - from)).clamp(0.0, 1.0);
        let near_seat = x * x * (3.0 - 2.0 * x);
        free + near_seat * (self.seated_shank_rad - free)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn height_and_tilt_agree_with_trigonometry() {
        let leg = TwoLinkLeg {
            shank_m: 0.43,
            thigh_m: 0.42,
            tilt_ratio: 2.0,
            seated_shank_rad: 0.25,
            seated_thigh_rad: 1.4,
        };
        let (s, t) = (15f64.to_radians(), 30f64.to_radians());
        let pose = leg.at_height(0.43 * s.cos() + 0.42 * t.cos());
        assert!((pose.knee_flexion_deg() - 45.0).abs() < 1e-6);
        assert!((pose.knee_forward_m - 0.43 * s.sin()).abs() < 1e-9);
        let seated = leg.at_height(0.43 * 0.25f64.cos() + 0.42 * 1.4f64.cos());
        assert!((seated.shank_tilt_rad - 0.25).abs() < 1e-6);
        assert!(leg.at_height(2.0).knee_flexion_deg() < 1e-6, "straight beyond its length");
    }

    use super::super::made::{self, Body, RATE_HZ, near};

    /// 0.246 and 0.245 of the stature [Winter2009] make the standing height of somebody whose
    /// knee is bent by 5 degrees, half of it in each part; the thigh's tilt on the seat closes
    /// the triangle.
    #[test]
    fn lengths_and_tilts_before_looking_at_the_knee() {
        let stance = |count: usize| {
            made::stance(
                (0..count).map(|i| if i < count / 2 { 0.0 } else { 100.0 }).collect(),
                0.0,
                100.0,
            )
        };
        let standing_m = (0.246 + 0.245) * 1.8 * 2.5f64.to_radians().cos();
        let thigh_rad = 75f64.to_radians();
        let seated_m = 1.8 * (0.246 * 14f64.to_radians().cos() + 0.245 * thigh_rad.cos());
        let leg = TwoLinkLeg::expected(&stance(4), &[seated_m, seated_m, standing_m, standing_m]);
        near(leg.shank_m, 0.246 * 1.8, 1e-9);
        near(leg.thigh_m, 0.245 * 1.8, 1e-9);
        near(leg.seated_thigh_rad, thigh_rad, 1e-9);
        near(leg.seated_shank_rad.to_degrees(), 14.0, 1e-9);
        assert_eq!(leg.tilt_ratio, settings::TILT_RATIO.0);
        // No seat is so high or so low.
        let (high, low) =
            (TwoLinkLeg::with(0.9, 1.5, 1.6, 14.0), TwoLinkLeg::with(0.9, 0.1, 1.6, 14.0));
        near(high.seated_thigh_rad.cos(), 0.7, 1e-9);
        near(low.seated_thigh_rad.cos(), -0.2, 1e-9);
    }

    /// Tilts of the body's own law at every height, on the seat and off it. That law is the one the
    /// program assumes: what is tested is that it is turned round rightly.
    #[test]
    fn tilts_at_every_height() {
        for (tilt_ratio, seated_shank_deg, seated_thigh_deg) in
            [(1.6, 14.0, 80.0), (2.4, 24.0, 70.0), (1.0, 6.0, 90.0)]
        {
            let body = Body { tilt_ratio, seated_shank_deg, seated_thigh_deg, ..Body::USUAL };
            let leg = TwoLinkLeg {
                shank_m: body.shank_m(),
                thigh_m: body.thigh_m(),
                tilt_ratio,
                seated_shank_rad: seated_shank_deg.to_radians(),
                seated_thigh_rad: seated_thigh_deg.to_radians(),
            };
            for i in (0..Body::count()).step_by(7) {
                let time_s = i as f64 / RATE_HZ;
                let at = |l| body.point_m(l, body.side, time_s);
                let (hip, knee) = (at(Landmark::Hip), at(Landmark::Knee));
                let (shank, thigh) = body.tilts_rad(time_s);
                let pose = leg.at_height(hip.y);
                near(pose.shank_tilt_rad, shank, 1e-6);
                near(pose.thigh_tilt_rad, thigh, 1e-6);
                near(pose.knee_forward_m, knee.z, 1e-6);
                near(pose.hip_forward_m, hip.z, 1e-6);
            }
        }
        // A seat so high that its thigh is hardly tilted: the last tenth before it is blended.
        let high = TwoLinkLeg {
            shank_m: 0.43,
            thigh_m: 0.42,
            tilt_ratio: 2.0,
            seated_shank_rad: 0.3,
            seated_thigh_rad: 0.4,
        };
        near(high.shank_rad(0.4), 0.3, 1e-12);
        near(high.shank_rad(0.36), 0.18, 1e-12);
        near(high.shank_rad(0.38), 0.19 + 0.5 * (0.3 - 0.19), 1e-9);
    }

    /// The leg that is expected is found as it is, to the steps that are tried (0.2 and 3
    /// degrees); another one as far as its knee rows say, and on their side.
    #[test]
    fn the_leg_is_fitted_to_the_rows_of_its_knee() {
        let fitted = |tilt_ratio: f64, seated_shank_deg: f64| {
            let body = Body { tilt_ratio, seated_shank_deg, ..Body::USUAL };
            let seen = body.seen();
            let heights_m: Vec<f64> = (0..seen.tracks.count)
                .map(|i| body.point_m(Landmark::Hip, body.side, i as f64 / RATE_HZ).y)
                .collect();
            TwoLinkLeg::fit(&seen.tracks, &seen.stance, &seen.scale, &heights_m)
        };
        let usual = fitted(1.6, 14.0);
        near(usual.tilt_ratio, 1.6, 0.2);
        near(usual.seated_shank_rad.to_degrees(), 14.0, 3.0);
        near(usual.shank_m, Body::USUAL.shank_m(), 0.003);
        let steep = fitted(1.6, 26.0).seated_shank_rad.to_degrees();
        assert!((18.0..=26.0).contains(&steep), "{steep}");
        let flat = fitted(1.6, 3.0).seated_shank_rad.to_degrees();
        assert!((3.0..=14.0).contains(&flat), "{flat}");
        let (far, near_by) = (fitted(1.1, 14.0), fitted(2.6, 14.0));
        assert!((1.0..1.6).contains(&far.tilt_ratio), "{far:?}");
        assert!((1.7..=2.6).contains(&near_by.tilt_ratio), "{near_by:?}");
    }
}
