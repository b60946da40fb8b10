//! Page and paper as files of a session's folder.

use super::content::Content;
use crate::error::{Error, Result};
use crate::files::FolderWriter;
use crate::session::{FILM, Figures, PAGE, PAPER, Session, SessionFiles};

/// Writes page and paper. Gives back why one could not be made, if so: the rest is not lost
/// for that.
///
/// # Errors
/// [`Error::CannotWrite`].
pub fn write_reports(
    folder: &FolderWriter,
    content: &Content,
    page: bool,
    paper: bool,
) -> Result<Vec<Error>> {
    let mut failed = Vec::new();
    if page {
        match super::page(content, FILM) {
            Ok(page) => folder.write(PAGE, |out| out.write_all(page.as_bytes()))?,
            Err(why) => failed.push(why),
        }
    }
    if paper {
        match super::paper(content) {
            Ok(paper) => folder.write(PAPER, |out| out.write_all(&paper))?,
            Err(why) => failed.push(why),
        }
    }
    Ok(failed)
}

/// Makes those of page and paper again that the session has in `files`; no paper where the
/// program is built without.
///
/// # Errors
/// [`Error::CannotWrite`], [`Error::Page`], [`Error::Paper`].
pub fn write_reports_again<F: SessionFiles + ?Sized>(
    files: &F,
    session: &Session,
    figures: &Figures,
    into: &FolderWriter,
) -> Result<()> {
    let date = jiff::ZonedDateTime::now().date();
    let content = Content { session, date, figures };
    let mut failed = write_reports(into, &content, files.has(PAGE), files.has(PAPER))?;
    // A paper that does not say what stands now is better left out.
    failed.retain(|why| !matches!(why, Error::NotBuilt { .. }));
    failed.pop().map_or(Ok(()), Err)
}
