//! Locks that the end of a process gives back, however it ends.

use std::fs;
use std::path::{Path, PathBuf};

use super::exists;
use crate::error::{Error, Result};

/// A file that is locked as long as this lives, and removed with it. The lock of a process
/// that died is free.
#[derive(Debug)]
pub struct LockFile {
    path: PathBuf,
    /// The file system knows locks.
    pub(super) sure: bool,
    _file: fs::File,
}

impl LockFile {
    /// Takes the lock; `None` where somebody else holds it. Where the file system knows no
    /// locks, as on some network drives, nobody is kept out.
    ///
    /// # Errors
    /// [`Error::CannotWrite`] where the file cannot be made.
    pub fn take(path: &Path) -> Result<Option<Self>> {
        loop {
            let mut options = fs::File::options();
            let file = options.create(true).truncate(false).write(true).open(path);
            let file = file.map_err(|e| Error::writing(path, e))?;
            let sure = match file.try_lock() {
                Ok(()) => true,
                Err(fs::TryLockError::WouldBlock) => return Ok(None),
                Err(fs::TryLockError::Error(_)) => false,
            };
            // Its last owner may have removed it between our opening and locking it.
            if exists(path) {
                return Ok(Some(Self { path: path.into(), sure, _file: file }));
            }
        }
    }
}

impl Drop for LockFile {
    fn drop(&mut self) {
        // A file that stays only lies there: its lock is free.
        let _ = fs::remove_file(&self.path);
    }
}

/// Held while nobody else may write; given back when dropped or when the process ends,
/// however it ends.
#[derive(Debug)]
pub struct Lock(#[allow(dead_code)] fs::File);

impl Lock {
    fn file(path: &Path) -> Result<fs::File> {
        let open = fs::OpenOptions::new().create(true).truncate(false).write(true).open(path);
        open.map_err(|e| Error::writing(path, e))
    }

    /// Waits for the lock.
    pub fn take(path: &Path) -> Result<Self> {
        let file = Self::file(path)?;
        file.lock().map_err(|e| Error::writing(path, e))?;
        Ok(Self(file))
    }

    /// Takes the lock if it is free.
    pub fn try_take(path: &Path) -> Result<Option<Self>> {
        let file = Self::file(path)?;
        match file.try_lock() {
            Ok(()) => Ok(Some(Self(file))),
            Err(fs::TryLockError::WouldBlock) => Ok(None),
            Err(fs::TryLockError::Error(e)) => Err(Error::writing(path, e)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lock_is_held_by_one_and_leaves_no_file() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("lock");
        let held = LockFile::take(&path).unwrap();
        assert!(held.is_some() && LockFile::take(&path).unwrap().is_none());
        drop(held);
        assert!(!path.exists() && LockFile::take(&path).unwrap().is_some());
    }
}
