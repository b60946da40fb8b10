//! The signal functions against SciPy and NumPy. The golden values are made by
//! `scripts/make-signal-golden.py`, which says how.

use plumbrise::signal::{
    Coefficients, Grid, Interpolation, LowPass, MAX_GAP_S, Sample, SparcParameters, derivative,
    line_fit, local_quadratic, log_dimensionless_jerk, mad_sd, mean, median, percentile, resample,
    rms, sd, sparc, theil_sen,
};
use serde_json::Value;

/// The cases of one golden file; never none.
fn cases(name: &str) -> Vec<Value> {
    let path = format!(
        "{}/tests/golden/signal/{name}.json",
        env!("CARGO_MANIFEST_DIR")
    );
    let document: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let cases = document["cases"].as_array().unwrap().clone();
    assert!(!cases.is_empty());
    cases
}

fn number(case: &Value, name: &str) -> f64 {
    case[name]
        .as_f64()
        .unwrap_or_else(|| panic!("no number {name}"))
}

fn numbers(case: &Value, name: &str) -> Vec<f64> {
    case[name]
        .as_array()
        .unwrap()
        .iter()
        .map(|x| x.as_f64().unwrap())
        .collect()
}

/// Equal to within `tolerance` of the largest expected value.
#[track_caller]
fn assert_close(values: &[f64], expected: &[f64], tolerance: f64) {
    assert_eq!(values.len(), expected.len());
    let size = expected.iter().fold(0.0, |size: f64, x| size.max(x.abs()));
    for (i, (value, expected)) in values.iter().zip(expected).enumerate() {
        let miss = (value - expected).abs();
        assert!(miss <= tolerance * size, "[{i}]: {value} is not {expected}");
    }
}

/// Numerator and denominator as SciPy writes them.
fn assert_coefficients(coefficients: Option<Coefficients>, case: &Value, b: &str, a: &str) {
    let Coefficients {
        a: input,
        b: [b1, b2],
    } = coefficients.unwrap();
    assert_close(&input, &numbers(case, b), 1e-12);
    assert_close(&[1.0, -b1, -b2], &numbers(case, a), 1e-12);
}

#[test]
fn butterworth_coefficients_and_zero_lag_filter() {
    for case in cases("butterworth") {
        let (cutoff_hz, rate_hz) = (number(&case, "cutoff_hz"), number(&case, "rate_hz"));
        let filter = LowPass::dual_pass(cutoff_hz, rate_hz);
        let single = Coefficients::single_pass(cutoff_hz, rate_hz);
        assert_coefficients(single, &case, "single_b", "single_a");
        assert_coefficients(filter.coefficients(), &case, "dual_b", "dual_a");
        let input = numbers(&case, "input");
        assert_close(&filter.filtfilt(&input), &numbers(&case, "filtfilt"), 1e-10);
    }
}

#[test]
fn butterworth_coefficients_of_the_printed_table() {
    // Rate, cut-off, then a0, b1, b2 for one pass and for each of two passes:
    // recursion and correction of Winter 2009, worked out by hand in eight and
    // six decimals.
    for (rate_hz, cutoff_hz, single, dual) in [
        (
            60.0,
            6.0,
            [0.06745527, 1.14298050, -0.41280160],
            [0.094447, 0.962641, -0.340428],
        ),
        (
            30.0,
            6.0,
            [0.20657208, 0.36952738, -0.19581571],
            [0.264494, 0.115977, -0.173952],
        ),
        (
            50.0,
            6.0,
            [0.09131490, 0.98240579, -0.34766539],
            [0.125452, 0.779216, -0.281026],
        ),
        (
            100.0,
            6.0,
            [0.02785977, 1.47548044, -0.58691951],
            [0.040595, 1.354749, -0.517128],
        ),
        (
            120.0,
            6.0,
            [0.02008337, 1.56101808, -0.64135154],
            [0.029569, 1.458104, -0.576380],
        ),
        (
            240.0,
            6.0,
            [0.00554272, 1.77863178, -0.80080265],
            [0.008381, 1.724851, -0.758374],
        ),
    ] {
        let one = Coefficients::single_pass(cutoff_hz, rate_hz).unwrap();
        let two = LowPass::dual_pass(cutoff_hz, rate_hz)
            .coefficients()
            .unwrap();
        for (coefficients, printed, unit) in [(one, single, 1e-8), (two, dual, 1e-6)] {
            let Coefficients {
                a: [a0, a1, a2],
                b: [b1, b2],
            } = coefficients;
            for (value, expected) in [a0, b1, b2].into_iter().zip(printed) {
                assert!(
                    (value - expected).abs() <= unit,
                    "{value} is not {expected}"
                );
            }
            assert_eq!((a1, a2), (2.0 * a0, a0));
            assert!((a0 + a1 + a2 + b1 + b2 - 1.0).abs() < 1e-12);
        }
        // C = 0.802243 is hidden in the ratio of the analogue frequencies:
        // tan(π fc/fs) = √((1 − b1 − b2) / (1 + b1 − b2)).
        let omega = |c: Coefficients| ((1.0 - c.b[0] - c.b[1]) / (1.0 + c.b[0] - c.b[1])).sqrt();
        assert!((omega(one) / omega(two) - 0.802243).abs() < 1e-6);
    }
}

#[test]
fn local_quadratic_is_the_savitzky_golay_filter() {
    for case in cases("savitzky_golay") {
        let input = numbers(&case, "input");
        let rate_hz = number(&case, "rate_hz");
        let window = number(&case, "window") as usize;
        let fits: Vec<_> = (0..input.len())
            .map(|at| local_quadratic(&input, at, window, rate_hz).unwrap())
            .collect();
        let of = |part: fn(&plumbrise::signal::LocalQuadratic) -> f64| -> Vec<f64> {
            fits.iter().map(part).collect()
        };
        assert_close(&of(|fit| fit.value), &numbers(&case, "value"), 1e-10);
        assert_close(&of(|fit| fit.slope), &numbers(&case, "slope"), 1e-10);
        assert_close(&of(|fit| fit.curvature), &numbers(&case, "curvature"), 1e-9);
    }
}

#[test]
fn derivative_is_numpy_gradient() {
    for case in cases("differences") {
        let slope = derivative(&numbers(&case, "input"), number(&case, "rate_hz")).unwrap();
        assert_close(&slope, &numbers(&case, "derivative"), 1e-12);
    }
}

#[test]
fn resampling_is_pchip_and_linear() {
    for case in cases("pchip") {
        let times_s = numbers(&case, "times_s");
        let values = numbers(&case, "values");
        let input: Vec<_> = times_s
            .iter()
            .copied()
            .zip(values.into_iter().map(Some))
            .collect();
        let grid = Grid::covering(&times_s, number(&case, "rate_hz")).unwrap();
        for (name, interpolation) in [
            ("monotone", Interpolation::Monotone),
            ("linear", Interpolation::Linear),
        ] {
            let out = resample(&input, &grid, MAX_GAP_S, interpolation);
            assert!(
                out.iter()
                    .all(|sample| matches!(sample, Sample::Measured(_)))
            );
            let out: Vec<f64> = out.into_iter().filter_map(Sample::value).collect();
            assert_close(&out, &numbers(&case, name), 1e-12);
        }
    }
}

#[test]
fn a_gap_parts_pchip_into_two_curves() {
    // Each side must be what SciPy gives for that side alone, so the far side
    // moved away and turned over must change nothing on this one.
    let case = cases("pchip").pop().unwrap();
    let times_s = numbers(&case, "times_s");
    let here: Vec<_> = times_s
        .iter()
        .copied()
        .zip(numbers(&case, "values").into_iter().map(Some))
        .collect();
    let there = here
        .iter()
        .map(|(t, v)| (t + 2.0, v.map(|v| 50.0 - 9.0 * v)));
    let both: Vec<_> = here.iter().copied().chain(there).collect();
    let grid = Grid::covering(&times_s, number(&case, "rate_hz")).unwrap();
    let near = resample(&both, &grid, MAX_GAP_S, Interpolation::Monotone);
    assert_eq!(
        near,
        resample(&here, &grid, MAX_GAP_S, Interpolation::Monotone)
    );
    let whole = Grid {
        samples: grid.samples + 94,
        ..grid
    };
    let far = resample(&both, &whole, MAX_GAP_S, Interpolation::Monotone);
    assert!(far[grid.samples..].contains(&Sample::Gap));
    // 94 samples at 47/s are the 2 s by which the second half is late.
    let far: Vec<f64> = far[94..]
        .iter()
        .filter_map(|sample| sample.value())
        .collect();
    let expected: Vec<f64> = numbers(&case, "monotone")
        .iter()
        .map(|v| 50.0 - 9.0 * v)
        .collect();
    assert_close(&far[far.len() - expected.len()..], &expected, 1e-9);
}

#[test]
fn statistics_and_lines() {
    for case in cases("statistics") {
        let (x, y) = (numbers(&case, "x"), numbers(&case, "y"));
        let percentiles: Vec<f64> = numbers(&case, "percents")
            .into_iter()
            .map(|percent| percentile(&y, percent).unwrap())
            .collect();
        assert_close(&percentiles, &numbers(&case, "percentiles"), 1e-12);
        let line = line_fit(&x, &y).unwrap();
        let (slope, intercept) = theil_sen(&x, &y).unwrap();
        for (name, value) in [
            ("mean", mean(&y).unwrap()),
            ("sd", sd(&y).unwrap()),
            ("rms", rms(&y).unwrap()),
            ("median", median(&y).unwrap()),
            ("mad_sd", mad_sd(&y).unwrap()),
            ("slope", line.slope),
            ("intercept", line.intercept),
            ("slope_se", line.slope_se.unwrap()),
            ("intercept_se", line.intercept_se.unwrap()),
            ("theil_sen_slope", slope),
            ("theil_sen_intercept", intercept),
        ] {
            assert_close(&[value], &[number(&case, name)], 1e-10);
        }
    }
}

#[test]
fn smoothness_of_rough_speeds() {
    for case in cases("smoothness") {
        let speed = numbers(&case, "speed");
        let rate_hz = number(&case, "rate_hz");
        let parameters = SparcParameters {
            pad_level: number(&case, "pad_level") as u32,
            cutoff_hz: number(&case, "cutoff_hz"),
            amplitude_threshold: number(&case, "amplitude_threshold"),
        };
        let arc = sparc(&speed, rate_hz, parameters).unwrap();
        assert_close(&[arc], &[number(&case, "sparc")], 1e-10);
        let jerk = log_dimensionless_jerk(&speed, rate_hz).unwrap();
        assert_close(&[jerk], &[number(&case, "log_dimensionless_jerk")], 1e-10);
    }
}
