//! The assessment for people and programs: terminal, JSON, CSV. All words for
//! people are in [`wording`].

mod agreement;
mod clips;
mod comparison;
pub mod content;
mod guide;
pub mod leaflet;
mod lines;
pub mod measures;
mod page;
#[cfg(feature = "paper")]
mod paper;
pub mod plots;
pub(crate) mod reps_table;
mod sheet;
mod terminal;
mod trend;
pub mod wording;

pub use agreement::{TEMPLATE_HELP, agreement};
pub use clips::{ClipLine, State, clips};
pub use comparison::comparison;
pub use guide::{guide, guide_page};
#[cfg(feature = "cli")]
pub(crate) use lines::wrapped;
pub use page::{leaflet_page, page};
#[cfg(feature = "paper")]
pub use paper::{leaflet_paper, paper};
pub use reps_table::write_reps;
pub use terminal::{film_check, leaflet, reviewed, terminal};
pub use trend::{since_last, trend};
