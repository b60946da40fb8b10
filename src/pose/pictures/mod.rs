//! What the pictures themselves tell about the filming: light, sharpness, whether the
//! camera is level and still. Pure functions on pictures; who is in them is told by
//! [`Body`].
//!
//! | Part | What it reads |
//! |---|---|
//! | [`light`] | how bright the person and the surroundings are |
//! | [`sharpness`] | how wide the strongest edges at the person are |
//! | [`upright`] | how upright lines of the room lean: roll and pitch of the camera |

pub mod light;
pub mod sharpness;
pub mod upright;

use image::RgbImage;
use nalgebra::Point2;

use self::light::Light;
use self::upright::Lean;
use crate::record::Pictures;
use crate::signal;

/// Where somebody is in a picture: the middle of the hips and the radius of the circle
/// about the whole body, pixels. The stature is about twice the radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Body {
    /// Middle of the hips, pixels.
    pub hips_px: Point2<f64>,
    /// Radius of the circle about the whole body, pixels.
    pub radius_px: f64,
}

impl Body {
    /// Distance of a pixel from the hips in shares of an upright ellipse that holds the
    /// body, half as wide as high: below 1 is the body.
    pub fn reach(&self, u_px: f64, v_px: f64) -> f64 {
        let (du, dv) = (u_px - self.hips_px.x, v_px - self.hips_px.y);
        (2.0 * du).hypot(dv) / self.radius_px.max(1.0)
    }
}

/// A pixel further out than this share of [`Body::reach`] shows background (design choice:
/// arms held out reach a little beyond the body's own ellipse).
const BACKGROUND_REACH: f64 = 1.1;

/// Whether a pixel shows none of these people.
pub(super) fn is_background(u_px: usize, v_px: usize, people: &[Body]) -> bool {
    people.iter().all(|p| p.reach(u_px as f64, v_px as f64) > BACKGROUND_REACH)
}

/// The picture with these people painted over, in its mean colour.
pub fn painted_out(picture: &RgbImage, people: &[Body]) -> RgbImage {
    let pixels = u64::from(picture.width()) * u64::from(picture.height());
    let mut sums = [0u64; 3];
    for pixel in picture.pixels() {
        sums.iter_mut().zip(pixel.0).for_each(|(sum, value)| *sum += u64::from(value));
    }
    let mean = image::Rgb(sums.map(|sum| (sum / pixels.max(1)) as u8));
    let mut painted = picture.clone();
    for (u, v, pixel) in painted.enumerate_pixels_mut() {
        if people.iter().any(|p| p.reach(f64::from(u), f64::from(v)) < 1.0) {
            *pixel = mean;
        }
    }
    painted
}

/// What one picture tells of one person.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Glance {
    /// How bright person and surroundings are.
    pub light: Option<Light>,
    /// Width of the strongest edges at the person, shares of stature.
    pub edge_width: Option<f64>,
}

impl Glance {
    /// Looks at one person among `people`.
    pub fn at(picture: &RgbImage, person: &Body, people: &[Body]) -> Self {
        Self {
            light: light::read(picture, person, people),
            edge_width: sharpness::edge_width(picture, person),
        }
    }
}

/// From the looks at the person who does the exercise, the leaning lines of all
/// looks, and the wander of the camera.
pub fn gathered(glances: &[Glance], leans: &[Vec<Lean>], wander: Option<f64>) -> Pictures {
    let usual = |value: &dyn Fn(&Light) -> f64| {
        let values: Vec<f64> = glances.iter().filter_map(|g| g.light.as_ref()).map(value).collect();
        signal::median(&values)
    };
    let widths: Vec<f64> = glances.iter().filter_map(|g| g.edge_width).collect();
    Pictures {
        person_light: usual(&|l| l.person),
        surroundings_light: usual(&|l| l.surroundings),
        brightest_light: usual(&|l| l.brightest),
        edge_width: signal::median(&widths),
        edge_width_at_worst: signal::percentile(&widths, 90.0),
        level: upright::level(leans),
        wander,
        movement_behind_s: Vec::new(),
    }
    .rounded()
}

/// A grey picture, possibly reduced: the mean luma of square cells.
pub(crate) struct Grey {
    pub width: usize,
    pub height: usize,
    luma: Vec<f32>,
}

impl Grey {
    /// Of the part of a picture from corner `from` to `to` (excluded), in cells of
    /// `cell` pixels; of no size where no whole cell of it lies in the picture.
    pub(crate) fn of(
        picture: &RgbImage,
        from: (usize, usize),
        to: (usize, usize),
        cell: usize,
    ) -> Self {
        let cell = cell.max(1);
        let to = (to.0.min(picture.width() as usize), to.1.min(picture.height() as usize));
        let width = to.0.saturating_sub(from.0) / cell;
        let height = to.1.saturating_sub(from.1) / cell;
        if width == 0 || height == 0 {
            return Self { width: 0, height: 0, luma: Vec::new() };
        }
        let stride = picture.width() as usize * 3;
        let bytes = picture.as_raw();
        let mut sums = vec![0u64; width * height];
        for row in 0..height * cell {
            let start = (from.1 + row) * stride + from.0 * 3;
            let line = &bytes[start..start + width * cell * 3];
            let into = &mut sums[row / cell * width..][..width];
            for (sum, pixels) in into.iter_mut().zip(line.chunks_exact(3 * cell)) {
                // ITU-R BT.601 weights in 256ths.
                *sum += pixels
                    .chunks_exact(3)
                    .map(|p| 77 * u64::from(p[0]) + 150 * u64::from(p[1]) + 29 * u64::from(p[2]))
                    .sum::<u64>();
            }
        }
        let share = 1.0 / (256.0 * (cell * cell) as f32);
        Self { width, height, luma: sums.into_iter().map(|s| s as f32 * share).collect() }
    }

    pub(crate) fn at(&self, column: usize, row: usize) -> f32 {
        self.luma[row * self.width + column]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn people_are_painted_out_and_the_rest_stays() {
        let picture = RgbImage::from_fn(40, 40, |x, _| Rgb([if x < 20 { 0 } else { 200 }; 3]));
        let body = Body { hips_px: Point2::new(10.0, 20.0), radius_px: 12.0 };
        let painted = painted_out(&picture, &[body]);
        assert_eq!(painted.get_pixel(10, 20).0, [100; 3]);
        assert_eq!(painted.get_pixel(10, 31).0, [100; 3], "as high as the radius");
        assert_eq!(painted.get_pixel(17, 20).0, [0; 3], "half as wide");
        assert_eq!(painted.get_pixel(30, 20).0, [200; 3]);
        assert_eq!(painted_out(&picture, &[]), picture);
    }

    #[test]
    fn cells_are_means_and_a_part_starts_at_its_corner() {
        let picture = RgbImage::from_fn(12, 9, |x, _| Rgb([10 * x as u8; 3]));
        let grey = Grey::of(&picture, (2, 1), (12, 9), 2);
        assert_eq!((grey.width, grey.height), (5, 4));
        assert!((grey.at(0, 3) - 25.0).abs() < 1e-3 && (grey.at(4, 0) - 105.0).abs() < 1e-3);
        assert_eq!(Grey::of(&picture, (20, 0), (30, 9), 2).width, 0);
    }

    /// White is white in the largest cell, too.
    #[test]
    fn a_cell_may_be_the_whole_picture() {
        let white = RgbImage::from_pixel(400, 400, Rgb([255; 3]));
        assert!((Grey::of(&white, (0, 0), (400, 400), 400).at(0, 0) - 255.0).abs() < 1e-3);
    }

    /// Whatever size a picture has and wherever a body is said to be, in it or not.
    #[test]
    fn every_picture_and_body_can_be_looked_at() {
        let sizes = [1, 2, 3, 16, 17, 97, 200, 2000];
        let numbers = [f64::NAN, f64::NEG_INFINITY, -1e12, -7.0, 0.0, 0.4, 15.9, 90.0, 1e12];
        for width in sizes {
            for height in sizes.into_iter().filter(|height| width * height < 100_000) {
                let picture = RgbImage::from_fn(width, height, |x, y| {
                    Rgb([(x * 31 + y * 17) as u8, (x / 8 * 90) as u8, (y / 8 * 70) as u8])
                });
                for (i, radius_px) in numbers.into_iter().enumerate() {
                    let (x, y) = (numbers[(i + 4) % 9], numbers[(i * 5 + 2) % 9]);
                    let far = Body { hips_px: Point2::new(x, y), radius_px };
                    let middle = (f64::from(width) / 2.0, f64::from(height) / 2.0);
                    let near = Body { hips_px: Point2::from(<[f64; 2]>::from(middle)), radius_px };
                    for body in [near, far] {
                        let glance = Glance::at(&picture, &body, &[body]);
                        assert!(glance.edge_width.is_none_or(f64::is_finite), "{body:?}");
                        upright::leans(&picture, &[body]);
                    }
                }
            }
        }
    }
}
