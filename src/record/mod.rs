//! What was seen: the clip's facts and the landmarks of every frame, and how
//! they are kept in a session folder so that a set can be judged again
//! without the network.

mod head_table;
mod landmark_table;
pub mod landmarks;
pub mod markers;
mod pictures;

use std::path::Path;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

pub use head_table::{read_heads, write_heads};
pub use pictures::{Level, Pictures};

pub use landmark_table::{as_stored, check_times, read_landmarks, write_landmarks};

use crate::error::Result;
use crate::files;
use crate::signal::rounded;
use landmarks::{Head, PoseFrame};
use markers::{Axis, MarkerNames, Motion, is_motion_file, read_motion};

/// Endings of films that phones, cameras and editors write (design choice: a file with
/// another one can still be named alone). What it really is, FFmpeg tells.
const FILM_ENDINGS: [&str; 15] = [
    "3gp", "avi", "flv", "m2ts", "m4v", "mkv", "mov", "mp4", "mpeg", "mpg", "mts", "ogv", "webm",
    "wmv", "y4m",
];

/// True for what by its name is a clip or a marker file.
pub fn is_recording(path: &Path) -> bool {
    let known = |ending: &&str| path.extension().is_some_and(|e| e.eq_ignore_ascii_case(ending));
    FILM_ENDINGS.iter().any(known) || is_motion_file(path)
}

/// Facts of the clip, as in the output contract.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ClipFacts {
    /// File name without folders.
    pub file: String,
    /// SHA-256 of the file, hex.
    pub sha256: String,
    /// Width of the upright picture, pixels; null where there is none (markers).
    pub width_px: Option<u32>,
    /// Height of the upright picture, pixels; null where there is none.
    pub height_px: Option<u32>,
    /// From the first frame to the end of the last, seconds.
    pub duration_s: f64,
    /// Frames decoded.
    pub frames: usize,
    /// Median frame rate of movement (true time), per second.
    pub frame_rate_hz: f64,
    /// When it was filmed, as the camera wrote into the file; null where it did not.
    #[serde(default)]
    pub recorded_at: Option<Timestamp>,
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
    /// When the film's clock jumped, as where clips were joined, seconds.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub clock_jumps_s: Vec<f64>,
    /// The clip was HDR and was tone-mapped.
    pub hdr: bool,
    /// Frame rate the user gave for slow motion, per second.
    pub recorded_hz: Option<f64>,
    /// What the pictures tell of light, sharpness and tilt; null in sessions of markers
    /// and in those made before it was kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pictures: Option<Pictures>,
    /// What had to be assumed about a marker file, in words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub assumed: Vec<String>,
}

/// A clip as the pose stage leaves it, or a marker file as it was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// Facts of the clip.
    pub clip: ClipFacts,
    /// How the filming went.
    pub filming: Filming,
    /// Landmarks of the analysed frames, in order of time, clip pixels; none in
    /// a marker file.
    pub frames: Vec<PoseFrame>,
    /// Every head that was seen, person by person in order of time.
    pub heads: Vec<Head>,
    /// Points of a marker file; `None` for a film.
    pub motion: Option<Motion>,
}

/// Reads a marker file; `up` names the laboratory's upward axis where it is
/// not to be found from the body.
///
/// # Errors
/// Those of [`read_motion`].
pub fn read_markers(path: &Path, names: &MarkerNames, up: Option<Axis>) -> Result<Recording> {
    let captured = read_motion(path, names, up)?;
    let motion = captured.motion;
    let clip = ClipFacts {
        file: path.file_name().unwrap_or_default().to_string_lossy().into_owned(),
        sha256: files::sha256(path)?,
        width_px: None,
        height_px: None,
        duration_s: rounded(motion.count as f64 / motion.rate_hz, 6),
        frames: captured.rows,
        frame_rate_hz: rounded(motion.rate_hz, 6),
        recorded_at: None,
    };
    let filming = Filming {
        analysed_frames: captured.rows,
        tracked_frames: captured.whole_rows,
        cut_short: captured.cut_short,
        assumed: captured.notes,
        ..Filming::default()
    };
    Ok(Recording { clip, filming, frames: Vec::new(), heads: Vec::new(), motion: Some(motion) })
}
