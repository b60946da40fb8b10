//! Reading a session, wherever its files are.

use std::path::{Path, PathBuf};

use super::review::{self, Review, ReviewState};
use super::summary::SessionSummary;
use super::{ASSESSMENT, CRITERIA, FIGURES, Figures, HEADS, LANDMARKS, MOTION, REVIEW, Session};
use crate::error::{Error, Result};
use crate::files;
use crate::judgement::criteria::Criteria;
use crate::judgement::document::{self, Assessment, Origin};
use crate::record::markers::{MarkerNames, read_motion};
use crate::record::{Recording, read_heads, read_landmarks};

/// The files of a session, wherever they are: in its folder, or in an archive.
pub trait SessionFiles {
    /// What the session is called in messages.
    fn shown(&self) -> PathBuf;

    /// True if it has a file of that name.
    fn has(&self, name: &str) -> bool;

    /// Content of a file; `None` where there is none.
    ///
    /// # Errors
    /// Where it is there and cannot be read, or is not what it was.
    fn content(&self, name: &str) -> Result<Option<Vec<u8>>>;
}

impl SessionFiles for Path {
    fn shown(&self) -> PathBuf {
        self.into()
    }

    fn has(&self, name: &str) -> bool {
        files::bring_back(self);
        files::exists(&self.join(name))
    }

    fn content(&self, name: &str) -> Result<Option<Vec<u8>>> {
        self.has(name).then(|| files::read_bytes(&self.join(name))).transpose()
    }
}

impl SessionFiles for PathBuf {
    fn shown(&self) -> PathBuf {
        self.clone()
    }

    fn has(&self, name: &str) -> bool {
        self.as_path().has(name)
    }

    fn content(&self, name: &str) -> Result<Option<Vec<u8>>> {
        self.as_path().content(name)
    }
}

pub(super) fn bad(path: &Path, why: String) -> Error {
    Error::Session { path: path.into(), why }
}

/// A file as text, with what it is called in messages.
fn text<F: SessionFiles + ?Sized>(of: &F, name: &str) -> Result<Option<(String, PathBuf)>> {
    let Some(content) = of.content(name)? else { return Ok(None) };
    let path = of.shown().join(name);
    match String::from_utf8(content) {
        Ok(text) => Ok(Some((text, path))),
        Err(_) => Err(bad(&path, "it is not UTF-8 text".into())),
    }
}

/// Reads back how a session was judged.
///
/// # Errors
/// [`Error::Session`] with what is wrong.
pub fn read_assessment<F: SessionFiles + ?Sized>(session: &F) -> Result<Assessment> {
    let Some((text, path)) = text(session, ASSESSMENT)? else {
        let shown = session.shown();
        let why = match (files::is_folder(&shown), files::exists(&shown)) {
            (true, _) => format!("there is no {ASSESSMENT} in it"),
            (false, true) => "it is a file".into(),
            (false, false) => "it does not exist".into(),
        };
        return Err(bad(&shown, why));
    };
    let assessment: Assessment =
        serde_json::from_str(&text).map_err(|e| bad(&path, e.to_string()))?;
    if assessment.schema != document::SCHEMA {
        return Err(bad(&path, format!("its schema is «{}»", assessment.schema)));
    }
    Ok(assessment)
}

/// SHA-256 of the file that tells how a session was judged, hex: what a review is bound to.
///
/// # Errors
/// Those of reading it.
fn assessment_sha256<F: SessionFiles + ?Sized>(session: &F) -> Result<String> {
    Ok(files::sha256_of(&session.content(ASSESSMENT)?.unwrap_or_default()))
}

/// Reads back what a clinician said of a session; `None` where nobody did.
///
/// # Errors
/// [`Error::Session`] where it cannot be read or speaks of another assessment.
pub fn read_review<F: SessionFiles + ?Sized>(session: &F) -> Result<Option<Review>> {
    let Some((text, path)) = text(session, REVIEW)? else { return Ok(None) };
    let review: Review = serde_json::from_str(&text).map_err(|e| bad(&path, e.to_string()))?;
    if review.schema != review::SCHEMA {
        return Err(bad(&path, format!("its schema is «{}»", review.schema)));
    }
    if review.assessment_sha256 != assessment_sha256(session)? {
        return Err(bad(&path, format!("it speaks of another {ASSESSMENT}")));
    }
    Ok(Some(review))
}

/// The same, or one that says nothing yet.
///
/// # Errors
/// Those of [`read_review`].
pub fn review_so_far<F: SessionFiles + ?Sized>(session: &F) -> Result<Review> {
    match read_review(session)? {
        Some(review) => Ok(review),
        None => Ok(Review::new(assessment_sha256(session)?)),
    }
}

/// Reads back the limits a session was judged by.
///
/// # Errors
/// Those of [`Criteria::parse`].
pub fn read_criteria<F: SessionFiles + ?Sized>(session: &F) -> Result<Criteria> {
    match text(session, CRITERIA)? {
        Some((text, path)) => Criteria::parse(&text, &path),
        None => Criteria::built_in(),
    }
}

/// Reads back drawings and pictures; sessions of the first versions have none.
///
/// # Errors
/// [`Error::Session`] where they cannot be read.
pub fn read_figures<F: SessionFiles + ?Sized>(session: &F) -> Result<Figures> {
    let Some((text, path)) = text(session, FIGURES)? else { return Ok(Figures::default()) };
    serde_json::from_str(&text).map_err(|e| bad(&path, e.to_string()))
}

/// Reads back what was seen, which is all that is needed to judge a session again: of a
/// film its landmarks, of markers their points.
///
/// # Errors
/// [`Error::Session`] with what is wrong, [`Error::Missing`].
pub fn read_recording(folder: &Path, assessment: &Assessment) -> Result<Recording> {
    let film = assessment.source == Origin::Film;
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
    let (clip, filming) = (assessment.clip.clone(), assessment.filming.clone());
    Ok(Recording { clip, filming, frames, heads, motion })
}

/// A session in a few numbers, as it stands after its review.
///
/// # Errors
/// Those of reading it.
pub fn summary<F: SessionFiles + ?Sized>(session: &F) -> Result<SessionSummary> {
    // Of a session that nobody reviewed the limits need not be read.
    match session.has(REVIEW) {
        true => Ok(Session::open(session)?.summary()),
        false => Ok(SessionSummary::of(&read_assessment(session)?, ReviewState::NotReviewed)),
    }
}

/// How a clip was assessed into the folder `place` before; `None` where nothing is there.
///
/// # Errors
/// [`Error::ResultsOfAnother`] where something else is there; those of reading the clip.
pub fn of_clip(place: &Path, clip: &Path) -> Result<Option<Session>> {
    files::bring_back(place);
    if !files::exists(place) {
        return Ok(None);
    }
    let sha256 = files::sha256(clip)?;
    let another = || Error::ResultsOfAnother(place.into());
    let machine = read_assessment(place).map_err(|_| another())?;
    if machine.clip.sha256 != sha256 {
        return Err(another());
    }
    // Limits or a review that cannot be read are for the commands that rest on them to refuse.
    Ok(Some(match read_criteria(place) {
        Ok(criteria) => Session::new(machine, read_review(place).ok().flatten(), criteria),
        Err(_) => Session::new(machine, None, Criteria::built_in()?),
    }))
}
