//! What a report says, before it becomes a page or a paper.

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
