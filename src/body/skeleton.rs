//! The vocabulary of the body: sides and landmarks.

use serde::{Deserialize, Serialize};

/// Left or right **of the person**, not of the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// The person's left.
    Left,
    /// The person's right.
    Right,
}

impl Side {
    /// The other one.
    pub fn opposite(self) -> Self {
        match self {
            Side::Left => Side::Right,
            Side::Right => Side::Left,
        }
    }

    /// Where this leg's medial side is in the picture of somebody seen from the front: +1 to
    /// the right (a right leg), −1 to the left.
    pub fn medial(self) -> f64 {
        match self {
            Side::Right => 1.0,
            Side::Left => -1.0,
        }
    }

    /// «left» or «right».
    pub fn word(self) -> &'static str {
        match self {
            Side::Left => "left",
            Side::Right => "right",
        }
    }
}

/// Number of body landmarks the pose network gives.
pub const LANDMARKS: usize = 33;

/// The paired landmarks the kinematics use; [`Landmark::at`] gives the index
/// in the network's order, which `models/manifest.toml` records and a test
/// compares.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Landmark {
    Shoulder,
    Elbow,
    Wrist,
    Index,
    Hip,
    Knee,
    Ankle,
    Heel,
    FootIndex,
}

impl Landmark {
    /// All of them.
    pub const ALL: [Landmark; 9] = [
        Landmark::Shoulder,
        Landmark::Elbow,
        Landmark::Wrist,
        Landmark::Index,
        Landmark::Hip,
        Landmark::Knee,
        Landmark::Ankle,
        Landmark::Heel,
        Landmark::FootIndex,
    ];

    /// Index (0–32) of this landmark of the given side.
    pub fn at(self, side: Side) -> usize {
        let left = match self {
            Landmark::Shoulder => 11,
            Landmark::Elbow => 13,
            Landmark::Wrist => 15,
            Landmark::Index => 19,
            Landmark::Hip => 23,
            Landmark::Knee => 25,
            Landmark::Ankle => 27,
            Landmark::Heel => 29,
            Landmark::FootIndex => 31,
        };
        match side {
            Side::Left => left,
            Side::Right => left + 1,
        }
    }
}

/// Names of the network's 33 body landmarks, in its order.
pub const LANDMARK_NAMES: [&str; LANDMARKS] = [
    "nose",
    "left_eye_inner",
    "left_eye",
    "left_eye_outer",
    "right_eye_inner",
    "right_eye",
    "right_eye_outer",
    "left_ear",
    "right_ear",
    "mouth_left",
    "mouth_right",
    "left_shoulder",
    "right_shoulder",
    "left_elbow",
    "right_elbow",
    "left_wrist",
    "right_wrist",
    "left_pinky",
    "right_pinky",
    "left_index",
    "right_index",
    "left_thumb",
    "right_thumb",
    "left_hip",
    "right_hip",
    "left_knee",
    "right_knee",
    "left_ankle",
    "right_ankle",
    "left_heel",
    "right_heel",
    "left_foot_index",
    "right_foot_index",
];
