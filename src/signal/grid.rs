//! From irregular timestamps to a uniform grid, and derivatives on it.

use super::median;

/// A grid has at most this many samples for each time it is made from (design choice: a set
/// of ten seconds with a rest of a minute has seven); memory follows what there is.
const MOST_SAMPLES_A_TIME: usize = 10;

/// A uniform grid from 0 on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grid {
    /// Samples per second.
    pub rate_hz: f64,
    /// Number of samples.
    pub count: usize,
}

impl Grid {
    /// To the last of these times, seconds, at their usual distance from one another; `None`
    /// with fewer than two, and where times leap: hardly any lies where the others lead.
    pub fn through(times_s: &[f64]) -> Option<Self> {
        let steps_s: Vec<f64> = times_s.windows(2).map(|w| w[1] - w[0]).collect();
        let rate_hz = 1.0 / median(&steps_s)?.max(1e-3);
        let count = (times_s.last()? * rate_hz).round() + 1.0;
        let most = (MOST_SAMPLES_A_TIME * times_s.len()) as f64;
        (1.0..=most).contains(&count).then_some(Self { rate_hz, count: count as usize })
    }
}

/// Series on a uniform grid with the origin of each sample.
#[derive(Debug, Clone, PartialEq)]
pub struct Sampled {
    /// Values; within a gap the last known value is held, see `measured`.
    pub values: Vec<f64>,
    /// False where no input sample lies within half of the longest bridged
    /// gap: such values must not be used for measuring.
    pub measured: Vec<bool>,
}

/// Resamples (time, value) pairs, times increasing, seconds, to `count` samples
/// from 0 at `rate_hz`, by monotone piecewise cubics (Fritsch and Carlson
/// 1980), which do not overshoot at an impact. Gaps between inputs up to
/// `max_gap_s` are bridged; longer ones are marked not measured.
pub fn to_grid(
    times_s: &[f64],
    values: &[f64],
    count: usize,
    rate_hz: f64,
    max_gap_s: f64,
) -> Sampled {
    let n = times_s.len().min(values.len());
    let mut out = Sampled { values: vec![0.0; count], measured: vec![false; count] };
    if n == 0 {
        return out;
    }
    let slopes = monotone_slopes(&times_s[..n], &values[..n]);
    let mut k = 0;
    for i in 0..count {
        let t = i as f64 / rate_hz;
        while k + 1 < n && times_s[k + 1] <= t {
            k += 1;
        }
        let inside = k + 1 < n && t >= times_s[k];
        if inside {
            let h = times_s[k + 1] - times_s[k];
            let s = ((t - times_s[k]) / h).clamp(0.0, 1.0);
            let (y0, y1, d0, d1) = (values[k], values[k + 1], slopes[k] * h, slopes[k + 1] * h);
            out.values[i] = y0
                + s * (d0
                    + s * (3.0 * (y1 - y0) - 2.0 * d0 - d1 + s * (d0 + d1 - 2.0 * (y1 - y0))));
            out.measured[i] = h <= max_gap_s || s == 0.0;
        } else {
            out.values[i] = values[k];
            out.measured[i] = (t - times_s[k]).abs() <= 0.5 / rate_hz;
        }
    }
    out
}

fn monotone_slopes(t: &[f64], y: &[f64]) -> Vec<f64> {
    let n = t.len();
    if n < 2 {
        return vec![0.0; n];
    }
    let h: Vec<f64> = t.windows(2).map(|w| w[1] - w[0]).collect();
    let d: Vec<f64> = y.windows(2).zip(&h).map(|(w, h)| (w[1] - w[0]) / h).collect();
    let mut m = vec![0.0; n];
    m[0] = d[0];
    m[n - 1] = d[n - 2];
    for i in 1..n - 1 {
        if d[i - 1] * d[i] > 0.0 {
            let (w1, w2) = (2.0 * h[i] + h[i - 1], h[i] + 2.0 * h[i - 1]);
            m[i] = (w1 + w2) / (w1 / d[i - 1] + w2 / d[i]);
        }
    }
    m
}

/// Central differences per second; one-sided at the ends.
pub fn derivative(series: &[f64], rate_hz: f64) -> Vec<f64> {
    let last = series.len().saturating_sub(1);
    (0..series.len())
        .map(|i| {
            let (a, b) = (i.saturating_sub(1), (i + 1).min(last));
            if a == b { 0.0 } else { (series[b] - series[a]) / (b - a) as f64 * rate_hz }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `scipy.interpolate.PchipInterpolator([0,.1,.25,.3,.5],[0,1,1.5,4,4])`
    /// at 0.15, 0.2, 0.28 gives the values below (SciPy 1.17.1).
    #[test]
    fn agrees_with_scipy_inside() {
        let t = [0.0, 0.1, 0.25, 0.3, 0.5];
        let y = [0.0, 1.0, 1.5, 4.0, 4.0];
        let s = to_grid(&t, &y, 51, 100.0, 0.25);
        for (i, expected) in SCIPY {
            assert!((s.values[i] - expected).abs() < 1e-9, "{i}: {} {expected}", s.values[i]);
        }
    }

    const SCIPY: [(usize, f64); 3] =
        [(15, 1.1632713453571317), (20, 1.2652400087219262), (28, 3.155121951219514)];

    #[test]
    fn short_gaps_are_bridged_and_long_ones_are_gaps() {
        let t = [0.0, 0.1, 0.3, 0.8];
        let s = to_grid(&t, &[0.0, 1.0, 3.0, 8.0], 10, 10.0, 0.25);
        assert!((s.values[2] - 2.0).abs() < 1e-9);
        assert_eq!(s.measured, [true, true, true, true, false, false, false, false, true, false]);
    }

    #[test]
    fn a_grid_follows_the_times_there_are() {
        let mut times_s: Vec<f64> = (0..60).map(|i| f64::from(i) / 30.0).collect();
        let grid = Grid::through(&times_s).unwrap();
        assert!((grid.rate_hz - 30.0).abs() < 1e-9 && grid.count == 60);
        times_s[59] = 10.0;
        assert_eq!(Grid::through(&times_s).unwrap().count, 301, "a pause");
        for leap in [1500.0, 1e9, f64::INFINITY, f64::NAN, -10.0] {
            times_s[59] = leap;
            assert_eq!(Grid::through(&times_s), None, "{leap}");
        }
        assert_eq!(Grid::through(&[0.0]), None);
    }

    #[test]
    fn derivative_of_a_line() {
        assert_eq!(derivative(&[0.0, 1.0, 2.0, 3.0], 10.0), [10.0; 4]);
        assert_eq!(derivative(&[5.0], 10.0), [0.0]);
        assert!(derivative(&[], 10.0).is_empty());
    }

    /// `scipy.interpolate.PchipInterpolator` where the series turns and rests (SciPy 1.17.1).
    #[test]
    fn agrees_with_scipy_where_the_series_turns() {
        let t = [0.0, 0.1, 0.2, 0.4, 0.5, 0.55];
        let s = to_grid(&t, &[0.0, 1.0, 3.0, 2.0, 2.5, 2.5], 56, 100.0, 0.25);
        // SciPy takes three points for the slopes at the two ends, this the nearest two.
        for (i, expected) in [
            (15, 2.1666666666666665),
            (18, 2.8346666666666667),
            (25, 2.84375),
            (33, 2.28175),
            (43, 2.108),
        ] {
            assert!((s.values[i] - expected).abs() < 1e-9, "{i}: {} {expected}", s.values[i]);
        }
    }

    /// Before the first and after the last input its value is held, and is measured within
    /// half a sample of it; in a gap only the inputs themselves are.
    #[test]
    fn beyond_the_inputs_and_in_a_gap() {
        let s = to_grid(&[0.24, 0.36, 0.7, 0.84], &[1.0, 2.0, 3.0, 4.0], 12, 10.0, 0.2);
        assert_eq!((s.values[0], s.values[2], s.values[9], s.values[11]), (1.0, 1.0, 4.0, 4.0));
        let f = false;
        assert_eq!(s.measured, [f, f, true, true, f, f, f, true, true, f, f, f]);
        assert_eq!((s.values[7], s.values.len()), (3.0, 12));
        let none = to_grid(&[], &[1.0], 2, 10.0, 0.2);
        assert_eq!((none.values, none.measured), (vec![0.0; 2], vec![false; 2]));
        let one = to_grid(&[0.1], &[5.0], 3, 10.0, 0.2);
        assert_eq!((one.values, one.measured), (vec![5.0; 3], vec![false, true, false]));
        // Two inputs are a straight line.
        assert!((to_grid(&[0.0, 0.4], &[0.0, 8.0], 2, 10.0, 0.5).values[1] - 2.0).abs() < 1e-9);
        // As many as both have.
        assert_eq!(to_grid(&[0.0, 0.1], &[5.0], 2, 10.0, 0.2).values, [5.0, 5.0]);
        // A gap as long as is bridged is bridged.
        assert_eq!(to_grid(&[0.0, 0.25], &[0.0, 1.0], 3, 8.0, 0.25).measured, [true; 3]);
    }

    /// Ten samples a time: 20 times tell 200 samples at the most. Times all the same are a
    /// thousand a second.
    #[test]
    fn a_grid_is_no_longer_than_ten_samples_a_time() {
        let mut times_s: Vec<f64> = (0..20).map(f64::from).collect();
        times_s[19] = 199.0;
        assert_eq!(Grid::through(&times_s), Some(Grid { rate_hz: 1.0, count: 200 }));
        times_s[19] = 200.0;
        assert_eq!(Grid::through(&times_s), None);
        let same = Grid::through(&[0.0, 0.0, 0.0]).unwrap();
        assert!((same.rate_hz - 1000.0).abs() < 1e-9 && same.count == 1);
    }

    /// d(t²)/dt at 10 a second: 2t between two neighbours, half a step aside at the ends.
    #[test]
    fn derivative_of_a_parabola() {
        let y = [0.0, 0.01, 0.04, 0.09];
        let expected = [0.1, 0.2, 0.4, 0.5];
        for (found, expected) in derivative(&y, 10.0).iter().zip(expected) {
            assert!((found - expected).abs() < 1e-12, "{found} {expected}");
        }
    }
}
