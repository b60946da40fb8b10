//! All courses of a recording together.

use super::{Alignment, Feet, Pelvis, Quality, Scale, Stance, Tracks, Trunk};

/// What a rep is measured from.
#[derive(Debug, Clone, Copy)]
pub struct Courses<'a> {
    /// Landmarks on the time grid.
    pub tracks: &'a Tracks,
    /// Postures and the working leg.
    pub stance: &'a Stance,
    /// Metres per pixel.
    pub scale: &'a Scale,
    /// Pelvis height.
    pub pelvis: &'a Pelvis,
    /// Trunk and pelvis from the front.
    pub trunk: &'a Trunk,
    /// Both feet.
    pub feet: &'a Feet,
    /// Knee over foot: of the working leg, of both legs where both work alike,
    /// of none where the view does not show it.
    pub alignments: &'a [Alignment],
    /// Trust in each sample.
    pub quality: &'a [Quality],
}
