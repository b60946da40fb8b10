use image::RgbImage;

/// What is known of a clip before its frames are decoded.
#[derive(Debug, Clone)]
pub struct ClipInfo {
    /// Width of the upright picture, clip pixels.
    pub width_px: u32,
    /// Height of the upright picture, clip pixels.
    pub height_px: u32,
    /// Frames the container announces, if it does; for progress only.
    pub announced_frames: Option<u64>,
    /// Frame rate the container announces, per second; 0 if it does not.
    pub announced_hz: f64,
    /// True-time factor: seconds of movement per second of the file's clock.
    pub time_factor: f64,
    /// The clip's transfer curve is an HDR one and was tone-mapped.
    pub hdr: bool,
    /// When the camera says it was filmed.
    pub recorded_at: Option<jiff::Timestamp>,
}

/// One upright picture of a clip.
#[derive(Debug, Clone)]
pub struct Frame {
    /// Count of decoded frames before this one.
    pub index: usize,
    /// Seconds of movement from the first frame.
    pub time_s: f64,
    /// The upright picture, perhaps reduced.
    pub picture: RgbImage,
    /// Clip pixels per pixel of `picture`, 1 unless it was reduced.
    pub clip_px_per_px: f64,
}
