//! The drawings of a report, from one place: the same on page and paper.

mod chart;
mod rep;
mod set;

pub use rep::rep_plots;
pub use set::set_plots;
