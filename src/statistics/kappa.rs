//! Two raters, the same things, named classes.

use super::{Interval, Z};

/// Cohen's kappa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kappa {
    /// (p_o − p_e) / (1 − p_e), −1 to 1; 0 where the raters agree as often as
    /// their habits alone would make them.
    pub value: f64,
    /// Large-sample standard error; None where no two ratings differ, because
    /// the formula then gives 0, whatever the number of ratings.
    pub standard_error: Option<f64>,
}

impl Kappa {
    /// 95 % interval, value ± 1.96 standard errors, cut at ±1.
    pub fn interval(&self) -> Option<Interval> {
        let half = Z * self.standard_error?;
        Some(Interval { low: (self.value - half).max(-1.0), high: (self.value + half).min(1.0) })
    }
}

/// Why there is no kappa.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoKappa {
    /// Nothing was rated by both.
    Nothing,
    /// The rater of the rows named one class only.
    RowsNeverVary,
    /// The rater of the columns named one class only.
    ColumnsNeverVary,
    /// Each named one class only.
    NeitherVaries,
}

/// Cohen's kappa of a table of counts, rows one rater, columns the other
/// [Cohen1960], with the standard error of [Fleiss1969] for an interval (not
/// the one for a test of kappa = 0):
///
/// n·(1 − p_e)⁴·SE² = Σ p_ii·[(1 − p_e) − (p_i. + p_.i)(1 − p_o)]²
///   + (1 − p_o)²·ΣΣ_{i≠j} p_ij·(p_.i + p_j.)² − (p_o·p_e − 2p_e + p_o)²
///
/// # Errors
/// [`NoKappa`]: with one rater who never varies kappa is 0 or 0/0 whatever the
/// other says, so it tells nothing.
pub fn cohen_kappa<const K: usize>(table: &[[usize; K]; K]) -> Result<Kappa, NoKappa> {
    let total: usize = table.iter().flatten().sum();
    if total == 0 {
        return Err(NoKappa::Nothing);
    }
    let n = total as f64;
    let p = table.map(|row| row.map(|count| count as f64 / n));
    let rows: [f64; K] = p.map(|row| row.iter().sum());
    let columns: [f64; K] = std::array::from_fn(|j| p.iter().map(|row| row[j]).sum());
    let varies = |counts: [usize; K]| counts.iter().filter(|c| **c > 0).count() > 1;
    let rows_vary = varies(table.map(|row| row.iter().sum()));
    let columns_vary = varies(std::array::from_fn(|j| table.iter().map(|row| row[j]).sum()));
    match (rows_vary, columns_vary) {
        (true, true) => {}
        (false, true) => return Err(NoKappa::RowsNeverVary),
        (true, false) => return Err(NoKappa::ColumnsNeverVary),
        (false, false) => return Err(NoKappa::NeitherVaries),
    }
    let same: usize = (0..K).map(|i| table[i][i]).sum();
    let observed = same as f64 / n;
    let expected: f64 = (0..K).map(|i| rows[i] * columns[i]).sum();
    let value = (observed - expected) / (1.0 - expected);
    if same == total {
        return Ok(Kappa { value: 1.0, standard_error: None });
    }
    let mut sum = -(observed * expected - 2.0 * expected + observed).powi(2);
    for i in 0..K {
        for j in 0..K {
            let weight = if i == j {
                (1.0 - expected) - (rows[i] + columns[i]) * (1.0 - observed)
            } else {
                (1.0 - observed) * (columns[i] + rows[j])
            };
            sum += p[i][j] * weight * weight;
        }
    }
    let standard_error = sum.max(0.0).sqrt() / (n.sqrt() * (1.0 - expected).powi(2));
    Ok(Kappa { value, standard_error: Some(standard_error) })
}

/// Counts of a yes-or-no question put to two raters.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, serde::Serialize)]
pub struct YesNo {
    /// Both say yes.
    pub both: usize,
    /// Only the first says yes.
    pub only_first: usize,
    /// Only the second says yes.
    pub only_second: usize,
    /// Both say no.
    pub neither: usize,
}

impl YesNo {
    /// Counts one answer of each.
    pub fn add(&mut self, first: bool, second: bool) {
        match (first, second) {
            (true, true) => self.both += 1,
            (true, false) => self.only_first += 1,
            (false, true) => self.only_second += 1,
            (false, false) => self.neither += 1,
        }
    }

    /// Answers by both.
    pub fn total(&self) -> usize {
        self.both + self.only_first + self.only_second + self.neither
    }

    /// Share of equal answers, 0–1; None without answers.
    pub fn agreement(&self) -> Option<f64> {
        share(self.both + self.neither, self.total())
    }

    /// Share of the «yes» that both say, 2a/(2a + b + c) [Cicchetti1990].
    pub fn positive_agreement(&self) -> Option<f64> {
        share(2 * self.both, 2 * self.both + self.only_first + self.only_second)
    }

    /// Share of the «no» that both say, 2d/(2d + b + c) [Cicchetti1990].
    pub fn negative_agreement(&self) -> Option<f64> {
        share(2 * self.neither, 2 * self.neither + self.only_first + self.only_second)
    }

    /// (a − d)/n, −1 to 1: far from 0 where nearly all is «yes», or nearly all
    /// «no», which pulls kappa down [Byrt1993].
    pub fn prevalence_index(&self) -> Option<f64> {
        let n = self.total();
        (n > 0).then(|| (self.both as f64 - self.neither as f64) / n as f64)
    }

    /// (b − c)/n, −1 to 1: positive where the first says «yes» more often
    /// [Byrt1993].
    pub fn bias_index(&self) -> Option<f64> {
        let n = self.total();
        (n > 0).then(|| (self.only_first as f64 - self.only_second as f64) / n as f64)
    }

    /// [`cohen_kappa`] of the four counts.
    ///
    /// # Errors
    /// [`NoKappa`].
    pub fn kappa(&self) -> Result<Kappa, NoKappa> {
        cohen_kappa(&[[self.both, self.only_first], [self.only_second, self.neither]])
    }
}

fn share(part: usize, whole: usize) -> Option<f64> {
    (whole > 0).then(|| part as f64 / whole as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Fleiss, Levin, Paik, Statistical Methods for Rates and Proportions, 3rd
    /// ed., table 18.1 (100 subjects): kappa 0.68, and 0.087 or 0.088 as
    /// its standard error for an interval (from memory).
    #[test]
    fn the_textbook_example_of_fleiss() {
        let kappa = cohen_kappa(&[[75, 1, 4], [5, 4, 1], [0, 0, 10]]).unwrap();
        assert!((kappa.value - 0.676).abs() < 0.001, "{kappa:?}");
        assert!((kappa.standard_error.unwrap() - 0.0875).abs() < 0.001, "{kappa:?}");
    }

    /// Two published tables of 200: kappa 0.492 (Cohen's own example) and 0.429
    /// (Fleiss, Cohen, Everitt 1969); tables as in the manual of the R package
    /// psych, values from memory.
    #[test]
    fn the_examples_of_the_inventors() {
        let cohen = cohen_kappa(&[[88, 14, 18], [10, 40, 10], [2, 6, 12]]).unwrap();
        assert!((cohen.value - 0.492).abs() < 0.0005, "{cohen:?}");
        let fleiss = cohen_kappa(&[[106, 10, 4], [22, 28, 10], [2, 12, 6]]).unwrap();
        assert!((fleiss.value - 0.429).abs() < 0.0005, "{fleiss:?}");
    }

    /// By the definition 0 or 0/0: not a number to show.
    #[test]
    fn a_rater_who_never_varies_has_no_kappa() {
        assert_eq!(cohen_kappa(&[[0, 0], [0, 0]]), Err(NoKappa::Nothing));
        assert_eq!(cohen_kappa(&[[0, 0], [3, 9]]), Err(NoKappa::RowsNeverVary));
        assert_eq!(cohen_kappa(&[[0, 3], [0, 9]]), Err(NoKappa::ColumnsNeverVary));
        assert_eq!(cohen_kappa(&[[0, 0], [0, 9]]), Err(NoKappa::NeitherVaries));
        assert_eq!(cohen_kappa(&[[0, 9], [0, 0]]), Err(NoKappa::NeitherVaries));
    }

    #[test]
    fn full_agreement_has_no_interval() {
        let kappa = cohen_kappa(&[[5, 0], [0, 7]]).unwrap();
        assert_eq!((kappa.value, kappa.interval()), (1.0, None));
    }

    /// Feinstein and Cicchetti's paradox (J Clin Epidemiol 1990;43:543-549,
    /// from memory): the same 85 % agreement gives kappa 0.70 with 40/45 and
    /// 0.32 with 80/5.
    #[test]
    fn the_paradox_of_prevalence() {
        let even = YesNo { both: 40, only_first: 9, only_second: 6, neither: 45 };
        let uneven = YesNo { both: 80, only_first: 10, only_second: 5, neither: 5 };
        assert_eq!((even.agreement(), uneven.agreement()), (Some(0.85), Some(0.85)));
        assert!((even.kappa().unwrap().value - 0.70).abs() < 0.005);
        assert!((uneven.kappa().unwrap().value - 0.32).abs() < 0.005);
        // By the definitions of the indices.
        assert_eq!(uneven.prevalence_index(), Some(0.75));
        assert_eq!(uneven.bias_index(), Some(0.05));
        assert_eq!(uneven.positive_agreement(), Some(160.0 / 175.0));
        assert_eq!(uneven.negative_agreement(), Some(0.4));
    }

    /// `statsmodels.stats.inter_rater.cohens_kappa` (0.14): kappa, its standard error for an
    /// interval, and the interval.
    #[test]
    fn agrees_with_statsmodels() {
        let near = |found: f64, expected: f64| {
            assert!((found - expected).abs() < 1e-9, "{found} is not {expected}");
        };
        let three = [
            ([[75, 1, 4], [5, 4, 1], [0, 0, 10]], 0.676470588235294, 0.08770295347521254),
            ([[88, 14, 18], [10, 40, 10], [2, 6, 12]], 0.49152542372881347, 0.05100181557607786),
        ];
        for (table, value, standard_error) in three {
            let kappa = cohen_kappa(&table).unwrap();
            near(kappa.value, value);
            near(kappa.standard_error.unwrap(), standard_error);
        }
        let two = YesNo { both: 40, only_first: 9, only_second: 6, neither: 45 }.kappa().unwrap();
        near(two.value, 0.6995192307692307);
        near(two.standard_error.unwrap(), 0.07139360269998822);
        let interval = two.interval().unwrap();
        near(interval.low, 0.5595903407506923);
        near(interval.high, 0.8394481207877692);
        // Of few ratings, cut where kappa ends.
        let few = YesNo { both: 5, only_first: 1, only_second: 0, neither: 5 }.kappa().unwrap();
        assert_eq!(few.interval().unwrap().high, 1.0);
        let opposed = YesNo { both: 0, only_first: 5, only_second: 5, neither: 1 };
        assert_eq!(opposed.kappa().unwrap().interval().unwrap().low, -1.0);
    }

    /// Three «yes» by both, two by the first alone, one by the second alone, four by none.
    #[test]
    fn answers_are_counted() {
        let mut count = YesNo::default();
        assert_eq!((count.total(), count.agreement()), (0, None));
        assert_eq!((count.prevalence_index(), count.bias_index()), (None, None));
        assert_eq!((count.positive_agreement(), count.negative_agreement()), (None, None));
        for (first, second, times) in
            [(true, true, 3), (true, false, 2), (false, true, 1), (false, false, 4)]
        {
            (0..times).for_each(|_| count.add(first, second));
        }
        assert_eq!(count, YesNo { both: 3, only_first: 2, only_second: 1, neither: 4 });
        assert_eq!((count.total(), count.agreement()), (10, Some(0.7)));
        assert_eq!(count.positive_agreement(), Some(6.0 / 9.0));
        assert_eq!(count.negative_agreement(), Some(8.0 / 11.0));
        assert_eq!((count.prevalence_index(), count.bias_index()), (Some(-0.1), Some(0.1)));
    }
}
