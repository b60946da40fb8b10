//! The minimum-jerk course [Flash1985]: the smoothest way from rest to rest, for
//! tests.

/// A move of `distance_m` in `duration_s`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MinimumJerk {
    /// Distance, metres.
    pub distance_m: f64,
    /// Duration, seconds.
    pub duration_s: f64,
}

impl MinimumJerk {
    /// Distance covered at `time_s`, metres.
    pub fn position_m(&self, time_s: f64) -> f64 {
        let t = (time_s / self.duration_s).clamp(0.0, 1.0);
        self.distance_m * t.powi(3) * (10.0 - 15.0 * t + 6.0 * t * t)
    }

    /// Speed at `time_s`, metres per second.
    pub fn speed_m_s(&self, time_s: f64) -> f64 {
        let t = (time_s / self.duration_s).clamp(0.0, 1.0);
        self.distance_m / self.duration_s * 30.0 * t * t * (1.0 - t).powi(2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Table of the quintic of [Flash1985].
    #[test]
    fn published_points() {
        let unit = MinimumJerk { distance_m: 1.0, duration_s: 1.0 };
        for (t, x, v) in [
            (0.1, 0.00856, 0.243),
            (0.25, 0.103515625, 1.0546875),
            (0.5, 0.5, 1.875),
            (0.9, 0.99144, 0.243),
        ] {
            assert!((unit.position_m(t) - x).abs() < 1e-9);
            assert!((unit.speed_m_s(t) - v).abs() < 1e-9);
        }
        let seat = MinimumJerk { distance_m: 0.40, duration_s: 2.0 };
        assert!((seat.speed_m_s(1.0) - 0.375).abs() < 1e-12, "0.40 m in 2 s peaks at 0.375 m/s");
    }
}
