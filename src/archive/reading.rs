//! Reading a session where it lies, without copying it.

use std::path::{Component, Path, PathBuf};

use super::file_store::FileStore;
use super::record::RECORD;
use super::{Archive, Entry, StoredFile};
use crate::error::{Error, Remedy, Result};
use crate::files;
use crate::session::SessionFiles;

/// A session in an archive; each file is checked when it is read.
pub struct StoredSession<'a> {
    store: &'a FileStore,
    id: String,
    files: Vec<StoredFile>,
}

impl<'a> StoredSession<'a> {
    pub(super) fn of(store: &'a FileStore, entry: &Entry, files: Vec<StoredFile>) -> Self {
        Self { store, id: entry.id.clone(), files }
    }

    fn file(&self, name: &str) -> Option<&StoredFile> {
        self.files.iter().find(|file| file.name == name)
    }
}

impl SessionFiles for StoredSession<'_> {
    fn shown(&self) -> PathBuf {
        self.store.archive().join(&self.id)
    }

    fn has(&self, name: &str) -> bool {
        self.file(name).is_some()
    }

    fn content(&self, name: &str) -> Result<Option<Vec<u8>>> {
        self.file(name).map(|file| self.store.read(&file.sha256)).transpose()
    }
}

impl Archive {
    /// A session to read from.
    ///
    /// # Errors
    /// [`Error::Archive`] where the index cannot be read.
    pub fn open_session(&self, entry: &Entry) -> Result<StoredSession<'_>> {
        Ok(StoredSession::of(&self.store, entry, self.files(entry)?))
    }

    /// Puts the files of a session into a folder, which is made where it is missing; each is
    /// checked. Its record stays in the archive.
    ///
    /// # Errors
    /// [`Error::Archive`] where a file is missing or was changed, [`Error::CannotWrite`].
    pub fn materialise(&self, entry: &Entry, folder: &Path) -> Result<()> {
        for file in self.files(entry)?.iter().filter(|file| file.name != RECORD) {
            // An index that came with a back-up may say anything.
            if !is_plain(&file.name) {
                return Err(Error::Archive {
                    path: self.folder().into(),
                    why: format!("session {} has a file named '{}'", entry.id, file.name),
                    remedy: Remedy::DoNotUse,
                });
            }
            let place = folder.join(&file.name);
            files::make_folders(place.parent().unwrap_or(folder))?;
            self.store.copy(&file.sha256, &place)?;
        }
        Ok(())
    }
}

/// True for a name that leads nowhere but into its session's own folder.
pub(super) fn is_plain(name: &str) -> bool {
    let plain = |part| matches!(part, Component::Normal(_));
    !name.is_empty() && !name.contains('\\') && Path::new(name).components().all(plain)
}
