//! Measures of a rep against the limits of good form.

mod measure;
mod rung;
mod verdict;

pub use measure::{Measures, measure};
pub use rung::{FootWork, foot_work};
pub use verdict::{Conditions, judge, summary, unseen};
