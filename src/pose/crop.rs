//! Cutting a turned square out of a picture, area-averaged.

use image::RgbImage;
use nalgebra::Vector2;

use super::region::Region;

/// What lies outside the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Outside {
    /// Black (the detector was trained so).
    Black,
    /// The nearest pixel of the border (the landmark network).
    Replicate,
}

/// A picture and its successive halvings, made as far as they are needed.
pub(super) struct Pyramid<'a> {
    full: &'a RgbImage,
    halved: Vec<RgbImage>,
}

impl<'a> Pyramid<'a> {
    pub(super) fn new(full: &'a RgbImage) -> Self {
        Self { full, halved: Vec::new() }
    }

    /// The picture halved `level` times.
    fn level(&mut self, level: usize) -> &RgbImage {
        while self.halved.len() < level {
            let next = halve(self.halved.last().unwrap_or(self.full));
            self.halved.push(next);
        }
        if level == 0 { self.full } else { &self.halved[level - 1] }
    }

    /// Samples `region` to a `size`×`size` RGB square, values 0–255, rows from
    /// the top. Each value is the mean over its own area of the picture: plain
    /// bilinear sampling of a large square would pick single pixels and make
    /// the landmarks tremble.
    pub(super) fn square(&mut self, region: &Region, size: usize, outside: Outside) -> Vec<f32> {
        let (width, height) = self.full.dimensions();
        if !is_within_reach(region, width.max(height)) {
            return vec![0.0; size * size * 3];
        }
        let px_per_cell = region.side_px / size as f64;
        let level = px_per_cell.log2().floor().clamp(0.0, 6.0) as usize;
        let shrink = f64::from(1u32 << level);
        let sub = (px_per_cell / shrink).round().clamp(1.0, 2.0) as usize;
        if width >> level < 2 || height >> level < 2 {
            return vec![0.0; size * size * 3];
        }
        let picture = self.level(level);
        let mut out = Vec::with_capacity(size * size * 3);
        let weight = 1.0 / (sub * sub) as f32;
        // One step of a sub-cell along the square's axes, in pixels of the
        // level; a halved pixel's centre lies half a pixel beyond its first
        // parent's.
        let fine = (size * sub) as f64;
        let along = region.turned(Vector2::new(1.0, 0.0)) * (region.side_px / fine / shrink);
        let down = region.turned(Vector2::new(0.0, 1.0)) * (region.side_px / fine / shrink);
        let corner = region.picture_from_square(0.0, 0.0) + Vector2::repeat(0.5);
        let middle = 0.5 - 0.5 * sub as f64;
        let origin = corner.coords / shrink - Vector2::repeat(0.5) + (along + down) * middle;
        for row in 0..size {
            for column in 0..size {
                let mut sum = [0.0f32; 3];
                for dy in 0..sub {
                    for dx in 0..sub {
                        let p = origin
                            + along * (column * sub + dx) as f64
                            + down * (row * sub + dy) as f64;
                        let colour = bilinear(picture, p.x as f32, p.y as f32, outside);
                        for (s, c) in sum.iter_mut().zip(colour) {
                            *s += c;
                        }
                    }
                }
                out.extend(sum.map(|s| s * weight));
            }
        }
        out
    }
}

/// False for a region so far from a picture, or so large, that hardly anything of the
/// picture can be in it, and for one that is nowhere (design choice: a thousand times its
/// longer side).
fn is_within_reach(region: &Region, long_side_px: u32) -> bool {
    let reach_px = 1000.0 * f64::from(long_side_px);
    let small = |px: f64| px.abs() <= reach_px;
    let Region { centre_px, side_px, rotation_rad } = region;
    small(centre_px.x) && small(centre_px.y) && small(*side_px) && rotation_rad.is_finite()
}

/// Mean of each 2×2 block; an odd last row or column is dropped.
fn halve(picture: &RgbImage) -> RgbImage {
    let (width, height) = (picture.width() as usize / 2, picture.height() as usize / 2);
    let stride = picture.width() as usize * 3;
    let bytes = picture.as_raw();
    let mut out = Vec::with_capacity(width * height * 3);
    for row in 0..height {
        let (upper, lower) = bytes[2 * row * stride..].split_at(stride);
        let pairs = upper.chunks_exact(6).zip(lower.chunks_exact(6));
        for (a, b) in pairs.take(width) {
            for c in 0..3 {
                let sum =
                    u16::from(a[c]) + u16::from(a[c + 3]) + u16::from(b[c]) + u16::from(b[c + 3]);
                out.push(((sum + 2) / 4) as u8);
            }
        }
    }
    RgbImage::from_raw(width as u32, height as u32, out).unwrap_or_default()
}

/// `f32::floor` is a library call on the baseline x86-64 target, and this is
/// the innermost loop.
fn floor(x: f32) -> i32 {
    let towards_zero = x as i32;
    towards_zero - i32::from(x < towards_zero as f32)
}

fn bilinear(picture: &RgbImage, u: f32, v: f32, outside: Outside) -> [f32; 3] {
    let (width, height) = (picture.width() as i32, picture.height() as i32);
    let (u0, v0) = (floor(u), floor(v));
    let (fu, fv) = (u - u0 as f32, v - v0 as f32);
    let bytes = picture.as_raw();
    let mut sum = [0.0f32; 3];
    for (dv, wv) in [(0, 1.0 - fv), (1, fv)] {
        for (du, wu) in [(0, 1.0 - fu), (1, fu)] {
            let (x, y) = (u0 + du, v0 + dv);
            let inside = (0..width).contains(&x) && (0..height).contains(&y);
            if !inside && outside == Outside::Black {
                continue;
            }
            let (x, y) = (x.clamp(0, width - 1), y.clamp(0, height - 1));
            let at = 3 * (y as usize * width as usize + x as usize);
            let w = wu * wv;
            for c in 0..3 {
                sum[c] += w * f32::from(bytes[at + c]);
            }
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;
    use nalgebra::Point2;

    /// A linear ramp is its own area average, so sampling must return the
    /// coordinate itself at every size and turn (away from the border).
    #[test]
    fn a_ramp_returns_its_coordinates() {
        let picture = RgbImage::from_fn(256, 256, |x, y| Rgb([x as u8, y as u8, 7]));
        for (side_px, rotation_rad) in [(16.0, 0.0), (50.0, 0.4), (150.0, -0.3)] {
            let region = Region { centre_px: Point2::new(128.0, 120.0), side_px, rotation_rad };
            let size = 16;
            let square = Pyramid::new(&picture).square(&region, size, Outside::Replicate);
            for (i, value) in square.chunks(3).enumerate() {
                let (x, y) = ((i % size) as f64 / 16.0, (i / size) as f64 / 16.0);
                let p = region.picture_from_square(x, y);
                // Halving rounds each mean to a whole number.
                assert!((f64::from(value[0]) - p.x).abs() < 0.6, "{value:?} {p}");
                assert!((f64::from(value[1]) - p.y).abs() < 0.6);
                assert!((value[2] - 7.0).abs() < 1e-3);
            }
        }
    }

    #[test]
    fn outside_is_black_or_the_border() {
        let picture = RgbImage::from_pixel(8, 8, Rgb([200, 200, 200]));
        let region = Region { centre_px: Point2::new(-50.0, 4.0), side_px: 8.0, rotation_rad: 0.0 };
        let black = Pyramid::new(&picture).square(&region, 4, Outside::Black);
        let border = Pyramid::new(&picture).square(&region, 4, Outside::Replicate);
        assert!(black.iter().all(|v| *v == 0.0));
        assert!(border.iter().all(|v| (*v - 200.0).abs() < 1e-3));
    }

    /// Whatever the picture and wherever the square: colours, as many as are asked for.
    #[test]
    fn every_square_of_every_picture_can_be_cut() {
        let numbers = [f64::NAN, f64::INFINITY, -1e12, -300.0, 0.0, 0.3, 1.0, 250.0, 1e7, 1e12];
        for (width, height) in [(1, 1), (2, 2), (3, 2), (16, 16), (1, 2000), (2000, 1), (33, 7)] {
            let picture = RgbImage::from_fn(width, height, |x, y| Rgb([x as u8, y as u8, 9]));
            for (i, side_px) in numbers.into_iter().enumerate() {
                for j in 0..numbers.len() {
                    let centre_px = Point2::new(numbers[(i + j) % 10], numbers[(i + 3 * j) % 10]);
                    let rotation_rad = [0.0, 0.7, -3.0, f64::NAN][(i + j) % 4];
                    let region = Region { centre_px, side_px, rotation_rad };
                    for outside in [Outside::Black, Outside::Replicate] {
                        let square = Pyramid::new(&picture).square(&region, 8, outside);
                        assert!(square.len() == 192, "{region:?}");
                        assert!(square.iter().all(|v| (0.0..=255.5).contains(v)), "{region:?}");
                    }
                }
            }
        }
    }
}
