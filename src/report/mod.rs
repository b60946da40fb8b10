//! The assessment for people and programs: terminal, JSON, CSV. All words for
//! people are in [`wording`].

mod reps_table;
mod terminal;
pub mod measures;
pub mod wording;

pub use reps_table::write_reps;
pub use terminal::terminal;
