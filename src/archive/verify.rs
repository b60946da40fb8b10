//! Making sure that an archive is whole.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::objects::Objects;
use super::{Archive, INDEX, LOCK, READ_ME};
use crate::error::Result;
use crate::{files, session};

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
    /// What is wrong with the index itself.
    pub index: Vec<String>,
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
    }
}

#[derive(Clone, Copy, PartialEq)]
enum State {
    Whole,
    Missing,
    Changed,
}

impl Archive {
    /// Looks at every file of every session, at everything else in the folder, and at the
    /// index. Nobody writes meanwhile.
    ///
    /// # Errors
    /// Where the folder or the index cannot be read at all.
    pub fn verify(&mut self) -> Result<Verified> {
        let _lock = self.write()?;
        let mut found = Verified { index: self.index.faults()?, ..Verified::default() };
        let mut states: BTreeMap<String, State> = BTreeMap::new();
        for entry in self.index.sessions(None)? {
            found.sessions += 1;
            let stored = self.index.files(&entry.id)?;
            let assessment = stored.iter().find(|file| file.name == session::ASSESSMENT);
            if assessment.is_none_or(|file| !file.sha256.starts_with(&entry.id)) {
                found.index.push(format!("session {} is not that of its assessment", entry.id));
            }
            for file in stored {
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
                list.push(Fault {
                    person: entry.person.clone(),
                    session: entry.id.clone(),
                    name: file.name,
                    object: Objects::name(&file.sha256),
                });
            }
        }
        let own: BTreeSet<String> = states.keys().map(|sha256| Objects::name(sha256)).collect();
        let known =
            |name: &String| own.contains(name) || [INDEX, LOCK, READ_ME].contains(&name.as_str());
        found.extra = files::files_in(self.folder())?.into_iter().filter(|n| !known(n)).collect();
        Ok(found)
    }

    fn state(&self, sha256: &str, size: u64) -> State {
        let path = self.objects.path(sha256);
        if !files::exists(&path) {
            return State::Missing;
        }
        let whole = files::size(&path).is_ok_and(|found| found == size)
            && files::sha256(&path).is_ok_and(|found| found == sha256);
        if whole { State::Whole } else { State::Changed }
    }
}
