//! The assessment for people and programs: terminal, JSON, CSV. All words for
//! people are in [`wording`].

mod agreement;
pub mod content;
pub mod film;
pub mod measures;
mod reps_table;
mod terminal;
pub mod wording;

pub use agreement::{TEMPLATE_HELP, agreement};
pub use film::film_check;
pub use reps_table::write_reps;
pub use terminal::terminal;
