//! Differences between two instruments, and the limits most of them lie in.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::{Interval, Z};

impl Interval {
    fn around(centre: f64, half: f64) -> Self {
        Self { low: centre - half, high: centre + half }
    }
}

/// 95 % limits of agreement: about 95 of 100 further differences lie within.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Limits {
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
    /// 95 % interval of the lower limit; None where no formula is used.
    pub lower_interval: Option<Interval>,
    /// 95 % interval of the upper limit; None where no formula is used.
    pub upper_interval: Option<Interval>,
}

/// A sample of differences; unit of the differences throughout.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Differences {
    /// How many.
    pub n: usize,
    /// Mean.
    pub mean: f64,
    /// 95 % interval of the mean, Student's t; None for fewer than two.
    pub mean_interval: Option<Interval>,
    /// Standard deviation with n − 1; None for fewer than two.
    pub standard_deviation: Option<f64>,
    /// Limits of agreement; None for fewer than two.
    pub limits: Option<Limits>,
    /// Smallest.
    pub smallest: f64,
    /// Largest.
    pub largest: f64,
}

/// Mean, spread and limits of agreement of differences that are independent of
/// each other [Bland1986], [Bland1999]: limits mean ± 1.96·s, their standard
/// error s·√(1/n + 1.96²/(2(n − 1))), intervals by t with n − 1 degrees of
/// freedom. None for an empty sample.
pub fn differences(values: &[f64]) -> Option<Differences> {
    let n = values.len();
    let mean = mean(values)?;
    let smallest = values.iter().copied().fold(f64::INFINITY, f64::min);
    let largest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mut sample = Differences {
        n,
        mean,
        mean_interval: None,
        standard_deviation: None,
        limits: None,
        smallest,
        largest,
    };
    let Some(t) = student_t(n.saturating_sub(1)) else { return Some(sample) };
    let count = n as f64;
    let sd = (square_sum(values, mean) / (count - 1.0)).sqrt();
    let half = t * sd * (1.0 / count + Z * Z / (2.0 * (count - 1.0))).sqrt();
    let (lower, upper) = (mean - Z * sd, mean + Z * sd);
    sample.standard_deviation = Some(sd);
    sample.mean_interval = Some(Interval::around(mean, t * sd / count.sqrt()));
    sample.limits = Some(Limits {
        lower,
        upper,
        lower_interval: Some(Interval::around(lower, half)),
        upper_interval: Some(Interval::around(upper, half)),
    });
    Some(sample)
}

/// The same for several differences of each person, whose true value may vary
/// from one to the next [Bland2007]: one-way analysis of variance with the
/// person as the factor; variance between persons (MS_b − MS_w)/m₀ (not below
/// 0), m₀ = ((Σm)² − Σm²)/((k − 1)·Σm), plus the variance within, MS_w.
///
/// The interval of the mean takes the variances of both kinds into account and
/// t with k − 1 degrees of freedom (derived; exact for equal counts where
/// MS_b exceeds MS_w). The limits have no interval. `groups`: a slice a person;
/// empty ones are passed over. None for fewer than two persons, or where nobody
/// has two differences (then [`differences`] is right).
pub fn repeated_limits(groups: &[Vec<f64>]) -> Option<Differences> {
    let groups: Vec<&Vec<f64>> = groups.iter().filter(|g| !g.is_empty()).collect();
    let all: Vec<f64> = groups.iter().flat_map(|g| g.iter().copied()).collect();
    let (k, n) = (groups.len(), all.len());
    if k < 2 || n <= k {
        return None;
    }
    let plain = differences(&all)?;
    let mut between = 0.0;
    let mut within = 0.0;
    for group in &groups {
        let own = mean(group)?;
        between += group.len() as f64 * (own - plain.mean).powi(2);
        within += square_sum(group, own);
    }
    let (persons, count) = (k as f64, n as f64);
    let square_counts: f64 = groups.iter().map(|g| (g.len() as f64).powi(2)).sum();
    let per_person = (count * count - square_counts) / ((persons - 1.0) * count);
    let within = within / (count - persons);
    let between = ((between / (persons - 1.0) - within) / per_person).max(0.0);
    let sd = (between + within).sqrt();
    let of_mean = (between * square_counts / (count * count) + within / count).sqrt();
    let t = student_t(k - 1)?;
    Some(Differences {
        mean_interval: Some(Interval::around(plain.mean, t * of_mean)),
        standard_deviation: Some(sd),
        limits: Some(Limits {
            lower: plain.mean - Z * sd,
            upper: plain.mean + Z * sd,
            lower_interval: None,
            upper_interval: None,
        }),
        ..plain
    })
}

/// The 97.5 % point of Student's t; None for no degree of freedom.
pub(super) fn student_t(freedom: usize) -> Option<f64> {
    let t = StudentsT::new(0.0, 1.0, freedom as f64).ok()?;
    Some(t.inverse_cdf(0.975))
}

pub(super) fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

pub(super) fn square_sum(values: &[f64], centre: f64) -> f64 {
    values.iter().map(|v| (v - centre).powi(2)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Peak expiratory flow of 17 people by two meters, litres a minute
    /// (Bland, Altman 1986, table 1, first readings; published: mean −2.1, SD
    /// 38.8, limits −79.7 to 75.5 with 2 instead of 1.96 SD, interval of the
    /// mean −22.0 to 17.8; from memory).
    #[test]
    fn the_flow_meters_of_bland_and_altman() {
        let large =
            [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427];
        let small =
            [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451];
        let values: Vec<f64> = large.iter().zip(small).map(|(a, b)| f64::from(a - b)).collect();
        let d = differences(&values).unwrap();
        let near = |value: f64, published: f64, tolerance: f64| {
            assert!((value - published).abs() < tolerance, "{value} is not {published}");
        };
        near(d.mean, -2.1, 0.05);
        let sd = d.standard_deviation.unwrap();
        near(sd, 38.8, 0.05);
        let interval = d.mean_interval.unwrap();
        near(interval.low, -22.0, 0.1);
        near(interval.high, 17.8, 0.1);
        let limits = d.limits.unwrap();
        near(limits.lower - (2.0 - Z) * sd, -79.7, 0.1);
        near(limits.upper + (2.0 - Z) * sd, 75.5, 0.1);
        assert_eq!((d.smallest, d.largest), (-81.0, 73.0));
    }

    #[test]
    fn one_difference_has_a_mean_only() {
        let d = differences(&[0.4]).unwrap();
        assert_eq!((d.n, d.mean, d.standard_deviation, d.limits), (1, 0.4, None, None));
        assert_eq!(differences(&[]), None);
    }

    /// Two people who differ by 10 and hardly within themselves: limits of ten
    /// reps taken as independent would be too narrow. By hand: MS_b = 250,
    /// MS_w = 0, m₀ = 5, so the variance is 50.
    #[test]
    fn repeats_do_not_narrow_the_limits() {
        let groups = [vec![0.0; 5], vec![10.0; 5]];
        let repeated = repeated_limits(&groups).unwrap();
        let plain = differences(&groups.concat()).unwrap();
        assert!((repeated.standard_deviation.unwrap() - 50f64.sqrt()).abs() < 1e-12);
        assert!(repeated.standard_deviation > plain.standard_deviation);
        // With equal counts the mean of all is the mean of the persons' means,
        // and its interval theirs.
        let persons = differences(&[0.0, 10.0]).unwrap().mean_interval.unwrap();
        let interval = repeated.mean_interval.unwrap();
        assert!((interval.low - persons.low).abs() < 1e-9 * persons.low.abs());
        assert!((interval.high - persons.high).abs() < 1e-9 * persons.high.abs());
        assert_eq!(repeated_limits(&groups[..1]), None);
        assert_eq!(repeated_limits(&[vec![1.0], vec![2.0]]), None);
    }

    fn near(found: f64, expected: f64) {
        assert!((found - expected).abs() < 1e-9, "{found} is not {expected}");
    }

    /// By NumPy and `scipy.stats.t.ppf` (SciPy 1.17.1), by the formulas of [Bland1999].
    #[test]
    fn a_small_sample_by_another_program() {
        let d = differences(&[1.0, -2.0, 4.0, 0.5, 3.0]).unwrap();
        assert_eq!((d.n, d.smallest, d.largest), (5, -2.0, 4.0));
        near(d.mean, 1.3);
        near(d.standard_deviation.unwrap(), 2.3345235059857505);
        let mean = d.mean_interval.unwrap();
        near(mean.low, -1.5986937903429361);
        near(mean.high, 4.198693790342936);
        let limits = d.limits.unwrap();
        near(limits.lower, -3.2755819927942484);
        near(limits.upper, 5.875581992794248);
        let (lower, upper) = (limits.lower_interval.unwrap(), limits.upper_interval.unwrap());
        near(lower.low, limits.lower - 5.345643868317989);
        near(lower.high, limits.lower + 5.345643868317989);
        near(upper.low, limits.upper - 5.345643868317989);
        near(upper.high, limits.upper + 5.345643868317989);
    }

    /// Persons with three, two and four differences; the mean squares agree with
    /// `scipy.stats.f_oneway`, the rest by the formulas of [Bland2007] in NumPy.
    #[test]
    fn repeats_of_unequal_number_by_another_program() {
        let groups = [vec![1.0, 2.0, 4.0], vec![], vec![6.0, 5.0], vec![2.0, 2.5, 0.5, 1.0]];
        let d = repeated_limits(&groups).unwrap();
        assert_eq!((d.n, d.smallest, d.largest), (9, 0.5, 6.0));
        near(d.mean, 2.6666666666666665);
        near(d.standard_deviation.unwrap(), 2.1480959567291773);
        let mean = d.mean_interval.unwrap();
        near(mean.low, -2.307576657392057);
        near(mean.high, 7.64090999072539);
        let limits = d.limits.unwrap();
        near(limits.lower, -1.5435240438586315);
        near(limits.upper, 6.876857377191964);
        assert_eq!((limits.lower_interval, limits.upper_interval), (None, None));
    }

    /// Persons who differ less than their repeats would make them: no variance between them.
    #[test]
    fn persons_alike_have_no_variance_between_them() {
        let d = repeated_limits(&[vec![1.0, 5.0], vec![2.0, 4.5], vec![3.0, 3.2]]).unwrap();
        near(d.standard_deviation.unwrap(), 1.9274335267396383);
        near(d.mean_interval.unwrap().high - d.mean, 3.385634559062947);
        assert_eq!(repeated_limits(&[]), None);
        assert_eq!(repeated_limits(&[vec![1.0, 2.0], vec![]]), None);
    }
}
