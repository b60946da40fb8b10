//! A folder of results that appears whole or not at all.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::lock::LockFile;
use super::names::Place;
use super::workshop::Workshop;
use super::{bring_back, exists, open, private, sweep};
use crate::error::{Error, Result};

/// A results folder under construction. Files go into a hidden folder beside
/// the destination; [`FolderWriter::publish`] puts it into place. Dropped
/// without publishing (an error, Ctrl-C), it leaves nothing; what a killed process has left
/// goes when the next one is made. Only the user can read it.
#[derive(Debug)]
pub struct FolderWriter {
    workshop: Workshop,
    place: Place,
    /// The place as the user named it.
    destination: PathBuf,
    replace: bool,
    /// Nobody else replaces or changes what is there.
    held: Option<LockFile>,
}

impl FolderWriter {
    /// Prepares to build `destination`, refusing one that exists unless
    /// `replace`. Fails at once where the place is not writable, so that a
    /// long run is not lost at its end.
    pub fn new(destination: &Path, replace: bool) -> Result<Self> {
        let place = Place::of(destination).map_err(|e| Error::writing(destination, e))?;
        Self::at(place, destination, replace, None)
    }

    /// Prepares to change a folder that is there. Waits until nobody else does, and keeps
    /// others waiting until this is published or dropped: what is read of the folder
    /// meanwhile still holds then.
    pub fn amend(folder: &Path) -> Result<Self> {
        let fail = |e| Error::writing(folder, e);
        let place = Place::of(folder).map_err(fail)?;
        let held = place.lock().map_err(fail)?;
        Self::at(place, folder, true, Some(held))
    }

    fn at(place: Place, destination: &Path, replace: bool, held: Option<LockFile>) -> Result<Self> {
        sweep(&place.folder);
        if exists(&place.path) && !replace {
            return Err(Error::OutputExists(destination.into()));
        }
        let begin = || -> io::Result<Workshop> {
            let workshop = Workshop::in_folder(&place.folder)?;
            private::make_folder(workshop.made())?;
            Ok(workshop)
        };
        let workshop = begin().map_err(|e| Error::writing(destination, e))?;
        Ok(Self { workshop, place, destination: destination.into(), replace, held })
    }

    /// Writes one file of the folder, through `fill`; the name may lead through folders
    /// (`reps/a.csv`), which are made.
    pub fn write<F>(&self, name: &str, fill: F) -> Result<()>
    where
        F: FnOnce(&mut dyn Write) -> io::Result<()>,
    {
        let write = || -> io::Result<()> {
            let place = self.place(name);
            place.parent().map_or(Ok(()), private::make_folders)?;
            let mut file = io::BufWriter::new(private::create(&place)?);
            fill(&mut file)?;
            file.flush()
        };
        write().map_err(|e| Error::writing(&self.destination.join(name), e))
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
        self.workshop.made().join(name)
    }

    /// Takes back a file of the folder, if it was begun.
    pub fn discard(&self, name: &str) {
        // What was never begun cannot be removed, and need not.
        let _ = fs::remove_file(self.place(name));
    }

    /// Puts the finished folder into place.
    pub fn publish(self) -> Result<()> {
        self.publish_unless(|_| Ok(()))
    }

    /// The same unless `refused` says why what is there must stay. It is asked while nobody
    /// else changes that.
    pub fn publish_unless(self, refused: impl FnOnce(&Path) -> Result<()>) -> Result<()> {
        let Self { workshop, place, destination, replace, held } = self;
        let fail = |e| Error::writing(&destination, e);
        private::seal(workshop.made()).map_err(fail)?;
        let _held = held.map_or_else(|| place.lock(), Ok).map_err(fail)?;
        bring_back(&place.path);
        if exists(&place.path) && !replace {
            return Err(Error::OutputExists(destination));
        }
        refused(&destination)?;
        workshop.put(&place.path).map_err(fail)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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

    /// Two prepare to build the same folder; the second finds it there at its end.
    #[test]
    fn what_appeared_meanwhile_is_not_replaced_without_leave() {
        let dir = tempfile::tempdir().unwrap();
        let out = dir.path().join("result");
        let [first, second] = [0, 1].map(|_| FolderWriter::new(&out, false).unwrap());
        first.publish().unwrap();
        assert!(matches!(second.publish(), Err(Error::OutputExists(_))));
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
    }

    #[test]
    fn what_is_refused_at_the_end_stays_as_it_is() {
        let dir = tempfile::tempdir().unwrap();
        let out = dir.path().join("result");
        FolderWriter::new(&out, false).unwrap().publish().unwrap();
        let writer = FolderWriter::new(&out, true).unwrap();
        fs::write(out.join("review"), "meanwhile").unwrap();
        let refused = writer.publish_unless(|place| match exists(&place.join("review")) {
            true => Err(Error::Reviewed(place.into())),
            false => Ok(()),
        });
        assert!(matches!(refused, Err(Error::Reviewed(_))));
        assert_eq!(fs::read_to_string(out.join("review")).unwrap(), "meanwhile");
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
    }

    /// Each reads a number, adds one and writes it back.
    #[test]
    fn who_amends_a_folder_keeps_the_others_waiting() {
        let dir = tempfile::tempdir().unwrap();
        let out = dir.path().join("result");
        let writer = FolderWriter::new(&out, false).unwrap();
        writer.write("number", |w| w.write_all(b"0")).unwrap();
        writer.publish().unwrap();
        std::thread::scope(|scope| {
            for _ in 0..20 {
                scope.spawn(|| {
                    let writer = FolderWriter::amend(&out).unwrap();
                    let number = fs::read_to_string(out.join("number")).unwrap();
                    let more = number.parse::<u32>().unwrap() + 1;
                    writer.write("number", |w| write!(w, "{more}")).unwrap();
                    writer.publish().unwrap();
                });
            }
        });
        assert_eq!(fs::read_to_string(out.join("number")).unwrap(), "20");
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
    }

    #[cfg(unix)]
    #[test]
    fn behind_a_link_the_folder_is_replaced_and_not_the_link() {
        let dir = tempfile::tempdir().unwrap();
        let (out, link) = (dir.path().join("result"), dir.path().join("link"));
        fs::create_dir(&out).unwrap();
        std::os::unix::fs::symlink(&out, &link).unwrap();
        let writer = FolderWriter::new(&link, true).unwrap();
        writer.write("new", |w| w.write_all(b"new")).unwrap();
        writer.publish().unwrap();
        assert!(out.join("new").exists() && link.is_symlink());
    }
}
