#!/usr/bin/env python3
"""Golden values for tests/signal.rs, from SciPy and NumPy.

    python3 scripts/make-signal-golden.py        # needs numpy and scipy

Writes tests/golden/signal/*.json. Nothing is random: the input series are made
of sines and integer arithmetic, so that a second run writes the same bytes
(with the same versions, which each file records).
"""

import json
from pathlib import Path

import numpy as np
import scipy
from scipy import interpolate, signal, stats

FOLDER = Path(__file__).resolve().parent.parent / "tests" / "golden" / "signal"
PADDING_TIME_CONSTANTS = 10


def rough(n, rate_hz):
    """A slow movement with tremor and scatter, starting and ending in motion."""
    i = np.arange(n)
    t = i / rate_hz
    scatter = (i * i * 7919 + i * 104729) % 1009 / 1009 - 0.5
    return np.cos(2 * np.pi * 0.4 * t) + 0.1 * np.sin(2 * np.pi * 5 * t) + 0.05 * scatter


def butterworth():
    """Coefficients by scipy.signal.butter; zero-lag filtering by
    scipy.signal.filtfilt. The two-pass correction is made in the analogue
    domain and mapped back to the frequency butter is to be asked for."""
    cases = []
    for rate_hz, cutoff_hz, n in [
        (60, 6, 90), (30, 6, 60), (50, 6, 60), (100, 6, 60), (120, 6, 60), (240, 6, 80),
        (30, 0.7, 150), (30, 13, 40), (60, 6, 12), (60, 6, 2),
    ]:
        asked_hz = rate_hz / np.pi * np.arctan(
            np.tan(np.pi * cutoff_hz / rate_hz) / (2 ** (1 / 2) - 1) ** 0.25)
        b, a = signal.butter(2, 2 * asked_hz / rate_hz)
        single_b, single_a = signal.butter(2, 2 * cutoff_hz / rate_hz)
        memory = -1 / np.log(np.abs(np.roots(a)).max())
        padding = min(int(np.ceil(PADDING_TIME_CONSTANTS * memory)), n - 1)
        x = rough(n, rate_hz)
        cases.append({
            "rate_hz": rate_hz, "cutoff_hz": cutoff_hz,
            "single_b": single_b, "single_a": single_a, "dual_b": b, "dual_a": a,
            "input": x,
            "filtfilt": signal.filtfilt(b, a, x, padtype="odd", padlen=padding),
        })
    return cases


def savitzky_golay():
    """scipy.signal.savgol_filter of order 2, mode interp."""
    cases = []
    for rate_hz, window, n in [(30, 5, 24), (60, 15, 40), (60, 31, 31)]:
        x = rough(n, rate_hz)
        value, slope, curvature = (
            signal.savgol_filter(x, window, 2, deriv=d, delta=1 / rate_hz, mode="interp")
            for d in range(3))
        cases.append({"rate_hz": rate_hz, "window": window, "input": x, "value": value,
                      "slope": slope, "curvature": curvature})
    return cases


def differences():
    """numpy.gradient."""
    x = rough(40, 30)
    return [{"rate_hz": 30, "input": x, "derivative": np.gradient(x, 1 / 30)}]


def pchip():
    """scipy.interpolate.PchipInterpolator and numpy.interp, times jittered, with
    plateaus, turns and steep ends."""
    cases = []
    for n in (2, 3, 4, 40):
        i = np.arange(n)
        times_s = i / 30 + 0.008 * ((i * 37) % 11 / 11 - 0.5)
        values = np.round(rough(n, 30), 2)
        values[10:14] = values[10:11]
        rate_hz = 47
        count = int((times_s[-1] - times_s[0]) * rate_hz) + 1
        grid_s = times_s[0] + np.arange(count) / rate_hz
        cases.append({
            "rate_hz": rate_hz, "times_s": times_s, "values": values,
            "monotone": interpolate.PchipInterpolator(times_s, values)(grid_s),
            "linear": np.interp(grid_s, times_s, values),
        })
    return cases


def statistics():
    """numpy, scipy.stats.median_abs_deviation, linregress and theilslopes."""
    cases = []
    for n in (7, 40):
        x = np.arange(n) / 30 + 12
        y = rough(n, 30)
        y[3] += 5
        line = stats.linregress(x, y)
        robust = stats.theilslopes(y, x, method="separate")
        cases.append({
            "x": x, "y": y,
            "mean": y.mean(), "sd": y.std(ddof=1), "rms": np.sqrt((y * y).mean()),
            "median": np.median(y),
            "mad_sd": stats.median_abs_deviation(y, scale="normal"),
            "percents": [0, 2, 33.3, 50, 98, 100],
            "percentiles": np.percentile(y, [0, 2, 33.3, 50, 98, 100]),
            "slope": line.slope, "intercept": line.intercept,
            "slope_se": line.stderr, "intercept_se": line.intercept_stderr,
            "theil_sen_slope": robust.slope, "theil_sen_intercept": robust.intercept,
        })
    return cases


def smoothness():
    """The published formulas of Balasubramanian et al. 2015, step by step in
    NumPy, on rough speeds."""
    def sparc(speed, rate_hz, pad_level, cutoff_hz, threshold):
        n = int(2 ** (np.ceil(np.log2(len(speed))) + pad_level))
        f = np.arange(n) * rate_hz / n
        m = np.abs(np.fft.fft(speed, n))
        m = m / m.max()
        f, m = f[f <= cutoff_hz], m[f <= cutoff_hz]
        loud = np.nonzero(m >= threshold)[0]
        f, m = f[loud[0]:loud[-1] + 1], m[loud[0]:loud[-1] + 1]
        return -np.sum(np.sqrt((np.diff(f) / (f[-1] - f[0])) ** 2 + np.diff(m) ** 2))

    def log_dimensionless_jerk(speed, rate_hz):
        dt = 1 / rate_hz
        jerk = np.diff(speed, 2) / dt ** 2
        return -np.log((len(speed) * dt) ** 3 / speed.max() ** 2 * np.sum(jerk ** 2) * dt)

    cases = []
    for n, rate_hz, pad_level, cutoff_hz, threshold in [
        (45, 30, 4, 10, 0.05), (64, 60, 4, 10, 0.05), (65, 59.94, 2, 6, 0.01), (300, 240, 4, 20, 0.1),
    ]:
        speed = np.abs(rough(n, rate_hz)) * np.sin(np.pi * np.arange(n) / (n - 1))
        cases.append({
            "rate_hz": rate_hz, "pad_level": pad_level, "cutoff_hz": cutoff_hz,
            "amplitude_threshold": threshold, "speed": speed,
            "sparc": sparc(speed, rate_hz, pad_level, cutoff_hz, threshold),
            "log_dimensionless_jerk": log_dimensionless_jerk(speed, rate_hz),
        })
    return cases


def main():
    FOLDER.mkdir(parents=True, exist_ok=True)
    for make in (butterworth, savitzky_golay, differences, pchip, statistics, smoothness):
        document = {
            "source": f"SciPy {scipy.__version__}, NumPy {np.__version__}",
            "cases": make(),
        }
        text = json.dumps(document, default=lambda array: array.tolist())
        path = FOLDER / f"{make.__name__}.json"
        path.write_text(text.replace('{"', '\n{"') + "\n")


if __name__ == "__main__":
    main()
