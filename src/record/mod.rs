//! What was seen: the clip's facts and the landmarks of every frame, and how
//! they are kept in a session folder so that a set can be judged again
//! without the network.

mod landmark_table;

use serde::{Deserialize, Serialize};

pub use landmark_table::{as_stored, read_landmarks, write_landmarks};

use crate::pose::landmarks::PoseFrame;

/// Facts of the clip, as in the output contract.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ClipFacts {
    /// File name without folders.
    pub file: String,
    /// SHA-256 of the file, hex.
    pub sha256: String,
    /// Width of the upright picture, pixels.
    pub width_px: u32,
    /// Height of the upright picture, pixels.
    pub height_px: u32,
    /// From the first frame to the end of the last, seconds.
    pub duration_s: f64,
    /// Frames decoded.
    pub frames: usize,
    /// Median frame rate of movement (true time), per second.
    pub frame_rate_hz: f64,
}

/// How the filming went, as far as it bears on trust.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Filming {
    /// Frames the network looked at (at most [`crate::settings::MAX_ANALYSED_HZ`]).
    pub analysed_frames: usize,
    /// Of these, frames in which the subject was followed.
    pub tracked_frames: usize,
    /// Other people seen for more than a moment.
    pub other_people: usize,
    /// Spans in which the camera was not where it began, seconds.
    pub camera_moved_s: Vec<(f64, f64)>,
    /// Damaged pieces of the file that were skipped.
    pub damaged: usize,
    /// The file ended before what its header announced.
    pub cut_short: bool,
    /// The clip was HDR and was tone-mapped.
    pub hdr: bool,
    /// Frame rate the user gave for slow motion, per second.
    pub recorded_hz: Option<f64>,
}

/// A clip as the pose stage leaves it.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// Facts of the clip.
    pub clip: ClipFacts,
    /// How the filming went.
    pub filming: Filming,
    /// Landmarks of the analysed frames, in order of time, clip pixels.
    pub frames: Vec<PoseFrame>,
}
