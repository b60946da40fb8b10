//! Where sessions that are compared come from.

use std::path::{Path, PathBuf};

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::comparison::LegSession;
use crate::error::{Error, Result};
use crate::session;
use crate::trend::{Dated, Repeats};

/// The folder of a session, by the name it was given.
fn folder_of(named: &Path) -> PathBuf {
    named.to_owned()
}

/// A session to set against one of the other leg.
///
/// # Errors
/// Those of reading it.
pub(super) fn leg_session(named: &Path) -> Result<LegSession> {
    let folder = folder_of(named);
    let assessment = session::read_assessment(&folder)?;
    let review = session::read_review(&folder)?;
    let criteria = session::read_criteria(&folder)?;
    Ok(LegSession::new(named, &assessment, review.as_ref(), criteria))
}

/// The sessions of one person, and what is known of how sessions scatter.
pub(super) struct Source {
    /// Code of the person, where there is one.
    pub person: Option<String>,
    /// In any order.
    pub sessions: Vec<Dated>,
    /// Learnt from all sessions at hand.
    pub repeats: Repeats,
}

impl Source {
    /// From session folders, each with its day behind it (`FOLDER=2026-05-04`) or in its
    /// clip.
    ///
    /// # Errors
    /// Those of reading them, [`Error::Undated`].
    pub fn folders(named: &[PathBuf]) -> Result<Self> {
        let sessions = named.iter().map(|n| dated(n)).collect::<Result<Vec<_>>>()?;
        let repeats = Repeats::of(sessions.iter().map(|s| ("", s)));
        Ok(Self { person: None, sessions, repeats })
    }
}

fn dated(named: &Path) -> Result<Dated> {
    let (folder, told) = split(named);
    let summary = session::summary(&folder_of(&folder))?;
    let recorded_at = told.or(summary.recorded_at).ok_or_else(|| Error::Undated(folder.clone()))?;
    let name = folder.file_name().unwrap_or(folder.as_os_str());
    Ok(Dated { id: name.to_string_lossy().into_owned(), recorded_at, summary })
}

/// A folder and the day told behind it; a folder may itself have an equals sign in its name.
fn split(named: &Path) -> (PathBuf, Option<Timestamp>) {
    let text = named.to_str().and_then(|text| text.rsplit_once('='));
    let told = text.and_then(|(folder, day)| {
        let day: Date = day.parse().ok()?;
        let at = day.to_zoned_datetime(TimeZone::UTC).ok()?.timestamp();
        Some((PathBuf::from(folder), Some(at)))
    });
    told.unwrap_or_else(|| (named.to_owned(), None))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_stands_behind_the_last_equals_sign() {
        let at = |text: &str| split(Path::new(text));
        let noon = |text: &str| Some(text.parse::<Timestamp>().unwrap());
        assert_eq!(at("a=b.plumbrise"), ("a=b.plumbrise".into(), None));
        assert_eq!(at("a=b=2026-05-04"), ("a=b".into(), noon("2026-05-04T00:00:00Z")));
        assert_eq!(at("a=2026-13-04"), ("a=2026-13-04".into(), None));
    }
}
