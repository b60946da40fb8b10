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
    pub fn measure(tracks: &Tracks, stance: &Stance, scale: &Scale) -> Self {
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
            // Of somebody who sits upright the shoulders are further away than while standing.
            let seen_nearer_m =
                scale.distance_m * (1.0 - standing_width / smooth_width[i].max(1.0));
            // Nobody who rises leans by more than 64 degrees, or 79 where only the lean is told: a
            // width that says so is false (design choice).
            let nearer_m = seen_nearer_m.clamp(0.0, 0.9 * trunk_m.max(0.0));
            let upright_m = (trunk_m * trunk_m - nearer_m * nearer_m).max(0.0).sqrt();
            let shoulder_m = scale.above_camera_m(shoulders[i], height_px, nearer_m);
            by_shoulders_m.push(shoulder_m - upright_m - ankle_m);
            let lean_m = (seen_nearer_m - back_m).clamp(0.0, 0.98 * trunk_m.max(0.0));
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

#[cfg(test)]
mod tests {
    use super::super::made::{Body, RATE_HZ, near, scale, stance, still};
    use super::*;

    /// Height of the hip joints' middle, whatever the trunk and the hip points do; to 1 cm, as
    /// 0.4 m of the hips' way back at 3 m are known by the expected leg only.
    #[test]
    fn the_pelvis_is_where_the_hip_joints_are() {
        let fold_m = settings::HIP_ROW_SEATED_M;
        for (lean_deg, distance_m) in [(0.0, 3.0), (30.0, 2.5), (30.0, 4.0)] {
            let body = Body { lean_deg, fold_m, distance_m, ..Body::USUAL };
            let seen = body.seen();
            let pelvis = Pelvis::measure(&seen.tracks, &seen.stance, &seen.scale);
            let joint = Body { fold_m: 0.0, ..body };
            let height_m = |time_s: f64| joint.point_m(Landmark::Hip, body.side, time_s).y;
            for i in (0..seen.tracks.count).step_by(10) {
                let time_s = i as f64 / RATE_HZ;
                near(pelvis.hip_height_m[i], height_m(time_s), 0.012);
                // The shoulders have their say, which errs with the lean.
                let budget_m = if lean_deg > 0.0 { 0.025 } else { 0.012 };
                near(pelvis.height_m[i], height_m(time_s), budget_m);
                near(pelvis.raw_height_m[i], height_m(time_s), budget_m);
                let speed_m_s = (height_m(time_s + 0.01) - height_m(time_s - 0.01)) / 0.02;
                // The shoulders' nearness comes and goes with the lean.
                near(pelvis.velocity_m_s[i], speed_m_s, if lean_deg > 0.0 { 0.1 } else { 0.03 });
            }
        }
    }

    /// The share of the hip joints' true way, going up.
    #[test]
    fn the_share_of_the_way_is_nought_on_the_seat_and_one_standing() {
        let seen = Body::USUAL.seen();
        let pelvis = Pelvis::measure(&seen.tracks, &seen.stance, &seen.scale);
        let share = pelvis.hip_share(&seen.stance);
        near(share[20], 0.0, 0.01);
        near(share[180], 1.0, 0.01);
        let height_m = |time_s| Body::USUAL.point_m(Landmark::Hip, Side::Right, time_s).y;
        let (seat_m, way_m) = (height_m(0.0), height_m(3.6) - height_m(0.0));
        for i in (80..155).step_by(5) {
            near(share[i], (height_m(i as f64 / RATE_HZ) - seat_m) / way_m, 0.04);
        }
    }

    /// Leaning or upright, on the seat, at seat-off, half-way and standing: on the seat the
    /// shoulders are 0.35 m further from the camera than while standing, with the hips.
    #[test]
    fn the_lean_of_the_trunk() {
        for lean_deg in [0.0, 20.0, 40.0] {
            let body = Body { lean_deg, fold_m: settings::HIP_ROW_SEATED_M, ..Body::USUAL };
            let seen = body.seen();
            let pelvis = Pelvis::measure(&seen.tracks, &seen.stance, &seen.scale);
            for i in [20, 75, 115, 180, 300, 370] {
                let truth_deg = body.lean_rad(i as f64 / RATE_HZ).to_degrees();
                near(pelvis.forward_lean_deg[i], truth_deg, 6.0);
            }
        }
    }

    /// Rows of hips and shoulders for two seconds each: seated, half-way with shoulders that
    /// look 5 % wider, standing. 2 mm a pixel, 3 m away, the ankle 0.8 m below the lens, a trunk
    /// of 0.5 m. Half-way the shoulders are nearer by 3·(1 − 1/1.05) = 0.143 m, at 0.26 m in the
    /// ankle's plane above the lens, and so the pelvis is at
    /// 0.26·(1 − 0.143/3) + 0.8 − √(0.5² − 0.143²) = 0.568 m; on the seat at 0.42 m, standing
    /// at 0.86 m. This way is made as long as that of the hip points, and the mean of both counts.
    #[test]
    fn the_shoulders_have_half_of_the_say() {
        let mut tracks = still(300, 50.0);
        tracks.size_px = (1000.0, 1920.0);
        let stretch = |values: [f64; 3]| values.iter().flat_map(|v| vec![*v; 100]).collect();
        let (hip_rows, shoulder_rows): (Vec<f64>, Vec<f64>) =
            (stretch([1150.0, 1040.0, 930.0]), stretch([900.0, 830.0, 680.0]));
        let widths: Vec<f64> = stretch([160.0, 168.0, 160.0]);
        for (side, beside) in [(Side::Left, 0.5), (Side::Right, -0.5)] {
            tracks.v_px[Landmark::Hip.at(side)] = hip_rows.clone();
            tracks.v_px[Landmark::Shoulder.at(side)] = shoulder_rows.clone();
            tracks.u_px[Landmark::Shoulder.at(side)] =
                widths.iter().map(|w| 500.0 + beside * w).collect();
        }
        let stance = Stance {
            ankle_px: (500.0, 1360.0),
            ..stance(stretch([335.0, 425.0, 555.0]), 335.0, 555.0)
        };
        let scale = scale(0.002);
        let pelvis = Pelvis::measure(&tracks, &stance, &scale);
        let [seat_m, half_m, top_m] = [50, 150, 250].map(|i| pelvis.hip_height_m[i]);
        let nearer_m = 3.0 * (1.0 - 1.0 / 1.05);
        let upright_m = (0.25f64 - nearer_m * nearer_m).sqrt();
        let by_shoulders_m = 0.26 * (1.0 - nearer_m / 3.0) + 0.8 - upright_m;
        let size = (top_m - seat_m) / (0.86 - 0.42);
        let expected_m = (half_m + top_m + size * (by_shoulders_m - 0.86)) / 2.0;
        near(pelvis.raw_height_m[150], expected_m, 1e-4);
        near(pelvis.raw_height_m[50], seat_m, 1e-4);
        near(pelvis.raw_height_m[250], top_m, 1e-4);
        // The hips: standing 0.86 m over the ankle; on the seat 0.33 m back, so that what is
        // 0.38 m below the lens in the ankle's plane is a ninth more, and 2 cm lower for the fold.
        near(top_m, 0.86, 0.003);
        near(seat_m, 0.8 - 0.38 * (1.0 + 0.33 / 3.0) - 0.02, 0.01);
    }
}
