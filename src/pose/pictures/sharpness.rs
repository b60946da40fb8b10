//! How sharp the picture is at the person: the width of the strongest edges, which lens,
//! movement, noise reduction and compression all widen alike.

use image::RgbImage;

use super::{Body, Grey};
use crate::signal;

/// The body's radius is reduced to about this many cells: finer than a blur that would
/// matter, and noise is averaged away. This and the following are design choices.
const RADIUS_CELLS: f64 = 220.0;
/// Edges are the steps among the steepest of this share, percent.
const STEEP_PERCENTILE: f64 = 98.0;
/// How steep the steepest are is read from every so many slopes: plenty.
const SAMPLED: usize = 17;
/// A step of fewer levels is no edge.
const MIN_STEP: f32 = 6.0;
/// An edge goes on while its slope is at least this share of the steepest one.
const FLANK: f32 = 0.1;
/// It ends after so many cells to either side.
const REACH: usize = 30;
/// Fewer edges than this tell nothing.
const MIN_EDGES: usize = 40;

/// Median width of the strongest edges at the person, shares of stature (twice the
/// radius): height of the step over its steepest slope, σ·√(2π) of a step blurred by a
/// Gaussian of spread σ (derived). `None` where there are too few edges.
pub fn edge_width(picture: &RgbImage, person: &Body) -> Option<f64> {
    let (hips, radius) = (person.hips_px, person.radius_px);
    let cell = (radius / RADIUS_CELLS).floor().max(1.0) as usize;
    let corner = |share_u: f64, share_v: f64| {
        let place = |p: f64| p.max(0.0) as usize;
        (place(hips.x + share_u * radius), place(hips.y + share_v * radius))
    };
    let grey = Grey::of(picture, corner(-0.6, -1.05), corner(0.6, 1.05), cell);
    let mut slopes = Vec::new();
    for row in 0..grey.height {
        slopes.push((1..grey.width).map(|x| grey.at(x, row) - grey.at(x - 1, row)).collect());
    }
    for column in 0..grey.width {
        slopes
            .push((1..grey.height).map(|y| grey.at(column, y) - grey.at(column, y - 1)).collect());
    }
    let sizes: Vec<f64> = slopes
        .iter()
        .flat_map(|line: &Vec<f32>| line.iter().step_by(SAMPLED))
        .map(|s| f64::from(s.abs()))
        .collect();
    let steep = (signal::percentile(&sizes, STEEP_PERCENTILE)? as f32).max(MIN_STEP / 4.0);
    let widths: Vec<f64> = slopes.iter().flat_map(|line| edges(line, steep)).collect();
    if widths.len() < MIN_EDGES {
        return None;
    }
    signal::median(&widths).map(|w| w * cell as f64 / (2.0 * radius))
}

/// Widths of the edges along one line of slopes, cells.
fn edges(slopes: &[f32], steep: f32) -> Vec<f64> {
    let mut widths = Vec::new();
    for i in 1..slopes.len().saturating_sub(1) {
        let peak = slopes[i];
        let size = peak.abs();
        if size < steep || size < slopes[i - 1].abs() || size <= slopes[i + 1].abs() {
            continue;
        }
        let same_way = |s: &&f32| **s * peak.signum() >= FLANK * size;
        let after = slopes[i + 1..].iter().take(REACH).take_while(same_way);
        let before = slopes[..i].iter().rev().take(REACH).take_while(same_way);
        let step = peak + after.sum::<f32>() + before.sum::<f32>();
        if step.abs() >= MIN_STEP {
            widths.push(f64::from(step / peak));
        }
    }
    widths
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;
    use nalgebra::Point2;

    /// Steps blurred by a known Gaussian: their width is σ·√(2π), which is the definition
    /// of a normal density's peak, 1/(σ·√(2π)).
    #[test]
    fn a_blurred_step_has_the_width_of_its_blur() {
        let body = Body { hips_px: Point2::new(200.0, 250.0), radius_px: 220.0 };
        let sharp = RgbImage::from_fn(400, 500, |x, y| {
            Rgb([if (x / 60 + y / 60) % 2 == 0 { 60 } else { 190 }; 3])
        });
        for sigma in [3.0f64, 6.0] {
            let blurred = image::imageops::blur(&sharp, sigma as f32);
            let expected = sigma * std::f64::consts::TAU.sqrt() / 440.0;
            let found = edge_width(&blurred, &body).unwrap();
            assert!((found / expected - 1.0).abs() < 0.15, "{sigma}: {found} {expected}");
        }
        assert!(edge_width(&sharp, &body).unwrap() < 1.5 / 440.0);
        assert_eq!(edge_width(&RgbImage::new(400, 500), &body), None);
    }
}
