//! Steadying the region from frame to frame (the landmarks themselves stay
//! raw: they are filtered later, without lag).

use nalgebra::Point2;

/// One-euro filter [Casiez2012] of a point, with the reference pipeline's
/// settings for the two points that span the region.
#[derive(Debug, Clone, Default)]
pub(super) struct SteadyPoint {
    last: Option<Last>,
}

#[derive(Debug, Clone)]
struct Last {
    time_s: f64,
    raw: Point2<f64>,
    value: Point2<f64>,
    speed: [f64; 2],
}

const MIN_CUTOFF_HZ: f64 = 0.01;
const BETA: f64 = 10.0;
const SPEED_CUTOFF_HZ: f64 = 1.0;

impl SteadyPoint {
    /// Next value; `size_px` makes speeds comparable between near and far.
    pub(super) fn next(&mut self, time_s: f64, raw: Point2<f64>, size_px: f64) -> Point2<f64> {
        let Some(last) = &self.last else {
            self.last = Some(Last { time_s, raw, value: raw, speed: [0.0; 2] });
            return raw;
        };
        let dt_s = time_s - last.time_s;
        if dt_s <= 0.0 || size_px <= 0.0 {
            return last.value;
        }
        let mut value = raw;
        let mut speed = [0.0; 2];
        for axis in 0..2 {
            let raw_speed = (raw[axis] - last.raw[axis]) / dt_s / size_px;
            let a = share_of_new(SPEED_CUTOFF_HZ, dt_s);
            speed[axis] = a * raw_speed + (1.0 - a) * last.speed[axis];
            let a = share_of_new(MIN_CUTOFF_HZ + BETA * speed[axis].abs(), dt_s);
            value[axis] = a * raw[axis] + (1.0 - a) * last.value[axis];
        }
        self.last = Some(Last { time_s, raw, value, speed });
        value
    }
}

/// Weight of the new sample in a first-order low-pass.
fn share_of_new(cutoff_hz: f64, dt_s: f64) -> f64 {
    let tau_s = 1.0 / (std::f64::consts::TAU * cutoff_hz);
    1.0 / (1.0 + tau_s / dt_s)
}
