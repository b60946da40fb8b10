//! Bringing an archive of an older schema to this one.

use super::file_store::FileStore;
use super::index::Index;
use super::reading::StoredSession;
use super::record::Record;
use super::sqlite::{SCHEMA, SqliteIndex};
use crate::error::Result;
use crate::files::Lock;
use crate::session;

/// Gives every session its record and sums it up as this program does, then takes the steps
/// of the index: until that is done, the archive is as it was.
pub(super) fn migrate(index: &mut SqliteIndex, store: &FileStore, _held: &Lock) -> Result<()> {
    if matches!(index.schema()?, 0 | SCHEMA) {
        // New, or somebody else has done it while we waited.
        return index.migrate(&[]);
    }
    let id = index.id()?;
    let mut sessions = Vec::new();
    let mut records = Vec::new();
    for mut entry in index.sessions(None)? {
        let mut files = index.files(&entry.id)?;
        let stored = StoredSession::of(store, &entry, files.clone());
        // Of a damaged session the numbers stay as they are; `verify` tells of the damage.
        if let Ok(summary) = session::summary(&stored) {
            entry.summary = summary;
        }
        let record = Record::of(&id, &entry, &files);
        files.push(record.file());
        sessions.push((entry, files));
        records.push(record);
    }
    let names: Vec<String> = records.iter().map(|record| record.file().sha256).collect();
    index.begin(&names)?;
    records.iter().try_for_each(|record| store.put_record(record).map(drop))?;
    index.migrate(&sessions)
}
