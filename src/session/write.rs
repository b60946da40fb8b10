//! Writing a session's data into its folder.

use std::path::Path;

use super::review::Review;
use super::{
    ASSESSMENT, CRITERIA, FIGURES, Figures, HEADS, LANDMARKS, MOTION, REPS, REVIEW, TRAJECTORIES,
    write_reps,
};
use crate::error::{Error, Result};
use crate::files::{self, FolderWriter};
use crate::judgement::criteria::Criteria;
use crate::judgement::document::Assessment;
use crate::judgement::trajectories::Trajectories;
use crate::record::{Recording, write_heads, write_landmarks};

/// Writes the data of a session into a folder under construction.
///
/// # Errors
/// [`Error::CannotWrite`].
pub fn write(
    folder: &FolderWriter,
    recording: &Recording,
    assessment: &Assessment,
    trajectories: &Trajectories,
    criteria: &Criteria,
) -> Result<()> {
    folder.write(ASSESSMENT, |out| {
        serde_json::to_writer_pretty(&mut *out, assessment)?;
        writeln!(out)
    })?;
    folder.write(REPS, |out| write_reps(assessment, out))?;
    if recording.motion.is_none() {
        folder.write(LANDMARKS, |out| write_landmarks(&recording.frames, out))?;
        folder.write(HEADS, |out| write_heads(&recording.heads, out))?;
    }
    folder.write(MOTION, |out| trajectories.write_motion(MOTION, out))?;
    folder.write(TRAJECTORIES, |out| trajectories.write(out))?;
    let limits = criteria.to_toml()?;
    folder.write(CRITERIA, |out| out.write_all(limits.as_bytes()))
}

/// Writes what the reports draw and show.
///
/// # Errors
/// [`Error::CannotWrite`].
pub fn write_figures(folder: &FolderWriter, figures: &Figures) -> Result<()> {
    folder.write(FIGURES, |out| Ok(serde_json::to_writer(out, figures)?))
}

/// Writes what was said of a session.
///
/// # Errors
/// [`Error::CannotWrite`].
pub fn write_review(folder: &FolderWriter, review: &Review) -> Result<()> {
    folder.write(REVIEW, |out| {
        serde_json::to_writer_pretty(&mut *out, review)?;
        writeln!(out)
    })
}

/// Refuses to replace a session that a clinician has reviewed: the review would be lost. To
/// be asked early, to spare a long run, and when the folder is published, as somebody may
/// review it meanwhile.
///
/// # Errors
/// [`Error::Reviewed`].
pub fn refuse_if_reviewed(folder: &Path) -> Result<()> {
    files::bring_back(folder);
    match files::exists(&folder.join(REVIEW)) {
        true => Err(Error::Reviewed(folder.into())),
        false => Ok(()),
    }
}
