//! Names that fit, and places by one name however they are called.

use std::ffi::{OsStr, OsString};
use std::io;
use std::path::{Path, PathBuf};

use super::lock::LockFile;
use super::{UNFINISHED, sha256_of};

/// Longest name of a file on the usual drives, bytes (NAME_MAX of Linux; other systems count
/// letters, and have room for as many).
const LONGEST_NAME: usize = 255;

/// Hex digits that stand for what was cut off a name: of 10,000 names with the same
/// beginning, one chance in five million that two become the same (birthday bound).
const CUT_DIGITS: usize = 12;

/// Hex digits that stand for a name in that of its lock; two names with the same would only
/// wait for each other.
const LOCK_DIGITS: usize = 16;

/// A name with an ending. Where that is too long for a drive, the beginning of the name and
/// digits that stand for the whole of it.
pub fn name_with(name: &OsStr, ending: &str) -> OsString {
    let mut whole = name.to_owned();
    whole.push(ending);
    if whole.len() <= LONGEST_NAME {
        return whole;
    }
    let ending = format!("-{}{ending}", digits(name.as_encoded_bytes(), CUT_DIGITS));
    let text = name.to_string_lossy();
    let room = text.floor_char_boundary(LONGEST_NAME.saturating_sub(ending.len()));
    (text.get(..room).unwrap_or_default().to_owned() + &ending).into()
}

/// Where something is or is to be: links and roundabout ways undone, so that all who mean
/// the same place get the same.
#[derive(Debug)]
pub(super) struct Place {
    /// The whole path.
    pub path: PathBuf,
    /// The folder it lies in.
    pub folder: PathBuf,
}

impl Place {
    /// # Errors
    /// Where it has no name or lies in no folder.
    pub fn of(named: &Path) -> io::Result<Self> {
        let path = match named.canonicalize() {
            Ok(path) => path,
            Err(_) => {
                let name = named.file_name().ok_or(io::ErrorKind::InvalidFilename)?;
                let folder = folder_of(named).canonicalize().map_err(|e| match e.kind() {
                    kind @ io::ErrorKind::NotFound => {
                        io::Error::new(kind, "its parent folder does not exist")
                    }
                    _ => e,
                })?;
                folder.join(name)
            }
        };
        let folder = path.parent().ok_or(io::ErrorKind::InvalidFilename)?.into();
        Ok(Self { path, folder })
    }

    /// Waits until nobody else replaces or changes what is there. The lock lies beside it,
    /// as what is there goes when it is replaced.
    pub fn lock(&self) -> io::Result<LockFile> {
        // Where the drive does not mind the case of letters, both names are one place.
        let name = self.path.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
        let digits = digits(name.as_bytes(), LOCK_DIGITS);
        LockFile::wait(&self.folder.join(format!("{UNFINISHED}{digits}.lock")))
    }
}

/// The folder that something named lies in.
pub(super) fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// The first digits of the SHA-256.
fn digits(bytes: &[u8], count: usize) -> String {
    let mut digits = sha256_of(bytes);
    digits.truncate(count);
    digits
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_fits_stays_and_a_longer_one_is_cut_between_letters() {
        let with = |name: &str| name_with(OsStr::new(name), ".ending").into_string().unwrap();
        let longest = "a".repeat(LONGEST_NAME - ".ending".len());
        assert_eq!(with(&longest), longest.clone() + ".ending");
        for letter in ["a", "ü", "膝", "🦵"] {
            let long = letter.repeat(LONGEST_NAME / letter.len());
            let [one, other] = [with(&(long.clone() + "1")), with(&(long.clone() + "2"))];
            assert_ne!(one, other);
            for name in [&one, &other] {
                assert!(name.len() <= LONGEST_NAME && name.len() > LONGEST_NAME - letter.len());
                let digits = CUT_DIGITS + "-".len() + ".ending".len();
                let (start, end) = name.split_at(name.len() - digits);
                assert!(long.starts_with(start) && end.ends_with(".ending"), "{name}");
            }
        }
    }

    #[cfg(unix)]
    #[test]
    fn a_place_is_the_same_by_any_name() {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join("folder");
        std::fs::create_dir(&folder).unwrap();
        let link = dir.path().join("link");
        std::os::unix::fs::symlink(&folder, &link).unwrap();
        let path = Place::of(&folder).unwrap().path;
        for named in [&link, &link.join(""), &folder.join("../folder/."), &folder.join(".")] {
            assert_eq!(Place::of(named).unwrap().path, path, "{named:?}");
        }
        assert_eq!(Place::of(&link.join("new")).unwrap().path, path.join("new"));
        assert!(Place::of(Path::new("/")).is_err() && Place::of(Path::new("")).is_err());
        let nowhere = Place::of(&folder.join("no/where")).unwrap_err();
        assert!(nowhere.to_string().contains("parent folder"), "{nowhere}");
    }
}
