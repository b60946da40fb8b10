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
