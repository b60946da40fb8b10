//! One clip or marker file into one session folder: everything that can be refused is
//! refused before the long run, and the folder appears whole or not at all.

use std::path::{Path, PathBuf};

use super::{Judged, Progress, Wanted, observe_clip, write_session};
use crate::error::{Error, Result};
use crate::files::{self, FolderWriter};
use crate::judgement::criteria::Criteria;
use crate::judgement::document::Told;
use crate::pose::{Assets, Networks};
use crate::record::markers::{self, Axis, MarkerNames};
use crate::record::read_markers;
use crate::session::Session;
use crate::{session, settings, video};

/// How clips are assessed.
#[derive(Debug, Clone)]
pub struct AssessOptions {
    /// What the user said.
    pub told: Told,
    /// The limits to judge by.
    pub criteria: Criteria,
    /// Frame rate at which slow motion was really recorded, per second.
    pub recorded_hz: Option<f64>,
    /// Names of the markers of a marker file.
    pub marker_names: MarkerNames,
    /// Upward axis of a marker file; `None`: found from the body.
    pub up: Option<Axis>,
    /// The reports.
    pub wanted: Wanted,
}

/// The networks, loaded when a clip needs them (a fraction of a second) and let go once it
/// was watched: what they take of the memory, drawing and setting the paper can have then.
#[derive(Debug, Clone)]
pub struct LazyNetworks {
    models: Option<PathBuf>,
    onnxruntime: Option<PathBuf>,
}

impl LazyNetworks {
    /// Networks to be looked for in the named places, or the usual ones.
    pub fn new(models: Option<PathBuf>, onnxruntime: Option<PathBuf>) -> Self {
        Self { models, onnxruntime }
    }

    /// Looks whether they are there and may be loaded, without doing it.
    ///
    /// # Errors
    /// Those of finding them, [`Error::RuntimeReports`].
    pub fn find(&self) -> Result<Assets> {
        let assets = Assets::find(self.models.as_deref(), self.onnxruntime.as_deref())?;
        assets.quiet_library()?;
        Ok(assets)
    }

    /// The networks.
    ///
    /// # Errors
    /// Those of finding and loading them.
    pub fn load(&self) -> Result<Networks> {
        Networks::load(&self.find()?, settings::LANES)
    }
}

/// What came of a clip.
#[derive(Debug)]
pub struct Assessed {
    /// The result.
    pub session: Session,
    /// Why a report could not be made; everything else is in the folder.
    pub failed: Vec<Error>,
}

/// Assesses a clip or marker file into the folder `place`, which may exist only where
/// `replace` says so.
///
/// # Errors
/// Those of reading, of the network, of judging and writing; [`Error::Interrupted`].
pub fn assess_file(
    path: &Path,
    place: &Path,
    replace: bool,
    settings: &AssessOptions,
    networks: &LazyNetworks,
    progress: &mut dyn Progress,
) -> Result<Assessed> {
    let markers = markers::is_motion_file(path);
    let before = files::stamp(path)?;
    session::refuse_if_reviewed(place)?;
    let (recording, folder) = if markers {
        let recording = read_markers(path, &settings.marker_names, settings.up)?;
        (recording, FolderWriter::new(place, replace)?)
    } else {
        let stop = progress.stop().clone();
        video::probe(path, &video::Options { stop, ..Default::default() })?;
        let folder = FolderWriter::new(place, replace)?;
        (observe_clip(path, settings.recorded_hz, &mut networks.load()?, progress)?, folder)
    };
    if progress.stopped() {
        return Err(Error::Interrupted);
    }
    let judged = Judged::new(&recording, &settings.told, settings.criteria.clone(), path)?;
    // Markers have no film.
    let clip = (!markers).then_some(path);
    let failed = write_session(&folder, &judged, clip, &settings.wanted, progress)?;
    // As of a clip that is still being copied.
    if files::stamp(path)? != before {
        return Err(Error::Changed(path.into()));
    }
    folder.publish_unless(session::refuse_if_reviewed)?;
    Ok(Assessed { session: judged.session, failed })
}
