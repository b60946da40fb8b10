//! The assessment for people and programs: terminal, JSON, CSV. All words for
//! people are in [`wording`].

mod agreement;
mod clips;
mod comparison;
pub mod content;
pub mod font;
mod guide;
mod kept;
pub mod leaflet;
mod lines;
#[cfg(feature = "video")]
pub mod on_film;
mod page;
#[cfg(feature = "paper")]
mod paper;
#[cfg(not(feature = "paper"))]
#[path = "no_paper.rs"]
mod paper;
pub mod plots;
#[cfg_attr(not(feature = "paper"), expect(dead_code, reason = "the paper shows all of it"))]
mod sheet;
mod terminal;
mod trend;
pub mod wording;

pub use agreement::{TEMPLATE_HELP, agreement};
pub use clips::{ClipLine, ClipState, clips};
pub use comparison::comparison;
pub use guide::{guide, guide_page};
pub use kept::{write_reports, write_reports_again};
#[cfg(feature = "cli")]
pub(crate) use lines::wrapped;
pub use page::{leaflet_page, page};
pub use paper::{leaflet_paper, paper};
#[cfg(feature = "archive")]
pub use terminal::archive;
pub use terminal::{film_check, leaflet, terminal};
pub use trend::{since_last, trend};
