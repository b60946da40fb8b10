//! A session as the exports read it.

use jiff::Timestamp;

use super::Item;
use crate::assessment::Assessment;
use crate::criteria::Criteria;
use crate::error::{Error, Result};
use crate::motion::Trc;
use crate::person::Code;
use crate::review::{Review, State};
use crate::session::{self, SessionFiles};

/// A session read for export.
pub(super) struct Stored<'a> {
    pub item: &'a Item<'a>,
    /// As the program judged it.
    pub machine: Assessment,
    /// As it stands after the review.
    pub in_force: Assessment,
    pub review: Option<Review>,
    pub criteria: Criteria,
    pub recorded_at: Option<Timestamp>,
}

impl<'a> Stored<'a> {
    pub fn read(item: &'a Item<'a>) -> Result<Self> {
        let files = item.session.as_ref();
        let machine = session::read_assessment(files)?;
        let review = session::read_review(files)?;
        let criteria = session::read_criteria(files)?;
        let in_force = match &review {
            Some(review) => review.applied(&machine, &criteria),
            None => machine.clone(),
        };
        let recorded_at = item.recorded_at.or(machine.clip.recorded_at);
        Ok(Self { item, machine, in_force, review, criteria, recorded_at })
    }

    pub fn id(&self) -> &str {
        &self.item.id
    }

    pub fn person(&self) -> Option<&str> {
        self.item.person.as_ref().map(Code::as_str)
    }

    pub fn state(&self) -> State {
        self.review.as_ref().map(Review::state).unwrap_or_default()
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

    /// The paper under a neutral name of the clip, if the session has one.
    #[cfg(feature = "paper")]
    pub fn paper(&self) -> Result<Option<Vec<u8>>> {
        match self.files().has(session::PAPER) {
            true => session::pseudonymous_paper(self.files()).map(Some),
            false => Ok(None),
        }
    }

    /// Without the typesetter it cannot be set again, and as it is it does not leave.
    #[cfg(not(feature = "paper"))]
    pub fn paper(&self) -> Result<Option<Vec<u8>>> {
        Ok(None)
    }

    pub fn lacks(&self, file: &str) -> Error {
        Error::NotExported {
            what: format!("there is no {file} in '{}'", self.shown()),
            hint: "'plumbrise reassess SESSION' makes the files of a session again",
        }
    }
}

/// A moment in UTC, in a pattern of strftime.
#[cfg(feature = "exports")]
pub(super) fn in_utc(at: Timestamp, pattern: &str) -> String {
    at.strftime(pattern).to_string()
}

/// ISO 8601 with Z, to the millisecond.
pub(super) fn iso(at: Timestamp) -> String {
    at.strftime("%Y-%m-%dT%H:%M:%S%.3fZ").to_string()
}
