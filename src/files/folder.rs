//! A folder of results that appears whole or not at all.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::lock::LockFile;
use super::{UNFINISHED, exists, list, open};
use crate::error::{Error, Result};

/// A results folder under construction. Files go into a hidden folder beside
/// the destination; [`FolderWriter::publish`] renames it into place. Dropped
/// without publishing (an error, Ctrl-C), it leaves nothing.
#[derive(Debug)]
pub struct FolderWriter {
    building: tempfile::TempDir,
    /// Tells others that this is not left over; after the folder, so that it goes after it.
    lock: Option<LockFile>,
    destination: PathBuf,
    replace: bool,
}

impl FolderWriter {
    /// Prepares to build `destination`, refusing one that exists unless
    /// `replace`. Fails at once where the place is not writable, so that a
    /// long run is not lost at its end.
    pub fn new(destination: &Path, replace: bool) -> Result<Self> {
        if exists(destination) && !replace {
            return Err(Error::OutputExists(destination.into()));
        }
        let parent = match destination.parent() {
            Some(p) if !p.as_os_str().is_empty() => p,
            _ => Path::new("."),
        };
        if !parent.is_dir() {
            let why = io::Error::new(io::ErrorKind::NotFound, "its parent folder does not exist");
            return Err(Error::writing(destination, why));
        }
        let building = tempfile::Builder::new()
            .prefix(UNFINISHED)
            .tempdir_in(parent)
            .map_err(|e| Error::writing(destination, e))?;
        let lock = LockFile::take(&building.path().with_extension("lock"))?;
        Ok(Self { building, lock, destination: destination.into(), replace })
    }

    /// Writes one file of the folder, through `fill`; the name may lead through folders
    /// (`reps/a.csv`), which are made.
    pub fn write<F>(&self, name: &str, fill: F) -> Result<()>
    where
        F: FnOnce(&mut dyn Write) -> io::Result<()>,
    {
        let shown = self.destination.join(name);
        let write = || -> io::Result<()> {
            let place = self.building.path().join(name);
            place.parent().map_or(Ok(()), fs::create_dir_all)?;
            let mut file = io::BufWriter::new(fs::File::create(place)?);
            fill(&mut file)?;
            file.into_inner().map_err(io::IntoInnerError::into_error)?.sync_all()
        };
        write().map_err(|e| Error::writing(&shown, e))
    }

    /// Puts a copy of a file into the folder, if it is there.
    pub fn copy(&self, name: &str, from: &Path) -> Result<()> {
        if !exists(from) {
            return Ok(());
        }
        let mut file = open(from)?;
        self.write(name, |out| io::copy(&mut file, out).map(drop))
    }

    /// Where a library that writes files by itself puts one of the folder.
    pub fn place(&self, name: &str) -> PathBuf {
        self.building.path().join(name)
    }

    /// Takes back a file of the folder, if it was begun.
    pub fn discard(&self, name: &str) {
        // What was never begun cannot be removed, and need not.
        let _ = fs::remove_file(self.place(name));
    }

    /// Moves the finished folder into place.
    pub fn publish(self) -> Result<()> {
        let Self { building, lock: _lock, destination, replace } = self;
        let fail = |e| Error::writing(&destination, e);
        make_readable_by_default(building.path()).map_err(fail)?;
        let mut retired = None;
        if exists(&destination) {
            if !replace {
                return Err(Error::OutputExists(destination));
            }
            // The old folder steps aside first, so that a failure can put it back.
            let aside = building.path().with_extension("replaced");
            fs::rename(&destination, &aside).map_err(fail)?;
            retired = Some(aside);
        }
        if let Err(e) = fs::rename(building.path(), &destination) {
            if let Some(aside) = &retired {
                fs::rename(aside, &destination).map_err(fail)?;
            }
            return Err(fail(e));
        }
        // Renamed away: there is nothing left for the temporary folder to remove.
        let _ = building.keep();
        match retired {
            Some(aside) if aside.is_dir() => fs::remove_dir_all(&aside).map_err(fail),
            Some(aside) => fs::remove_file(&aside).map_err(fail),
            None => Ok(()),
        }
    }
}

/// Temporary folders are private (0700); results get the user's usual mode,
/// taken from a folder the system makes.
fn make_readable_by_default(folder: &Path) -> io::Result<()> {
    let probe = folder.join(".mode");
    fs::create_dir(&probe)?;
    let usual = fs::metadata(&probe)?.permissions();
    fs::remove_dir(&probe)?;
    fs::set_permissions(folder, usual)
}

/// Removes what a killed process left under construction in `folder`; what is still being
/// built is locked, and stays.
pub fn sweep(folder: &Path) {
    // Tidying up is no part of the work: what cannot be removed stays.
    for left in list(folder).unwrap_or_default().folders {
        let name = left.file_name().unwrap_or_default().to_string_lossy();
        let lock = left.with_extension("lock");
        // «.replaced» is somebody's former results.
        let ours = name.starts_with(UNFINISHED) && left.extension().is_none();
        if !ours || !exists(&lock) {
            continue;
        }
        if let Ok(Some(lock)) = LockFile::take(&lock)
            && lock.sure
        {
            let _ = fs::remove_dir_all(&left);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_left_over_is_swept_and_what_is_under_way_stays() {
        let dir = tempfile::tempdir().unwrap();
        let at_work = FolderWriter::new(&dir.path().join("result"), false).unwrap();
        // As after a killed process: folder and lock file, and nobody who holds it.
        let left = dir.path().join(format!("{UNFINISHED}killed"));
        fs::create_dir(&left).unwrap();
        fs::write(left.with_extension("lock"), "").unwrap();
        sweep(dir.path());
        assert!(!left.exists() && !left.with_extension("lock").exists());
        at_work.publish().unwrap();
        assert_eq!(list(dir.path()).unwrap().folders, [dir.path().join("result")]);
        assert_eq!(list(dir.path()).unwrap().files.len(), 0);
    }

    #[test]
    fn an_unpublished_folder_leaves_nothing() {
        let dir = tempfile::tempdir().unwrap();
        let out = dir.path().join("result");
        let writer = FolderWriter::new(&out, false).unwrap();
        writer.write("a.txt", |w| w.write_all(b"a")).unwrap();
        drop(writer);
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 0);
    }

    #[test]
    fn replacing_needs_leave_and_swaps_the_whole_folder() {
        let dir = tempfile::tempdir().unwrap();
        let out = dir.path().join("result");
        for (content, replace) in [("one", false), ("two", true)] {
            let writer = FolderWriter::new(&out, replace).unwrap();
            writer.write(content, |w| w.write_all(content.as_bytes())).unwrap();
            writer.publish().unwrap();
        }
        assert!(out.join("two").exists() && !out.join("one").exists());
        assert!(matches!(FolderWriter::new(&out, false), Err(Error::OutputExists(_))));
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
    }
}
