//! Means, medians and runs.

use std::ops::Range;

/// Arithmetic mean; `None` if empty.
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// Root of the mean square; `None` if empty.
pub fn rms(values: &[f64]) -> Option<f64> {
    mean(&values.iter().map(|v| v * v).collect::<Vec<_>>()).map(f64::sqrt)
}

/// Median of the finite values; `None` if there are none.
pub fn median(values: &[f64]) -> Option<f64> {
    percentile(values, 50.0)
}

/// Percentile (0–100) of the finite values, linear between neighbours as in
/// NumPy; `None` if there are none.
pub fn percentile(values: &[f64], percent: f64) -> Option<f64> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let place = percent.clamp(0.0, 100.0) / 100.0 * sorted.len().checked_sub(1)? as f64;
    let below = sorted[place.floor() as usize];
    let above = sorted[place.ceil() as usize];
    Some(below + (above - below) * place.fract())
}

/// Standard deviation from the median absolute deviation, consistent for
/// normal noise (factor 1.4826); `None` if empty.
pub fn deviation(values: &[f64]) -> Option<f64> {
    let middle = median(values)?;
    let distances: Vec<f64> = values.iter().map(|v| (v - middle).abs()).collect();
    Some(1.4826 * median(&distances)?)
}

/// Longest stretches on which `holds` is true, in order.
pub fn runs<T>(items: &[T], holds: impl Fn(&T) -> bool) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    let mut start = None;
    for (i, item) in items.iter().enumerate() {
        match (holds(item), start) {
            (true, None) => start = Some(i),
            (false, Some(s)) => {
                found.push(s..i);
                start = None;
            }
            _ => {}
        }
    }
    found.extend(start.map(|s| s..items.len()));
    found
}

/// Place (in samples, fractional) between `i − 1` and `i` where the series
/// takes the value `level`.
pub fn crossing(series: &[f64], i: usize, level: f64) -> f64 {
    let Some(before) = i.checked_sub(1) else {
        return i as f64;
    };
    let step = series[i] - series[before];
    if step == 0.0 {
        return i as f64;
    }
    before as f64 + ((level - series[before]) / step).clamp(0.0, 1.0)
}

/// Rounded to decimal digits, so that a document holds none that mean nothing.
pub fn rounded(value: f64, digits: i32) -> f64 {
    let unit = 10f64.powi(digits);
    (value * unit).round() / unit
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn as_numpy() {
        // numpy.percentile([3,1,4,1,5,9,2,6], 90) = 6.9; median 3.5.
        let v = [3.0, 1.0, 4.0, 1.0, 5.0, 9.0, 2.0, 6.0];
        assert!((percentile(&v, 90.0).unwrap() - 6.9).abs() < 1e-12);
        assert_eq!(median(&v), Some(3.5));
        assert_eq!(median(&[f64::NAN]), None);
        assert!((deviation(&v).unwrap() - 1.4826 * 2.0).abs() < 1e-12);
    }

    #[test]
    fn runs_and_crossings() {
        assert_eq!(runs(&[1, 0, 1, 1], |x| *x == 1), vec![0..1, 2..4]);
        assert!((crossing(&[0.0, 2.0], 1, 0.5) - 0.25).abs() < 1e-12);
        assert_eq!(crossing(&[0.0], 0, 0.5), 0.0);
    }

    #[test]
    fn means_by_hand() {
        assert_eq!((mean(&[1.0, 2.0, 6.0]), mean(&[])), (Some(3.0), None));
        assert_eq!((rms(&[3.0, 4.0, 5.0, 0.0]), rms(&[])), (Some(12.5f64.sqrt()), None));
        assert_eq!((deviation(&[]), percentile(&[], 3.0)), (None, None));
    }

    /// `numpy.percentile([3,1,4,1,5], …)`; beyond 0 and 100 the ends.
    #[test]
    fn percentiles_as_numpy() {
        let v = [3.0, 1.0, f64::NAN, 4.0, 1.0, f64::INFINITY, 5.0];
        for (percent, expected) in [
            (-5.0, 1.0),
            (0.0, 1.0),
            (10.0, 1.0),
            (33.0, 1.64),
            (75.0, 4.0),
            (100.0, 5.0),
            (120.0, 5.0),
        ] {
            assert!((percentile(&v, percent).unwrap() - expected).abs() < 1e-12, "{percent}");
        }
    }

    #[test]
    fn runs_at_the_ends_and_none() {
        assert_eq!(runs(&[1, 1, 0], |x| *x == 1), vec![0..2]);
        assert_eq!(runs(&[0, 1], |x| *x == 1), vec![1..2]);
        assert_eq!(runs(&[0, 0], |x| *x == 1), Vec::<std::ops::Range<usize>>::new());
        assert_eq!(runs(&[1, 1], |x| *x == 1), vec![0..2]);
    }

    /// On the line between two neighbours, and no further than they are.
    #[test]
    fn where_a_level_is_crossed() {
        let series = [1.0, 3.0, 2.0, 2.0];
        assert!((crossing(&series, 1, 1.5) - 0.25).abs() < 1e-12);
        assert!((crossing(&series, 2, 2.75) - 1.25).abs() < 1e-12);
        assert_eq!((crossing(&series, 1, 0.0), crossing(&series, 1, 9.0)), (0.0, 1.0));
        assert_eq!(crossing(&series, 3, 2.0), 3.0, "level all the way");
    }

    #[test]
    fn rounded_to_digits() {
        assert_eq!((rounded(1.2345, 2), rounded(1.235, 2), rounded(-7.6, 0)), (1.23, 1.24, -8.0));
        assert_eq!(rounded(1234.0, -2), 1200.0);
    }
}
