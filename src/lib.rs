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
//! [`judgement::document::Assessment`], [`session`] keeps both.
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
//! let stored = plumbrise::session::Session::open(folder)?;
//! let recording = plumbrise::session::read_recording(folder, &stored.machine)?;
//! let told = stored.machine.told;
//! let again = plumbrise::assess(&recording, &told, &stored.criteria, folder)?;
//! let set = &again.assessment.set;
//! println!("{} of {} reps clean", set.clean, set.reps);
//! # Ok::<(), plumbrise::Error>(())
//! ```
//!
//! Keys in brackets such as \[Winter2009\] are publications, listed in
//! [`references`].

// Publication keys in brackets are not links.
#![allow(rustdoc::broken_intra_doc_links)]

#[cfg(feature = "archive")]
pub mod archive;
pub mod between;
pub mod body;
#[cfg(feature = "cli")]
pub mod cli;
pub mod error;
pub mod export;
pub mod files;
pub mod film_check;
pub mod judgement;
pub mod movement;
#[cfg(feature = "network")]
pub mod pipeline;
#[cfg(feature = "network")]
pub mod pose;
pub mod record;
pub mod references;
pub mod report;
pub mod session;
pub mod settings;
pub mod shown;
pub mod signal;
pub mod statistics;
#[cfg(feature = "video")]
pub mod video;

pub use error::{Error, Result};
pub use judgement::{Judgement, assess};
