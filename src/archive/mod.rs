//! The archive: sessions kept in a folder with an index, nothing to administer.
//!
//! ```text
//! DIR/index.sqlite      which sessions there are, of whom, with which files
//! DIR/objects/ab/ab12…  the files, named by their SHA-256, read-only
//! DIR/staging/          what is being made; empty when nobody writes
//! DIR/lock              held by who writes
//! DIR/READ-ME.txt       for people who find the folder
//! ```
//!
//! Whoever writes holds the lock, and first finishes or undoes what one that was killed has
//! left. Readers need the index only. Persons are codes ([`Code`]); no name is kept.

mod add;
mod backup;
mod erase;
mod index;
mod objects;
mod sqlite;
mod verify;

use std::path::{Component, Path, PathBuf};

use jiff::Timestamp;

pub use add::{Added, Adding, Outcome};
pub use backup::restore;
pub use erase::{Erased, ErasedAgain};
pub use index::{Entry, Index, Person, RecordedFrom, StoredFile, Tombstone};
pub use sqlite::{SCHEMA, SqliteIndex};
pub use verify::{Fault, Verified};

use crate::error::{Error, Result};
use crate::files::{self, Lock, TemporaryFolder};
use crate::person::Code;
use objects::Objects;

const INDEX: &str = "index.sqlite";
/// There while somebody writes the index, or when one was killed.
const JOURNAL: &str = "index.sqlite-journal";
const LOCK: &str = "lock";
const READ_ME: &str = "READ-ME.txt";
const OBJECTS: &str = "objects";
const STAGING: &str = "staging";

const READ_ME_TEXT: &str = "\
This folder is an archive of the program plumbrise: sessions of rising from a chair,
kept under codes. It holds no names, but it is about people's health all the same:
treat it so.

Leave everything here as it is. To look into it, to add, back up, check or erase, use
'plumbrise archive' ('plumbrise help archive' tells how). A copy made while nobody
writes is a whole copy; 'plumbrise archive backup' makes one at any time.

index.sqlite  which sessions there are, of which code, with which files (SQLite)
objects/      the files, each named by the SHA-256 of its content
staging/      work in progress, else empty
lock          held by the program while it writes
";

/// An archive in a folder.
pub struct Archive {
    folder: PathBuf,
    index: Box<dyn Index>,
    objects: Objects,
}

impl Archive {
    /// Opens an archive that is there.
    ///
    /// # Errors
    /// [`Error::Archive`] where there is none or it cannot be used.
    pub fn open(folder: &Path) -> Result<Self> {
        if !files::exists(&folder.join(INDEX)) {
            return Err(Error::Archive {
                path: folder.into(),
                why: "there is no archive in that folder".into(),
                hint: "check --archive; the first 'plumbrise archive add' makes one",
            });
        }
        let mut archive = Self::at(folder)?;
        // A reader tidies up too, where nobody is writing and it may.
        if archive.is_untidy()?
            && let Ok(Some(lock)) = Lock::try_take(&folder.join(LOCK))
        {
            let tidied = archive.tidy_up(&lock);
            if !matches!(tidied, Err(Error::CannotWrite { .. })) {
                tidied?;
            }
        }
        Ok(archive)
    }

    /// Opens an archive, or makes one in a folder that is missing or empty.
    ///
    /// # Errors
    /// [`Error::Archive`] where the folder holds something else or the archive cannot be
    /// used, [`Error::CannotWrite`].
    pub fn open_or_create(folder: &Path) -> Result<Self> {
        if files::exists(&folder.join(INDEX)) {
            return Self::open(folder);
        }
        if !is_free(folder)? {
            return Err(Error::Archive {
                path: folder.into(),
                why: "the folder is not empty and not an archive".into(),
                hint: "name a new folder with --archive",
            });
        }
        let objects = Objects::in_archive(folder);
        let staged = objects.staging()?.join(READ_ME);
        files::make_private(folder)?;
        {
            let _lock = Lock::take(&folder.join(LOCK))?;
            let written = files::write_and_hash(&mut READ_ME_TEXT.as_bytes(), &staged);
            written.map_err(|e| Error::writing(&staged, e))?;
            files::settle(&staged, &folder.join(READ_ME))?;
        }
        Self::at(folder)
    }

    fn at(folder: &Path) -> Result<Self> {
        let path = folder.join(INDEX);
        files::make_file(&path)?;
        let mut index = SqliteIndex::open(&path)?;
        if index.schema()? < SCHEMA {
            let _lock = Lock::take(&folder.join(LOCK))?;
            index.migrate()?;
        }
        let objects = Objects::in_archive(folder);
        Ok(Self { folder: folder.into(), index: Box::new(index), objects })
    }

    /// Where it is.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Its own name: random, the same in its back-ups.
    pub fn id(&self) -> Result<String> {
        self.index.id()
    }

    /// Persons with sessions, in order of their codes.
    pub fn persons(&self) -> Result<Vec<Person>> {
        self.index.persons()
    }

    /// All sessions, by person, then by time.
    pub fn sessions(&self) -> Result<Vec<Entry>> {
        self.index.sessions(None)
    }

    /// Sessions of a person in order of time.
    ///
    /// # Errors
    /// [`Error::Archive`] where there is none.
    pub fn sessions_of(&self, person: &Code) -> Result<Vec<Entry>> {
        let found = self.index.sessions(Some(person.as_str()))?;
        match found.is_empty() {
            true => Err(self.no_person(person)),
            false => Ok(found),
        }
    }

    /// Sessions of one person, leg, rung and UTC day: from these one learns how far
    /// sessions differ though nothing has changed. A clip counts once, however often it was
    /// judged, and a session of which the day is not known does not count.
    pub fn same_day(&self) -> Result<Vec<Vec<Entry>>> {
        let mut groups = self.index.same_day()?;
        for group in &mut groups {
            let mut seen = std::collections::BTreeSet::new();
            group.retain(|entry| seen.insert(entry.summary.clip_sha256.clone()));
        }
        groups.retain(|group| group.len() > 1);
        Ok(groups)
    }

    /// The one session whose id begins so.
    ///
    /// # Errors
    /// [`Error::Archive`] where there is none or several.
    pub fn session(&self, prefix: &str) -> Result<Entry> {
        let prefix = prefix.to_ascii_lowercase();
        let refused = |why, hint| Err(Error::Archive { path: self.folder.clone(), why, hint });
        let mut found = match prefix.is_empty() {
            true => Vec::new(),
            false => self.index.sessions_named(&prefix, 2)?,
        };
        match (found.pop(), found.is_empty()) {
            (Some(entry), true) => Ok(entry),
            (Some(_), false) => refused(
                format!("several sessions begin with '{prefix}'"),
                "give more of the session's id",
            ),
            (None, _) => refused(
                format!("there is no session '{prefix}'"),
                "'plumbrise archive list --person CODE' shows the sessions of a person",
            ),
        }
    }

    /// Files of a session, in order of their names.
    pub fn files(&self, entry: &Entry) -> Result<Vec<StoredFile>> {
        self.index.files(&entry.id)
    }

    /// Puts the files of a session into a temporary folder, which goes when it is dropped.
    ///
    /// # Errors
    /// Those of [`Archive::materialise`].
    pub fn open_session(&self, entry: &Entry) -> Result<TemporaryFolder> {
        let folder = TemporaryFolder::new()?;
        self.materialise(entry, folder.path())?;
        Ok(folder)
    }

    /// Puts the files of a session into a folder, which is made where it is missing; each is
    /// checked.
    ///
    /// # Errors
    /// [`Error::Archive`] where a file is missing or was changed, [`Error::CannotWrite`].
    pub fn materialise(&self, entry: &Entry, folder: &Path) -> Result<()> {
        for file in self.index.files(&entry.id)? {
            // An index that came with a back-up may say anything.
            let plain = |part| matches!(part, Component::Normal(_));
            if !Path::new(&file.name).components().all(plain) {
                return Err(Error::Archive {
                    path: self.folder.clone(),
                    why: format!("session {} has a file named '{}'", entry.id, file.name),
                    hint: "do not use this archive: somebody has tampered with it",
                });
            }
            let place = folder.join(&file.name);
            files::make_folders(place.parent().unwrap_or(folder))?;
            self.objects.copy(&file.sha256, &place)?;
        }
        Ok(())
    }

    /// Years that sessions are to be kept; `None` where nobody has said.
    pub fn retention_years(&self) -> Result<Option<u32>> {
        self.index.retention_years()
    }

    /// Says how many years sessions are to be kept. Nothing is ever erased by that alone.
    pub fn set_retention_years(&mut self, years: u32) -> Result<()> {
        let _lock = self.write()?;
        self.index.set_retention_years(years)
    }

    /// Persons whose last session is older than the years of retention.
    ///
    /// # Errors
    /// [`Error::Archive`] where nobody has said how many years.
    pub fn due(&self, now: Timestamp) -> Result<Vec<Person>> {
        let Some(years) = self.index.retention_years()? else {
            return Err(Error::Archive {
                path: self.folder.clone(),
                why: "nobody has said how long sessions are to be kept".into(),
                hint: "'plumbrise archive retention --years N' says it",
            });
        };
        let today = now.to_zoned_datetime(jiff::tz::TimeZone::UTC);
        let before = today.checked_sub(jiff::Span::new().years(i64::from(years)));
        let before = before.map_or(Timestamp::MIN, |time| time.timestamp());
        let mut persons = self.index.persons()?;
        persons.retain(|person| person.last < before);
        Ok(persons)
    }

    /// Waits for leave to write and tidies up.
    fn write(&mut self) -> Result<Lock> {
        let lock = Lock::take(&self.folder.join(LOCK))?;
        self.tidy_up(&lock)?;
        Ok(lock)
    }

    fn is_untidy(&self) -> Result<bool> {
        Ok(!self.objects.nothing_staged() || self.index_is_untidy()?)
    }

    /// Reading rolls back what was begun; a journal that is still there then was empty, and
    /// goes with the next change.
    fn index_is_untidy(&self) -> Result<bool> {
        let unfinished = !self.index.unfinished()?.is_empty();
        Ok(unfinished || files::exists(&self.folder.join(JOURNAL)))
    }

    /// Finishes or undoes what one that was killed has left; cheap where there is nothing.
    fn tidy_up(&mut self, _held: &Lock) -> Result<()> {
        self.objects.clear_staging()?;
        if self.index_is_untidy()? {
            self.close_unfinished(true)?;
        }
        Ok(())
    }

    /// Removes the objects that are recorded as unfinished and belong to no session, and
    /// closes the record. `removed`: a session has gone, and leaves no trace in the index.
    fn close_unfinished(&mut self, removed: bool) -> Result<()> {
        for object in self.index.unfinished()? {
            if !self.index.is_used(&object)? {
                self.objects.remove(&object)?;
            }
        }
        if removed {
            self.index.compact()?;
        }
        self.index.finish()
    }

    fn no_person(&self, person: &Code) -> Error {
        Error::Archive {
            path: self.folder.clone(),
            why: format!("there is no session of {person}"),
            hint: "'plumbrise archive list' shows the persons",
        }
    }
}

/// The time to the second, as it is kept.
fn whole_seconds(time: Timestamp) -> Timestamp {
    Timestamp::from_second(time.as_second()).unwrap_or(time)
}

/// True for a folder that is missing, empty, or as far as an archive was begun.
fn is_free(folder: &Path) -> Result<bool> {
    if !files::exists(folder) {
        return Ok(true);
    }
    let own = |name: &String| {
        let first = name.split('/').next().unwrap_or_default();
        [LOCK, READ_ME, OBJECTS, STAGING].contains(&first) || first.starts_with(INDEX)
    };
    Ok(files::files_in(folder)?.iter().all(own))
}
