//! The turned square of the picture that the landmark network looks at.
//!
//! Geometry of the reference pipeline of the network's authors; each step is
//! checked against it in `tests/pose_stage.rs`.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use nalgebra::{Point2, Vector2};

/// The whole body fits into a circle about the hips; the square is this much
/// larger than the circle (reference pipeline).
const MARGIN: f64 = 1.25;

/// A square of side `side_px` about `centre_px`, turned by `rotation_rad`
/// clockwise as seen in the picture (v points down).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Region {
    /// Centre, picture pixels.
    pub centre_px: Point2<f64>,
    /// Side length, picture pixels.
    pub side_px: f64,
    /// Clockwise turn, radians in [−π, π).
    pub rotation_rad: f64,
}

impl Region {
    /// From the hip centre and the point on the circle about the whole body,
    /// which lies in the direction of the head.
    pub fn around_body(hips_px: Point2<f64>, scale_point_px: Point2<f64>) -> Self {
        let up = scale_point_px - hips_px;
        let rotation = FRAC_PI_2 - (-up.y).atan2(up.x);
        Self {
            centre_px: hips_px,
            side_px: MARGIN * 2.0 * up.norm(),
            rotation_rad: (rotation + PI).rem_euclid(TAU) - PI,
        }
    }

    /// The largest centred square that holds the whole picture, unturned.
    pub fn whole_picture(width_px: u32, height_px: u32) -> Self {
        let (w, h) = (f64::from(width_px), f64::from(height_px));
        Self { centre_px: Point2::new(w / 2.0, h / 2.0), side_px: w.max(h), rotation_rad: 0.0 }
    }

    /// Picture point of a point given in shares of the square (0–1, 0–1).
    pub fn picture_from_square(&self, x: f64, y: f64) -> Point2<f64> {
        self.centre_px + self.side_px * self.turned(Vector2::new(x - 0.5, y - 0.5))
    }

    /// A vector of the square's axes in the picture's axes.
    pub fn turned(&self, v: Vector2<f64>) -> Vector2<f64> {
        let (sin, cos) = self.rotation_rad.sin_cos();
        Vector2::new(cos * v.x - sin * v.y, sin * v.x + cos * v.y)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_upright_body_gives_an_unturned_square() {
        let r = Region::around_body(Point2::new(100.0, 200.0), Point2::new(100.0, 120.0));
        assert!((r.side_px - 200.0).abs() < 1e-9 && r.rotation_rad.abs() < 1e-9);
        assert_eq!(r.picture_from_square(0.5, 0.5), r.centre_px);
        assert_eq!(r.picture_from_square(0.0, 0.0), Point2::new(0.0, 100.0));
    }

    #[test]
    fn a_body_leaning_right_turns_the_square_clockwise() {
        let r = Region::around_body(Point2::new(0.0, 0.0), Point2::new(10.0, 0.0));
        assert!((r.rotation_rad - FRAC_PI_2).abs() < 1e-9);
        // The top middle of the square is where the head is: to the right.
        let head = r.picture_from_square(0.5, 0.1);
        assert!((head.x - 10.0).abs() < 1e-9 && head.y.abs() < 1e-9);
    }
}
