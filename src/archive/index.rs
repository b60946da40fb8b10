//! What an archive needs from its index, whatever keeps it.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::erased_code::Form;
use crate::error::Result;
use crate::session::summary::SessionSummary;

/// The index of an archive. Every method that changes something is atomic and lasting:
/// when it returns, all of it is kept; when it does not, nothing of it is.
///
/// Files are put in place and removed outside the index. So that nothing is lost or left
/// over when the program is killed in between, their names are recorded before
/// ([`Index::begin`], [`Index::remove`]); what is recorded and not used by any session is
/// removed ([`Index::unfinished`], [`Index::is_used`]), then the record is closed
/// ([`Index::finish`]).
pub trait Index {
    /// The archive's own name: random, the same in its back-ups.
    fn id(&self) -> Result<String>;

    /// Keeps a session with its files, in place of what was kept under its name.
    fn put(&mut self, session: &Entry, files: &[StoredFile]) -> Result<()>;
    /// Removes sessions with their files, records these as unfinished and keeps the
    /// tombstone, if there is one.
    fn remove(&mut self, sessions: &[String], tombstone: Option<&Tombstone>) -> Result<()>;

    /// Records files that are about to be put in place or removed.
    fn begin(&mut self, sha256s: &[String]) -> Result<()>;
    /// Files recorded and not finished, in order.
    fn unfinished(&self) -> Result<Vec<String>>;
    /// True if a session has a file of that content.
    fn is_used(&self, sha256: &str) -> Result<bool>;
    /// Closes the record of what was unfinished.
    fn finish(&mut self) -> Result<()>;

    /// Persons in order of their codes.
    fn persons(&self) -> Result<Vec<Person>>;
    /// Sessions of a person, or of all, by person, then by time.
    fn sessions(&self, person: Option<&str>) -> Result<Vec<Entry>>;
    /// Sessions whose id begins so, at most `limit`, in order of their ids.
    fn sessions_named(&self, prefix: &str, limit: usize) -> Result<Vec<Entry>>;
    /// Sessions of one person, leg, rung and UTC day, wherever there are several of which
    /// the day is known.
    fn same_day(&self) -> Result<Vec<Vec<Entry>>>;
    /// Files of a session in order of their names.
    fn files(&self, session: &str) -> Result<Vec<StoredFile>>;

    /// Tombstones in the order they were set.
    fn tombstones(&self) -> Result<Vec<Tombstone>>;
    /// Keeps a tombstone that another copy of the archive has.
    fn keep_tombstone(&mut self, tombstone: &Tombstone) -> Result<()>;
    /// Years that sessions are to be kept; `None` where nobody has said.
    fn retention_years(&self) -> Result<Option<u32>>;
    /// Says how many years sessions are to be kept.
    fn set_retention_years(&mut self, years: u32) -> Result<()>;

    /// What is wrong with the index itself, in words.
    fn faults(&self) -> Result<Vec<String>>;
    /// Leaves no trace of what was removed in the index' own files.
    fn compact(&mut self) -> Result<()>;
}

/// A session in an archive.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// The first digits of the SHA-256 of its assessment, hex.
    pub id: String,
    /// Code of the person.
    pub person: String,
    /// When the set was filmed, whole seconds.
    pub recorded_at: Timestamp,
    /// From where that is known.
    pub recorded_from: RecordedFrom,
    /// When the session was added, whole seconds.
    pub added_at: Timestamp,
    /// The session in a few numbers.
    pub summary: SessionSummary,
}

impl Entry {
    /// When the set was filmed, if that is known: the time of adding is not it.
    pub fn filmed_at(&self) -> Option<Timestamp> {
        (self.recorded_from != RecordedFrom::Added).then_some(self.recorded_at)
    }
}

/// From where it is known when a set was filmed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RecordedFrom {
    /// Somebody said so.
    Told,
    /// The camera wrote it into the clip.
    Clip,
    /// Not known: it is the time of adding.
    Added,
}

/// A file of a session.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StoredFile {
    /// Its name in the session folder, `/` between folders.
    pub name: String,
    /// SHA-256 of its content, hex.
    pub sha256: String,
    /// Bytes.
    pub size: u64,
}

/// A person with sessions.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Person {
    /// The code.
    pub code: String,
    /// Sessions.
    pub sessions: usize,
    /// When the first was filmed.
    pub first: Timestamp,
    /// When the last was filmed.
    pub last: Timestamp,
}

/// What is left of an erased person: enough to know the code again when it is told, and
/// no more.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Tombstone {
    /// In which form the code is kept.
    pub form: Form,
    /// The code in that form, hex.
    pub code_digest: String,
    /// When, whole seconds.
    pub at: Timestamp,
    /// Sessions that went.
    pub sessions: usize,
    /// Files that went with them.
    pub files: usize,
}
