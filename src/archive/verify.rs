//! Making sure that an archive is whole.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::file_store::{FileStore, is_sha256};
use super::reading::{StoredSession, is_plain};
use super::record::Record;
use super::{
    Archive, Entry, INDEX, JOURNAL, LOCK, READ_ME, READ_ME_TEXT, RECORD, RecordedFrom, StoredFile,
    may_not_write, whole_seconds,
};
use crate::error::Result;
use crate::files::{self, Lock};
use crate::session;

/// What was found.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Verified {
    /// Sessions in the index.
    pub sessions: usize,
    /// Different files of them.
    pub files: usize,
    /// Bytes of these.
    pub bytes: u64,
    /// Files that are not there.
    pub missing: Vec<Fault>,
    /// Files that are not what they were.
    pub changed: Vec<Fault>,
    /// Files that no session has, by their place in the archive.
    pub extra: Vec<String>,
    /// What is wrong with the index itself, or with what it says of a session.
    pub index: Vec<String>,
    /// The text for people is not as the program wrote it.
    pub read_me_changed: bool,
    /// Work in progress of a run that was killed, which was tidied away: no fault.
    pub left_over: Vec<String>,
    /// Nothing may be written here, so that nobody could be kept from writing meanwhile.
    pub unguarded: bool,
}

/// A file of a session that is wrong.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fault {
    /// Code of the person.
    pub person: String,
    /// The session.
    pub session: String,
    /// The file's name in it.
    pub name: String,
    /// Its place in the archive.
    pub object: String,
}

impl Verified {
    /// True if nothing is wrong.
    pub fn is_clean(&self) -> bool {
        self.missing.is_empty()
            && self.changed.is_empty()
            && self.extra.is_empty()
            && self.index.is_empty()
            && !self.read_me_changed
    }
}

#[derive(Clone, Copy, PartialEq)]
enum State {
    Whole,
    Missing,
    Changed,
}

impl Archive {
    /// Looks at every file of every session, at everything else in the folder, and holds the
    /// index against what is written in the files. Nobody writes meanwhile, if anything may be
    /// written here at all.
    ///
    /// # Errors
    /// Where the folder or the index cannot be read at all.
    pub fn verify(&mut self) -> Result<Verified> {
        self.refuse_outdated()?;
        let lock = match Lock::take(&self.folder().join(LOCK)) {
            Ok(lock) => Some(lock),
            Err(error) if may_not_write(&error) => None,
            Err(error) => return Err(error),
        };
        let mut found = Verified { unguarded: lock.is_none(), ..Verified::default() };
        if let Some(lock) = &lock {
            found.left_over = files::files_in(self.folder())?;
            found.left_over.retain(|name| FileStore::is_staged(name));
            self.tidy_up(lock)?;
        }
        found.index = self.index.faults()?;
        let mut states: BTreeMap<String, State> = BTreeMap::new();
        for entry in self.index.sessions(None)? {
            found.sessions += 1;
            let stored = self.index.files(&entry.id)?;
            let mut whole = true;
            for file in &stored {
                let state = match states.get(&file.sha256) {
                    Some(state) => *state,
                    None => {
                        found.files += 1;
                        found.bytes += file.size;
                        self.state(&file.sha256, file.size)
                    }
                };
                states.insert(file.sha256.clone(), state);
                let list = match state {
                    State::Whole => continue,
                    State::Missing => &mut found.missing,
                    State::Changed => &mut found.changed,
                };
                whole = false;
                list.push(Fault {
                    person: entry.person.clone(),
                    session: entry.id.clone(),
                    name: file.name.clone(),
                    object: self.store.name(&file.sha256),
                });
            }
            let faults = self.otherwise(&entry, stored, whole)?;
            found
                .index
                .extend(faults.into_iter().map(|what| format!("session {}: {what}", entry.id)));
        }
        let mut own: BTreeSet<String> =
            states.keys().map(|sha256| self.store.name(sha256)).collect();
        if lock.is_none() {
            // Somebody may be at work, or was killed.
            own.extend(self.index.unfinished()?.iter().map(|sha256| self.store.name(sha256)));
            own.insert(JOURNAL.into());
        }
        let known = |name: &String| {
            own.contains(name)
                || [INDEX, LOCK, READ_ME].contains(&name.as_str())
                || FileStore::is_staged(name)
        };
        found.extra = files::files_in(self.folder())?.into_iter().filter(|n| !known(n)).collect();
        found.read_me_changed = self.read_me_is_changed()?;
        Ok(found)
    }

    /// What the index says of a session and its files do not, in words. `whole`: all of them
    /// are there and unchanged.
    fn otherwise(
        &self,
        entry: &Entry,
        stored: Vec<StoredFile>,
        whole: bool,
    ) -> Result<Vec<String>> {
        let mut faults = Vec::new();
        let assessment = stored.iter().find(|file| file.name == session::ASSESSMENT);
        if assessment.is_none_or(|file| !file.sha256.starts_with(&entry.id)) {
            faults.push("it is not that of its assessment".into());
        }
        let odd = stored.iter().filter(|file| !is_plain(&file.name) || !is_sha256(&file.sha256));
        faults.extend(odd.map(|file| format!("'{}' is not the name of a file of it", file.name)));
        let indexed = Record::of(&self.index.id()?, entry, &stored);
        match stored.iter().find(|file| file.name == RECORD) {
            None => faults.push("it has no record".into()),
            // One that cannot be read has been told as missing or changed.
            Some(file) => match self.store.read(&file.sha256).map(|text| Record::read(&text)) {
                Err(_) => {}
                Ok(None) => faults.push("its record cannot be understood".into()),
                Ok(Some(record)) => {
                    let otherwise = record.otherwise(&indexed);
                    faults.extend(otherwise.iter().map(|what| format!("the index says {what}")));
                }
            },
        }
        if !whole {
            return Ok(faults);
        }
        match session::summary(&StoredSession::of(&self.store, entry, stored)) {
            Err(error) => faults.push(error.to_string()),
            Ok(summary) => {
                if summary != entry.summary {
                    faults.push("its numbers in the index are not those of its files".into());
                }
                let filmed = summary.recorded_at.map(whole_seconds);
                if entry.recorded_from == RecordedFrom::Clip && filmed != Some(entry.recorded_at) {
                    faults.push("its time of filming is not that of the clip".into());
                }
            }
        }
        Ok(faults)
    }

    fn read_me_is_changed(&self) -> Result<bool> {
        let path = self.folder().join(READ_ME);
        // A missing one is put back, and that of the first versions replaced, by the next who
        // may write.
        Ok(!self.store.is_old()
            && files::exists(&path)
            && files::read_bytes(&path)? != READ_ME_TEXT.as_bytes())
    }

    fn state(&self, sha256: &str, size: u64) -> State {
        let path = self.store.path(sha256);
        if !is_sha256(sha256) || !files::exists(&path) {
            return State::Missing;
        }
        let whole = files::size(&path).is_ok_and(|found| found == size)
            && files::sha256(&path).is_ok_and(|found| found == sha256);
        if whole { State::Whole } else { State::Changed }
    }
}
