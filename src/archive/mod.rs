//! The archive: sessions kept in a folder with an index, nothing to administer.
//!
//! ```text
//! DIR/index.sqlite      which sessions there are, of whom, with which files
//! DIR/files/ab/ab12…    the files, named by their SHA-256, read-only; one of each session
//!                       is its record, which says again what the index says of it
//! DIR/staging/          what is being made; empty when nobody writes
//! DIR/lock              held by who writes
//! DIR/READ-ME.txt       for people who find the folder
//! ```
//!
//! Whoever writes holds the lock, and first finishes or undoes what one that was killed has
//! left. Readers need the index only, and no leave to write. Persons are codes ([`Code`]);
//! no name is kept.

mod add;
mod backup;
mod erase;
mod erased_code;
mod file_store;
mod index;
mod migrate;
mod reading;
mod record;
mod sqlite;
mod verify;

use std::cell::RefCell;
use std::io;
use std::path::{Path, PathBuf};

use jiff::Timestamp;

pub use add::{Added, Adding, MakeReports, Novelty};
pub use backup::restore;
pub use erase::{Erased, ErasedAgain};
pub use erased_code::Form;
pub use index::{Entry, Index, Person, RecordedFrom, StoredFile, Tombstone};
pub use reading::StoredSession;
pub use record::{RECORD, Record};
pub use sqlite::{SCHEMA, SqliteIndex};
pub use verify::{Fault, Verified};

use crate::error::{Error, Remedy, Result};
use crate::files::{self, Lock};
use crate::session::person::Code;
use file_store::FileStore;

const INDEX: &str = "index.sqlite";
/// There while somebody writes the index, or when one was killed.
const JOURNAL: &str = "index.sqlite-journal";
const LOCK: &str = "lock";
const READ_ME: &str = "READ-ME.txt";
const FILES: &str = "files";
const STAGING: &str = "staging";

const READ_ME_TEXT: &str = "\
This folder is an archive of the program plumbrise: sessions of rising from a chair,
kept under codes. It holds no names, but it is about people's health all the same:
treat it so.

Leave everything here as it is. To look into it, to add, back up, check or erase, use
'plumbrise archive' ('plumbrise help archive' tells how). A copy made while nobody
writes is a whole copy; 'plumbrise archive backup' makes one at any time.

index.sqlite  which sessions there are, of which code, with which files (SQLite)
files/        the files, each named by the SHA-256 of its content
staging/      work in progress, else empty
lock          held by the program while it writes
";

/// An archive in a folder.
pub struct Archive {
    folder: PathBuf,
    index: Box<dyn Index>,
    store: FileStore,
    /// Of an older schema, in a folder in which it cannot be brought to this one.
    outdated: bool,
    /// The code that was last brought into the slow form, and what became of it.
    last_code: RefCell<Option<(String, String)>>,
}

impl Archive {
    /// Opens an archive that is there, and tidies up where nobody is writing and it may.
    ///
    /// # Errors
    /// [`Error::Archive`] where there is none or it cannot be used.
    pub fn open(folder: &Path) -> Result<Self> {
        Self::open_as_it_is(folder)?.tidied()
    }

    /// The same, but what one that was killed has left stays to be looked at.
    ///
    /// # Errors
    /// [`Error::Archive`] where there is none or it cannot be used.
    pub fn open_as_it_is(folder: &Path) -> Result<Self> {
        Self::find(folder)?.ok_or_else(|| Error::Archive {
            path: folder.into(),
            why: "there is no archive in that folder".into(),
            remedy: Remedy::CheckArchive,
        })
    }

    /// Opens an archive, or makes one in a folder that is missing or empty.
    ///
    /// # Errors
    /// [`Error::Archive`] where the folder holds something else or the archive cannot be
    /// used, [`Error::CannotWrite`].
    pub fn open_or_create(folder: &Path) -> Result<Self> {
        if let Some(archive) = Self::find(folder)? {
            return archive.tidied();
        }
        if !is_free(folder)? {
            return Err(Error::Archive {
                path: folder.into(),
                why: "the folder is not empty and not an archive".into(),
                remedy: Remedy::NewArchive,
            });
        }
        files::make_folders(folder)?;
        let store = FileStore::in_archive(folder);
        files::make_private(folder)?;
        {
            let _lock = Lock::take(&folder.join(LOCK))?;
            put_read_me(&store, folder)?;
        }
        let path = folder.join(INDEX);
        files::make_file(&path)?;
        Self::with(folder, store, SqliteIndex::open(&path)?)
    }

    /// The archive in a folder; `None` where none is made yet.
    fn find(folder: &Path) -> Result<Option<Self>> {
        let store = FileStore::in_archive(folder);
        // Files come after the index, so they are looked for before it.
        let with_files = !store.is_empty();
        let path = folder.join(INDEX);
        let index = files::exists(&path).then(|| SqliteIndex::open(&path)).transpose()?;
        match index {
            Some(index) if index.schema()? > 0 => Self::with(folder, store, index).map(Some),
            _ if with_files => Err(Error::Archive {
                path: folder.into(),
                why: format!("its {INDEX} is missing or empty, though files of sessions are there"),
                remedy: Remedy::RestoreElsewhere,
            }),
            _ => Ok(None),
        }
    }

    fn with(folder: &Path, store: FileStore, mut index: SqliteIndex) -> Result<Self> {
        let mut lock = None;
        if index.schema()? < SCHEMA {
            match Lock::take(&folder.join(LOCK)) {
                Ok(taken) => {
                    migrate::migrate(&mut index, &store, &taken)?;
                    lock = Some(taken);
                }
                // What is read without writing is the same in every schema.
                Err(error) if may_not_write(&error) => {}
                Err(error) => return Err(error),
            }
        }
        let outdated = index.schema()? < SCHEMA;
        let (folder, index) = (folder.into(), Box::new(index));
        let last_code = RefCell::default();
        let mut archive = Self { folder, index, store, outdated, last_code };
        lock.map_or(Ok(()), |lock| archive.tidy_up(&lock))?;
        Ok(archive)
    }

    /// Tidied up, where nobody is writing and it may.
    fn tidied(mut self) -> Result<Self> {
        if self.is_untidy()?
            && let Ok(Some(lock)) = Lock::try_take(&self.folder.join(LOCK))
        {
            let tidied = self.tidy_up(&lock);
            if !matches!(tidied, Err(Error::CannotWrite { .. })) {
                tidied?;
            }
        }
        Ok(self)
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
        let refused = |why, remedy| Err(Error::Archive { path: self.folder.clone(), why, remedy });
        let mut found = match prefix.is_empty() {
            true => Vec::new(),
            false => self.index.sessions_named(&prefix, 2)?,
        };
        match (found.pop(), found.is_empty()) {
            (Some(entry), true) => Ok(entry),
            (Some(_), false) => {
                refused(format!("several sessions begin with '{prefix}'"), Remedy::MoreOfId)
            }
            (None, _) => refused(format!("there is no session '{prefix}'"), Remedy::ListSessions),
        }
    }

    /// Files of a session, in order of their names.
    pub fn files(&self, entry: &Entry) -> Result<Vec<StoredFile>> {
        self.index.files(&entry.id)
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
                remedy: Remedy::SayRetention,
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
        Ok(self.store.has_old_folder() || !self.store.nothing_staged() || self.index_is_untidy()?)
    }

    /// Reading rolls back what was begun; a journal that is still there then was empty, and
    /// goes with the next change.
    fn index_is_untidy(&self) -> Result<bool> {
        let unfinished = !self.index.unfinished()?.is_empty();
        Ok(unfinished || files::exists(&self.folder.join(JOURNAL)))
    }

    /// Finishes or undoes what one that was killed has left; cheap where there is nothing.
    fn tidy_up(&mut self, _held: &Lock) -> Result<()> {
        self.store.clear_staging()?;
        if self.index_is_untidy()? {
            self.close_unfinished(true)?;
        }
        // First: killed between the two, the old name is there still and tells what is left.
        if self.store.has_old_folder() || !files::exists(&self.folder.join(READ_ME)) {
            put_read_me(&self.store, &self.folder)?;
        }
        self.store.bring_up_to_date()
    }

    /// Removes the files that are recorded as unfinished and belong to no session, and
    /// closes the record. `removed`: a session has gone, and leaves no trace in the index.
    fn close_unfinished(&mut self, removed: bool) -> Result<()> {
        for sha256 in self.index.unfinished()? {
            if !self.index.is_used(&sha256)? {
                self.store.remove(&sha256)?;
            }
        }
        if removed {
            self.index.compact()?;
        }
        self.index.finish()
    }

    /// For what needs all that an archive of this schema has.
    fn refuse_outdated(&self) -> Result<()> {
        match self.outdated {
            false => Ok(()),
            true => Err(Error::Archive {
                path: self.folder.clone(),
                why: "an older plumbrise made it, and it cannot be brought up to date here".into(),
                remedy: Remedy::OpenToUpdate,
            }),
        }
    }

    fn no_person(&self, person: &Code) -> Error {
        Error::Archive {
            path: self.folder.clone(),
            why: format!("there is no session of {person}"),
            remedy: Remedy::ListPersons,
        }
    }
}

/// The time to the second, as it is kept.
fn whole_seconds(time: Timestamp) -> Timestamp {
    Timestamp::from_second(time.as_second()).unwrap_or(time)
}

/// True where the reason for an error is that nothing may be written.
fn may_not_write(error: &Error) -> bool {
    use io::ErrorKind::{PermissionDenied, ReadOnlyFilesystem};
    let Error::CannotWrite { source, .. } = error else { return false };
    matches!(source.kind(), PermissionDenied | ReadOnlyFilesystem)
}

/// Puts the text for people in place, whole or not at all. The lock is held.
fn put_read_me(store: &FileStore, folder: &Path) -> Result<()> {
    let staged = store.staging()?.join(READ_ME);
    let written = files::write_and_hash(&mut READ_ME_TEXT.as_bytes(), &staged);
    written.map_err(|e| Error::writing(&staged, e))?;
    files::settle(&staged, &folder.join(READ_ME))?;
    store.clear_staging()
}

/// True for a folder that is missing, empty, or as far as an archive was begun.
fn is_free(folder: &Path) -> Result<bool> {
    if !files::exists(folder) {
        return Ok(true);
    }
    let own = |name: &String| {
        let first = name.split('/').next().unwrap_or_default();
        [LOCK, READ_ME, STAGING].contains(&first)
            || FileStore::is_folder(first)
            || first.starts_with(INDEX)
    };
    Ok(files::files_in(folder)?.iter().all(own))
}
