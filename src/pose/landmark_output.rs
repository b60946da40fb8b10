//! Reading the landmark network's output.

use nalgebra::{Point2, Point3, Vector2};

use super::region::Region;
use crate::record::landmarks::{ImageLandmark, Pose};
use crate::settings;

/// Side of the landmark network's input square, pixels.
pub(super) const INPUT_PX: usize = 256;
/// Side of the heat map and the number of points in it.
const HEATMAP: usize = 64;
/// 33 of the body, 6 auxiliary; 33 and 34 of these span the next region.
const POINTS: usize = 39;
const NEXT_CENTRE: usize = 33;
const NEXT_SCALE: usize = 34;
/// Half of the window in which a point is refined, cells.
const REFINE_REACH: isize = 4;

/// The network's raw answer for one square.
pub(super) struct RawAnswer<'a> {
    pub landmarks: &'a [f32],
    pub world: &'a [f32],
    pub heatmap: &'a [f32],
}

/// A pose with the auxiliary points that tell where to look next.
pub(super) struct Located {
    pub pose: Pose,
    pub next_centre_px: Point2<f64>,
    pub next_scale_point_px: Point2<f64>,
}

/// Turns a raw answer into landmarks in picture pixels.
pub(super) fn decode(raw: &RawAnswer, region: &Region) -> Located {
    let place = |point: usize| {
        let n = &raw.landmarks[5 * point..];
        let share = |i: usize| f64::from(n[i]) / INPUT_PX as f64;
        let (x, y, heat) = refined(raw.heatmap, point, share(0), share(1));
        (region.picture_from_square(x, y), heat)
    };
    let image = std::array::from_fn(|point| {
        let n = &raw.landmarks[5 * point..];
        let (place_px, heat) = place(point);
        ImageLandmark {
            place_px,
            depth_px: f64::from(n[2]) / INPUT_PX as f64 * region.side_px,
            visibility: logistic(n[3]),
            heat: Some(heat),
        }
    });
    let metric_m = std::array::from_fn(|point| {
        let n = &raw.world[3 * point..];
        let xy = region.turned(Vector2::new(f64::from(n[0]), f64::from(n[1])));
        Point3::new(xy.x, xy.y, f64::from(n[2]))
    });
    Located {
        pose: Pose { image, metric_m },
        next_centre_px: place(NEXT_CENTRE).0,
        next_scale_point_px: place(NEXT_SCALE).0,
    }
}

/// Centre of heat in a window about (x, y), all in shares of the square, and the highest
/// heat in it.
fn refined(heatmap: &[f32], point: usize, x: f64, y: f64) -> (f64, f64, f64) {
    let side = HEATMAP as isize;
    let (column, row) = ((x * HEATMAP as f64) as isize, (y * HEATMAP as f64) as isize);
    if !(0..side).contains(&column) || !(0..side).contains(&row) {
        return (x, y, 0.0);
    }
    let window =
        |centre: isize| (centre - REFINE_REACH).max(0)..(centre + REFINE_REACH + 1).min(side);
    let (mut heat_sum, mut x_sum, mut y_sum, mut hottest) = (0.0, 0.0, 0.0, 0.0f64);
    for r in window(row) {
        for c in window(column) {
            let heat = logistic(heatmap[(r as usize * HEATMAP + c as usize) * POINTS + point]);
            heat_sum += heat;
            x_sum += heat * c as f64;
            y_sum += heat * r as f64;
            hottest = hottest.max(heat);
        }
    }
    if hottest < settings::MIN_HEAT || heat_sum <= 0.0 {
        return (x, y, hottest);
    }
    (x_sum / heat_sum / HEATMAP as f64, y_sum / heat_sum / HEATMAP as f64, hottest)
}

fn logistic(x: f32) -> f64 {
    1.0 / (1.0 + f64::from(-x).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_centre_of_heat_wins_where_there_is_heat() {
        let mut heatmap = vec![-20.0f32; HEATMAP * HEATMAP * POINTS];
        let point = 5;
        for column in [31, 33] {
            heatmap[(20 * HEATMAP + column) * POINTS + point] = 20.0;
        }
        let (x, y, heat) = refined(&heatmap, point, 0.5, 20.5 / 64.0);
        assert!((x - 0.5).abs() < 1e-6 && (y - 20.0 / 64.0).abs() < 1e-6 && heat > 0.999);
        let (x, y, heat) = refined(&heatmap, 0, 0.5, 0.25);
        assert!((x, y) == (0.5, 0.25) && heat < 0.001, "no heat: unchanged");
        assert_eq!(refined(&heatmap, point, 1.2, 0.5), (1.2, 0.5, 0.0), "outside: unchanged");
    }
}
