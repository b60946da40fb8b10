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

#[cfg(feature = "network")]
mod assets;
#[cfg(feature = "network")]
mod crop;
#[cfg(feature = "network")]
mod detection;
#[cfg(feature = "network")]
mod heads;
#[cfg(feature = "network")]
mod landmark_output;
pub mod landmarks;
#[cfg(feature = "network")]
mod network;
pub mod pictures;
pub mod region;
#[cfg(feature = "network")]
mod steady;
#[cfg(feature = "network")]
mod steady_camera;
#[cfg(feature = "network")]
mod survey;
#[cfg(feature = "network")]
mod tracker;

#[cfg(feature = "network")]
pub use assets::{Assets, ModelFacts};
#[cfg(feature = "network")]
pub use network::{Detector, Landmarker, Networks};
#[cfg(feature = "network")]
pub use survey::{INTERVAL_S as SURVEY_INTERVAL_S, Survey, Surveyor};
#[cfg(feature = "network")]
pub use tracker::Tracker;

#[cfg(feature = "network")]
pub use detection::{Detection, Seen, anchors};
