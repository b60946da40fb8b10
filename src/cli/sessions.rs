//! Where sessions come from: folders, or an archive.

use std::path::{Path, PathBuf};

use clap::Args;
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::archive::{Archive, Entry};
use crate::between::sides::LegSession;
use crate::between::weeks::{Dated, Repeats, Trend};
use crate::error::{Error, Result};
use crate::files;
use crate::session::person::Code;
use crate::session::{self, Session, SessionFiles};

/// The archive that sessions may be in.
#[derive(Debug, Args)]
pub(super) struct ArchivePlace {
    /// Folder of the archive
    #[arg(long, value_name = "DIR", env = "PLUMBRISE_ARCHIVE")]
    pub archive: Option<PathBuf>,
}

impl ArchivePlace {
    /// Opens the archive, if one was named.
    pub fn open(&self) -> Result<Option<Archive>> {
        self.archive.as_deref().map(Archive::open).transpose()
    }

    /// Where the archive is, for what needs one.
    ///
    /// # Errors
    /// [`Error::NoArchive`].
    pub fn needed(&self) -> Result<&Path> {
        self.archive.as_deref().ok_or(Error::NoArchive)
    }
}

/// A session that was named.
pub(super) enum Named {
    /// A folder.
    Folder(PathBuf),
    /// One of the archive.
    Archived(Box<Archive>, Box<Entry>),
}

/// What is meant by a word: a folder, or the id of a session in the archive.
///
/// # Errors
/// Those of opening the archive and of finding the session.
pub(super) fn find(named: &Path, place: &ArchivePlace) -> Result<Named> {
    files::bring_back(named);
    let id = named.to_str().filter(|_| !files::exists(named));
    match (id, place.open()?) {
        (Some(id), Some(archive)) => {
            let entry = archive.session(id)?;
            Ok(Named::Archived(Box::new(archive), Box::new(entry)))
        }
        _ => Ok(Named::Folder(named.to_owned())),
    }
}

impl Named {
    /// The session to read from.
    fn files(&self) -> Result<Box<dyn SessionFiles + '_>> {
        Ok(match self {
            Named::Folder(folder) => Box::new(folder.clone()),
            Named::Archived(archive, entry) => Box::new(archive.open_session(entry)?),
        })
    }
}

/// A session to set against one of the other leg.
///
/// # Errors
/// Those of finding and reading it.
pub(super) fn leg_session(named: &Path, place: &ArchivePlace) -> Result<LegSession> {
    let found = find(named, place)?;
    let files = found.files()?;
    let session = Session::open(&*files)?;
    Ok(match &found {
        Named::Folder(folder) => LegSession::new(name(folder), session),
        Named::Archived(_, entry) => {
            let mut leg = LegSession::new(entry.id.clone(), session);
            leg.summary.recorded_at = entry.filmed_at();
            leg
        }
    })
}

/// The weeks of a person in an archive; how far sessions scatter is learnt from everybody's.
///
/// # Errors
/// [`Error::Archive`].
pub(super) fn weeks_of(person: &Code, archive: &Archive) -> Result<Trend> {
    let repeated: Vec<(String, Dated)> = archive
        .same_day()?
        .into_iter()
        .flatten()
        .map(|entry| (entry.person.clone(), dated(entry)))
        .collect();
    let repeats = Repeats::of(repeated.iter().map(|(person, session)| (person.as_str(), session)));
    let sessions = archive.sessions_of(person)?.into_iter().map(dated).collect();
    Ok(Trend::of(Some(person.as_str().into()), sessions, &repeats))
}

fn dated(entry: Entry) -> Dated {
    Dated {
        day_known: entry.filmed_at().is_some(),
        id: entry.id,
        recorded_at: entry.recorded_at,
        summary: entry.summary,
    }
}

/// The weeks of a person in session folders, each with its day behind it
/// (`FOLDER=2026-05-04`) or in its clip.
///
/// # Errors
/// Those of reading them, [`Error::Undated`].
pub(super) fn weeks_in(named: &[PathBuf]) -> Result<Trend> {
    let sessions = named.iter().map(|n| dated_folder(n)).collect::<Result<Vec<_>>>()?;
    let repeats = Repeats::of(sessions.iter().map(|s| ("", s)));
    Ok(Trend::of(None, sessions, &repeats))
}

fn dated_folder(named: &Path) -> Result<Dated> {
    let (folder, told) = split(named);
    let summary = session::summary(&folder)?;
    let recorded_at = told.or(summary.recorded_at).ok_or_else(|| Error::Undated(folder.clone()))?;
    Ok(Dated { id: name(&folder), recorded_at, day_known: true, summary })
}

/// The name of a folder, without those it is in.
fn name(folder: &Path) -> String {
    folder.file_name().unwrap_or(folder.as_os_str()).to_string_lossy().into_owned()
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
