//! Sessions of one person over weeks.

use std::path::PathBuf;

use clap::Args;

use super::leaflet::{self, Output};
use super::run::Stop;
use super::sessions::Source;
use crate::report;
use crate::trend::Trend;

#[derive(Debug, Args)]
#[command(after_help = TREND)]
pub(super) struct TrendArgs {
    /// Sessions of one person: folders that 'plumbrise assess' made, each with the day of
    /// filming behind it (FOLDER=2026-05-04) where the clip does not tell it
    #[arg(long, value_name = "FOLDER[=DAY]", num_args = 1.., required = true)]
    pub sessions: Vec<PathBuf>,
    #[command(flatten)]
    pub output: Output,
}

const TREND: &str = "\
A difference is called change only beyond the minimal detectable change. For most
measures that is learnt from sessions of the same leg and exercise that were repeated on
one day: give those too.";

pub(super) fn run(arguments: &TrendArgs) -> Result<(), Stop> {
    let source = Source::folders(&arguments.sessions)?;
    let trend = Trend::of(source.person, source.sessions, &source.repeats);
    let report = report::trend(&trend, leaflet::today());
    leaflet::deliver("trend", &trend, &report, &arguments.output)
}
