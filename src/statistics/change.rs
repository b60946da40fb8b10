//! What is change, and what is only the noise of measuring it twice.

use super::Z;
use super::differences::{mean, square_sum, student_t};

/// Fewest degrees of freedom from which repeats tell how far they scatter (design choice:
/// with two, Student's t is 4.3 and the standard deviation itself known to a factor of 6).
pub const FEWEST_DEGREES: usize = 3;

/// Largest difference that two means of these standard errors show in 95 of 100 cases where
/// nothing differs: 1.96·√(SE₁² + SE₂²) (derived; with equal errors it is the minimal
/// detectable change, 1.96·√2·SEM \[Weir2005\]).
pub fn noise_of_difference(first_se: f64, second_se: f64) -> f64 {
    Z * first_se.hypot(second_se)
}

/// How far a measure scatters within a person where nothing has changed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WithinPerson {
    /// Standard error of measurement: root of the mean square within, unit of the measure.
    pub sem: f64,
    /// Degrees of freedom: measurements less groups.
    pub degrees_of_freedom: usize,
    /// Groups of two or more measurements.
    pub groups: usize,
    /// Minimal detectable change at 95 %: t·√2·SEM, t with those degrees of freedom in place
    /// of 1.96, as the SEM is itself an estimate.
    pub detectable: f64,
}

/// Scatter within groups of repeated measurements of one thing each: one-way analysis of
/// variance, SEM = √MS_within \[Bland1986\]. Groups of one say nothing and are passed over.
/// None with fewer than [`FEWEST_DEGREES`] degrees of freedom.
pub fn within_person(groups: &[Vec<f64>]) -> Option<WithinPerson> {
    let repeated: Vec<&Vec<f64>> = groups.iter().filter(|g| g.len() > 1).collect();
    let degrees = repeated.iter().map(|g| g.len() - 1).sum::<usize>();
    if degrees < FEWEST_DEGREES {
        return None;
    }
    let squares: f64 =
        repeated.iter().filter_map(|group| Some(square_sum(group, mean(group)?))).sum();
    let sem = (squares / degrees as f64).sqrt();
    Some(WithinPerson {
        sem,
        degrees_of_freedom: degrees,
        groups: repeated.len(),
        detectable: student_t(degrees)? * 2f64.sqrt() * sem,
    })
}

/// Limb symmetry index of something of which more is better, whole per cent: 100 × involved
/// over uninvolved. None where either is nought: the ratio then says nothing.
pub fn symmetry_percent(involved: usize, uninvolved: usize) -> Option<u32> {
    let known = involved > 0 && uninvolved > 0;
    known.then(|| (100.0 * involved as f64 / uninvolved as f64).round() as u32)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(value: f64, published: f64, tolerance: f64) {
        assert!((value - published).abs() <= tolerance, "{value} is not {published}");
    }

    /// With equal errors it is the minimal detectable change: worked by the formula of
    /// [Weir2005] with a calculator, printed by [Munro2012] (SEM 2.72° and SDD 7.54°) and by
    /// Otto-Yanez and colleagues 2025 (0.30 and 0.46 s: 0.84 and 1.28 s, from a rounded SEM).
    #[test]
    fn worked_values_of_detectable_change() {
        for (sem, detectable, tolerance) in [
            (1.5, 4.158, 5e-4),
            (2.48, 6.874, 5e-4),
            (2.0, 5.544, 5e-4),
            (2.72, 7.54, 0.005),
            (0.30, 0.84, 0.01),
            (0.46, 1.28, 0.01),
        ] {
            near(noise_of_difference(sem, sem), detectable, tolerance);
        }
        // A right triangle of 3, 4, 5.
        near(noise_of_difference(3.0, 4.0), 9.8, 0.001);
    }

    /// Worked by hand: with 90 % as the threshold 18 of 22 fail, 20 of 22 and 19 of 21 pass.
    #[test]
    fn worked_values_of_symmetry() {
        assert_eq!(symmetry_percent(18, 22), Some(82));
        assert_eq!(symmetry_percent(20, 22), Some(91));
        assert_eq!(symmetry_percent(19, 21), Some(90));
        assert_eq!(symmetry_percent(22, 20), Some(110));
        assert_eq!((symmetry_percent(0, 22), symmetry_percent(3, 0)), (None, None));
    }

    /// By hand: deviations ±1 in one group and ±2 in the other, squares 2 + 8 over two
    /// degrees of freedom would be 5; a third pair with ±1 makes 12 over three, 4.
    #[test]
    fn scatter_within_groups_needs_three_degrees_of_freedom() {
        let two = [vec![9.0, 11.0], vec![3.0, 7.0], vec![5.0]];
        assert_eq!(within_person(&two), None);
        let three = [&two[..], &[vec![100.0, 102.0]]].concat();
        let found = within_person(&three).unwrap();
        assert_eq!((found.groups, found.degrees_of_freedom, found.sem), (3, 3, 2.0));
        // Student's t, 97.5 %, three degrees of freedom: 3.182 (any table).
        near(found.detectable, 3.182 * 2f64.sqrt() * 2.0, 0.002);
    }
}
