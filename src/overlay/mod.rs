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

use crate::assessment::Assessment;
use crate::criteria::Criteria;
use crate::record::Recording;
use crate::report::content::KeyPicture;
use crate::trajectory::Trajectories;
use crate::video::Frame;
use key_pictures::Album;
use panel::Panel;
use story::Story;

/// Draws an assessment onto the frames of its clip, which must come in order.
pub struct Overlay<'a> {
    trajectories: &'a Trajectories,
    limit_m: f64,
    hiding: Option<Hiding<'a>>,
    story: Story,
    panel: Panel,
    album: Album,
}

impl<'a> Overlay<'a> {
    /// Without `faces_shown` faces, and most of the room, are hidden.
    pub fn new(
        recording: &'a Recording,
        assessment: &Assessment,
        trajectories: &'a Trajectories,
        criteria: &Criteria,
        faces_shown: bool,
    ) -> Self {
        let body_px = assessment.scale.stature_m / assessment.scale.m_per_px;
        Self {
            trajectories,
            limit_m: criteria.knee_offset_max.value / 100.0 * assessment.scale.stature_m,
            hiding: (!faces_shown).then(|| Hiding::new(recording, body_px)),
            story: Story::new(assessment, trajectories, criteria),
            panel: Panel::default(),
            album: Album::new(recording, assessment),
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
        let inside = self.story.knee_inside(frame.time_s);
        for leg in &self.trajectories.legs {
            leg::draw(&mut picture, leg, at, px, self.limit_m, inside);
        }
        self.album.offer(&picture, frame.time_s, px);
        self.panel.draw(&mut picture, &self.story.at(frame.time_s));
        Some(picture)
    }

    /// The pictures of the reps' moments that came by.
    pub fn key_pictures(self) -> Vec<KeyPicture> {
        self.album.pictures
    }
}

fn opaque(rgb: &RgbImage) -> Option<Pixmap> {
    let mut rgba = Vec::with_capacity(rgb.len() / 3 * 4);
    for pixel in rgb.as_raw().chunks_exact(3) {
        rgba.extend_from_slice(&[pixel[0], pixel[1], pixel[2], 255]);
    }
    Pixmap::from_vec(rgba, IntSize::from_wh(rgb.width(), rgb.height())?)
}
