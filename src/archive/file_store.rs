//! The files of an archive, each named by the SHA-256 of its content.

use std::path::{Path, PathBuf};

use super::record::Record;
use super::{FILES, READ_ME, STAGING, StoredFile};
use crate::error::{Error, Remedy, Result};
use crate::files;

/// In the folder for work in progress, what the program puts there: whatever else lies there
/// is somebody's, and not removed.
const WORK: &str = "work";

/// What the folder of the files was called in archives of the first versions.
const OLD_FOLDER: &str = "objects";

/// The files of an archive.
pub(super) struct FileStore {
    archive: PathBuf,
    /// [`FILES`], or its old name.
    folder: &'static str,
}

impl FileStore {
    pub fn in_archive(archive: &Path) -> Self {
        let old = files::exists(&archive.join(OLD_FOLDER)) && !files::exists(&archive.join(FILES));
        Self { archive: archive.into(), folder: if old { OLD_FOLDER } else { FILES } }
    }

    /// The folder still has its old name.
    pub fn is_old(&self) -> bool {
        self.folder == OLD_FOLDER
    }

    /// There is a folder of the old name: the files are in it, or an older program has put
    /// some there since.
    pub fn has_old_folder(&self) -> bool {
        files::exists(&self.archive.join(OLD_FOLDER))
    }

    /// Gives the folder its name, or brings what an older program has put into one of the old
    /// name over to it. The lock is held.
    pub fn bring_up_to_date(&mut self) -> Result<()> {
        let (old, new) = (self.archive.join(OLD_FOLDER), self.archive.join(FILES));
        let both = self.has_old_folder() && files::exists(&new);
        if self.has_old_folder() && !both {
            files::rename_folder(&old, &new)?;
        }
        // Somebody else may have renamed it since it was looked for.
        self.folder = FILES;
        if both {
            for folder in files::list(&old)?.folders {
                for file in files::list(&folder)?.files {
                    let name = file.file_name().unwrap_or_default().to_string_lossy();
                    if is_sha256(&name) {
                        self.put(&file, &name)?;
                    }
                }
                files::remove_if_empty(&folder);
            }
            files::remove_if_empty(&old);
        }
        Ok(())
    }

    /// Name of a file inside the archive.
    pub fn name(&self, sha256: &str) -> String {
        name_in(self.folder, sha256)
    }

    /// The SHA-256 in what may be the name of a file inside an archive, also of the first
    /// versions.
    pub fn sha256_in(name: &str) -> Option<&str> {
        let sha256 = name.rsplit('/').next().filter(|last| is_sha256(last))?;
        [FILES, OLD_FOLDER].iter().any(|of| name == name_in(of, sha256)).then_some(sha256)
    }

    /// True for the folder's name, old or new.
    pub fn is_folder(name: &str) -> bool {
        [FILES, OLD_FOLDER].contains(&name)
    }

    /// The archive's folder.
    pub fn archive(&self) -> &Path {
        &self.archive
    }

    /// Where a file is.
    pub fn path(&self, sha256: &str) -> PathBuf {
        self.archive.join(self.name(sha256))
    }

    pub fn is_empty(&self) -> bool {
        files::is_empty_folder(&self.archive.join(self.folder))
    }

    /// A place for work in progress, on the same drive.
    pub fn staging(&self) -> Result<PathBuf> {
        let staging = self.archive.join(STAGING).join(WORK);
        files::make_folders(&staging)?;
        Ok(staging)
    }

    pub fn nothing_staged(&self) -> bool {
        files::is_empty_folder(&self.archive.join(STAGING))
            || self.staged().is_ok_and(|own| own.is_empty())
    }

    pub fn clear_staging(&self) -> Result<()> {
        if self.nothing_staged() {
            return Ok(());
        }
        for path in self.staged()? {
            match files::is_folder(&path) {
                true => files::remove_folder(&path)?,
                false => files::remove(&path)?,
            }
        }
        Ok(())
    }

    /// What the program has put, or may have put, among the work in progress.
    fn staged(&self) -> Result<Vec<PathBuf>> {
        let found = files::list(&self.archive.join(STAGING))?;
        let ours =
            |path: &PathBuf| is_ours(&path.file_name().unwrap_or_default().to_string_lossy());
        Ok(found.folders.into_iter().chain(found.files).filter(ours).collect())
    }

    /// True for the name of a file in the archive that is work in progress of the program.
    pub fn is_staged(name: &str) -> bool {
        let rest = name.strip_prefix(STAGING).and_then(|rest| rest.strip_prefix('/'));
        rest.is_some_and(|rest| is_ours(rest.split('/').next().unwrap_or_default()))
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

    /// Puts the record of a session in its place.
    pub fn put_record(&self, record: &Record) -> Result<StoredFile> {
        let staged = self.staging()?.join(super::RECORD);
        let written = files::write_and_hash(&mut record.text().as_bytes(), &staged);
        let sha256 = written.map_err(|e| Error::writing(&staged, e))?;
        self.put(&staged, &sha256)?;
        Ok(record.file())
    }

    /// Copies a file out and makes sure that it is what its name says.
    pub fn copy(&self, sha256: &str, to: &Path) -> Result<()> {
        let from = self.there(sha256)?;
        match files::copy_and_hash(&from, to)? == sha256 {
            true => Ok(()),
            false => Err(self.damaged(sha256, "was changed")),
        }
    }

    /// Content of a file that is what its name says.
    pub fn read(&self, sha256: &str) -> Result<Vec<u8>> {
        let content = files::read_bytes(&self.there(sha256)?)?;
        match files::sha256_of(&content) == sha256 {
            true => Ok(content),
            false => Err(self.damaged(sha256, "was changed")),
        }
    }

    fn there(&self, sha256: &str) -> Result<PathBuf> {
        let path = self.path(sha256);
        match is_sha256(sha256) && files::exists(&path) {
            true => Ok(path),
            false => Err(self.damaged(sha256, "is missing")),
        }
    }

    fn damaged(&self, sha256: &str, why: &str) -> Error {
        Error::Archive {
            path: self.archive.clone(),
            why: format!("the file {} {why}", self.name(sha256)),
            remedy: Remedy::VerifyArchive,
        }
    }

    /// Removes a file; one that is gone already is no fault.
    pub fn remove(&self, sha256: &str) -> Result<()> {
        // An index that came with a back-up may say anything.
        if !is_sha256(sha256) {
            return Ok(());
        }
        let path = self.path(sha256);
        files::remove(&path)?;
        if let Some(folder) = path.parent() {
            files::remove_if_empty(folder);
        }
        Ok(())
    }
}

/// Where a file is inside an archive.
fn name_in(folder: &str, sha256: &str) -> String {
    let (start, _) = sha256.split_at_checked(2).unwrap_or((sha256, ""));
    format!("{folder}/{start}/{sha256}")
}

/// True for what may be the name of a file.
pub(super) fn is_sha256(name: &str) -> bool {
    name.len() == 64 && name.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'))
}

/// True for names that the program gives to work in progress; the first versions had it
/// without a folder of its own.
fn is_ours(name: &str) -> bool {
    [WORK, READ_ME, "session"].contains(&name) || name.starts_with(".plumbrise-unfinished-")
}
