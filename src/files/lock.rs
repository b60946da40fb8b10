//! Locks that the end of a process gives back, however it ends.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::private;
use crate::error::{Error, Result};

/// A file that is locked as long as this lives, and removed with it. The lock of a process
/// that died is free.
#[derive(Debug)]
pub struct LockFile {
    path: PathBuf,
    /// The file system knows locks.
    pub(super) sure: bool,
    file: fs::File,
}

impl LockFile {
    /// Takes the lock; `None` where somebody else holds it. Where the file system knows no
    /// locks, as on some network drives, nobody is kept out.
    ///
    /// # Errors
    /// [`Error::CannotWrite`] where the file cannot be made.
    pub fn take(path: &Path) -> Result<Option<Self>> {
        Self::take_if_free(path).map_err(|e| Error::writing(path, e))
    }

    pub(super) fn take_if_free(path: &Path) -> io::Result<Option<Self>> {
        match Self::locked(path, |file| Ok(file.try_lock()?)) {
            Err(e) if e.kind() == io::ErrorKind::WouldBlock => Ok(None),
            taken => taken.map(Some),
        }
    }

    /// Waits for the lock.
    pub(super) fn wait(path: &Path) -> io::Result<Self> {
        Self::locked(path, fs::File::lock)
    }

    fn locked(path: &Path, lock: impl Fn(&fs::File) -> io::Result<()>) -> io::Result<Self> {
        let (file, locked) = locked_file(path, lock)?;
        Ok(Self { path: path.into(), sure: locked.is_ok(), file })
    }

    /// True if somebody removed the file: the next one to come would make another and lock
    /// that.
    pub fn is_lost(&self) -> bool {
        !is_at(&self.file, &self.path)
    }
}

impl Drop for LockFile {
    fn drop(&mut self) {
        // One that stays only lies there: its lock is free.
        if !self.is_lost() {
            let _ = fs::remove_file(&self.path);
        }
    }
}

/// Held while nobody else may write; given back when dropped or when the process ends,
/// however it ends. Its file stays.
#[derive(Debug)]
pub struct Lock(#[allow(dead_code)] fs::File);

impl Lock {
    /// Waits for the lock.
    pub fn take(path: &Path) -> Result<Self> {
        let taken = locked_file(path, fs::File::lock);
        taken.and_then(Self::surely).map_err(|e| Error::writing(path, e))
    }

    /// Takes the lock if it is free.
    pub fn try_take(path: &Path) -> Result<Option<Self>> {
        match locked_file(path, |file| Ok(file.try_lock()?)).and_then(Self::surely) {
            Err(e) if e.kind() == io::ErrorKind::WouldBlock => Ok(None),
            taken => taken.map(Some).map_err(|e| Error::writing(path, e)),
        }
    }

    fn surely((file, locked): (fs::File, io::Result<()>)) -> io::Result<Self> {
        locked.map(|()| Self(file))
    }
}

/// Opens the file of that name and locks it; the second says why it could not be locked
/// where that is not because somebody else holds it ([`io::ErrorKind::WouldBlock`]).
fn locked_file(
    path: &Path,
    lock: impl Fn(&fs::File) -> io::Result<()>,
) -> io::Result<(fs::File, io::Result<()>)> {
    loop {
        let file = private::open(path)?;
        match lock(&file) {
            Err(e) if e.kind() == io::ErrorKind::WouldBlock => return Err(e),
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            // Its last owner may have removed it between our opening and locking it, and
            // somebody else may have made and locked another of that name.
            Ok(()) if !is_at(&file, path) => {}
            locked => return Ok((file, locked)),
        }
    }
}

/// True if the open file is the one of that name.
fn is_at(file: &fs::File, path: &Path) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        let identity = |meta: fs::Metadata| (meta.dev(), meta.ino());
        let (open, named) = (file.metadata().map(identity), fs::metadata(path).map(identity));
        open.is_ok_and(|open| named.is_ok_and(|named| named == open))
    }
    // The standard library does not tell which file it is.
    #[cfg(not(unix))]
    {
        let _ = file;
        super::exists(path)
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::thread;

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

    /// Whoever drops it removes the file, under the hands of those who have just opened it.
    #[test]
    fn many_who_take_and_drop_it_are_never_two_at_once() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("lock");
        let (holders, taken) = (AtomicUsize::new(0), AtomicUsize::new(0));
        let hold = || {
            assert_eq!(holders.fetch_add(1, Ordering::SeqCst), 0, "two hold it");
            thread::yield_now();
            taken.fetch_add(1, Ordering::SeqCst);
            holders.fetch_sub(1, Ordering::SeqCst);
        };
        thread::scope(|scope| {
            for waits in [true, false].into_iter().cycle().take(8) {
                let (path, hold) = (&path, &hold);
                scope.spawn(move || {
                    for _ in 0..2000 {
                        let lock = match waits {
                            true => Some(LockFile::wait(path).unwrap()),
                            false => LockFile::take(path).unwrap(),
                        };
                        lock.iter().for_each(|_| hold());
                    }
                });
            }
        });
        assert!(taken.into_inner() >= 4 * 2000 && !path.exists());
    }

    #[test]
    fn a_lock_whose_file_was_removed_is_lost_and_leaves_that_of_others_alone() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("lock");
        let first = LockFile::take(&path).unwrap().unwrap();
        fs::remove_file(&path).unwrap();
        assert!(first.is_lost());
        let second = LockFile::take(&path).unwrap().unwrap();
        assert!(cfg!(not(unix)) || first.is_lost());
        drop(first);
        assert!(cfg!(not(unix)) || !second.is_lost());
    }

    /// The file is replaced between opening and locking it.
    #[cfg(unix)]
    #[test]
    fn the_file_that_is_locked_is_the_one_of_that_name() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("lock");
        let tries = AtomicUsize::new(0);
        let (file, locked) = locked_file(&path, |file| {
            if tries.fetch_add(1, Ordering::SeqCst) == 0 {
                fs::remove_file(&path)?;
                fs::write(&path, "")?;
            }
            file.lock()
        })
        .unwrap();
        assert!(locked.is_ok() && is_at(&file, &path) && tries.into_inner() == 2);
        assert!(Lock::try_take(&path).unwrap().is_none());
    }
}
