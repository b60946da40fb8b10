//! Landmarks in, movement in metres and degrees out, sample by sample.
//!
//! Body axes at the stance ankle: X to the right in the picture, Y up, Z toward
//! the camera; «medial» is toward the other leg for either leg. The camera is
//! taken as level, with the optical axis through the middle of the picture and
//! a focal length of 0.9 × the longer side (phones: 0.7–1.2; it hardly
//! matters, distance absorbs it).

mod alignment;
mod arms;
mod believed;
mod courses;
mod feet;
mod in_picture;
mod leg;
#[cfg(test)]
pub(crate) mod made;
mod markers;
mod observation;
mod pelvis;
mod scale;
mod stance;
mod tracks;
mod trunk;

pub use alignment::{Alignment, frontal_plane_projection_angle_deg, yaw_error_deg};
pub use courses::Courses;
pub use feet::{Feet, Touch};
pub use in_picture::{LegInPicture, Plumb};
pub use leg::{LegPose, TwoLinkLeg};
pub use observation::Observation;
pub use pelvis::Pelvis;
pub use scale::{Scale, ScaleSource};
pub use stance::Stance;
pub use tracks::{Quality, Tracks};
pub use trunk::Trunk;

pub use arms::supported_hand;
