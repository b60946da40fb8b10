//! A session as it may leave the house: under a name of its clip that tells nothing of the
//! person.

use std::path::Path;

use super::{Session, SessionFiles, read_assessment};
use crate::error::{Error, Result};
use crate::files;
use crate::judgement::document::Assessment;
use crate::record::is_recording;

/// Digits of a session's id: for 10,000 sessions one chance in five million that two share
/// it (birthday bound, 2⁻⁴⁸·n²/2).
const ID_DIGITS: usize = 12;

/// A session under a neutral name of its clip.
#[derive(Debug, Clone)]
pub struct Neutral {
    /// The session; its review speaks of [`Neutral::document`].
    pub session: Session,
    /// Its assessment as a file.
    pub document: String,
}

impl Session {
    /// The session under a name of its clip that tells nothing of the person.
    ///
    /// # Errors
    /// [`Error::Session`] where it cannot be written as a document.
    pub fn neutral(&self) -> Result<Neutral> {
        let mut session = self.clone();
        let document = neutral_document(&mut session.machine)?;
        session.in_force.clip.file.clone_from(&session.machine.clip.file);
        if let Some(review) = &mut session.review {
            review.assessment_sha256 = files::sha256_of(document.as_bytes());
        }
        Ok(Neutral { session, document })
    }
}

/// What a session is called outside its folder, in archives and exports: the first digits of
/// the SHA-256 of its assessment under a neutral name of the clip.
///
/// # Errors
/// Those of reading it.
pub fn id<F: SessionFiles + ?Sized>(session: &F) -> Result<String> {
    let document = neutral_document(&mut read_assessment(session)?)?;
    let mut id = files::sha256_of(document.as_bytes());
    id.truncate(ID_DIGITS);
    Ok(id)
}

/// Gives the clip a neutral name, and the assessment as the text of its file.
fn neutral_document(assessment: &mut Assessment) -> Result<String> {
    assessment.clip.file = neutral_name(assessment);
    let text = serde_json::to_string_pretty(assessment).map_err(|e| Error::Session {
        path: assessment.clip.file.clone().into(),
        why: e.to_string(),
    })?;
    Ok(text + "\n")
}

/// A clip's name that tells only which clip it is. It keeps its ending, if that is one of a
/// clip or marker file: a document may say anything.
fn neutral_name(assessment: &Assessment) -> String {
    let file = Path::new(&assessment.clip.file);
    let ending = file.extension().and_then(|e| e.to_str()).filter(|_| is_recording(file));
    let start = assessment.clip.sha256.get(..ID_DIGITS).unwrap_or_default();
    match ending {
        Some(ending) => format!("clip-{start}.{}", ending.to_lowercase()),
        None => format!("clip-{start}"),
    }
}
