//! Pictures of a rep's moments, cut to the person.

use image::codecs::jpeg::JpegEncoder;
use image::{RgbImage, imageops};
use tiny_skia::Pixmap;

use crate::judgement::document::{Assessment, Rep, Verdict};
use crate::record::Recording;
use crate::session::{KeyPicture, Moment};
use crate::signal;

/// Height over width of a picture; this and the sizes below are design choices.
const UPRIGHT: f64 = 1.6;
/// Room left around the person, share of their extent.
const MARGIN: f64 = 0.12;
/// Width of a picture, pixels, by how many there are, so that a page stays small.
const WIDTHS_PX: [(usize, u32); 3] = [(36, 260), (72, 210), (usize::MAX, 150)];
/// With more reps than this only those that were not clean are shown.
const MANY_REPS: usize = 40;
const JPEG_QUALITY: u8 = 72;

/// Waits for the moments to come by.
pub(super) struct Album {
    /// Still to come, latest first.
    awaited: Vec<(f64, usize, Moment)>,
    /// Left, top, width and height of the cut, clip pixels.
    cut_px: [f64; 4],
    width_px: u32,
    pub pictures: Vec<KeyPicture>,
}

impl Album {
    pub fn new(recording: &Recording, a: &Assessment) -> Self {
        let shown = |rep: &&Rep| a.reps.len() <= MANY_REPS || rep.judgement != Verdict::Clean;
        let mut awaited: Vec<_> = a
            .reps
            .iter()
            .filter(shown)
            .flat_map(|rep| {
                let moments = [
                    (rep.seat_off_s, Moment::SeatOff),
                    (rep.knee_offset_peak_at_s, Moment::KneeInmost),
                    (rep.seat_contact_s, Moment::SeatContact),
                ];
                moments.into_iter().filter_map(|(at, what)| Some((at?, rep.number, what)))
            })
            .collect();
        awaited.sort_by(|a, b| b.0.total_cmp(&a.0));
        let width_px = WIDTHS_PX
            .iter()
            .find(|(up_to, _)| awaited.len() <= *up_to)
            .map_or(150, |(_, width)| *width);
        Self { awaited, cut_px: extent(recording), width_px, pictures: Vec::new() }
    }

    /// Takes the picture if it is that of a moment.
    pub fn offer(&mut self, picture: &Pixmap, time_s: f64, px: f64) {
        while let Some((at_s, rep, moment)) = self.awaited.last().copied() {
            // The first frame from then on; events are rounded to milliseconds.
            if time_s + 1e-3 < at_s {
                return;
            }
            self.awaited.pop();
            if let Some(taken) = self.cut(picture, px) {
                let (width_px, height_px) = taken.dimensions();
                let mut jpeg = Vec::new();
                let coder = JpegEncoder::new_with_quality(&mut jpeg, JPEG_QUALITY);
                if taken.write_with_encoder(coder).is_ok() {
                    let time_s = at_s;
                    self.pictures.push(KeyPicture {
                        rep,
                        moment,
                        time_s,
                        width_px,
                        height_px,
                        jpeg,
                    });
                }
            }
        }
    }

    fn cut(&self, picture: &Pixmap, px: f64) -> Option<RgbImage> {
        let [left, top, width, height] = self.cut_px.map(|v| (v * px).round().max(0.0) as u32);
        let width = width.min(picture.width().checked_sub(left)?);
        let height = height.min(picture.height().checked_sub(top)?);
        if width == 0 || height == 0 {
            return None;
        }
        let part = RgbImage::from_fn(width, height, |x, y| {
            let at = 4 * ((top + y) * picture.width() + left + x) as usize;
            let data = picture.data();
            image::Rgb([data[at], data[at + 1], data[at + 2]])
        });
        let high = (f64::from(self.width_px) * f64::from(height) / f64::from(width)).round();
        Some(imageops::resize(
            &part,
            self.width_px,
            (high as u32).max(1),
            imageops::FilterType::Triangle,
        ))
    }
}

/// Where the person is through the clip, with some room, upright, inside the picture.
fn extent(recording: &Recording) -> [f64; 4] {
    let size = (
        f64::from(recording.clip.width_px.unwrap_or(1)),
        f64::from(recording.clip.height_px.unwrap_or(1)),
    );
    let points =
        || recording.frames.iter().filter_map(|f| f.pose.as_ref()).flat_map(|p| p.image.iter());
    let range = |value: &dyn Fn(nalgebra::Point2<f64>) -> f64| {
        let values: Vec<f64> = points().map(|l| value(l.place_px)).collect();
        let edge = |percent| signal::percentile(&values, percent).unwrap_or(0.0);
        (edge(0.3), edge(99.7))
    };
    let ((left, right), (top, bottom)) = (range(&|p| p.x), range(&|p| p.y));
    let margin = MARGIN * (bottom - top);
    let mut height = (bottom - top + 2.0 * margin).max((right - left + margin) * UPRIGHT);
    height = height.min(size.1).min(size.0 * UPRIGHT).max(1.0);
    let width = height / UPRIGHT;
    let place = |from: f64, to: f64, extent: f64, limit: f64| {
        ((from + to - extent) / 2.0).clamp(0.0, (limit - extent).max(0.0))
    };
    [place(left, right, width, size.0), place(top, bottom, height, size.1), width, height]
}
