//! What is written about people is for the user alone: the one place that sets permissions.
//!
//! Folders are 0700 and files 0600 (0400 where they are not to be written again), whatever
//! the umask. Where there are no such modes, as on Windows, the user's own folders are
//! private already.

use std::fs;
use std::io;
use std::path::Path;

use super::sync_folder;

const FOLDER: u32 = 0o700;
const FILE: u32 = 0o600;
const KEPT_FILE: u32 = 0o400;

/// Opens a file for writing, and makes it where it is missing.
pub(super) fn open(path: &Path) -> io::Result<fs::File> {
    let mut options = fs::File::options();
    options.create(true).truncate(false).write(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, FILE);
    options.open(path)
}

/// Makes an empty file, in place of what is there.
pub(super) fn create(path: &Path) -> io::Result<fs::File> {
    let file = open(path)?;
    set_mode(path, FILE)?;
    file.set_len(0)?;
    Ok(file)
}

/// Makes a folder.
pub(super) fn make_folder(path: &Path) -> io::Result<()> {
    #[cfg_attr(not(unix), allow(unused_mut))]
    let mut folder = fs::DirBuilder::new();
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut folder, FOLDER);
    folder.create(path)?;
    close_folder(path)
}

/// Makes a folder that is there private.
pub(super) fn close_folder(path: &Path) -> io::Result<()> {
    set_mode(path, FOLDER)
}

/// Makes a folder and those above it; one that exists is left alone.
pub(super) fn make_folders(path: &Path) -> io::Result<()> {
    if path.as_os_str().is_empty() || path.is_dir() {
        return Ok(());
    }
    path.parent().map_or(Ok(()), make_folders)?;
    match make_folder(path) {
        Err(_) if path.is_dir() => Ok(()),
        made => made,
    }
}

/// Makes a file read-only, for the user too.
pub(super) fn keep(path: &Path) -> io::Result<()> {
    if cfg!(unix) {
        return set_mode(path, KEPT_FILE);
    }
    let mut permissions = fs::metadata(path)?.permissions();
    permissions.set_readonly(true);
    fs::set_permissions(path, permissions)
}

/// Makes a file or folder private with all that is in it, whoever put it there, and brings
/// it through to the disk. Read-only files stay so.
pub(super) fn seal(path: &Path) -> io::Result<()> {
    let meta = fs::symlink_metadata(path)?;
    if meta.is_dir() {
        for entry in fs::read_dir(path)? {
            seal(&entry?.path())?;
        }
        close_folder(path)?;
        sync_folder(path)
    } else if !meta.is_file() {
        Ok(()) // A link has no mode of its own.
    } else if meta.permissions().readonly() {
        keep(path)
    } else {
        set_mode(path, FILE)?;
        fs::File::options().append(true).open(path)?.sync_all()
    }
}

#[cfg(unix)]
fn set_mode(path: &Path, mode: u32) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    match fs::set_permissions(path, fs::Permissions::from_mode(mode)) {
        // Of what is ours this says that the drive knows no modes, as a memory stick.
        Err(e)
            if matches!(e.kind(), io::ErrorKind::PermissionDenied | io::ErrorKind::Unsupported) =>
        {
            Ok(())
        }
        set => set,
    }
}

#[cfg(not(unix))]
fn set_mode(_: &Path, _: u32) -> io::Result<()> {
    Ok(())
}

#[cfg(all(test, unix))]
mod tests {
    use std::os::unix::fs::PermissionsExt;

    use super::*;

    fn mode(path: &Path) -> u32 {
        fs::symlink_metadata(path).unwrap().permissions().mode() & 0o7777
    }

    #[test]
    fn what_others_made_is_closed_and_what_is_read_only_stays_so() {
        let dir = tempfile::tempdir().unwrap();
        let inner = dir.path().join("inner");
        fs::create_dir(&inner).unwrap();
        for (name, before, after) in
            [("film", 0o644, FILE), ("open", 0o666, FILE), ("kept", 0o444, KEPT_FILE)]
        {
            let path = inner.join(name);
            fs::write(&path, name).unwrap();
            fs::set_permissions(&path, fs::Permissions::from_mode(before)).unwrap();
            seal(dir.path()).unwrap();
            assert_eq!(mode(&path), after, "{name}");
        }
        assert_eq!((mode(dir.path()), mode(&inner)), (FOLDER, FOLDER));
    }

    #[test]
    fn what_we_make_is_private_from_the_beginning() {
        let dir = tempfile::tempdir().unwrap();
        let deep = dir.path().join("a/b/c");
        make_folders(&deep).unwrap();
        make_folders(&deep).unwrap();
        assert!(["a", "a/b", "a/b/c"].iter().all(|name| mode(&dir.path().join(name)) == FOLDER));
        let file = deep.join("file");
        fs::write(&file, "longer than before").unwrap();
        fs::set_permissions(&file, fs::Permissions::from_mode(0o664)).unwrap();
        drop(create(&file).unwrap());
        assert_eq!((mode(&file), fs::read(&file).unwrap().len()), (FILE, 0));
        keep(&file).unwrap();
        assert_eq!(mode(&file), KEPT_FILE);
    }
}
