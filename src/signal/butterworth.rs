//! Second-order low-pass Butterworth filter, run forward and backward.

use std::f64::consts::{PI, SQRT_2};

/// Coefficients in the form of [Winter2009]:
/// `y[n] = a0·x[n] + a1·x[n−1] + a2·x[n−2] + b1·y[n−1] + b2·y[n−2]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LowPass {
    /// Weights of the input, newest first.
    pub a: [f64; 3],
    /// Weights of the output, newest first.
    pub b: [f64; 2],
}

/// Cut-offs above this share of the sampling rate leave nothing to remove.
const HIGHEST_SHARE: f64 = 0.45;

impl LowPass {
    /// One pass with −3 dB at `cutoff_hz`.
    pub fn single_pass(cutoff_hz: f64, rate_hz: f64) -> Self {
        Self::design(cutoff_hz, rate_hz, 1.0)
    }

    /// For two passes, which together have −3 dB at `cutoff_hz`: each is
    /// widened by C = (2^(1/2) − 1)^(1/4) = 0.802 ([Winter2009],
    /// [Robertson2003]).
    pub fn dual_pass(cutoff_hz: f64, rate_hz: f64) -> Self {
        let passes = 2.0f64;
        Self::design(cutoff_hz, rate_hz, (2f64.powf(1.0 / passes) - 1.0).powf(0.25))
    }

    fn design(cutoff_hz: f64, rate_hz: f64, correction: f64) -> Self {
        let share = (cutoff_hz / rate_hz).clamp(0.0, HIGHEST_SHARE);
        let omega = (PI * share).tan() / correction;
        let (k1, k2) = (SQRT_2 * omega, omega * omega);
        let a0 = k2 / (1.0 + k1 + k2);
        let b1 = -2.0 * a0 + 2.0 * a0 / k2.max(f64::MIN_POSITIVE);
        Self { a: [a0, 2.0 * a0, a0], b: [b1, 1.0 - 4.0 * a0 - b1] }
    }

    /// Zero-lag low-pass of `series` at `cutoff_hz`: forward, then backward,
    /// with the ends continued by odd reflection so that they do not bend.
    /// Returned unchanged where the rate is too low for the cut-off to mean
    /// anything (above 0.45 × rate), or the rate is not positive.
    pub fn zero_lag(series: &[f64], cutoff_hz: f64, rate_hz: f64) -> Vec<f64> {
        let share = cutoff_hz / rate_hz;
        if rate_hz <= 0.0 || share.is_nan() || share <= 0.0 || share >= HIGHEST_SHARE {
            return series.to_vec();
        }
        Self::dual_pass(cutoff_hz, rate_hz).forward_and_backward(series, rate_hz / cutoff_hz)
    }

    fn forward_and_backward(&self, series: &[f64], period: f64) -> Vec<f64> {
        let n = series.len();
        if n < 2 {
            return series.to_vec();
        }
        let pad = ((2.0 * period).ceil() as usize).min(n - 1);
        let (first, last) = (series[0], series[n - 1]);
        let mut work: Vec<f64> = Vec::with_capacity(n + 2 * pad);
        work.extend((1..=pad).rev().map(|i| 2.0 * first - series[i]));
        work.extend_from_slice(series);
        work.extend((1..=pad).map(|i| 2.0 * last - series[n - 1 - i]));
        self.pass(&mut work);
        work.reverse();
        self.pass(&mut work);
        work.reverse();
        work[pad..pad + n].to_vec()
    }

    /// One pass in place, started as if the first value had stood for ever.
    fn pass(&self, series: &mut [f64]) {
        let Some(&start) = series.first() else { return };
        let (mut x1, mut x2, mut y1, mut y2) = (start, start, start, start);
        for value in series {
            let x = *value;
            let y =
                self.a[0] * x + self.a[1] * x1 + self.a[2] * x2 + self.b[0] * y1 + self.b[1] * y2;
            (x2, x1, y2, y1) = (x1, x, y1, y);
            *value = y;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, expected: f64) {
        assert!((found - expected).abs() < 1e-6, "{found} is not {expected}");
    }

    /// [Winter2009] table for fs/fc = 10, also `scipy.signal.butter(2, 0.2)`;
    /// the other rates derived from the same formula with SciPy.
    #[test]
    fn published_coefficients() {
        for (rate, expected) in [
            (60.0, [0.06745527, 0.13491055, 1.14298050, -0.41280160]),
            (30.0, [0.20657208, 0.41314417, 0.36952738, -0.19581571]),
            (120.0, [0.02008337, 0.04016673, 1.56101808, -0.64135154]),
            (240.0, [0.00554272, 0.01108543, 1.77863178, -0.80080265]),
        ] {
            let f = LowPass::single_pass(6.0, rate);
            for (found, expected) in [f.a[0], f.a[1], f.b[0], f.b[1]].into_iter().zip(expected) {
                close(found, expected);
            }
            close(f.a.iter().sum::<f64>() + f.b.iter().sum::<f64>(), 1.0);
        }
        let f = LowPass::dual_pass(6.0, 60.0);
        for (found, expected) in [f.a[0], f.a[1], f.b[0], f.b[1]]
            .into_iter()
            .zip([0.094447, 0.188893, 0.962641, -0.340428])
        {
            close(found, expected);
        }
    }

    /// Gain at the cut-off after both passes is −3 dB = 0.7071 ([Winter2009]).
    #[test]
    fn two_passes_have_half_power_at_the_cutoff_and_no_lag() {
        let (rate, cutoff) = (60.0, 3.0);
        let wave: Vec<f64> =
            (0..600).map(|i| (2.0 * PI * cutoff * i as f64 / rate).sin()).collect();
        let filtered = LowPass::zero_lag(&wave, cutoff, rate);
        let middle = 200..400;
        let gain = middle.clone().map(|i| filtered[i] * wave[i]).sum::<f64>()
            / middle.map(|i| wave[i] * wave[i]).sum::<f64>();
        assert!((gain - 0.5f64.sqrt()).abs() < 1e-4, "{gain}");
    }

    #[test]
    fn constants_and_slopes_pass_unchanged_to_the_ends() {
        let slope: Vec<f64> = (0..40).map(|i| 3.0 + 0.5 * i as f64).collect();
        for (a, b) in LowPass::zero_lag(&slope, 6.0, 30.0).iter().zip(&slope) {
            assert!((a - b).abs() < 0.02, "{a} {b}");
        }
        assert_eq!(LowPass::zero_lag(&[2.0], 6.0, 30.0), [2.0]);
        assert!(LowPass::zero_lag(&[], 6.0, 30.0).is_empty());
        assert_eq!(LowPass::zero_lag(&[1.0, 5.0], 6.0, 5.0), [1.0, 5.0], "rate too low");
    }

    /// `scipy.signal.filtfilt` of the corrected `butter(2)`, odd padding of two periods of the
    /// cut-off, or of what there is (SciPy 1.17.1).
    #[test]
    fn agrees_with_scipy_to_the_ends() {
        let long: Vec<f64> = (0..14).map(|i| f64::from(7 * i * i % 11 - 5)).collect();
        let cases: [(&[f64], f64, &[f64]); 4] = [
            (&[1.0, 5.0], 6.0, &[1.2616852158619705, 4.613036711732487]),
            (
                &[0.0, 1.0, 4.0, 2.0, 7.0],
                6.0,
                &[
                    0.035447767408616326,
                    1.4511226238503792,
                    2.4161470170336066,
                    3.9231871386384602,
                    6.967129885859202,
                ],
            ),
            (
                &long,
                6.0,
                &[
                    -4.999957510254898,
                    0.2814613613723158,
                    2.040970815743516,
                    1.0491748877450735,
                    1.0345524278772924,
                    2.66745783778927,
                    2.7039653495508764,
                    1.1543973529543092,
                    1.0152024080989819,
                    1.3603929306321816,
                    0.00990658930733862,
                    -1.275469370482063,
                    -0.6060095197154074,
                    0.9998978066400777,
                ],
            ),
            (
                &long,
                8.0,
                &[
                    -4.999545198139537,
                    0.9434808247067387,
                    2.6512075987877686,
                    0.4383519284370998,
                    0.07871243753732364,
                    3.5423183903900326,
                    3.488665340740582,
                    0.013640267346727963,
                    0.7213256112388954,
                    2.4632897657813464,
                    -0.12185364049520675,
                    -2.0168829518649343,
                    -0.22559965173106133,
                    1.0009197826895564,
                ],
            ),
        ];
        for (series, cutoff_hz, scipy) in cases {
            let found = LowPass::zero_lag(series, cutoff_hz, 30.0);
            assert_eq!(found.len(), scipy.len());
            for (found, expected) in found.iter().zip(scipy) {
                assert!((found - expected).abs() < 1e-9, "{found} {expected}");
            }
        }
    }

    /// No cut-off, or none below 0.45 of the rate, filters nothing.
    #[test]
    fn what_no_filter_can_do_is_left_as_it_is() {
        let series = [1.0, 5.0, -2.0, 7.0, 0.0];
        for (cutoff_hz, rate_hz) in
            [(-6.0, -30.0), (6.0, 0.0), (0.0, 30.0), (-6.0, 30.0), (f64::NAN, 30.0), (13.5, 30.0)]
        {
            let found = LowPass::zero_lag(&series, cutoff_hz, rate_hz);
            assert_eq!(found, series, "{cutoff_hz} of {rate_hz}");
        }
        assert_ne!(LowPass::zero_lag(&series, 13.4, 30.0), series);
    }
}
