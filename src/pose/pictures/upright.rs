//! How upright lines of the room (doors, windows, frames, corners) lean in the picture.
//!
//! A camera that is rolled by ρ and pitched up by θ shows an upright line at column u as
//! leaning by ρ − θ·u/f to the right (clockwise), u from the picture's middle, f the focal
//! length: pitch makes lines converge, roll turns them together (derived, small angles).

use image::RgbImage;

use super::{Body, Grey, is_background};
use crate::record::Level;

/// The longer side is reduced to about this many cells. Unless said otherwise this and the
/// following are design choices.
const LONG_SIDE: usize = 640;
/// The picture is read in so many upright strips.
const STRIPS: usize = 10;
/// Leans looked for, degrees, and their spacing: beyond, nobody calls a line upright.
const REACH_DEG: f64 = 15.0;
const SPACING_DEG: f64 = 0.25;
/// A step of fewer levels is no edge, a larger one than this counts like this.
const EDGE: (f32, f32) = (8.0, 40.0);
/// Fewer cells of edge in a strip tell nothing.
const MIN_CELLS: usize = 30;
/// A line must stand out: its strength over that of the usual lean.
const MIN_PROMINENCE: f64 = 1.6;
/// Scatter of the lean of single strips, degrees (rendered rooms, clips that are not in
/// the accuracy table: lines that are not quite upright, rows of pixels, compression).
const SCATTER_DEG: f64 = 0.5;
/// Pitch expected before looking, degrees (design choice).
const PITCH_SPREAD_DEG: f64 = 5.0;
/// Never surer than this, degrees: what remains against the rendered truth of the clips
/// of `scripts/render/tuning.toml`.
const ROLL_FLOOR_DEG: f64 = 0.4;
/// Strips with a line needed in a look, on average: a single line may lean by itself.
const MIN_STRIPS: f64 = 2.0;
/// Less sure than this, nothing is told, degrees (design choice).
const MAX_ROLL_SE_DEG: f64 = 1.3;

/// The strongest near-upright line in one strip of one picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lean {
    /// Columns right of the picture's middle over the picture's longer side.
    pub aside: f64,
    /// Lean to the right, degrees.
    pub lean_deg: f64,
    /// Its strength, 1 for a line of full contrast as long as the picture's longer side.
    pub strength: f64,
}

/// Leaning lines of one picture, beside the people in it and above their thighs: lower
/// down, boards and tiles of the floor run toward the camera and only look upright.
pub fn leans(picture: &RgbImage, people: &[Body]) -> Vec<Lean> {
    let (width, height) = (picture.width() as usize, picture.height() as usize);
    let cell = (width.max(height) / LONG_SIDE).max(1);
    let grey = Grey::of(picture, (0, 0), (width, height), cell);
    if grey.width < 4 * STRIPS || grey.height < 4 * STRIPS {
        return Vec::new();
    }
    let floor_px =
        people.iter().map(|p| p.hips_px.y + 0.2 * p.radius_px).fold(height as f64, f64::min);
    let rows = ((floor_px.max(0.0) as usize) / cell).clamp(1, grey.height - 1);
    let mut strips: [Vec<(f64, f64, f64)>; STRIPS] = Default::default();
    for y in 1..rows {
        for x in 1..grey.width - 1 {
            let across = grey.at(x + 1, y) - grey.at(x - 1, y);
            if across.abs() <= EDGE.0 {
                continue;
            }
            let down = grey.at(x, y + 1) - grey.at(x, y - 1);
            if across.abs() > 2.0 * down.abs() && is_background(x * cell, y * cell, people) {
                let step = f64::from(across.clamp(-EDGE.1, EDGE.1) / EDGE.1);
                let from_middle = y as f64 - grey.height as f64 / 2.0;
                strips[x * STRIPS / grey.width].push((x as f64, from_middle, step));
            }
        }
    }
    let long = grey.width.max(grey.height) as f64;
    let breadth = grey.width as f64 / STRIPS as f64;
    strips
        .iter()
        .enumerate()
        .filter(|(_, edge)| edge.len() >= MIN_CELLS)
        .filter_map(|(strip, edge)| {
            let (lean_deg, strength) = strongest(edge, breadth * strip as f64)?;
            let middle = breadth * (strip as f64 + 0.5) - grey.width as f64 / 2.0;
            Some(Lean { aside: middle / long, lean_deg, strength: strength / long })
        })
        .collect()
}

/// Lean and strength (cells of full contrast) of the strongest line: edge cells are
/// summed along lines of every lean, and the lean that gathers most wins.
fn strongest(edge: &[(f64, f64, f64)], left: f64) -> Option<(f64, f64)> {
    let steps = (2.0 * REACH_DEG / SPACING_DEG) as usize + 1;
    let lean = |k: usize| k as f64 * SPACING_DEG - REACH_DEG;
    let reach = edge.iter().map(|e| e.1.abs()).fold(0.0, f64::max);
    let margin = reach * REACH_DEG.to_radians().tan() + 4.0;
    let right = edge.iter().map(|e| e.0).fold(left, f64::max);
    let bins = (right - left + 2.0 * margin) as usize + 3;
    let gathered: Vec<f64> = (0..steps)
        .map(|k| {
            let slope = lean(k).to_radians().tan();
            let mut sums = vec![0.0; bins];
            for (x, y, step) in edge {
                let at = x + y * slope - left + margin;
                let (bin, part) = (at as usize, at.fract());
                sums[bin] += step * (1.0 - part);
                sums[bin + 1] += step * part;
            }
            // Smoothed, or upright pixel rows would always win.
            sums.windows(5)
                .map(|w| (w[0] + w[4] + 4.0 * (w[1] + w[3]) + 6.0 * w[2]) / 16.0)
                .map(|s| s * s)
                .sum()
        })
        .collect();
    let best = (0..steps).max_by(|a, b| gathered[*a].total_cmp(&gathered[*b]))?;
    let usual = crate::signal::median(&gathered)?;
    if best == 0 || best + 1 == steps || gathered[best] < MIN_PROMINENCE * usual {
        return None;
    }
    let (a, b, c) = (gathered[best - 1], gathered[best], gathered[best + 1]);
    let between = 0.5 * (a - c) / (a - 2.0 * b + c).min(-f64::MIN_POSITIVE);
    Some((lean(best) + SPACING_DEG * between, b.sqrt()))
}

/// Roll and pitch from the lines of several looks: a weighted line of lean on column,
/// single lines that lean their own way counting less (Cauchy weights, standard practice).
/// `None` where there are too few lines.
pub fn level(looks: &[Vec<Lean>]) -> Option<Level> {
    let lines: Vec<&Lean> = looks.iter().flatten().collect();
    let seen = looks.iter().filter(|l| !l.is_empty()).count().max(1) as f64;
    let strongest = lines.iter().map(|l| l.strength).fold(0.0, f64::max);
    let weight = |l: &Lean| l.strength / strongest / seen;
    if strongest <= 0.0 || (lines.len() as f64) < MIN_STRIPS * seen {
        return None;
    }
    let focal = crate::settings::FOCAL_OF_LONG_SIDE;
    let leaning: Vec<f64> = lines.iter().map(|l| l.lean_deg).collect();
    let mut roll = crate::signal::median(&leaning)?;
    let mut fall = 0.0;
    let (mut roll_se, mut fall_se) = (f64::INFINITY, f64::INFINITY);
    for _ in 0..20 {
        // Normal equations, with the pitch held near nought by what is usual.
        let (mut n, mut nx, mut nxx, mut ny, mut nxy) =
            (0.0, 0.0, PITCH_SPREAD_DEG.powi(-2), 0.0, 0.0);
        for line in &lines {
            let x = line.aside / focal;
            let off = (line.lean_deg - roll - fall * x) / SCATTER_DEG;
            let w = weight(line) / (1.0 + off * off) / (SCATTER_DEG * SCATTER_DEG);
            n += w;
            nx += w * x;
            nxx += w * x * x;
            ny += w * line.lean_deg;
            nxy += w * x * line.lean_deg;
        }
        let whole = n * nxx - nx * nx;
        if whole <= 0.0 {
            return None;
        }
        roll = (ny * nxx - nx * nxy) / whole;
        fall = (n * nxy - nx * ny) / whole;
        (roll_se, fall_se) = ((nxx / whole).sqrt(), (n / whole).sqrt());
    }
    let roll_se = roll_se.hypot(ROLL_FLOOR_DEG);
    (roll_se <= MAX_ROLL_SE_DEG).then_some(Level {
        roll_deg: roll,
        roll_se_deg: roll_se,
        pitch_deg: -fall,
        pitch_se_deg: fall_se,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    /// Upright posts, projected by a pinhole camera of known roll and pitch (f = 0.9 of
    /// the longer side): the definition of a projection is the outside source.
    fn room(roll_deg: f64, pitch_deg: f64) -> RgbImage {
        let (roll, pitch) = (roll_deg.to_radians(), pitch_deg.to_radians());
        let (width, height) = (540.0, 960.0);
        let focal = 0.9 * height;
        RgbImage::from_fn(width as u32, height as u32, |x, y| {
            // The ray of this pixel, rolled and pitched back into the room, meets a wall
            // 1 away.
            let (u, v) =
                ((f64::from(x) - width / 2.0) / focal, (height / 2.0 - f64::from(y)) / focal);
            let (a, b) = (u * roll.cos() - v * roll.sin(), u * roll.sin() + v * roll.cos());
            let away = pitch.cos() - b * pitch.sin();
            let post = ((a / away + 1.0) * 14.0).fract() < 0.5;
            Rgb([if post { 150 } else { 90 }; 3])
        })
    }

    #[test]
    fn roll_and_pitch_of_a_known_camera() {
        for (roll, pitch) in [(0.0, 0.0), (5.0, 0.0), (-3.0, 4.0), (1.0, -6.0)] {
            let found = level(&[leans(&room(roll, pitch), &[])]).unwrap();
            assert!((found.roll_deg - roll).abs() < 0.3, "{roll} {pitch}: {found:?}");
            assert!((found.pitch_deg - pitch).abs() < 1.0, "{roll} {pitch}: {found:?}");
        }
    }

    #[test]
    fn a_bare_wall_tells_nothing() {
        let wall = RgbImage::from_fn(540, 960, |x, y| Rgb([(90 + (x + y) / 30) as u8; 3]));
        assert_eq!(level(&[leans(&wall, &[])]), None);
        assert_eq!(level(&[]), None);
        assert!(leans(&RgbImage::new(3, 3), &[]).is_empty());
    }
}
