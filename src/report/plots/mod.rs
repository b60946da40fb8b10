//! The drawings of a report, from one place: the same on page and paper.

mod chart;
mod rep;
mod set;
mod sides;
mod weeks;

pub use rep::rep_plots;
pub use set::set_plots;
pub use sides::sides_plots;
pub use weeks::{week_lines, week_plot};
