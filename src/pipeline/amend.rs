//! What a clinician says of a session that is there: into its folder, with page and paper
//! made again.

use std::path::Path;

use crate::error::Result;
use crate::files::{self, FolderWriter};
use crate::judgement::document::Assessment;
use crate::report::write_reports_again;
use crate::session::review::Review;
use crate::session::{
    PAGE, PAPER, REVIEW, Session, read_assessment, read_criteria, read_figures, review_so_far,
    write_review,
};

/// Adds to the review of a session and writes the session again; page and paper are made
/// again where there were some. Others who review it at the same time wait, so that nothing
/// that is said is lost.
///
/// # Errors
/// Those of `say`, of reading and writing the session,
/// [`Error::Page`](crate::Error::Page), [`Error::Paper`](crate::Error::Paper).
pub fn add_to_review<F>(folder: &Path, say: F) -> Result<()>
where
    F: FnOnce(&Assessment, &mut Review) -> Result<()>,
{
    // What is no session is refused before anything is made beside it.
    read_assessment(folder)?;
    let into = FolderWriter::amend(folder)?;
    let machine = read_assessment(folder)?;
    let mut review = review_so_far(folder)?;
    say(&machine, &mut review)?;
    // Also what others put there.
    for name in files::files_in(folder)? {
        if ![REVIEW, PAGE, PAPER].contains(&name.as_str()) {
            into.copy(&name, &folder.join(&name))?;
        }
    }
    write_review(&into, &review)?;
    let session = Session::new(machine, Some(review), read_criteria(folder)?);
    write_reports_again(folder, &session, &read_figures(folder)?, &into)?;
    into.publish()
}
