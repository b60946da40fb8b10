//! Measures of a rep against the limits of good form: from a recording to the document.

mod assess;
pub mod criteria;
pub mod document;
mod measure;
pub mod measures;
mod notes;
mod remarks;
mod rep;
mod rung;
pub mod trajectories;
pub mod uncertainty;
mod verdict;

pub use assess::{Judgement, assess};
pub use measure::{Measures, measure};
pub use notes::Note;
pub use remarks::{Remark, remarks};
pub use rung::{FootWork, foot_work};
pub use verdict::{Conditions, judge, summary, unseen};
