//! The note beside a clip that could not be assessed: for the person who looks into the
//! folder, and for whoever watches the folder and by it knows the clip again.

use std::path::{Path, PathBuf};

use crate::error::{Error, Result};
use crate::files::{self, Stamp};
use crate::report::wording;

/// The note of a clip, whether it is there or not.
#[derive(Debug)]
pub struct Note {
    clip: PathBuf,
    path: PathBuf,
}

impl Note {
    /// `NAME.not-assessed.txt` beside the clip, NAME with its ending; of a very long name the
    /// beginning.
    pub fn of(clip: &Path) -> Self {
        let name = files::name_with(clip.file_name().unwrap_or_default(), ".not-assessed.txt");
        Self { clip: clip.into(), path: clip.with_file_name(name) }
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Writes why the clip, as it is now, could not be assessed, and what to do about it.
    ///
    /// # Errors
    /// [`Error::CannotWrite`].
    pub fn write(&self, stamp: Stamp, why: &Error, hint: Option<String>) -> Result<()> {
        let text = wording::clips::not_assessed(&self.clip, why, hint);
        files::write_text(&self.path, &format!("{text}\n{}\n", line(stamp)))
    }

    /// True if it is there and speaks of the clip as it is now.
    pub fn speaks_of(&self, stamp: Stamp) -> bool {
        let text = files::read_text_lossy(&self.path).unwrap_or_default();
        text.lines().any(|own| own.trim() == line(stamp))
    }

    /// Removes it, if it is there.
    ///
    /// # Errors
    /// [`Error::CannotWrite`].
    pub fn remove(&self) -> Result<()> {
        files::remove(&self.path)
    }
}

/// By this line the clip is known again.
fn line(stamp: Stamp) -> String {
    format!("(Clip of {} bytes, changed {})", stamp.bytes, stamp.changed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_speaks_of_the_clip_as_it_was() {
        let dir = tempfile::tempdir().unwrap();
        let clip = dir.path().join("knee.mp4");
        files::write_text(&clip, "no film").unwrap();
        let stamp = files::stamp(&clip).unwrap();
        let note = Note::of(&clip);
        assert!(note.path().ends_with("knee.mp4.not-assessed.txt") && !note.speaks_of(stamp));
        let hint = Some("film the whole set".into());
        note.write(stamp, &Error::StillPicture(clip.clone()), hint).unwrap();
        assert!(note.speaks_of(stamp));
        assert!(!note.speaks_of(Stamp { bytes: stamp.bytes + 1, ..stamp }));
        let text = files::read_text(note.path()).unwrap();
        assert!(text.contains("still picture") && text.contains("film the whole set"), "{text}");
        note.remove().unwrap();
        assert!(!files::exists(note.path()));
    }
}
