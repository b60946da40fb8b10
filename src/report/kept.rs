//! Page and paper as files of a session's folder.

use super::content::Content;
use crate::error::{Error, Result};
use crate::files::FolderWriter;
use crate::session::{FILM, Figures, PAGE, PAPER, Session, SessionFiles};

/// Writes page and paper. Gives back why the paper could not be made, if so: the rest is
/// not lost for that.
///
/// # Errors
/// [`Error::CannotWrite`], [`Error::Page`].
pub fn write_reports(
    folder: &FolderWriter,
    content: &Content,
    page: bool,
    paper: bool,
) -> Result<Option<Error>> {
    if page {
        let page = super::page(content, FILM)?;
        folder.write(PAGE, |out| out.write_all(page.as_bytes()))?;
    }
    if paper {
        match super::paper(content) {
            Ok(paper) => folder.write(PAPER, |out| out.write_all(&paper))?,
            Err(why) => return Ok(Some(why)),
        }
    }
    Ok(None)
}

/// Makes those of page and paper again that the session has in `files`.
///
/// # Errors
/// [`Error::CannotWrite`], [`Error::Paper`].
pub fn write_reports_again<F: SessionFiles + ?Sized>(
    files: &F,
    session: &Session,
    figures: &Figures,
    into: &FolderWriter,
) -> Result<()> {
    let date = jiff::ZonedDateTime::now().date();
    let content = Content { session, date, figures };
    match write_reports(into, &content, files.has(PAGE), files.has(PAPER))? {
        Some(why) => Err(why),
        None => Ok(()),
    }
}
