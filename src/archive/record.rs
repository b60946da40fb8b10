//! The record of a session: what only the index would know else, kept among its files.
//!
//! It is a file like the others, named by its SHA-256, so that a row of the index that
//! was changed by accident, by another program or with an older copy of the index no longer
//! agrees with what lies beside it. It is no seal against somebody who means to deceive and
//! writes both anew: for that, keep a back-up out of their reach.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::index::{Entry, RecordedFrom, StoredFile};
use crate::files;

/// Its name among the files of its session.
pub const RECORD: &str = "record.json";

const SCHEMA: &str = "plumbrise.record/1";

/// Whose a session is, when it was filmed and added, and which files it has.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Record {
    schema: String,
    archive: String,
    session: String,
    person: String,
    recorded_at: Timestamp,
    recorded_from: RecordedFrom,
    added_at: Timestamp,
    /// All but the record itself, in order of their names.
    files: Vec<StoredFile>,
}

impl Record {
    /// The record of a session with these files in the archive of that id.
    pub fn of(archive: &str, entry: &Entry, files: &[StoredFile]) -> Self {
        let mut files: Vec<StoredFile> =
            files.iter().filter(|file| file.name != RECORD).cloned().collect();
        files.sort_by(|a, b| a.name.cmp(&b.name));
        Self {
            schema: SCHEMA.into(),
            archive: archive.into(),
            session: entry.id.clone(),
            person: entry.person.clone(),
            recorded_at: entry.recorded_at,
            recorded_from: entry.recorded_from,
            added_at: entry.added_at,
            files,
        }
    }

    /// As it is kept.
    pub fn text(&self) -> String {
        // There is nothing in it that JSON does not know.
        serde_json::to_string_pretty(self).unwrap_or_default() + "\n"
    }

    /// The file of it.
    pub fn file(&self) -> StoredFile {
        let text = self.text();
        let sha256 = files::sha256_of(text.as_bytes());
        StoredFile { name: RECORD.into(), sha256, size: text.len() as u64 }
    }

    /// Reads one back; `None` where it is none.
    pub fn read(content: &[u8]) -> Option<Self> {
        let record: Self = serde_json::from_slice(content).ok()?;
        (record.schema == SCHEMA).then_some(record)
    }

    /// In what the index says otherwise, in words.
    pub fn otherwise(&self, index: &Self) -> Vec<String> {
        let pairs = [
            ("archive", self.archive.clone(), index.archive.clone()),
            ("session", self.session.clone(), index.session.clone()),
            ("person", self.person.clone(), index.person.clone()),
            ("time of filming", self.recorded_at.to_string(), index.recorded_at.to_string()),
            ("source of that time", self.from(), index.from()),
            ("time of adding", self.added_at.to_string(), index.added_at.to_string()),
        ];
        let mut found: Vec<String> = pairs
            .into_iter()
            .filter(|(_, own, other)| own != other)
            .map(|(what, own, other)| format!("{what} '{other}', and the record '{own}'"))
            .collect();
        if self.files != index.files {
            let other = |file: &&StoredFile| !self.files.contains(file);
            let name = index.files.iter().find(other).map(|file| file.name.as_str());
            found.push(match name {
                Some(name) => format!("a file '{name}', and the record other files"),
                None => "fewer files than the record".into(),
            });
        }
        found
    }

    fn from(&self) -> String {
        crate::judgement::document::word(&self.recorded_from).unwrap_or_default()
    }
}
