//! What the pictures of a clip tell of light, sharpness and tilt.

use serde::{Deserialize, Serialize};

use crate::signal;

/// What the pictures of a whole clip tell. Light is luma, 0 black to 255 white.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Pictures {
    /// How bright the brighter parts of the person's trunk and face usually are.
    pub person_light: Option<f64>,
    /// How bright the surroundings usually are.
    pub surroundings_light: Option<f64>,
    /// How bright the brightest parts of the picture usually are.
    pub brightest_light: Option<f64>,
    /// Usual width of the strongest edges at the person, shares of stature.
    pub edge_width: Option<f64>,
    /// The same in the least sharp tenth of the looks.
    pub edge_width_at_worst: Option<f64>,
    /// Tilt of the camera by upright lines of the room.
    pub level: Option<Level>,
    /// How far the picture as a whole wanders, shares of its width: exceeded in a
    /// twentieth of the looks.
    pub wander: Option<f64>,
    /// Spans in which something large moved beside or behind the people, seconds: often
    /// somebody whom the detector, which looks for faces, does not see.
    #[serde(default)]
    pub movement_behind_s: Vec<(f64, f64)>,
}

impl Pictures {
    /// Without digits that mean nothing, so that a stored session gives the very same
    /// numbers.
    pub fn rounded(mut self) -> Self {
        let round = |value: &mut f64, digits: i32| *value = signal::rounded(*value, digits);
        for light in
            [&mut self.person_light, &mut self.surroundings_light, &mut self.brightest_light]
        {
            light.iter_mut().for_each(|v| round(v, 0));
        }
        for share in [&mut self.edge_width, &mut self.edge_width_at_worst, &mut self.wander] {
            share.iter_mut().for_each(|v| round(v, 5));
        }
        if let Some(l) = &mut self.level {
            for angle in
                [&mut l.roll_deg, &mut l.roll_se_deg, &mut l.pitch_deg, &mut l.pitch_se_deg]
            {
                round(angle, 2);
            }
        }
        self
    }
}

/// Tilt of the camera.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Level {
    /// Turn of the picture clockwise, degrees: upright lines lean to the right.
    pub roll_deg: f64,
    /// Its standard error, degrees.
    pub roll_se_deg: f64,
    /// Upward pitch, degrees, for a focal length of
    /// [`crate::settings::FOCAL_OF_LONG_SIDE`].
    pub pitch_deg: f64,
    /// Its standard error, degrees.
    pub pitch_se_deg: f64,
}
