//! An archive as one file, and back.

use std::io::{self, Read};
use std::path::Path;

use super::file_store::FileStore;
use super::{Archive, ErasedAgain, INDEX, READ_ME, put_read_me};
use crate::error::{Error, Remedy, Result};
use crate::files::{self, FolderWriter};

impl Archive {
    /// Writes the whole archive into one tar file. The same archive gives the same bytes.
    ///
    /// # Errors
    /// [`Error::OutputExists`]; [`Error::Archive`] where the file would lie in the archive;
    /// [`Error::CannotWrite`].
    pub fn backup(&mut self, file: &Path, replace: bool) -> Result<()> {
        let parent = file.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let inside = match (files::real_path(parent), files::real_path(self.folder())) {
            (Some(parent), Some(own)) => parent.starts_with(own),
            _ => false,
        };
        if inside {
            return Err(Error::Archive {
                path: self.folder().into(),
                why: "a back-up does not lie in the archive itself".into(),
                remedy: Remedy::OtherDrive,
            });
        }
        let _lock = self.write()?;
        let folder = self.folder().to_path_buf();
        let mut names = files::files_in(&folder)?;
        // What else somebody has put there could not be restored.
        names.retain(|name| is_own(name));
        files::write_whole(file, replace, |out| {
            let mut tar = tar::Builder::new(out);
            for name in &names {
                let path = folder.join(name);
                let mut header = tar::Header::new_gnu();
                header.set_size(files::size(&path)?);
                header.set_mode(if FileStore::sha256_in(name).is_some() { 0o400 } else { 0o600 });
                header.set_mtime(0);
                let content = files::open(&path)?;
                let appended = tar.append_data(&mut header, name, content);
                appended.map_err(|e| Error::writing(file, e))?;
            }
            let finished = tar.into_inner().and_then(|out| out.flush());
            finished.map_err(|e| Error::writing(file, e))
        })
    }
}

/// Makes an archive from a back-up, in a folder that must not exist. Everything is checked
/// before the folder appears. With `erased_in`, the archive that was kept in use, what was
/// erased there since is erased here too, before anybody sees it.
///
/// # Errors
/// [`Error::Archive`] where the back-up is not whole, or the folder exists;
/// [`Error::CannotWrite`].
pub fn restore(file: &Path, folder: &Path, erased_in: Option<&Archive>) -> Result<ErasedAgain> {
    if files::exists(folder) {
        return Err(Error::Archive {
            path: folder.into(),
            why: "there is something of that name already".into(),
            remedy: Remedy::NewFolder,
        });
    }
    let writer = FolderWriter::new(folder, false)?;
    let damaged =
        |why: String| Error::Archive { path: file.into(), why, remedy: Remedy::OtherBackup };
    let unreadable = |e: io::Error| damaged(format!("the back-up cannot be read ({e})"));
    let mut tar = tar::Archive::new(files::open(file)?);
    for entry in tar.entries().map_err(unreadable)? {
        let mut entry = entry.map_err(unreadable)?;
        let name = String::from_utf8_lossy(&entry.path_bytes()).into_owned();
        take(&writer, &name, &mut entry).map_err(|why| match why {
            Refused::Name => damaged(format!("'{name}' is not a file of an archive")),
            Refused::Content => damaged(format!("'{name}' is not what its name says")),
            Refused::Unreadable(e) => unreadable(e),
            Refused::Error(e) => e,
        })?;
    }
    let place = writer.place("");
    if !files::exists(&place.join(INDEX)) {
        return Err(damaged("there is no index in it".into()));
    }
    put_read_me(&FileStore::in_archive(&place), &place)?;
    let mut archive = Archive::open(&place)?;
    let found = archive.verify()?;
    if !found.is_clean() {
        let (missing, extra) = (found.missing.len(), found.extra.len());
        return Err(damaged(format!(
            "the back-up is not whole: {missing} files are missing, {} changed, {extra} extra, \
             {} faults in the index",
            found.changed.len(),
            found.index.len()
        )));
    }
    let erased = match erased_in {
        Some(other) => archive.erase_as_in(other)?,
        None => ErasedAgain { persons: Vec::new() },
    };
    drop(archive);
    writer.publish()?;
    Ok(erased)
}

/// True for the name of a file that every archive may have.
fn is_own(name: &str) -> bool {
    [INDEX, READ_ME].contains(&name) || FileStore::sha256_in(name).is_some()
}

enum Refused {
    Name,
    Content,
    Unreadable(io::Error),
    Error(Error),
}

/// Takes one file of a back-up, if it is one of an archive's.
fn take(writer: &FolderWriter, name: &str, content: &mut dyn Read) -> Result<(), Refused> {
    if name == READ_ME {
        // It is written anew, whatever has become of it.
        return io::copy(content, &mut io::sink()).map(drop).map_err(Refused::Unreadable);
    }
    if name == INDEX {
        let mut failed = None;
        let written = writer.write(name, |out| {
            let copied = io::copy(content, out);
            copied.map(drop).inspect_err(|e| failed = Some(e.kind()))
        });
        return match (written, failed) {
            (Err(_), Some(io::ErrorKind::UnexpectedEof)) => {
                Err(Refused::Unreadable(io::ErrorKind::UnexpectedEof.into()))
            }
            (Err(error), _) => Err(Refused::Error(error)),
            (Ok(()), _) => Ok(()),
        };
    }
    let sha256 = FileStore::sha256_in(name).ok_or(Refused::Name)?;
    let beside = writer.place(&format!("{sha256}.part"));
    let found = files::write_and_hash(content, &beside).map_err(Refused::Unreadable)?;
    if found != sha256 {
        return Err(Refused::Content);
    }
    let store = FileStore::in_archive(&writer.place(""));
    files::settle(&beside, &store.path(sha256)).map_err(Refused::Error)
}
