//! Hidden folders in which something is made, and what becomes of those that a killed
//! process has left.
//!
//! ```text
//! .plumbrise-unfinished-ID.lock         held as long as somebody is at work
//! .plumbrise-unfinished-ID/made         what is being made, a file or a folder
//! .plumbrise-unfinished-ID/aside/NAME   what was at NAME, where it cannot be exchanged in
//!                                       one step: it goes back if «made» does not get there
//! ```

use std::collections::BTreeSet;
use std::fs;
use std::hash::{BuildHasher, RandomState};
use std::io;
use std::path::{Path, PathBuf};

use super::lock::LockFile;
use super::{UNFINISHED, exists, private, sync_folder};

const MADE: &str = "made";
const ASIDE: &str = "aside";

/// A place to make something in, beside where it is to go. It goes when dropped.
#[derive(Debug)]
pub(super) struct Workshop {
    folder: PathBuf,
    made: PathBuf,
    /// Tells others that this is not left over; after the folder, so that it goes after it.
    _lock: LockFile,
}

impl Workshop {
    pub fn in_folder(parent: &Path) -> io::Result<Self> {
        loop {
            // The standard library keys its hash from the operating system's source.
            let id = RandomState::new().hash_one(0);
            let folder = parent.join(format!("{UNFINISHED}{id:016x}"));
            let Some(lock) = LockFile::take_if_free(&folder.with_extension("lock"))? else {
                continue;
            };
            match private::make_folder(&folder) {
                Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {}
                made => {
                    made?;
                    return Ok(Self { made: folder.join(MADE), folder, _lock: lock });
                }
            }
        }
    }

    /// Where what is made is to be put; nothing is there yet.
    pub fn made(&self) -> &Path {
        &self.made
    }

    /// Puts what was made in its place. What was there goes, or stays where that fails.
    pub fn put(&self, place: &Path) -> io::Result<()> {
        if !exists(place) {
            fs::rename(&self.made, place)?;
        } else if exchange(&self.made, place).is_err() {
            // Not known here: in two steps.
            self.put_aside(place)?;
            fs::rename(&self.made, place)?;
        }
        place.parent().map_or(Ok(()), sync_folder)
    }

    fn put_aside(&self, place: &Path) -> io::Result<()> {
        let aside = self.folder.join(ASIDE);
        private::make_folder(&aside)?;
        fs::rename(place, aside.join(place.file_name().unwrap_or_default()))
    }
}

impl Drop for Workshop {
    fn drop(&mut self) {
        clear_away(&self.folder);
    }
}

/// Exchanges what two names stand for, in one step.
#[cfg(any(target_os = "linux", target_os = "android", target_vendor = "apple"))]
fn exchange(one: &Path, other: &Path) -> io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    Ok(renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE)?)
}

#[cfg(not(any(target_os = "linux", target_os = "android", target_vendor = "apple")))]
fn exchange(_: &Path, _: &Path) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}

/// Removes a workshop that nobody is in; tidying up is no part of the work, and what cannot
/// be removed stays.
fn clear_away(workshop: &Path) {
    if put_back(workshop) {
        let _ = fs::remove_dir_all(workshop);
    }
}

/// Puts back what was put aside for something that did not get into its place. False where
/// that cannot be done, as where the place was taken by somebody else: then nothing may be
/// thrown away.
fn put_back(workshop: &Path) -> bool {
    if !exists(&workshop.join(MADE)) {
        return true; // It is in its place.
    }
    let back = |former: fs::DirEntry| {
        let Some(parent) = workshop.parent() else { return false };
        let place = parent.join(former.file_name());
        let moved = !exists(&place) && fs::rename(former.path(), &place).is_ok();
        moved && sync_folder(parent).is_ok()
    };
    match fs::read_dir(workshop.join(ASIDE)) {
        Ok(mut aside) => aside.all(|former| former.is_ok_and(back)),
        Err(e) => e.kind() == io::ErrorKind::NotFound,
    }
}

/// Puts back and removes what killed processes have left in a folder. What is still being
/// made is locked, and stays.
pub fn sweep(folder: &Path) {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let left: BTreeSet<PathBuf> = entries
        .filter(|entry| entry.file_name().to_string_lossy().starts_with(UNFINISHED))
        .map(|entry| entry.path().with_extension(""))
        .collect();
    for workshop in left {
        match LockFile::take_if_free(&workshop.with_extension("lock")) {
            Ok(Some(lock)) if lock.sure => clear_away(&workshop),
            // Whether somebody is at work cannot be told; who is will find the place taken,
            // and nothing is lost by that.
            Ok(Some(_)) => drop(put_back(&workshop)),
            _ => {}
        }
    }
}

/// Brings back what a process that was killed had put aside, where it is missing.
pub fn bring_back(path: &Path) {
    if !exists(path)
        && let Ok(place) = super::names::Place::of(path)
    {
        sweep(&place.folder);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A folder with a session in it, that a new one is to replace.
    struct Scene {
        dir: tempfile::TempDir,
        place: PathBuf,
    }

    impl Scene {
        fn new() -> Self {
            let dir = tempfile::tempdir().unwrap();
            let place = dir.path().join("monday.plumbrise");
            fs::create_dir(&place).unwrap();
            fs::write(place.join("review.json"), "former").unwrap();
            Self { dir, place }
        }

        /// As a process that was killed leaves it: nobody holds the lock.
        fn killed(&self, at: impl Fn(&Workshop)) -> PathBuf {
            let workshop = Workshop::in_folder(self.dir.path()).unwrap();
            fs::create_dir(workshop.made()).unwrap();
            fs::write(workshop.made().join("review.json"), "new").unwrap();
            at(&workshop);
            let left = self.dir.path().join(format!("{UNFINISHED}left"));
            fs::rename(&workshop.folder, &left).unwrap();
            fs::write(left.with_extension("lock"), "").unwrap();
            left
        }

        fn content(&self) -> String {
            fs::read_to_string(self.place.join("review.json")).unwrap()
        }

        fn names(&self) -> Vec<PathBuf> {
            fs::read_dir(self.dir.path()).unwrap().map(|e| e.unwrap().path()).collect()
        }
    }

    #[test]
    fn what_is_left_over_is_swept_and_what_is_under_way_stays() {
        let scene = Scene::new();
        let at_work = Workshop::in_folder(scene.dir.path()).unwrap();
        scene.killed(|_| {});
        sweep(scene.dir.path());
        assert!(at_work.folder.exists() && at_work.folder.with_extension("lock").exists());
        drop(at_work);
        assert_eq!(scene.names(), [scene.place]);
    }

    /// Killed before the lock was removed, or before there was a folder.
    #[test]
    fn a_lock_file_or_folder_alone_is_swept() {
        let scene = Scene::new();
        for name in ["alone.lock", "folder"].map(|name| format!("{UNFINISHED}{name}")) {
            let left = scene.dir.path().join(name);
            let made = match left.extension() {
                Some(_) => fs::write(&left, ""),
                None => fs::create_dir(&left),
            };
            made.unwrap();
            sweep(scene.dir.path());
            assert!(!left.exists(), "{left:?}");
        }
        assert_eq!(scene.names(), [scene.place]);
    }

    /// Where two names cannot be exchanged in one step.
    #[test]
    fn killed_between_two_renames_the_former_folder_comes_back() {
        let scene = Scene::new();
        scene.killed(|workshop| workshop.put_aside(&scene.place).unwrap());
        assert!(!scene.place.exists());
        bring_back(&scene.place);
        assert_eq!((scene.content().as_str(), scene.names()), ("former", vec![scene.place]));
    }

    #[test]
    fn killed_after_both_the_former_folder_goes() {
        let scene = Scene::new();
        let left = scene.killed(|workshop| {
            workshop.put_aside(&scene.place).unwrap();
            fs::rename(workshop.made(), &scene.place).unwrap();
        });
        sweep(scene.dir.path());
        assert_eq!((scene.content().as_str(), left.exists()), ("new", false));
        // Taken away by hand, it stays away.
        let scene = Scene::new();
        scene.killed(|workshop| {
            workshop.put_aside(&scene.place).unwrap();
            fs::rename(workshop.made(), &scene.place).unwrap();
        });
        fs::remove_dir_all(&scene.place).unwrap();
        bring_back(&scene.place);
        assert!(scene.names().is_empty());
    }

    #[test]
    fn nothing_is_thrown_away_where_the_place_was_taken_meanwhile() {
        let scene = Scene::new();
        let left = scene.killed(|workshop| workshop.put_aside(&scene.place).unwrap());
        fs::create_dir(&scene.place).unwrap();
        fs::write(scene.place.join("review.json"), "somebody's").unwrap();
        sweep(scene.dir.path());
        assert_eq!(scene.content(), "somebody's");
        let former = left.join(ASIDE).join("monday.plumbrise/review.json");
        assert_eq!(fs::read_to_string(former).unwrap(), "former");
    }

    #[test]
    fn the_former_folder_is_back_when_the_new_one_cannot_be_put() {
        let scene = Scene::new();
        let workshop = Workshop::in_folder(scene.dir.path()).unwrap();
        fs::create_dir(workshop.made()).unwrap();
        workshop.put_aside(&scene.place).unwrap();
        drop(workshop);
        assert_eq!((scene.content().as_str(), scene.names()), ("former", vec![scene.place]));
    }
}
