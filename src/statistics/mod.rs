//! Agreement of two raters or two instruments: pure functions on counts and
//! differences.

mod differences;
mod kappa;

pub use differences::{Differences, Interval, Limits, differences, repeated_limits};
pub use kappa::{Kappa, NoKappa, YesNo, cohen_kappa};

/// The 97.5 % point of the standard normal distribution.
const Z: f64 = 1.959_963_984_540_054;
