#!/usr/bin/env python3
"""Golden numbers for the statistics of agreement, from other people's code.

Writes tests/golden/agreement.json and nothing else: tables and differences
with what scikit-learn, statsmodels, SciPy and pingouin say about them. The
inputs are published examples and numbers drawn from a fixed seed.

    python3 -m venv VENV
    VENV/bin/pip install numpy scipy scikit-learn statsmodels pingouin
    VENV/bin/python scripts/make-agreement-golden.py

What comes from where:
  kappa            sklearn.metrics.cohen_kappa_score, checked against statsmodels
  standard_error   statsmodels.stats.inter_rater.cohens_kappa, std_kappa
  low, high        the same, kappa_low and kappa_upp (not cut at 1)
  mean_interval    scipy.stats.t.interval, checked against pingouin.ttest
  limits           mean +- scipy.stats.norm.ppf(0.975) x numpy.std(ddof=1)
  limit_intervals  scipy.stats.t.interval with the standard error
                   s sqrt(1/n + z^2 / (2 (n - 1))) of Bland and Altman 1999
  repeated         mean squares by statsmodels anova_lm, checked against
                   pingouin.anova; added up as in Bland and Altman 2007
  within           root of the mean square within by statsmodels anova_lm, and
                   scipy.stats.t.ppf(0.975) x sqrt(2) times it
"""

import json
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pandas as pd
import pingouin
from scipy import stats
from sklearn.metrics import cohen_kappa_score
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm
from statsmodels.stats.inter_rater import cohens_kappa

TABLES = [
    [[75, 1, 4], [5, 4, 1], [0, 0, 10]],
    [[88, 14, 18], [10, 40, 10], [2, 6, 12]],
    [[106, 10, 4], [22, 28, 10], [2, 12, 6]],
    [[40, 9], [6, 45]],
    [[80, 10], [5, 5]],
    [[4, 1], [0, 7]],
    [[1, 3], [2, 16]],
    [[0, 5], [4, 0]],
    [[1, 0], [1, 20]],
]

# Bland and Altman 1986, table 1, first readings, litres a minute.
LARGE = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
SMALL = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]

# Cardiac output of 12 people by two methods, litres a minute; Bland and Altman 2007, table 1.
CARDIAC = [
    [(7.83, 6.57), (7.42, 5.62), (7.89, 6.90), (7.12, 6.57), (7.88, 6.35)],
    [(6.16, 4.06), (7.26, 4.29), (6.71, 4.26), (6.54, 4.09)],
    [(4.75, 4.71), (5.24, 5.50), (4.86, 5.08), (4.78, 5.02), (6.05, 6.01), (5.42, 5.67)],
    [(4.21, 4.14), (3.61, 4.20), (3.72, 4.61), (3.87, 4.68), (3.92, 5.04)],
    [(3.13, 3.03), (2.98, 2.86), (2.85, 2.77), (3.17, 2.46), (3.09, 2.32), (3.12, 2.43)],
    [(5.92, 5.90), (6.42, 5.81), (5.92, 5.70), (6.27, 5.76)],
    [(7.13, 5.09), (6.62, 4.63), (6.58, 4.61), (6.93, 5.09)],
    [(4.54, 4.72), (4.81, 4.61), (5.11, 4.36), (5.29, 4.20), (5.39, 4.36), (5.57, 4.20)],
    [(4.48, 3.17), (4.92, 3.12), (3.97, 2.96)],
    [(4.22, 4.35), (4.65, 4.62), (4.74, 3.16), (4.44, 3.53), (4.50, 3.53)],
    [(6.78, 7.20), (6.07, 6.09), (6.52, 7.00), (6.42, 7.10), (6.41, 7.40), (5.76, 6.80)],
    [(5.06, 4.50), (4.72, 4.20), (4.90, 3.80), (4.80, 3.80), (4.90, 4.20), (5.10, 4.50)],
]

Z = stats.norm.ppf(0.975)


def kappa(table):
    counts = np.array(table)
    pairs = [(i, j) for (i, j), n in np.ndenumerate(counts) for _ in range(n)]
    first, second = zip(*pairs)
    value = cohen_kappa_score(first, second, labels=range(len(table)))
    other = cohens_kappa(counts)
    assert abs(value - other.kappa) < 1e-12
    return {
        "table": table,
        "kappa": value,
        "standard_error": other.std_kappa,
        "low": other.kappa_low,
        "high": other.kappa_upp,
    }


def differences(values):
    d = np.array(values, float)
    n, mean, sd = len(d), d.mean(), d.std(ddof=1)
    interval = stats.t.interval(0.95, n - 1, loc=mean, scale=stats.sem(d))
    rounded = pingouin.ttest(d, 0)["CI95"].iloc[0]
    assert np.allclose(rounded, interval, atol=0.006), (rounded, interval)
    error = sd * np.sqrt(1 / n + Z**2 / (2 * (n - 1)))
    limits = [mean - Z * sd, mean + Z * sd]
    return {
        "differences": [float(v) for v in d],
        "mean": mean,
        "mean_interval": list(interval),
        "standard_deviation": sd,
        "limits": limits,
        "limit_intervals": [list(stats.t.interval(0.95, n - 1, loc=v, scale=error)) for v in limits],
    }


def repeated(groups):
    rows = [(i, v) for i, group in enumerate(groups) for v in group]
    frame = pd.DataFrame(rows, columns=["person", "difference"])
    table = anova_lm(ols("difference ~ C(person)", frame).fit())
    between, within = table["mean_sq"]
    other = pingouin.anova(frame, dv="difference", between="person", detailed=True)
    assert np.allclose(other["MS"], [between, within], rtol=1e-3, atol=1e-3)
    counts = frame.groupby("person").size().to_numpy()
    per_person = (counts.sum() ** 2 - (counts**2).sum()) / ((len(counts) - 1) * counts.sum())
    variance = within + max(0.0, (between - within) / per_person)
    mean = frame["difference"].mean()
    return {
        "groups": [[float(v) for v in group] for group in groups],
        "mean_squares": [between, within],
        "mean": mean,
        "standard_deviation": np.sqrt(variance),
        "limits": [mean - Z * np.sqrt(variance), mean + Z * np.sqrt(variance)],
    }


def within(groups):
    """Scatter within groups, and the change that is detectable beyond it."""
    rows = [(i, v) for i, group in enumerate(groups) for v in group]
    frame = pd.DataFrame(rows, columns=["group", "value"])
    table = anova_lm(ols("value ~ C(group)", frame).fit())
    degrees = int(table["df"]["Residual"])
    sem = np.sqrt(table["mean_sq"]["Residual"])
    return {
        "groups": groups,
        "degrees_of_freedom": degrees,
        "sem": sem,
        "detectable": stats.t.ppf(0.975, degrees) * np.sqrt(2) * sem,
    }


def main():
    draw = np.random.default_rng(22)
    cardiac = [[round(a - b, 2) for a, b in person] for person in CARDIAC]
    drawn = [
        [round(v, 3) for v in draw.normal(draw.normal(0.3, 0.8), 0.5, size)] for size in (22, 9, 1, 14)
    ]
    alike = [[round(v, 3) for v in draw.normal(0, 1, 6)] for _ in range(2)]
    golden = {
        "made_by": "scripts/make-agreement-golden.py",
        "versions": {
            name: version(name)
            for name in ("numpy", "scipy", "scikit-learn", "statsmodels", "pingouin")
        },
        "kappa": [kappa(table) for table in TABLES],
        "differences": [
            differences([a - b for a, b in zip(LARGE, SMALL)]),
            differences([round(v, 3) for v in draw.normal(0.4, 0.7, 22)]),
            differences([0.3, -0.1]),
        ],
        "repeated": [repeated(cardiac), repeated(drawn), repeated(alike)],
        "within": [within(cardiac), within(drawn), within([[2.1, 2.4], [3.3, 3.1], [1.9, 1.6]])],
    }
    path = Path(__file__).resolve().parent.parent / "tests/golden/agreement.json"
    path.write_text(json.dumps(golden, indent=1, default=float) + "\n")


if __name__ == "__main__":
    main()
