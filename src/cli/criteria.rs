//! `plumbrise criteria`: the limits in force.

use std::io::{self, Write};
use std::path::PathBuf;

use clap::Args;

use super::common::{Stop, limits};

#[derive(Debug, Args)]
pub(super) struct CriteriaArgs {
    /// Show the limits with this file's changes
    #[arg(long, value_name = "FILE")]
    pub criteria: Option<PathBuf>,
}

pub(super) fn run(arguments: &CriteriaArgs) -> Result<(), Stop> {
    let criteria = limits(arguments.criteria.as_deref())?;
    let mut out = io::stdout().lock();
    out.write_all(criteria.to_toml()?.as_bytes())?;
    Ok(out.flush()?)
}
