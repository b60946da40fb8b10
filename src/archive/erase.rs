//! Erasing a person, with proof.

use jiff::Timestamp;
use serde::Serialize;

use super::objects::Objects;
use super::{Archive, Code, Entry, Person, Tombstone, whole_seconds};
use crate::error::{Error, Result};
use crate::files;

/// What was erased, and what was looked at afterwards.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Erased {
    /// The code.
    pub person: String,
    /// When.
    pub at: Timestamp,
    /// Ids of the sessions that went.
    pub sessions: Vec<String>,
    /// Files of these sessions.
    pub files: usize,
    /// Files in the archive in which the code's letters still stand, though nothing of the
    /// person is left: another person's note, or chance.
    pub still_in: Vec<String>,
}

/// Persons erased once more, as they were before in another copy of the archive.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ErasedAgain {
    /// What became of each.
    pub persons: Vec<Erased>,
}

/// By what a tombstone knows a code: SHA-256 of the archive's id followed by the code.
/// Codes are short, so that who has the archive can try them all; it hides the code from
/// readers, not from those who search.
pub(super) fn code_sha256(archive: &str, code: &str) -> String {
    files::sha256_of(format!("{archive}{code}").as_bytes())
}

impl Archive {
    /// Erases a person: every session, every file that no other session needs. It cannot be
    /// undone. Back-ups, exports and folders outside the archive are not reached.
    ///
    /// # Errors
    /// [`Error::Archive`] where there is no such person or something was left,
    /// [`Error::CannotWrite`].
    pub fn erase(&mut self, person: &Code) -> Result<Erased> {
        let _lock = self.write()?;
        let sessions = self.sessions_of(person)?;
        self.erase_sessions(person.as_str(), &sessions, None)
    }

    /// Erases what a copy of this archive that was kept in use has erased: sessions added
    /// before the person was erased there. The tombstones are taken over.
    ///
    /// # Errors
    /// [`Error::Archive`] where it is another archive's copy.
    pub fn erase_as_in(&mut self, other: &Archive) -> Result<ErasedAgain> {
        let _lock = self.write()?;
        let id = self.index.id()?;
        if other.index.id()? != id {
            return Err(Error::Archive {
                path: other.folder().into(),
                why: "it is another archive, not the one this back-up was made of".into(),
                hint: "name the archive that the back-up was made of with --erased-in",
            });
        }
        let known = self.index.tombstones()?;
        let mut persons = Vec::new();
        for tombstone in other.index.tombstones()?.iter().filter(|t| !known.contains(t)) {
            let erased = |person: &Person| code_sha256(&id, &person.code) == tombstone.code_sha256;
            let mut sessions = match self.index.persons()?.into_iter().find(erased) {
                Some(person) => self.index.sessions(Some(&person.code))?,
                None => Vec::new(),
            };
            sessions.retain(|session| session.added_at <= tombstone.at);
            match sessions.first().map(|session| session.person.clone()) {
                Some(code) => {
                    persons.push(self.erase_sessions(&code, &sessions, Some(tombstone))?);
                }
                None => self.index.keep_tombstone(tombstone)?,
            }
        }
        Ok(ErasedAgain { persons })
    }

    /// `carried`: the tombstone, where another copy of the archive has it.
    fn erase_sessions(
        &mut self,
        person: &str,
        sessions: &[Entry],
        carried: Option<&Tombstone>,
    ) -> Result<Erased> {
        let ids: Vec<String> = sessions.iter().map(|session| session.id.clone()).collect();
        let mut gone = Vec::new();
        for id in &ids {
            gone.extend(self.index.files(id)?);
        }
        let at = whole_seconds(Timestamp::now());
        let code_sha256 = code_sha256(&self.index.id()?, person);
        let own = Tombstone { code_sha256, at, sessions: ids.len(), files: gone.len() };
        self.index.remove(&ids, Some(carried.unwrap_or(&own)))?;
        self.close_unfinished(true)?;

        let left = |what: String| Error::Archive {
            path: self.folder().into(),
            why: format!("not everything of {person} could be erased: {what} is left"),
            hint: "try again, then look at 'plumbrise archive verify'",
        };
        for id in &ids {
            if !self.index.sessions_named(id, 1)?.is_empty() {
                return Err(left(format!("session {id}")));
            }
        }
        for file in &gone {
            if files::exists(&self.objects.path(&file.sha256))
                && !self.index.is_used(&file.sha256)?
            {
                return Err(left(Objects::name(&file.sha256)));
            }
        }
        let stays = !self.index.sessions(Some(person))?.is_empty();
        Ok(Erased {
            person: person.into(),
            at,
            sessions: ids,
            files: gone.len(),
            still_in: if stays { Vec::new() } else { self.mentions(person)? },
        })
    }

    /// Files of the archive in which some letters stand.
    fn mentions(&self, letters: &str) -> Result<Vec<String>> {
        let mut found = Vec::new();
        for name in files::files_in(self.folder())? {
            if files::contains(&self.folder().join(&name), letters.as_bytes())? {
                found.push(name);
            }
        }
        Ok(found)
    }
}
