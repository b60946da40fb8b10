//! Least-squares lines and local parabolas.

use nalgebra::{Matrix3, Vector3};

/// A straight line with the scatter about it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Change of y per unit of x.
    pub slope: f64,
    /// y at x = 0.
    pub intercept: f64,
    /// Standard error of the slope (0 with two points).
    pub slope_se: f64,
}

/// Ordinary least squares; `None` with fewer than two different x.
pub fn line_fit(x: &[f64], y: &[f64]) -> Option<Line> {
    let n = x.len().min(y.len());
    if n < 2 {
        return None;
    }
    let mean = |v: &[f64]| v[..n].iter().sum::<f64>() / n as f64;
    let (mx, my) = (mean(x), mean(y));
    let pairs = || x.iter().zip(y).take(n).map(|(a, b)| (a - mx, b - my));
    let sxx: f64 = pairs().map(|(a, _)| a * a).sum();
    if sxx.is_nan() || sxx <= 0.0 {
        return None;
    }
    let slope = pairs().map(|(a, b)| a * b).sum::<f64>() / sxx;
    let rest: f64 = pairs().map(|(a, b)| (b - slope * a).powi(2)).sum();
    let slope_se = if n > 2 { (rest / (n - 2) as f64 / sxx).sqrt() } else { 0.0 };
    Some(Line { slope, intercept: my - slope * mx, slope_se })
}

/// Slope at `x0` of the least-squares parabola; `None` with fewer than three
/// different x.
pub fn parabola_slope_at(x: &[f64], y: &[f64], x0: f64) -> Option<f64> {
    let mut normal = Matrix3::<f64>::zeros();
    let mut right = Vector3::<f64>::zeros();
    for (x, y) in x.iter().zip(y) {
        let d = x - x0;
        let row = Vector3::new(1.0, d, d * d);
        normal += row * row.transpose();
        right += row * *y;
    }
    // The middle coefficient of c0 + c1·(x − x0) + c2·(x − x0)².
    normal.lu().solve(&right).map(|c| c[1]).filter(|slope| slope.is_finite())
}

/// Slope of a parabola fitted to the window about every sample (the first
/// derivative of Savitzky and Golay 1964), per second. Near the ends the
/// window shrinks; with fewer than three samples the slope is 0.
pub fn local_quadratic_slope(series: &[f64], window_s: f64, rate_hz: f64) -> Vec<f64> {
    let reach = (window_s * rate_hz / 2.0).round().max(1.0) as usize;
    (0..series.len())
        .map(|i| {
            let reach = reach.min(i).min(series.len() - 1 - i);
            if reach == 0 {
                return edge_slope(series, i) * rate_hz;
            }
            // In a symmetric window the parabola's middle slope is the line's.
            let weight: f64 = (1..=reach).map(|k| 2.0 * (k * k) as f64).sum();
            let sum: f64 = (1..=reach).map(|k| k as f64 * (series[i + k] - series[i - k])).sum();
            sum / weight * rate_hz
        })
        .collect()
}

fn edge_slope(series: &[f64], i: usize) -> f64 {
    match (i.checked_sub(1).map(|j| series[j]), series.get(i + 1)) {
        (None, Some(next)) => next - series[i],
        (Some(previous), None) => series[i] - previous,
        _ => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Anscombe's first data set (Am Stat 1973;27:17–21): slope 0.5001,
    /// intercept 3.0001, standard error of the slope 0.1179.
    #[test]
    fn anscombe() {
        let x = [10.0, 8.0, 13.0, 9.0, 11.0, 14.0, 6.0, 4.0, 12.0, 7.0, 5.0];
        let y = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68];
        let line = line_fit(&x, &y).unwrap();
        assert!((line.slope - 0.5001).abs() < 1e-4);
        assert!((line.intercept - 3.0001).abs() < 1e-4);
        assert!((line.slope_se - 0.1179).abs() < 1e-4);
        assert_eq!(line_fit(&[1.0, 1.0], &[0.0, 2.0]), None);
    }

    /// A free fall: y = −g·t²/2 has slope −g·t, 0.990 m/s after 5 cm.
    #[test]
    fn a_free_fall_of_5_cm_ends_at_0_990_m_s() {
        let g = 9.81;
        let t: Vec<f64> = (0..7).map(|i| f64::from(i) / 60.0).collect();
        let y: Vec<f64> = t.iter().map(|t| -g * t * t / 2.0).collect();
        let end_s = (2.0 * 0.05 / g).sqrt();
        let slope = parabola_slope_at(&t, &y, end_s).unwrap();
        assert!((slope + 0.990).abs() < 1e-3, "{slope}");
        assert_eq!(parabola_slope_at(&[0.0, 1.0], &[0.0, 1.0], 0.0), None);
    }

    #[test]
    fn a_parabola_has_its_own_slope() {
        let rate = 30.0;
        let y: Vec<f64> = (0..30).map(|i| (i as f64 / rate).powi(2)).collect();
        let slope = local_quadratic_slope(&y, 0.3, rate);
        for (i, found) in slope.iter().enumerate().take(29).skip(1) {
            assert!((found - 2.0 * i as f64 / rate).abs() < 1e-9);
        }
    }

    /// `scipy.stats.linregress` (SciPy 1.17.1); two points have no scatter; of two lengths the
    /// shorter counts.
    #[test]
    fn lines_agree_with_scipy() {
        let line = line_fit(&[1.0, 2.0, 4.0, 7.0, 9.0], &[2.0, 3.0, 1.0, 8.0]).unwrap();
        assert!((line.slope - 0.9047619047619048).abs() < 1e-12);
        assert!((line.intercept - 0.3333333333333335).abs() < 1e-12);
        assert!((line.slope_se - 0.5302632726504783).abs() < 1e-12);
        let through = Line { slope: 2.0, intercept: 1.0, slope_se: 0.0 };
        assert_eq!(line_fit(&[0.0, 1.0], &[1.0, 3.0, 9.0]), Some(through));
        assert_eq!(line_fit(&[0.0], &[1.0]), None);
        assert_eq!(line_fit(&[0.0, f64::NAN], &[1.0, 2.0]), None);
    }

    /// `numpy.polyfit` of degree 2 through five points that lie on none.
    #[test]
    fn parabolas_agree_with_numpy() {
        let (x, y) = ([0.0, 0.1, 0.25, 0.3, 0.5], [0.0, 1.0, 1.5, 4.0, 4.5]);
        for (x0, expected) in [(0.0, 11.23589426), (0.2, 9.78281033), (0.5, 7.60318442)] {
            let slope = parabola_slope_at(&x, &y, x0).unwrap();
            assert!((slope - expected).abs() < 1e-7, "{slope}");
        }
    }

    /// `scipy.signal.savgol_filter(y, 5 or 3, 2, deriv=1, delta=0.1)` where its window fits
    /// (SciPy 1.17.1); next to the ends the window is the shorter one; at the ends the slope is
    /// that to the neighbour.
    #[test]
    fn slopes_agree_with_scipy() {
        let y: Vec<f64> = (0..12).map(|i| f64::from(7 * i * i % 11) / 2.0).collect();
        let five = [2.5, 1.0, 5.0, -2.0, 2.0, -5.0, -1.0, -2.5];
        let expected: Vec<f64> = [&[35.0, 15.0][..], &five, &[-15.0, -35.0]].concat();
        let three = [15.0, 2.5, -10.0, 5.0, 20.0, -20.0, -5.0, 10.0, -2.5, -15.0];
        for (window_s, expected) in [
            (0.4, expected.clone()),
            (0.45, expected),
            (0.2, [&[35.0][..], &three, &[-35.0]].concat()),
            (0.0, [&[35.0][..], &three, &[-35.0]].concat()),
        ] {
            let found = local_quadratic_slope(&y, window_s, 10.0);
            for (found, expected) in found.iter().zip(&expected) {
                assert!((found - expected).abs() < 1e-9, "{window_s}: {found} {expected}");
            }
        }
        assert_eq!(local_quadratic_slope(&[4.0], 0.4, 10.0), [0.0]);
        assert_eq!(local_quadratic_slope(&[4.0, 5.0], 0.4, 10.0), [10.0, 10.0]);
        assert!(local_quadratic_slope(&[], 0.4, 10.0).is_empty());
    }
}
