//! Erasing a person, with proof.

use std::collections::BTreeSet;

use jiff::Timestamp;
use serde::Serialize;

use super::erased_code::{Form, digest};
use super::{Archive, Code, Entry, Tombstone, whole_seconds};
use crate::error::{Error, Remedy, Result};
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

impl Archive {
    /// Erases a person: every session, every file that no other session needs. It cannot be
    /// undone. Back-ups, exports and folders outside the archive are not reached.
    ///
    /// # Errors
    /// [`Error::Archive`] where there is no such person or something was left,
    /// [`Error::CannotWrite`].
    pub fn erase(&mut self, person: &Code) -> Result<Erased> {
        // Before the lock, as it takes a while, and not for a code that nobody has.
        self.sessions_of(person)?;
        self.kept_as(Form::Scrypt, person.as_str())?;
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
        other.refuse_outdated()?;
        let _lock = self.write()?;
        if other.index.id()? != self.index.id()? {
            return Err(Error::Archive {
                path: other.folder().into(),
                why: "it is another archive, not the one this back-up was made of".into(),
                remedy: Remedy::NameErasedIn,
            });
        }
        let known = self.index.tombstones()?;
        let mut new = other.index.tombstones()?;
        new.retain(|tombstone| !known.contains(tombstone));
        let mut persons = Vec::new();
        for code in self.not_in(other)? {
            for tombstone in &new {
                if self.kept_as(tombstone.form, &code)? != tombstone.code_digest {
                    continue;
                }
                let mut sessions = self.index.sessions(Some(&code))?;
                sessions.retain(|session| session.added_at <= tombstone.at);
                if !sessions.is_empty() {
                    persons.push(self.erase_sessions(&code, &sessions, Some(tombstone))?);
                }
            }
        }
        let taken_over = self.index.tombstones()?;
        for tombstone in new.iter().filter(|tombstone| !taken_over.contains(tombstone)) {
            self.index.keep_tombstone(tombstone)?;
        }
        Ok(ErasedAgain { persons })
    }

    /// Codes of persons with a session that another copy of this archive has not, or not as
    /// theirs: only these can have been erased there.
    fn not_in(&self, other: &Archive) -> Result<Vec<String>> {
        let key = |session: Entry| (session.person, session.id, session.added_at);
        let there: BTreeSet<_> = other.index.sessions(None)?.into_iter().map(key).collect();
        let here = self.index.sessions(None)?.into_iter().map(key);
        let mut codes: Vec<String> =
            here.filter(|session| !there.contains(session)).map(|(person, ..)| person).collect();
        codes.dedup();
        Ok(codes)
    }

    /// The last tombstone of a code, if it was erased.
    pub(super) fn erased(&self, code: &str) -> Result<Option<Tombstone>> {
        for tombstone in self.index.tombstones()?.into_iter().rev() {
            if self.kept_as(tombstone.form, code)? == tombstone.code_digest {
                return Ok(Some(tombstone));
            }
        }
        Ok(None)
    }

    /// A code in a form. That of the last code is remembered, as it takes a while.
    fn kept_as(&self, form: Form, code: &str) -> Result<String> {
        let id = self.index.id()?;
        if form == Form::Sha256 {
            return digest(form, &id, code);
        }
        let mut last = self.last_code.borrow_mut();
        match last.as_ref() {
            Some((own, kept)) if own == code => Ok(kept.clone()),
            _ => {
                let kept = digest(form, &id, code)?;
                *last = Some((code.into(), kept.clone()));
                Ok(kept)
            }
        }
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
        let tombstone = match carried {
            Some(tombstone) => tombstone.clone(),
            None => Tombstone {
                form: Form::Scrypt,
                code_digest: self.kept_as(Form::Scrypt, person)?,
                at,
                sessions: ids.len(),
                files: gone.len(),
            },
        };
        self.index.remove(&ids, Some(&tombstone))?;
        self.close_unfinished(true)?;

        let left = |what: String| Error::Archive {
            path: self.folder().into(),
            why: format!("not everything of {person} could be erased: {what} is left"),
            remedy: Remedy::EraseAgain,
        };
        for id in &ids {
            if !self.index.sessions_named(id, 1)?.is_empty() {
                return Err(left(format!("session {id}")));
            }
        }
        for file in &gone {
            if files::exists(&self.store.path(&file.sha256)) && !self.index.is_used(&file.sha256)? {
                return Err(left(self.store.name(&file.sha256)));
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
