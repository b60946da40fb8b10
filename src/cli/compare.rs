//! Left against right.

use std::path::PathBuf;

use clap::Args;

use super::args::named;
use super::common::Stop;
use super::leaflet::{self, Output};
use super::sessions::{self, ArchivePlace};
use crate::between::sides::Comparison;
use crate::body::Side;
use crate::error::Error;
use crate::report;
use crate::report::wording::comparison as words;

#[derive(Debug, Args)]
#[command(after_help = COMPARE)]
pub(super) struct Compare {
    /// A session of one leg: a folder that 'plumbrise assess' made, or the id of a session
    /// in the archive
    #[arg(value_name = "SESSION")]
    pub one: PathBuf,
    /// A session of the other leg, of the same exercise
    #[arg(value_name = "SESSION")]
    pub other: PathBuf,
    /// The involved leg (injured, operated, sore), left or right: the per cent is then of
    /// this leg
    #[arg(long, value_parser = named::<Side>, value_name = "LEG")]
    pub involved: Option<Side>,
    #[command(flatten)]
    pub place: ArchivePlace,
    #[command(flatten)]
    pub output: Output,
}

const COMPARE: &str = "\
Which session is of which leg stands in the sessions; the order does not matter. A
summary of movement, not a diagnosis, and no clearance for sport.";

pub(super) fn run(arguments: &Compare) -> Result<(), Stop> {
    let one = sessions::leg_session(&arguments.one, &arguments.place)?;
    let other = sessions::leg_session(&arguments.other, &arguments.place)?;
    let comparison = Comparison::of(one, other, arguments.involved).map_err(|why| {
        let (first, second) = (arguments.one.clone(), arguments.other.clone());
        Error::NotComparable { first, second, why: words::not_comparable(why) }
    })?;
    let report = report::comparison(&comparison, leaflet::today());
    leaflet::deliver("comparison", &comparison, &report, &arguments.output)
}
