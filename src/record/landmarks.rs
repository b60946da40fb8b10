//! The landmarks of one person in one frame.

use nalgebra::{Point2, Point3};

use crate::body::{LANDMARKS, Landmark, Side};
use crate::settings;

/// One landmark of one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ImageLandmark {
    /// Place in the picture, pixels.
    pub place_px: Point2<f64>,
    /// Depth relative to the hips, about pixels, negative toward the camera.
    pub depth_px: f64,
    /// Probability 0–1 that it is not hidden.
    pub visibility: f64,
    /// Highest value 0–1 of the network's heat map about the place: how much in the picture
    /// speaks for this point being there. `None` in tables of the first versions.
    pub heat: Option<f64>,
}

impl ImageLandmark {
    /// How much speaks for its being seen, 0–1; from [`settings::MIN_HEAT`] on it is. The
    /// network's own probability of not being hidden says little: it stays high behind
    /// furniture and falls on dark trousers in full view.
    pub fn sight(&self) -> f64 {
        let by_visibility = || f64::from(u8::from(self.visibility >= settings::MIN_VISIBILITY));
        self.heat.unwrap_or_else(by_visibility)
    }
}

/// All landmarks of one person in one frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Pose {
    /// In the picture, in the network's order.
    pub image: [ImageLandmark; LANDMARKS],
    /// The network's guess in metres about the hip centre, y down, z away.
    pub metric_m: [Point3<f64>; LANDMARKS],
}

impl Pose {
    /// Place of one landmark, pixels.
    pub fn place_px(&self, landmark: Landmark, side: Side) -> Point2<f64> {
        self.image[landmark.at(side)].place_px
    }

    /// Middle of the two hips, pixels.
    pub fn hips_px(&self) -> Point2<f64> {
        nalgebra::center(
            &self.place_px(Landmark::Hip, Side::Left),
            &self.place_px(Landmark::Hip, Side::Right),
        )
    }

    /// How far the hips are above the lower ankle, in lengths of the trunk, by the network's
    /// guess in space: about 1.7 standing, 1 sitting, whatever the trunk leans.
    pub fn hip_height(&self) -> f64 {
        let at = |landmark: Landmark, side: Side| self.metric_m[landmark.at(side)];
        let middle = |l: Landmark| nalgebra::center(&at(l, Side::Left), &at(l, Side::Right));
        let hips = middle(Landmark::Hip);
        let ankle_y_m = at(Landmark::Ankle, Side::Left).y.max(at(Landmark::Ankle, Side::Right).y);
        (ankle_y_m - hips.y) / (middle(Landmark::Shoulder) - hips).norm().max(1e-3)
    }

    /// The same pose in a picture whose pixels are `factor` times smaller.
    pub fn scaled(mut self, factor: f64) -> Self {
        for point in &mut self.image {
            point.place_px *= factor;
            point.depth_px *= factor;
        }
        self
    }
}

/// What was seen in one frame.
#[derive(Debug, Clone, PartialEq)]
pub struct PoseFrame {
    /// Index of the frame in the clip.
    pub index: usize,
    /// Seconds from the first frame.
    pub time_s: f64,
    /// The person's landmarks, clip pixels; `None` where they were lost.
    pub pose: Option<Pose>,
}

/// A head the detector saw.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Head {
    /// Whose: an index that keeps for as long as the person is followed.
    pub person: usize,
    /// Seconds from the first frame.
    pub time_s: f64,
    /// Middle, clip pixels.
    pub centre_px: Point2<f64>,
    /// Radius of a circle that holds it, clip pixels.
    pub radius_px: f64,
}
