//! Pictures in, body landmarks out; and who in the picture is meant.
//!
//! Two general-purpose networks (`models/README.md`): a person detector and a
//! landmark network that looks at a turned square [`region::Region`] around
//! one person. [`survey`] first looks through the whole clip with the detector
//! and decides who does the exercise; [`tracker`] then follows that person
//! frame by frame. [`pictures`] reads light, sharpness and tilt.
//!
//! Spaces: `px` are pixels of the picture at hand, u right, v down, a pixel's
//! index is its centre; landmarks leave this module in clip pixels.

mod assets;
mod crop;
mod detection;
mod heads;
mod landmark_output;
mod network;
pub mod pictures;
pub mod region;
mod steady;
mod steady_camera;
mod survey;
mod tracker;

pub use assets::{Assets, ModelFacts};
pub use network::{Detector, Landmarker, Networks};
pub use survey::{INTERVAL_S as SURVEY_INTERVAL_S, Survey, Surveyor};
pub use tracker::Tracker;

pub use detection::{Detection, Seen, anchors};
