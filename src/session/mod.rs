//! A session: how one set was judged, what a clinician said of it, and the folder that keeps
//! both, readable without us.

mod figures;
mod neutral;
pub mod person;
mod reps_table;
pub mod review;
mod stored;
pub mod summary;
mod write;

use std::path::{Path, PathBuf};

pub use figures::{Faces, Figures, FilmClock, KeyPicture, Moment, Plot, SLOWER};
pub use neutral::{Neutral, id};
pub use reps_table::write_reps;
pub use stored::{
    SessionFiles, of_clip, read_assessment, read_criteria, read_figures, read_recording,
    read_review, review_so_far, summary,
};
pub use write::{refuse_if_reviewed, write, write_figures, write_review};

use crate::error::Result;
use crate::files;
use crate::judgement::criteria::Criteria;
use crate::judgement::document::Assessment;
use review::{Review, ReviewState};
use summary::SessionSummary;

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
/// Drawings and pictures of the reports.
pub const FIGURES: &str = "figures.json";
/// What a clinician said of it; only where somebody did.
pub const REVIEW: &str = "review.json";
/// The film with what was seen drawn on it.
pub const FILM: &str = "annotated.mp4";
/// The report as a page for a browser.
pub const PAGE: &str = "report.html";
/// The report on paper.
pub const PAPER: &str = "report.pdf";

/// Default place: beside the clip, `CLIP-name.plumbrise`; of a very long name the beginning.
pub fn beside(clip: &Path) -> PathBuf {
    clip.with_file_name(files::name_with(clip.file_stem().unwrap_or_default(), ".plumbrise"))
}

/// How a set was judged and what was said of it since. Whoever needs more of a session
/// (drawings, landmarks) reads that from its files.
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    /// As the program judged it; never changed.
    pub machine: Assessment,
    /// What a clinician said of it; `None` where nobody did.
    pub review: Option<Review>,
    /// As it stands after the review.
    pub in_force: Assessment,
    /// The limits it was judged by.
    pub criteria: Criteria,
}

impl Session {
    /// A session as it stands after what was said of it, if anything was. This is the one
    /// place where a review takes effect.
    pub fn new(machine: Assessment, review: Option<Review>, criteria: Criteria) -> Self {
        let in_force = match &review {
            Some(review) => review.applied(&machine, &criteria),
            None => machine.clone(),
        };
        Self { machine, review, in_force, criteria }
    }

    /// Opens a session.
    ///
    /// # Errors
    /// [`Error::Session`](crate::Error::Session) with what is wrong, those of
    /// [`Criteria::parse`].
    pub fn open<F: SessionFiles + ?Sized>(files: &F) -> Result<Self> {
        let machine = read_assessment(files)?;
        Ok(Self::new(machine, read_review(files)?, read_criteria(files)?))
    }

    /// How far it is reviewed.
    pub fn state(&self) -> ReviewState {
        self.review.as_ref().map(Review::state).unwrap_or_default()
    }

    /// In a few numbers, as it stands.
    pub fn summary(&self) -> SessionSummary {
        SessionSummary::of(&self.in_force, self.state())
    }
}
