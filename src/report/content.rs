//! What a report says, before it becomes a page or a paper.

use crate::assessment::Assessment;
use crate::criteria::Criteria;

/// A moment of a rep that is shown as a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Moment {
    /// The pelvis leaves the seat.
    SeatOff,
    /// The knee is furthest inward.
    KneeInmost,
    /// The pelvis reaches the seat.
    SeatContact,
}

/// A picture of the annotated film, cut to the person.
#[derive(Debug, Clone, PartialEq)]
pub struct KeyPicture {
    /// Number of the rep.
    pub rep: usize,
    /// What it shows.
    pub moment: Moment,
    /// When, seconds from the clip's first frame.
    pub time_s: f64,
    /// Width, pixels.
    pub width_px: u32,
    /// Height, pixels.
    pub height_px: u32,
    /// The picture as a JPEG file.
    pub jpeg: Vec<u8>,
}

/// A drawing of a course over time, as an SVG file with text alternative.
#[derive(Debug, Clone, PartialEq)]
pub struct Plot {
    /// What it shows, in a few words.
    pub title: String,
    /// The same in full, for those who cannot see it.
    pub alternative: String,
    /// The drawing.
    pub svg: String,
}

/// What page and paper are made from.
#[derive(Debug, Clone)]
pub struct Content<'a> {
    /// The result.
    pub assessment: &'a Assessment,
    /// The limits it was judged by.
    pub criteria: &'a Criteria,
    /// Day of the report.
    pub date: jiff::civil::Date,
    /// Plots of each rep, in the order of the reps; empty where there are none.
    pub rep_plots: Vec<Vec<Plot>>,
    /// Plots of the whole set.
    pub set_plots: Vec<Plot>,
    /// Pictures of the film.
    pub pictures: Vec<KeyPicture>,
}
