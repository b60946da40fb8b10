//! Assesses phone video of a person rising from a chair, rep by rep.
//!
//! ```text
//! marker file ─ motion ─▶ points ───────────┐
//! clip ─ video ─▶ frames ─ pose ─▶ landmarks ─ kinematics ─▶ courses
//!                                                              │
//!      session ◀─ report ◀─ assessment ◀─ judgement ◀─ repetition
//! ```
//!
//! Data flow one way; a module may use only what stands before it in the order
//! of `tests/layers.rs`. [`pipeline`] turns a clip into a
//! [`record::Recording`], [`record::read_markers`] a marker file, [`assess`] turns that into an
//! [`assessment::Assessment`], [`session`] keeps both.
//!
//! # Units and spaces
//!
//! SI inside, centimetres and degrees in what people read; units are in the
//! names (`_m`, `_px`, `_s`, `_deg`, `_rad`, `_hz`). Picture: u right, v down,
//! pixels of the upright clip. Body: X to the picture's right, Y up, Z toward
//! the camera, from the stance ankle; «medial» is toward the other leg and
//! positive for either leg. Time: seconds from the clip's first frame.
//!
//! # Judging a stored session again
//!
//! ```no_run
//! use std::path::Path;
//!
//! let folder = Path::new("monday.plumbrise");
//! let stored = plumbrise::session::read(folder)?;
//! let told = stored.assessment.told;
//! let criteria = plumbrise::session::read_criteria(folder)?;
//! let (assessment, _) = plumbrise::assess(&stored.recording, &told, &criteria, folder)?;
//! println!("{} of {} reps clean", assessment.set.clean, assessment.set.reps);
//! # Ok::<(), plumbrise::Error>(())
//! ```
//!
//! Keys in brackets such as \[Winter2009\] are publications, listed in
//! [`references`].

// Publication keys in brackets are not links.
#![allow(rustdoc::broken_intra_doc_links)]

pub mod agreement;
pub mod anthropometry;
#[cfg(feature = "archive")]
pub mod archive;
mod assess;
pub mod assessment;
#[cfg(feature = "cli")]
pub mod cli;
pub mod comparison;
pub mod criteria;
pub mod drawing;
pub mod error;
pub mod export;
pub mod files;
pub mod film;
pub mod judgement;
pub mod kinematics;
pub mod labels;
pub mod motion;
#[cfg(feature = "video")]
pub mod overlay;
pub mod person;
#[cfg(feature = "network")]
pub mod pipeline;
pub mod pose;
pub mod record;
pub mod references;
pub mod repetition;
pub mod report;
pub mod review;
pub mod session;
pub mod settings;
pub mod shown;
pub mod signal;
pub mod skeleton;
pub mod statistics;
pub mod summary;
pub mod trajectory;
pub mod trend;
pub mod uncertainty;
#[cfg(feature = "video")]
pub mod video;

pub use assess::assess;
pub use error::{Error, Result};
