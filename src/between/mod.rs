//! What several sessions, or a session and a clinician's own labels, tell together: pure
//! functions on sessions in a few numbers.

pub mod agreement;
mod count;
pub mod sides;
pub mod weeks;

pub use count::Count;
