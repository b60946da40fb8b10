//! Smoothness of a speed profile: spectral arc length and dimensionless jerk.
//! Definitions of [Balasubramanian2015] and the authors' reference code.

use rustfft::{FftPlanner, num_complex::Complex};

/// Parameters of the spectral arc length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SparcParameters {
    /// Zero padding: the transform is 2^this times the next power of two.
    pub pad_level: u32,
    /// Highest frequency looked at.
    pub cutoff_hz: f64,
    /// Amplitudes below this share of the largest are left out at the end.
    pub amplitude_threshold: f64,
}

impl Default for SparcParameters {
    /// The published defaults: 4, 10 Hz, 0.05.
    fn default() -> Self {
        Self { pad_level: 4, cutoff_hz: 10.0, amplitude_threshold: 0.05 }
    }
}

/// Spectral arc length (dimensionless, negative; nearer 0 is smoother) of a
/// speed profile, `None` for fewer than two samples or no movement.
pub fn sparc(speed: &[f64], rate_hz: f64, parameters: SparcParameters) -> Option<f64> {
    if speed.len() < 2 || rate_hz.is_nan() || rate_hz <= 0.0 {
        return None;
    }
    let size = speed.len().next_power_of_two() << parameters.pad_level;
    let mut spectrum: Vec<Complex<f64>> = speed.iter().map(|v| Complex::new(*v, 0.0)).collect();
    spectrum.resize(size, Complex::default());
    FftPlanner::new().plan_fft_forward(size).process(&mut spectrum);

    let step_hz = rate_hz / size as f64;
    // As the reference: the whole transform counts, frequencies 0 to the cut-off.
    let magnitude: Vec<f64> = spectrum
        .iter()
        .enumerate()
        .take_while(|(i, _)| *i as f64 * step_hz <= parameters.cutoff_hz)
        .map(|(_, c)| c.norm())
        .collect();
    let largest = spectrum.iter().map(|c| c.norm()).fold(0.0, f64::max);
    if largest <= 0.0 {
        return None;
    }
    let share: Vec<f64> = magnitude.iter().map(|m| m / largest).collect();
    let first = share.iter().position(|m| *m >= parameters.amplitude_threshold)?;
    let last = share.iter().rposition(|m| *m >= parameters.amplitude_threshold)?;
    let span = (last - first) as f64;
    if span == 0.0 {
        return None;
    }
    let arc: f64 = share[first..=last].windows(2).map(|w| (1.0 / span).hypot(w[1] - w[0])).sum();
    Some(-arc)
}

/// Log dimensionless jerk (nearer 0 is smoother) of a speed profile, `None`
/// for fewer than three samples or no movement.
pub fn log_dimensionless_jerk(speed: &[f64], rate_hz: f64) -> Option<f64> {
    if speed.len() < 3 || rate_hz.is_nan() || rate_hz <= 0.0 {
        return None;
    }
    let dt_s = 1.0 / rate_hz;
    let peak = speed.iter().fold(0.0f64, |m, v| m.max(v.abs()));
    if peak <= 0.0 {
        return None;
    }
    let jerk_squared: f64 =
        speed.windows(3).map(|w| ((w[2] - 2.0 * w[1] + w[0]) / (dt_s * dt_s)).powi(2)).sum();
    let duration_s = speed.len() as f64 * dt_s;
    Some(-(duration_s.powi(3) / (peak * peak) * jerk_squared * dt_s).ln())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::MinimumJerk;

    fn profile(rate_hz: f64, duration_s: f64) -> Vec<f64> {
        let course = MinimumJerk { distance_m: 0.4, duration_s };
        let n = (duration_s * rate_hz) as usize;
        (0..=n).map(|i| course.speed_m_s(i as f64 / rate_hz)).collect()
    }

    /// Doc strings of the reference code of [Balasubramanian2015].
    #[test]
    fn gaussian_of_the_reference_code() {
        let v: Vec<f64> =
            (0..200).map(|i| (-5.0 * (-1.0 + 0.01 * i as f64).powi(2)).exp()).collect();
        assert!((sparc(&v, 100.0, Default::default()).unwrap() + 1.41403).abs() < 1e-5);
        assert!((log_dimensionless_jerk(&v, 100.0).unwrap() + 5.81636).abs() < 1e-5);
    }

    /// Derived: the minimum-jerk profile has log dimensionless jerk −5.322
    /// (720 / 1.875²; −5.32003 with samples 1 ms apart) and SPARC within [−1.415, −1.39] at any rate.
    #[test]
    fn minimum_jerk_is_the_anchor() {
        for (rate, duration) in [(100.0, 1.0), (100.0, 3.0), (30.0, 2.0), (60.0, 1.0)] {
            let s = sparc(&profile(rate, duration), rate, Default::default()).unwrap();
            assert!((-1.415..=-1.39).contains(&s), "{s}");
        }
        let j = log_dimensionless_jerk(&profile(1000.0, 1.0), 1000.0).unwrap();
        assert!((j + 5.32003).abs() < 1e-4, "{j}");
    }

    /// Two sub-movements are less smooth, the more so the further apart
    /// (derived values of the reference algorithm).
    #[test]
    fn sub_movements_are_less_smooth() {
        let one = profile(100.0, 1.0)[..100].to_vec();
        let with_gap = |gap: usize| [one.clone(), vec![0.0; gap], one.clone()].concat();
        for (gap, expected) in [(0, -2.24455), (25, -2.74645), (50, -3.11903)] {
            let s = sparc(&with_gap(gap), 100.0, Default::default()).unwrap();
            assert!((s - expected).abs() < 1e-4, "{s} {expected}");
        }
    }

    #[test]
    fn amplitude_does_not_matter_and_nothing_is_nothing() {
        let v = profile(100.0, 1.0);
        let louder: Vec<f64> = v.iter().map(|x| 7.0 * x).collect();
        let (a, b) =
            (sparc(&v, 100.0, Default::default()), sparc(&louder, 100.0, Default::default()));
        assert!((a.unwrap() - b.unwrap()).abs() < 1e-9);
        assert_eq!(sparc(&[0.0; 50], 100.0, Default::default()), None);
        assert_eq!(sparc(&[], 100.0, Default::default()), None);
        assert_eq!(log_dimensionless_jerk(&[1.0], 100.0), None);
    }

    /// By hand: a second difference of 2 at 10 a second is a jerk of 200, squared and over the
    /// time 40000·0.1; three samples last 0.3 s; the peak is 1.
    #[test]
    fn the_least_that_tells_a_jerk() {
        let jerk = log_dimensionless_jerk(&[0.0, -1.0, 0.0], 10.0).unwrap();
        assert!((jerk + (0.027f64 * 4000.0).ln()).abs() < 1e-12, "{jerk}");
        for (speed, rate_hz) in [
            (&[0.0, 1.0][..], 10.0),
            (&[0.0; 9], 10.0),
            (&[0.0, 1.0, 0.0], 0.0),
            (&[0.0, 1.0, 0.0], -10.0),
            (&[0.0, 1.0, 0.0], f64::NAN),
        ] {
            assert_eq!(log_dimensionless_jerk(speed, rate_hz), None, "{speed:?} {rate_hz}");
        }
    }

    /// Without padding four samples have the frequencies 0, a quarter and half of the rate. By
    /// hand: [1, 1, 0, 0] has amplitudes 2, √2, 0; of these those up to the cut-off and from
    /// the threshold of the largest on count, over equal steps that add up to 1.
    #[test]
    fn an_arc_by_hand() {
        let of = |speed: &[f64], cutoff_hz: f64, amplitude_threshold: f64| {
            sparc(speed, 4.0, SparcParameters { pad_level: 0, cutoff_hz, amplitude_threshold })
        };
        let near = |found: Option<f64>, expected: f64| {
            assert!((found.unwrap() + expected).abs() < 1e-12, "{found:?} {expected}");
        };
        let drop = 1.0 - 0.5f64.sqrt();
        let whole = 0.5f64.hypot(drop) + 0.5f64.hypot(1.0 - drop);
        near(of(&[1.0, 1.0, 0.0, 0.0], 2.0, 0.0), whole);
        near(of(&[1.0, 1.0, 0.0, 0.0], 1.9, 0.0), 1f64.hypot(drop));
        near(of(&[1.0, 1.0, 0.0, 0.0], 2.0, 0.7), 1f64.hypot(drop));
        // Three samples are padded to four.
        near(of(&[1.0, 1.0, 0.0], 2.0, 0.0), whole);
        // One frequency has no arc.
        assert_eq!(of(&[1.0, 1.0, 0.0, 0.0], 2.0, 0.8), None);
        // [0, 1, 0, −1] has its amplitude at a quarter only: nothing at 0 counts.
        assert_eq!(of(&[0.0, 1.0, 0.0, -1.0], 2.0, 0.1), None);
        near(of(&[1.0, 2.0], 2.0, 0.0), 1f64.hypot(2.0 / 3.0));
        for (speed, rate_hz) in
            [(&[1.0][..], 4.0), (&[1.0, 2.0], 0.0), (&[1.0, 2.0], -4.0), (&[1.0, 2.0], f64::NAN)]
        {
            assert_eq!(sparc(speed, rate_hz, Default::default()), None, "{speed:?} {rate_hz}");
        }
    }
}
