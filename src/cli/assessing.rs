//! What `assess` and `watch` share: how clips are assessed, many at a time.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use clap::{Args, ValueEnum};

use super::args::{Places, Reports, ToldArgs, within};
use super::common::limits;
use super::progress::Board;
use super::remedies::hint;
use crate::error::{Error, Result};
use crate::judgement::document::Told;
use crate::pipeline::{AssessOptions, Done, Existing, LazyNetworks, Task, assess_files};
use crate::record::markers::{Axis, MarkerNames};
use crate::report::{ClipLine, ClipState};

#[derive(Debug, Args)]
pub(super) struct Assessing {
    #[command(flatten)]
    pub told: ToldArgs,
    /// Frame rate at which slow-motion clips were really recorded, per second
    #[arg(long, value_name = "HZ")]
    pub recorded_fps: Option<f64>,
    /// Upward axis of a marker file (.trc) [default: found from the body]
    #[arg(long, value_enum, value_name = "AXIS")]
    pub up: Option<Up>,
    /// Names of markers other than the common ones (see 'plumbrise markers')
    #[arg(long, value_name = "FILE")]
    pub markers: Option<PathBuf>,
    /// Limits other than the usual ones (see 'plumbrise criteria')
    #[arg(long, value_name = "FILE")]
    pub criteria: Option<PathBuf>,
    /// Clips at a time; each takes about 400 MB with all reports, 650 MB in 4K
    #[arg(long, value_name = "N", default_value_t = 1,
          value_parser = clap::value_parser!(u16).range(1..))]
    pub jobs: u16,
    #[command(flatten)]
    pub places: Places,
    #[command(flatten)]
    pub reports: Reports,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum Up {
    X,
    Y,
    Z,
}

impl Up {
    fn axis(self) -> Axis {
        match self {
            Up::X => Axis::X,
            Up::Y => Axis::Y,
            Up::Z => Axis::Z,
        }
    }
}

impl Assessing {
    /// How each clip is assessed.
    ///
    /// # Errors
    /// Those of sizes nobody has, and of reading limits and marker names.
    pub fn settings(&self) -> Result<AssessOptions> {
        within("--recorded-fps", self.recorded_fps, 10.0..=1000.0, "10 to 1000")?;
        Ok(AssessOptions {
            told: self.told.told(Told::default())?,
            criteria: limits(self.criteria.as_deref())?,
            recorded_hz: self.recorded_fps,
            marker_names: match &self.markers {
                Some(file) => MarkerNames::read(file)?,
                None => MarkerNames::built_in()?,
            },
            up: self.up.map(Up::axis),
            wanted: self.reports.wanted(),
        })
    }

    /// The networks, not loaded yet.
    pub fn networks(&self) -> LazyNetworks {
        LazyNetworks::new(self.places.models.clone(), self.places.onnxruntime.clone())
    }

    /// Assesses many clips; `finished` is told each outcome while no bar is in the way.
    pub fn assess_all(
        &self,
        tasks: &[Task],
        existing: Existing,
        settings: &AssessOptions,
        stopped: &Arc<AtomicBool>,
        mut finished: impl FnMut(&Task, Result<Done>),
    ) {
        let board = Board::new(stopped.clone());
        let progress = |task: &Task| board.bar(&task.clip);
        let jobs = usize::from(self.jobs);
        let networks = self.networks();
        assess_files(tasks, jobs, existing, settings, &networks, &progress, |number, outcome| {
            if let Some(task) = tasks.get(number) {
                board.aside(|| finished(task, outcome));
            }
        });
    }
}

/// What became of a clip, for people and programs, and why reports of it failed.
pub(super) fn line(task: &Task, outcome: &Result<Done, Error>) -> ClipLine {
    let Task { clip, place } = task;
    match outcome {
        Ok(Done::Assessed(done)) => ClipLine::assessed(clip, place, ClipState::Done, &done.session),
        Ok(Done::Before(session)) => {
            ClipLine::assessed(clip, place, ClipState::DoneBefore, session)
        }
        Err(error) => ClipLine::failed(clip, error, hint(error)),
    }
}
