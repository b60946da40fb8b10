//! `plumbrise markers`: the names of markers that are known.

use std::io::{self, Write};

use clap::Args;

use super::common::Stop;
use crate::record::markers::MarkerNames;

#[derive(Debug, Args)]
pub(super) struct MarkersArgs {}

pub(super) fn run() -> Result<(), Stop> {
    let mut out = io::stdout().lock();
    out.write_all(MarkerNames::file().as_bytes())?;
    Ok(out.flush()?)
}
