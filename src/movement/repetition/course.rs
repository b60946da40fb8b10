//! What reps are read from.

use crate::movement::kinematics::{Pelvis, Stance, Tracks};

/// The courses reps are read from.
#[derive(Debug, Clone, Copy)]
pub struct Course<'a> {
    /// Time grid.
    pub tracks: &'a Tracks,
    /// Postures and body height.
    pub stance: &'a Stance,
    /// Pelvis height.
    pub pelvis: &'a Pelvis,
}

impl Course<'_> {
    /// Sub-sample index to seconds.
    pub(super) fn seconds(&self, sample: f64) -> f64 {
        sample / self.tracks.rate_hz
    }
}
