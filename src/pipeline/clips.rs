//! Which files of a folder are clips to assess.

use std::path::{Path, PathBuf};

use crate::error::Result;
use crate::record::is_recording;
use crate::{files, session};

/// The clips and marker files in a folder, by name; with `recursive` also those of the
/// folders in it. Hidden ones, and the results of this program, are none.
///
/// # Errors
/// Those of reading the folder.
pub fn clips_in(folder: &Path, recursive: bool) -> Result<Vec<PathBuf>> {
    if is_session(folder) {
        return Ok(Vec::new());
    }
    let listing = files::list(folder)?;
    let mut clips: Vec<PathBuf> = listing.files.into_iter().filter(|f| is_clip(f)).collect();
    if recursive {
        for inside in listing.folders.iter().filter(|f| !is_hidden(f)) {
            clips.extend(clips_in(inside, true)?);
        }
    }
    Ok(clips)
}

fn is_session(folder: &Path) -> bool {
    let named = folder.extension().is_some_and(|e| e.eq_ignore_ascii_case("plumbrise"));
    named || files::exists(&folder.join(session::ASSESSMENT))
}

/// By its name only.
fn is_clip(path: &Path) -> bool {
    let ours = path.file_name().is_some_and(|name| name == session::FILM);
    is_recording(path) && !ours && !is_hidden(path)
}

/// Dot-files, and what editors and synchronisers begin with a tilde.
fn is_hidden(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    name.starts_with(['.', '~'])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clips_are_known_by_their_names() {
        let is = |name: &str| is_clip(Path::new(name));
        for name in ["a.mp4", "IMG_0001.MOV", "walk.Trc", "knie 2.m4v"] {
            assert!(is(name), "{name}");
        }
        // What browsers and phones' sync programs call a file on its way.
        for name in [
            "a.mp4.part",
            "a.mp4.crdownload",
            "a.mp4.tmp",
            ".a.mp4",
            "._a.mp4",
            "~a.mp4",
            "a.mp4~",
            "annotated.mp4",
            "notes.txt",
            "mp4",
            "photo.jpg",
        ] {
            assert!(!is(name), "{name}");
        }
    }
}
