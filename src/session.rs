//! The session folder: everything of one assessment, readable without us.

use std::path::{Path, PathBuf};

use crate::assessment::{Assessment, Source};
use crate::criteria::Criteria;
use crate::error::{Error, Result};
use crate::files::{self, FolderWriter};
use crate::motion::{MarkerNames, read_motion};
use crate::record::{Recording, read_heads, read_landmarks, write_heads, write_landmarks};
use crate::report;
use crate::trajectory::Trajectories;

/// The document of the output contract.
pub const ASSESSMENT: &str = "assessment.json";
/// One row a rep.
pub const REPS: &str = "reps.csv";
/// Landmarks of every analysed frame.
pub const LANDMARKS: &str = "landmarks.csv";
/// Every head that was seen, so that faces can be hidden again.
pub const HEADS: &str = "heads.csv";
/// The courses the judgement rests on.
pub const TRAJECTORIES: &str = "trajectories.csv";
/// The points the measures rest on, for laboratory programs.
pub const MOTION: &str = "motion.trc";
/// The limits in force.
pub const CRITERIA: &str = "criteria.toml";

/// Default place: beside the clip, `CLIP-name.plumbrise`.
pub fn beside(clip: &Path) -> PathBuf {
    let mut name = clip.file_stem().unwrap_or_default().to_owned();
    name.push(".plumbrise");
    clip.with_file_name(name)
}

/// The film with what was seen drawn on it.
pub const FILM: &str = "annotated.mp4";
/// The report as a page for a browser.
pub const PAGE: &str = "report.html";
/// The report on paper.
pub const PAPER: &str = "report.pdf";

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
    folder.write(REPS, |out| report::write_reps(assessment, out))?;
    if recording.motion.is_none() {
        folder.write(LANDMARKS, |out| write_landmarks(&recording.frames, out))?;
        folder.write(HEADS, |out| write_heads(&recording.heads, out))?;
    }
    folder.write(MOTION, |out| trajectories.write_motion(MOTION, out))?;
    folder.write(TRAJECTORIES, |out| trajectories.write(out))?;
    folder.write(CRITERIA, |out| out.write_all(criteria.to_toml().as_bytes()))
}

/// A session read back.
#[derive(Debug, Clone)]
pub struct Stored {
    /// What was seen.
    pub recording: Recording,
    /// How it was judged.
    pub assessment: Assessment,
}

fn bad(path: &Path, why: String) -> Error {
    Error::Session { path: path.into(), why }
}

/// Reads back how a session was judged.
///
/// # Errors
/// [`Error::Session`] with what is wrong, [`Error::Missing`].
pub fn read_assessment(folder: &Path) -> Result<Assessment> {
    if !folder.is_dir() {
        let why = if files::exists(folder) { "it is a file" } else { "it does not exist" };
        return Err(bad(folder, why.into()));
    }
    let path = folder.join(ASSESSMENT);
    if !files::exists(&path) {
        return Err(bad(folder, format!("there is no {ASSESSMENT} in it")));
    }
    let assessment: Assessment =
        serde_json::from_str(&files::read_text(&path)?).map_err(|e| bad(&path, e.to_string()))?;
    if assessment.schema != crate::assessment::SCHEMA {
        return Err(bad(&path, format!("its schema is «{}»", assessment.schema)));
    }
    Ok(assessment)
}

/// Reads back what is needed to judge a session again.
///
/// # Errors
/// [`Error::Session`] with what is wrong, [`Error::Missing`].
pub fn read(folder: &Path) -> Result<Stored> {
    let assessment = read_assessment(folder)?;
    // A film is judged again from its landmarks, markers from their points.
    let film = assessment.source == Source::Film;
    let kept = if film { LANDMARKS } else { MOTION };
    let path = folder.join(kept);
    if !files::exists(&path) {
        return Err(bad(folder, format!("there is no {kept} in it")));
    }
    let (frames, motion) = if film {
        (read_landmarks(files::open(&path)?, &path)?, None)
    } else {
        (Vec::new(), Some(read_motion(&path, &MarkerNames::built_in()?, None)?.motion))
    };
    if film && frames.is_empty() {
        return Err(bad(&path, "it holds no frame".into()));
    }
    // Sessions of the first versions have none.
    let heads_path = folder.join(HEADS);
    let heads = match film && files::exists(&heads_path) {
        true => read_heads(files::open(&heads_path)?, &heads_path)?,
        false => Vec::new(),
    };
    let recording = Recording {
        clip: assessment.clip.clone(),
        filming: assessment.filming.clone(),
        frames,
        heads,
        motion,
    };
    Ok(Stored { recording, assessment })
}

/// Reads back the limits a session was judged by.
///
/// # Errors
/// Those of [`Criteria::read`].
pub fn read_criteria(folder: &Path) -> Result<Criteria> {
    let path = folder.join(CRITERIA);
    if files::exists(&path) { Criteria::read(&path) } else { Criteria::built_in() }
}
