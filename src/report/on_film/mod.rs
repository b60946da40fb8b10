//! What was measured, drawn onto the film: the working leg, the plumb line from its
//! knee, and in words what happens when. And what must not be seen, hidden.

mod faces;
mod key_pictures;
mod leg;
mod panel;
mod story;

use image::RgbImage;
use tiny_skia::{IntSize, Pixmap};

pub use faces::Hiding;

use crate::judgement::criteria::Criteria;
use crate::judgement::document::Assessment;
use crate::judgement::trajectories::Trajectories;
use crate::record::Recording;
use crate::session::{FilmClock, KeyPicture};
use crate::video::Frame;
use key_pictures::Album;
use panel::Panel;
use story::Story;

/// Draws an assessment onto the frames of its clip, which must come in order.
pub struct Overlay<'a> {
    trajectories: &'a Trajectories,
    limit_m: f64,
    hiding: Option<Hiding<'a>>,
    story: Story<'a>,
    panel: Panel,
    album: Album,
    clock: FilmClock,
}

/// How the film is to be.
#[derive(Debug, Clone, Copy)]
pub struct Style {
    /// Show faces and the room.
    pub faces_shown: bool,
    /// Show faulted seconds slower.
    pub slow_faults: bool,
    /// Seconds of movement per second of the clip's own clock.
    pub time_factor: f64,
}

impl<'a> Overlay<'a> {
    /// An overlay for the clip that the recording was made from.
    pub fn new(
        recording: &'a Recording,
        assessment: &'a Assessment,
        trajectories: &'a Trajectories,
        criteria: &Criteria,
        style: Style,
    ) -> Self {
        let body_px = assessment.scale.stature_m / assessment.scale.m_per_px;
        let story = Story::new(assessment, trajectories);
        let slow_s = if style.slow_faults { story.faulted_s() } else { Vec::new() };
        Self {
            trajectories,
            limit_m: criteria.knee_offset_limit_m(assessment.scale.stature_m),
            hiding: (!style.faces_shown).then(|| Hiding::new(recording, body_px)),
            story,
            panel: Panel::default(),
            album: Album::new(recording, assessment),
            clock: FilmClock { time_factor: style.time_factor, slow_s },
        }
    }

    /// The next frame with everything on it, as RGBA; `None` for a picture of no size.
    pub fn draw(&mut self, frame: &Frame) -> Option<Pixmap> {
        let mut picture = opaque(&frame.picture)?;
        let px = 1.0 / frame.clip_px_per_px;
        if let Some(hiding) = &self.hiding {
            hiding.apply(&mut picture, frame.time_s, px);
        }
        let at = frame.time_s * self.trajectories.rate_hz;
        for leg in &self.trajectories.legs {
            let inside = self.story.knee_inside(leg.side, frame.time_s);
            leg::draw(&mut picture, leg, at, px, self.limit_m, inside);
        }
        self.album.offer(&picture, frame.time_s, px);
        let slow = self.clock.is_slow(frame.time_s);
        self.panel.draw(&mut picture, &self.story.at(frame.time_s), slow);
        Some(picture)
    }

    /// When what is shown.
    pub fn clock(&self) -> &FilmClock {
        &self.clock
    }

    /// The pictures of the reps' moments that came by, and the film's times.
    pub fn finish(self) -> (Vec<KeyPicture>, FilmClock) {
        (self.album.pictures, self.clock)
    }
}

/// Lines, words and signs have sizes for a picture whose shorter side is 720 pixels.
fn unit_px(picture: &Pixmap) -> f32 {
    picture.width().min(picture.height()) as f32 / 720.0
}

fn opaque(rgb: &RgbImage) -> Option<Pixmap> {
    let mut rgba = Vec::with_capacity(rgb.len() / 3 * 4);
    for pixel in rgb.as_raw().chunks_exact(3) {
        rgba.extend_from_slice(&[pixel[0], pixel[1], pixel[2], 255]);
    }
    Pixmap::from_vec(rgba, IntSize::from_wh(rgb.width(), rgb.height())?)
}
