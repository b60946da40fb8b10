//! Pure functions on slices: filters, derivatives, fits, smoothness, robust
//! statistics. Knows nothing of bodies or cameras. Series are on a uniform
//! grid of `rate_hz` unless times are given.

mod butterworth;
mod fit;
mod grid;
#[cfg(test)]
mod minimum_jerk;
mod robust;
mod smoothness;

pub use butterworth::LowPass;
pub use fit::{Line, line_fit, local_quadratic_slope, parabola_slope_at};
pub use grid::{Grid, Sampled, derivative, to_grid};
#[cfg(test)]
pub(crate) use minimum_jerk::MinimumJerk;
pub use robust::{crossing, deviation, mean, median, percentile, rms, rounded, runs};
pub use smoothness::{SparcParameters, log_dimensionless_jerk, sparc};
