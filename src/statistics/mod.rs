//! Agreement of two raters or two instruments, and change from one session to another:
//! pure functions on counts and differences.

mod change;
mod differences;
mod kappa;

pub use change::{
    FEWEST_DEGREES, WithinPerson, noise_of_difference, symmetry_percent, within_person,
};
pub use differences::{Differences, Limits, differences, repeated_limits};
pub use kappa::{Kappa, NoKappa, YesNo, cohen_kappa};

/// A 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// The 97.5 % point of the standard normal distribution.
const Z: f64 = 1.959_963_984_540_054;
