//! Where the camera stood.

use crate::anthropometry as body;
use crate::kinematics::{Scale, Stance, Tracks};
use crate::pose::pictures::Pictures;
use crate::settings;
use crate::signal;
use crate::skeleton::Landmark;

/// Height of the camera above the floor and its standard error, metres, from two
/// witnesses, weighed by their errors.
///
/// 1. **The planted foot.** Seen under the depression angle α, a foot of length L on the
///    floor that points at the camera spans μ·Δv = L·sin α·cos⁻¹… ≈ L·tan α across the
///    line of sight, whatever the focal length, because μ (metres per pixel) comes from the
///    body. Heel and toe landmarks are both near the floor: tan α = μ·(v_toe − v_heel) / L,
///    L = 0.152 of stature ([Drillis1966], from memory). A turned foot or camera shortens
///    it by the cosine (2 % at 12°), which the error holds. Height = D·tan α. Landmarks of
///    a foot err by 1 % of the stature downward, 0.075 in tan α (rendered people, the clips
///    of `scripts/render/tuning.toml`).
/// 2. **The room.** The ankle's row lies atan((v − v₀)/f) below the optical axis, and the
///    camera's pitch by upright lines says how that lies: height = D·tan(that − pitch) +
///    ankle height. Its error is that of the pitch over the distance.
///
/// D is known to about a sixth, as the focal length is (phones: 0.7–1.2 of the longer side).
pub fn height(
    tracks: &Tracks,
    stance: &Stance,
    scale: &Scale,
    pictures: Option<&Pictures>,
) -> (f64, f64) {
    let share = stance.share();
    let planted: Vec<usize> = (0..tracks.count).filter(|i| share[*i] > 0.1).collect();
    let row = |landmark: Landmark| {
        let rows = tracks.v_px(landmark, stance.side);
        let values: Vec<f64> = planted.iter().filter_map(|i| rows.get(*i).copied()).collect();
        signal::median(&values).unwrap_or(f64::NAN)
    };
    let away_m = scale.distance_m;
    let foot_m = (body::HEEL_TO_ANKLE + body::ANKLE_TO_TOE) * scale.stature_m;
    let foot = scale.m_per_px * (row(Landmark::FootIndex) - row(Landmark::Heel)) / foot_m;
    let by_foot = (away_m * foot, away_m * settings::FOOT_SLANT_SE);
    let by_room = pictures.and_then(|p| p.level).map(|level| {
        let focal_px = away_m / scale.m_per_px;
        let below = ((stance.ankle_px.1 - tracks.size_px.1 / 2.0) / focal_px).atan();
        let down = below - level.pitch_deg.to_radians();
        let height_m = away_m * down.tan() + body::ANKLE_HEIGHT * scale.stature_m;
        (height_m, away_m * level.pitch_se_deg.to_radians())
    });
    let (height_m, se_m) = match by_room {
        None => by_foot,
        Some(room) => {
            let (a, b) = (by_foot.1.powi(-2), room.1.powi(-2));
            ((a * by_foot.0 + b * room.0) / (a + b), (a + b).sqrt().recip())
        }
    };
    (height_m, se_m.hypot(settings::FOCAL_SE * height_m))
}
