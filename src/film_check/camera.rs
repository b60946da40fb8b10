//! Where the camera stood.

use super::{Riser, from_the_front};
use crate::body::Landmark;
use crate::body::anthropometry as body;
use crate::record::Pictures;
use crate::settings;

/// Height of the camera above the floor and its standard error, metres, from two
/// witnesses, weighed by their errors.
///
/// 1. **The planted foot.** A camera at height h sees the floor at distance Z in row
///    v = f·h/Z below its axis. From heel to toe, length L toward the camera, that is
///    Δv = f·h·L/D² to first order; with μ = D/f, metres per pixel, the slant
///    h/D = μ·Δv/L does not depend on the focal length, because μ comes from the body.
///    Both landmarks are near the floor; L = 0.152 of stature ([Drillis1966], from
///    memory). A turned foot shortens it by the cosine (2 % at 12°). Height = D·h/D. Landmarks of
///    a foot err by 1 % of the stature downward, 0.075 in the slant (rendered people, the clips
///    of `scripts/render/tuning.toml`).
/// 2. **The room.** The ankle's row lies atan((v − v₀)/f) below the optical axis, and the
///    camera's pitch by upright lines says how that lies: height = D·tan(that − pitch) +
///    ankle height. Its error is that of the pitch over the distance.
///
/// D is known to about a sixth, as the focal length is (phones: 0.7–1.2 of the longer side).
///
/// `None` where neither tells: the foot does not unless seen from the front.
pub fn height(riser: &Riser, pictures: Option<&Pictures>) -> Option<(f64, f64)> {
    let Riser { tracks, stance, scale, alignment } = *riser;
    let row = |landmark: Landmark| {
        stance.while_planted(tracks.v_px(landmark, stance.side)).unwrap_or(f64::NAN)
    };
    let away_m = scale.distance_m;
    let foot_m = (body::HEEL_TO_ANKLE + body::ANKLE_TO_TOE) * scale.stature_m;
    let foot = scale.m_per_px * (row(Landmark::FootIndex) - row(Landmark::Heel)) / foot_m;
    let by_foot =
        from_the_front(alignment).then_some((away_m * foot, away_m * settings::FOOT_SLANT_SE));
    let by_room = pictures.and_then(|p| p.level).map(|level| {
        let focal_px = away_m / scale.m_per_px;
        let below = ((stance.ankle_px.1 - tracks.size_px.1 / 2.0) / focal_px).atan();
        let down = below - level.pitch_deg.to_radians();
        let height_m = away_m * down.tan() + body::ANKLE_HEIGHT * scale.stature_m;
        (height_m, away_m * level.pitch_se_deg.to_radians())
    });
    let (mut sum, mut weight) = (0.0, 0.0);
    for (height_m, se_m) in by_foot.into_iter().chain(by_room) {
        sum += height_m / (se_m * se_m);
        weight += 1.0 / (se_m * se_m);
    }
    let height_m = sum / weight;
    let se_m = weight.sqrt().recip().hypot(settings::FOCAL_SE * height_m);
    (height_m.is_finite() && se_m.is_finite()).then_some((height_m, se_m))
}
