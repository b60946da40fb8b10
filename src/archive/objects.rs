//! The files of an archive, each named by the SHA-256 of its content.

use std::path::{Path, PathBuf};

use super::{OBJECTS, STAGING};
use crate::error::{Error, Result};
use crate::files;

/// The files of an archive.
pub(super) struct Objects {
    archive: PathBuf,
}

impl Objects {
    pub fn in_archive(archive: &Path) -> Self {
        Self { archive: archive.into() }
    }

    /// Name of an object inside the archive.
    pub fn name(sha256: &str) -> String {
        let (folder, _) = sha256.split_at_checked(2).unwrap_or((sha256, ""));
        format!("{OBJECTS}/{folder}/{sha256}")
    }

    /// Where an object is.
    pub fn path(&self, sha256: &str) -> PathBuf {
        self.archive.join(Self::name(sha256))
    }

    /// A place for work in progress, on the same drive.
    pub fn staging(&self) -> Result<PathBuf> {
        let staging = self.archive.join(STAGING);
        files::make_folders(&staging)?;
        Ok(staging)
    }

    pub fn nothing_staged(&self) -> bool {
        files::is_empty_folder(&self.archive.join(STAGING))
    }

    pub fn clear_staging(&self) -> Result<()> {
        match self.nothing_staged() {
            true => Ok(()),
            false => files::remove_folder(&self.archive.join(STAGING))
                .and_then(|()| files::make_folders(&self.archive.join(STAGING))),
        }
    }

    /// Moves a finished file to its place; one that is there and whole is left alone.
    pub fn put(&self, from: &Path, sha256: &str) -> Result<()> {
        let place = self.path(sha256);
        if files::exists(&place) {
            if files::sha256(&place).is_ok_and(|found| found == sha256) {
                return Ok(());
            }
            files::remove(&place)?;
        }
        files::settle(from, &place)
    }

    /// Copies an object out and makes sure that it is what its name says.
    pub fn copy(&self, sha256: &str, to: &Path) -> Result<()> {
        let damaged = |why: &str| Error::Archive {
            path: self.archive.clone(),
            why: format!("the file {} {why}", Self::name(sha256)),
            hint: "'plumbrise archive verify' tells how much is wrong; a back-up restores it",
        };
        let from = self.path(sha256);
        if !files::exists(&from) {
            return Err(damaged("is missing"));
        }
        match files::copy_and_hash(&from, to)? == sha256 {
            true => Ok(()),
            false => Err(damaged("was changed")),
        }
    }

    /// Removes an object; one that is gone already is no fault.
    pub fn remove(&self, sha256: &str) -> Result<()> {
        let path = self.path(sha256);
        files::remove(&path)?;
        if let Some(folder) = path.parent() {
            files::remove_if_empty(folder);
        }
        Ok(())
    }
}
