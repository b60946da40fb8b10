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
    height_m.is_finite().then_some((height_m, se_m))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::movement::kinematics::made::{Body, loaded, near};
    use crate::movement::kinematics::{Alignment, Pelvis};
    use crate::record::Level;

    /// Height by a body filmed, with a camera pitched by so many degrees according to the room,
    /// known to one degree.
    fn found(body: &Body, pitch_deg: Option<f64>, facing: bool) -> Option<(f64, f64)> {
        let seen = body.seen();
        let pelvis = Pelvis::measure(&seen.tracks, &seen.stance, &seen.scale);
        let mut alignment =
            Alignment::measure(&seen.tracks, &seen.stance, &seen.scale, &pelvis, &[loaded()]);
        alignment.facing = facing;
        let riser = Riser {
            tracks: &seen.tracks,
            stance: &seen.stance,
            scale: &seen.scale,
            alignment: &alignment,
        };
        let level =
            |pitch_deg| Level { roll_deg: 0.0, roll_se_deg: 1.0, pitch_deg, pitch_se_deg: 1.0 };
        let pictures =
            pitch_deg.map(|deg| Pictures { level: Some(level(deg)), ..Pictures::default() });
        height(&riser, pictures.as_ref())
    }

    /// The lens above the floor: above the ankle, and the ankle above the floor.
    fn lens_m(body: &Body) -> f64 {
        body.below_m + body::ANKLE_HEIGHT * body.stature_m
    }

    /// The slant of the foot, to 5 % for what its length is of the distance. Error: 0.075 of
    /// the distance, and 0.16 of the height for the focal length.
    #[test]
    fn the_planted_foot_tells_the_height() {
        for (below_m, distance_m) in [(0.5, 3.0), (1.2, 3.0), (0.9, 2.0), (-0.2, 3.0)] {
            let body = Body { below_m, distance_m, ..Body::USUAL };
            let (height_m, se_m) = found(&body, None, true).unwrap();
            near(height_m, lens_m(&body), 0.05 * (0.5 + lens_m(&body).abs()));
            near(se_m, (0.075 * distance_m).hypot(0.16 * height_m), 0.01);
        }
        assert_eq!(found(&Body::USUAL, None, false), None, "from behind");
    }

    /// An ankle 0.7 m below a level lens 3 m away; one that looks up by 10 degrees is lower:
    /// 3·tan(13.1° − 10°) above the ankle. Error: a degree of the distance.
    #[test]
    fn the_room_tells_the_height() {
        let body = Body::USUAL;
        let ankle_m = body::ANKLE_HEIGHT * body.stature_m;
        let below_rad = (body.below_m / body.distance_m).atan();
        for pitch_deg in [0.0, 10.0, -5.0f64] {
            let expected_m = body.distance_m * (below_rad - pitch_deg.to_radians()).tan() + ankle_m;
            let (height_m, se_m) = found(&body, Some(pitch_deg), false).unwrap();
            near(height_m, expected_m, 0.02);
            near(se_m, (3.0 * 1f64.to_radians()).hypot(0.16 * height_m), 0.01);
        }
    }

    /// Weighed by the squares of 0.225 and 0.052 m.
    #[test]
    fn both_are_weighed_by_their_errors() {
        let body = Body::USUAL;
        let (foot_m, room_m) =
            (found(&body, None, true).unwrap().0, found(&body, Some(8.0), false).unwrap().0);
        let (by_foot, by_room) = (0.225f64.powi(-2), (3.0 * 1f64.to_radians()).powi(-2));
        let expected_m = (foot_m * by_foot + room_m * by_room) / (by_foot + by_room);
        let (height_m, se_m) = found(&body, Some(8.0), true).unwrap();
        near(height_m, expected_m, 0.002);
        near(se_m, (by_foot + by_room).sqrt().recip().hypot(0.16 * height_m), 0.002);
    }
}
