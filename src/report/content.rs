//! What a report says, before it becomes a page or a paper.

use crate::session::{Figures, Session};

/// What page and paper are made from.
#[derive(Debug, Clone, Copy)]
pub struct Content<'a> {
    /// The session, as the program judged it and as it stands.
    pub session: &'a Session,
    /// Day of the report.
    pub date: jiff::civil::Date,
    /// What is drawn and shown.
    pub figures: &'a Figures,
}
