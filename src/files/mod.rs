//! The only user of `std::fs`: reading with clear errors, checksums, and files and folders
//! of results that appear whole or not at all, for the user alone.

mod folder;
mod lock;
mod names;
mod private;
mod workshop;

use std::fs;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use memchr::memmem;
use sha2::{Digest, Sha256};

pub use folder::FolderWriter;
pub use lock::{Lock, LockFile};
pub use names::name_with;
pub use workshop::{bring_back, sweep};

use crate::error::{Error, Result};
use names::folder_of;
use workshop::Workshop;

/// How the names of what is under construction begin.
const UNFINISHED: &str = ".plumbrise-unfinished-";

/// Reads a whole text file.
pub fn read_text(path: &Path) -> Result<String> {
    let mut text = String::new();
    open(path)?.read_to_string(&mut text).map_err(|e| Error::reading(path, e))?;
    Ok(text)
}

/// The same where the text may come in an old encoding: letters that are not
/// UTF-8 are replaced.
pub fn read_text_lossy(path: &Path) -> Result<String> {
    Ok(String::from_utf8_lossy(&read_bytes(path)?).into_owned())
}

/// Reads a whole file, whatever its encoding.
pub fn read_bytes(path: &Path) -> Result<Vec<u8>> {
    let mut bytes = Vec::new();
    open(path)?.read_to_end(&mut bytes).map_err(|e| Error::reading(path, e))?;
    Ok(bytes)
}

/// Opens a file for reading. What is neither file nor folder is refused: a pipe would be
/// waited for, a device may never end.
pub fn open(path: &Path) -> Result<fs::File> {
    let fail = |e| Error::reading(path, e);
    let kind = fs::metadata(path).map_err(fail)?.file_type();
    if !kind.is_file() && !kind.is_dir() {
        return Err(Error::NotAFile(path.into()));
    }
    fs::File::open(path).map_err(fail)
}

/// True if something of that name is there.
pub fn exists(path: &Path) -> bool {
    fs::symlink_metadata(path).is_ok()
}

/// True if a file is there, or a link to one.
pub fn is_file(path: &Path) -> bool {
    path.is_file()
}

/// True if a folder is there, or a link to one.
pub fn is_folder(path: &Path) -> bool {
    path.is_dir()
}

/// The path from the root without links; `None` where nothing is.
pub fn real_path(path: &Path) -> Option<PathBuf> {
    fs::canonicalize(path).ok()
}

/// SHA-256 of a file as 64 lower-case hex digits, read in pieces.
pub fn sha256(path: &Path) -> Result<String> {
    pour(&mut open(path)?, &mut io::sink()).map_err(|e| Error::reading(path, e))
}

/// Hands everything on and gives back its SHA-256.
fn pour(from: &mut dyn Read, to: &mut dyn Write) -> io::Result<String> {
    let mut hash = Sha256::new();
    let mut piece = vec![0u8; 1 << 16];
    loop {
        match from.read(&mut piece)? {
            0 => return Ok(hex(&hash.finalize())),
            n => {
                hash.update(&piece[..n]);
                to.write_all(&piece[..n])?;
            }
        }
    }
}

/// SHA-256 of bytes as 64 lower-case hex digits.
pub fn sha256_of(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

/// Refuses what cannot be a clip before anything else looks at it: missing,
/// a folder, a pipe or device, unreadable, empty.
pub fn check_readable_file(path: &Path) -> Result<()> {
    let meta = fs::metadata(path).map_err(|e| Error::reading(path, e))?;
    if meta.is_dir() {
        return Err(Error::IsFolder(path.into()));
    }
    open(path)?;
    if meta.len() == 0 {
        return Err(Error::EmptyFile(path.into()));
    }
    Ok(())
}

/// Size of a file and when it was changed: if either is another, so is the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stamp {
    /// Size, bytes.
    pub bytes: u64,
    /// Last change, as the file system tells it.
    pub changed: Timestamp,
}

/// The stamp of a file.
pub fn stamp(path: &Path) -> Result<Stamp> {
    let fail = |e| Error::reading(path, e);
    let meta = fs::metadata(path).map_err(fail)?;
    let changed = meta.modified().map_err(fail)?;
    // A time beyond all calendars is no time.
    let changed = Timestamp::try_from(changed).unwrap_or(Timestamp::MIN);
    Ok(Stamp { bytes: meta.len(), changed })
}

/// What is in a folder, by name.
#[derive(Debug, Default)]
pub struct Listing {
    /// Its files.
    pub files: Vec<PathBuf>,
    /// The folders in it; links to folders are left out, as they may lead in a circle.
    pub folders: Vec<PathBuf>,
}

/// Lists a folder.
pub fn list(folder: &Path) -> Result<Listing> {
    let fail = |e| Error::reading(folder, e);
    let mut listing = Listing::default();
    for entry in fs::read_dir(folder).map_err(fail)? {
        let entry = entry.map_err(fail)?;
        let path = entry.path();
        // What disappears meanwhile is not there.
        let Ok(kind) = entry.file_type() else { continue };
        if kind.is_dir() {
            listing.folders.push(path);
        } else if path.is_file() {
            listing.files.push(path);
        }
    }
    listing.files.sort();
    listing.folders.sort();
    Ok(listing)
}

/// Makes a folder for the user alone, if it is not there.
pub fn make_folder(path: &Path) -> Result<()> {
    match private::make_folder(path) {
        Err(_) if path.is_dir() => Ok(()),
        made => made.map_err(|e| Error::writing(path, e)),
    }
}

/// The same with those above it.
pub fn make_folders(path: &Path) -> Result<()> {
    private::make_folders(path).map_err(|e| Error::writing(path, e))
}

/// Closes a folder that was there before to all but the user.
pub fn make_private(folder: &Path) -> Result<()> {
    private::close_folder(folder).map_err(|e| Error::writing(folder, e))
}

/// Makes an empty file for the user alone, if it is not there: for a library that would make
/// it for everybody.
pub fn make_file(path: &Path) -> Result<()> {
    match exists(path) {
        true => Ok(()),
        false => private::open(path).map(drop).map_err(|e| Error::writing(path, e)),
    }
}

/// Writes a small text file that appears whole or not at all, in place of an older one.
pub fn write_text(path: &Path, text: &str) -> Result<()> {
    write_whole(path, true, |out| {
        out.write_all(text.as_bytes()).map_err(|e| Error::writing(path, e))
    })
}

/// Everything inside a folder that is not a folder itself, however deep, as paths relative
/// to it with `/` between the names, sorted. Links are named and not followed.
pub fn files_in(folder: &Path) -> Result<Vec<String>> {
    let mut found = Vec::new();
    let mut open = vec![(folder.to_path_buf(), String::new())];
    while let Some((path, prefix)) = open.pop() {
        let failed = |e| Error::reading(&path, e);
        for entry in fs::read_dir(&path).map_err(failed)? {
            let entry = entry.map_err(failed)?;
            let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
            match entry.file_type().map_err(failed)?.is_dir() {
                true => open.push((entry.path(), format!("{name}/"))),
                false => found.push(name),
            }
        }
    }
    found.sort();
    Ok(found)
}

/// True where a folder is missing or nothing is in it.
pub fn is_empty_folder(path: &Path) -> bool {
    fs::read_dir(path).map_or(true, |mut entries| entries.next().is_none())
}

/// Size of a file, bytes.
pub fn size(path: &Path) -> Result<u64> {
    Ok(fs::symlink_metadata(path).map_err(|e| Error::reading(path, e))?.len())
}

/// True if the bytes occur anywhere in a file. It is read in pieces.
pub fn contains(path: &Path, bytes: &[u8]) -> Result<bool> {
    let mut file = open(path)?;
    let finder = memmem::Finder::new(bytes);
    let mut window = Vec::new();
    let mut piece = vec![0u8; 1 << 16];
    loop {
        match file.read(&mut piece).map_err(|e| Error::reading(path, e))? {
            0 => return Ok(bytes.is_empty()),
            n => window.extend_from_slice(&piece[..n]),
        }
        if finder.find(&window).is_some() {
            return Ok(true);
        }
        // The bytes may lie across two pieces.
        let keep = window.len().min(bytes.len().saturating_sub(1));
        window.drain(..window.len() - keep);
    }
}

/// Copies a file and gives back its SHA-256 as it was read.
pub fn copy_and_hash(from: &Path, to: &Path) -> Result<String> {
    let mut source = open(from)?;
    write_and_hash(&mut source, to).map_err(|e| Error::writing(to, e))
}

/// Writes a new file from `source`, through to the disk, and gives back its SHA-256.
pub fn write_and_hash(source: &mut dyn Read, to: &Path) -> io::Result<String> {
    let mut file = private::create(to)?;
    let sha256 = pour(source, &mut file)?;
    file.sync_all()?;
    Ok(sha256)
}

/// Moves a finished file to where it stays, not to be written again: through to the disk,
/// read-only, in one step. Its folder is made.
pub fn settle(from: &Path, to: &Path) -> Result<()> {
    let parent = to.parent().unwrap_or(Path::new("."));
    make_folders(parent)?;
    let settle = || -> io::Result<()> {
        fs::OpenOptions::new().append(true).open(from)?.sync_all()?;
        private::keep(from)?;
        fs::rename(from, to)?;
        sync_folder(parent)
    };
    settle().map_err(|e| Error::writing(to, e))
}

/// Gives a folder another name beside it, in one step.
pub fn rename_folder(from: &Path, to: &Path) -> Result<()> {
    let parent = to.parent().unwrap_or(Path::new("."));
    fs::rename(from, to).and_then(|()| sync_folder(parent)).map_err(|e| Error::writing(to, e))
}

/// Removes a file, read-only or not; one that is gone already is no fault.
pub fn remove(path: &Path) -> Result<()> {
    // Elsewhere the folder's permissions decide.
    #[cfg(windows)]
    if let Ok(meta) = fs::metadata(path) {
        let mut permissions = meta.permissions();
        #[allow(clippy::permissions_set_readonly_false)]
        permissions.set_readonly(false);
        let _ = fs::set_permissions(path, permissions);
    }
    match fs::remove_file(path) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => Err(Error::writing(path, e)),
        _ => path.parent().map_or(Ok(()), sync_folder).map_err(|e| Error::writing(path, e)),
    }
}

/// Removes a folder that may be missing, with everything in it.
pub fn remove_folder(path: &Path) -> Result<()> {
    match fs::remove_dir_all(path) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => Err(Error::writing(path, e)),
        _ => Ok(()),
    }
}

/// Removes a folder if nothing is in it.
pub fn remove_if_empty(path: &Path) {
    // A folder with something in it stays, which is what is asked for.
    let _ = fs::remove_dir(path);
}

/// Names in a folder are on the disk only when the folder is, where systems know that.
fn sync_folder(path: &Path) -> io::Result<()> {
    if cfg!(unix) && path.is_dir() { fs::File::open(path)?.sync_all() } else { Ok(()) }
}

/// Writes a file beside its destination and moves it into place when it is whole; only the
/// user can read it. What killed processes have left in that folder goes.
pub fn write_whole<F>(destination: &Path, replace: bool, fill: F) -> Result<()>
where
    F: FnOnce(&mut dyn Write) -> Result<()>,
{
    let failed = |e| Error::writing(destination, e);
    let folder = folder_of(destination);
    sweep(folder);
    if exists(destination) && !replace {
        return Err(Error::OutputExists(destination.into()));
    }
    let workshop = Workshop::in_folder(folder).map_err(failed)?;
    let mut file = private::create(workshop.made()).map_err(failed)?;
    fill(&mut file)?;
    file.sync_all().map_err(failed)?;
    drop(file);
    fs::rename(workshop.made(), destination).map_err(failed)?;
    sync_folder(folder).map_err(failed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sha256_of_abc_is_the_published_digest() {
        // FIPS 180-4, example «abc».
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("abc");
        fs::write(&path, "abc").unwrap();
        assert_eq!(
            sha256(&path).unwrap(),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }

    #[test]
    fn bytes_are_found_across_pieces_and_not_where_they_are_not() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("long");
        let mut text = vec![b'.'; 3 << 16];
        text[(1 << 16) - 2..(1 << 16) + 3].copy_from_slice(b"K7-M2");
        fs::write(&path, &text).unwrap();
        assert!(contains(&path, b"K7-M2").unwrap());
        assert!(!contains(&path, b"K7-M3").unwrap());
    }
}
