//! A session as the exports read it.

use jiff::Timestamp;

use super::Item;
use crate::error::{Error, Remedy, Result};
use crate::record::markers::Trc;
use crate::report::{self, content::Content};
use crate::session::person::Code;
use crate::session::{self, Session, SessionFiles};

/// A session read for export.
pub(super) struct Stored<'a> {
    pub item: &'a Item<'a>,
    pub session: Session,
    pub recorded_at: Option<Timestamp>,
}

impl<'a> Stored<'a> {
    pub fn read(item: &'a Item<'a>) -> Result<Self> {
        let session = Session::open(item.session.as_ref())?;
        let recorded_at = item.recorded_at.or(session.machine.clip.recorded_at);
        Ok(Self { item, session, recorded_at })
    }

    pub fn id(&self) -> &str {
        &self.item.id
    }

    pub fn person(&self) -> Option<&str> {
        self.item.person.as_ref().map(Code::as_str)
    }

    fn files(&self) -> &dyn SessionFiles {
        self.item.session.as_ref()
    }

    /// What it is called in messages.
    pub fn shown(&self) -> String {
        self.files().shown().display().to_string()
    }

    /// The file of its points.
    pub fn motion(&self) -> Result<Vec<u8>> {
        let content = self.files().content(session::MOTION)?;
        content.ok_or_else(|| self.lacks(session::MOTION))
    }

    /// Its points in three dimensions.
    pub fn points(&self) -> Result<Trc> {
        let text = String::from_utf8(self.motion()?).map_err(|_| "it is not UTF-8 text".into());
        text.and_then(|text| Trc::parse(&text)).map_err(|why| Error::NotMotion {
            path: self.files().shown().join(session::MOTION),
            why,
        })
    }

    /// The paper under a neutral name of the clip, if the session has one and the program can
    /// make it; faces are never shown in it.
    pub fn paper(&self) -> Result<Option<Vec<u8>>> {
        if !self.files().has(session::PAPER) {
            return Ok(None);
        }
        let neutral = self.session.neutral()?;
        let figures = session::read_figures(self.files())?.without_faces();
        let date = jiff::ZonedDateTime::now().date();
        let content = Content { session: &neutral.session, date, figures: &figures };
        match report::paper(&content) {
            Err(Error::NotBuilt { .. }) => Ok(None),
            paper => paper.map(Some),
        }
    }

    pub fn lacks(&self, file: &str) -> Error {
        Error::NotExported {
            what: format!("there is no {file} in '{}'", self.shown()),
            remedy: Remedy::MakeAgain,
        }
    }
}

/// A moment in UTC, in a pattern of strftime.
#[cfg(feature = "dicom")]
pub(super) fn in_utc(at: Timestamp, pattern: &str) -> String {
    at.strftime(pattern).to_string()
}

/// ISO 8601 with Z, to the millisecond.
pub(super) fn iso(at: Timestamp) -> String {
    at.strftime("%Y-%m-%dT%H:%M:%S%.3fZ").to_string()
}
