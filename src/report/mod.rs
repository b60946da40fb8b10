//! The assessment for people and programs: terminal, JSON, CSV. All words for
//! people are in [`wording`].

mod agreement;
mod clips;
pub mod content;
mod guide;
mod lines;
pub mod measures;
mod page;
#[cfg(feature = "paper")]
mod paper;
pub mod plots;
pub(crate) mod reps_table;
mod sheet;
mod terminal;
pub mod wording;

pub use agreement::{TEMPLATE_HELP, agreement};
pub use clips::{ClipLine, State, clips};
pub use guide::{guide, guide_page};
pub use page::page;
#[cfg(feature = "paper")]
pub use paper::paper;
pub use reps_table::write_reps;
pub use terminal::{film_check, reviewed, terminal};
