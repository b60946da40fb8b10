//! Sessions of one person over weeks.

use std::path::PathBuf;

use clap::Args;

use super::common::Stop;
use super::leaflet::{self, Output};
use super::sessions::{ArchivePlace, weeks_in, weeks_of};
use crate::archive::Archive;
use crate::report;
use crate::session::person::Code;

#[derive(Debug, Args)]
#[command(after_help = TREND)]
pub(super) struct TrendArgs {
    /// The person's code in the archive
    #[arg(value_name = "PERSON", required_unless_present = "sessions")]
    pub person: Option<String>,
    #[command(flatten)]
    pub place: ArchivePlace,
    /// Instead of an archive: session folders of one person, each with the day of filming
    /// behind it (FOLDER=2026-05-04) where the clip does not tell it
    #[arg(long, value_name = "FOLDER[=DAY]", num_args = 1.., conflicts_with = "person")]
    pub sessions: Vec<PathBuf>,
    #[command(flatten)]
    pub output: Output,
}

const TREND: &str = "\
A difference is called change only beyond the minimal detectable change. For most
measures that is learnt from sessions of the same leg and exercise that were repeated on
one day, by anybody in the archive.";

pub(super) fn run(arguments: &TrendArgs) -> Result<(), Stop> {
    let trend = match &arguments.person {
        Some(person) => {
            let person = Code::new(person)?;
            weeks_of(&person, &Archive::open(arguments.place.needed()?)?)?
        }
        None => weeks_in(&arguments.sessions)?,
    };
    let report = report::trend(&trend, leaflet::today());
    leaflet::deliver("trend", &trend, &report, &arguments.output)
}
