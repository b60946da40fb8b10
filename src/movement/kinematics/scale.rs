//! Metres per pixel at the stance foot's distance from the camera.

use serde::{Deserialize, Serialize};

use super::stance::Stance;
use super::tracks::Tracks;
use crate::body::Landmark;
use crate::body::anthropometry as body;
use crate::settings;

/// Where the scale comes from, best first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ScaleSource {
    /// The user gave the person's stature.
    Stature,
    /// The user gave the height of the seat.
    SeatHeight,
    /// Markers of a motion laboratory, which come in metres.
    LaboratoryMarkers,
    /// The export of a film, whose scale was found there.
    PointsOfAFilm,
    /// The network's own guess of the body's size.
    NetworkLandmarks,
}

/// Scale with its uncertainty.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    /// Where it comes from.
    pub source: ScaleSource,
    /// Metres per pixel at the stance ankle's distance.
    pub m_per_px: f64,
    /// Standard error as a share of the scale.
    pub relative_uncertainty: f64,
    /// Given, or estimated from the standing height, metres.
    pub stature_m: f64,
    /// Distance of the stance foot from the camera, metres.
    pub distance_m: f64,
}

impl Scale {
    /// From what the user gave, else from the network's metric landmarks.
    pub fn find(
        tracks: &Tracks,
        stance: &Stance,
        stature_m: Option<f64>,
        seat_height_m: Option<f64>,
    ) -> Self {
        let above_ankle_px = |row: f64| stance.ankle_px.1 - row;
        let shoulder_px = above_ankle_px(stance.levels(&tracks.mid_v_px(Landmark::Shoulder)).0);
        let seated_hip_px = above_ankle_px(stance.levels(&tracks.mid_v_px(Landmark::Hip)).1);
        let network_m = stance.levels(&tracks.network_height_m).0;

        let (source, m_per_px, relative_uncertainty) = match (stature_m, seat_height_m) {
            (Some(h), _) => {
                let m = h * body::ANKLE_TO_SHOULDER / shoulder_px;
                (ScaleSource::Stature, m, settings::SCALE_SE_STATURE)
            }
            (None, Some(seat)) => {
                let hip_m =
                    seat + body::HIP_ABOVE_SEAT_M.0 - body::ANKLE_HEIGHT * body::TYPICAL_STATURE_M;
                let se = body::HIP_ABOVE_SEAT_M.1.hypot(settings::HIP_ROW_SE_M) / hip_m;
                (ScaleSource::SeatHeight, hip_m / seated_hip_px.max(1.0), se)
            }
            (None, None) => {
                let m = network_m / shoulder_px;
                (ScaleSource::NetworkLandmarks, m, settings::SCALE_SE_NETWORK)
            }
        };
        let stature_m = stature_m.unwrap_or(m_per_px * shoulder_px / body::ANKLE_TO_SHOULDER);
        let focal_px = settings::FOCAL_OF_LONG_SIDE * tracks.size_px.0.max(tracks.size_px.1);
        Self { source, m_per_px, relative_uncertainty, stature_m, distance_m: focal_px * m_per_px }
    }

    /// Metres right of the picture's middle, of a point `forward_m` nearer to
    /// the camera than the stance ankle.
    pub(super) fn across_m(&self, u_px: f64, width_px: f64, forward_m: f64) -> f64 {
        (u_px - width_px / 2.0) * self.m_per_px * (1.0 - forward_m / self.distance_m)
    }

    /// Metres above the camera's height, likewise.
    pub(super) fn above_camera_m(&self, v_px: f64, height_px: f64, forward_m: f64) -> f64 {
        (height_px / 2.0 - v_px) * self.m_per_px * (1.0 - forward_m / self.distance_m)
    }
}

#[cfg(test)]
mod tests {
    use super::super::made::{Body, FOCAL_PX, SIZE_PX, near};
    use super::*;

    /// A camera with focal length f sees a metre at distance D in f/D pixels.
    #[test]
    fn the_stature_tells_distance_and_scale() {
        for (stature_m, distance_m) in [(1.75, 3.0), (1.60, 2.2), (1.90, 4.5)] {
            let body = Body { stature_m, distance_m, ..Body::USUAL };
            let scale = body.seen().scale;
            assert_eq!((scale.source, scale.stature_m), (ScaleSource::Stature, stature_m));
            assert_eq!(scale.relative_uncertainty, settings::SCALE_SE_STATURE);
            // Shoulders 2 cm behind the ankle while standing: less than a per cent.
            near(scale.m_per_px / (distance_m / FOCAL_PX), 1.0, 0.008);
            near(scale.distance_m / distance_m, 1.0, 0.008);
        }
    }

    /// The seat is as high as the seated hip joint less 8 cm, above the floor.
    #[test]
    fn the_seat_tells_the_scale_where_nobody_told_the_stature() {
        let body = Body { stature_m: body::TYPICAL_STATURE_M, ..Body::USUAL };
        let seen = body.seen();
        let hip_m = body.point_m(Landmark::Hip, body.side, 0.5);
        let seat_m = hip_m.y + body::ANKLE_HEIGHT * body.stature_m - 0.08;
        let scale = Scale::find(&seen.tracks, &seen.stance, None, Some(seat_m));
        assert_eq!(scale.source, ScaleSource::SeatHeight);
        // Seen at its distance the hip is as high as it is; it is taken for nearer, and a hip
        // lower than the lens then for higher: by 1 − (D/(D − z)) of what it is below the lens.
        let seen_m = body.below_m - (body.below_m - hip_m.y) / (1.0 - hip_m.z / body.distance_m);
        near(scale.m_per_px / (body.distance_m / FOCAL_PX), hip_m.y / seen_m, 0.01);
        near(scale.stature_m, body.stature_m * hip_m.y / seen_m, 0.03);
        // 2 cm of the hip above the seat and 2 cm of its row.
        near(scale.relative_uncertainty, 0.02 * 2f64.sqrt() / hip_m.y, 1e-3);
        let both = Scale::find(&seen.tracks, &seen.stance, Some(1.7), Some(seat_m));
        assert_eq!(both.source, ScaleSource::Stature);
    }

    /// The network's metres are the body's own here.
    #[test]
    fn the_network_tells_the_scale_where_nobody_told_anything() {
        let body = Body::USUAL;
        let seen = body.seen();
        let scale = Scale::find(&seen.tracks, &seen.stance, None, None);
        assert_eq!(scale.source, ScaleSource::NetworkLandmarks);
        assert_eq!(scale.relative_uncertainty, settings::SCALE_SE_NETWORK);
        // Half of the free foot's height, as the network's length is the mean of both sides.
        let free_m = body.point_m(Landmark::Ankle, body.side.opposite(), 3.6).y;
        let share = 1.0 - free_m / 2.0 / (body::ANKLE_TO_SHOULDER * body.stature_m);
        near(scale.stature_m, body.stature_m * share, 0.01);
        near(scale.m_per_px / (body.distance_m / FOCAL_PX), share, 0.01);
    }

    /// Back from the picture to metres, of points nearer and further than the ankle.
    #[test]
    fn metres_of_a_point_at_any_depth() {
        let body = Body { right_m: 0.1, ..Body::USUAL };
        let scale = Scale {
            source: ScaleSource::Stature,
            m_per_px: body.distance_m / FOCAL_PX,
            relative_uncertainty: 0.0,
            stature_m: body.stature_m,
            distance_m: body.distance_m,
        };
        for (x, y, z) in [(0.3, 0.5, 0.0), (-0.2, 1.2, 0.4), (0.25, 0.4, -0.35)] {
            let seen = body.picture_px(nalgebra::Point3::new(x, y, z));
            near(scale.across_m(seen.x, SIZE_PX.0, z), body.right_m + x, 1e-9);
            near(scale.above_camera_m(seen.y, SIZE_PX.1, z), y - body.below_m, 1e-9);
        }
    }
}
