//! `plumbrise guide`: how to film, when not to, when to stop.

use std::io::{self, Write};

use clap::Args;

use super::common::{Stop, colour};
use crate::report;

#[derive(Debug, Args)]
pub(super) struct Guide {
    /// Print it as one HTML page: plumbrise guide --html > guide.html
    #[arg(long)]
    html: bool,
}

pub(super) fn run(arguments: &Guide) -> Result<(), Stop> {
    let mut out = io::stdout().lock();
    let text = if arguments.html { report::guide_page()? } else { report::guide(colour(&out)) };
    out.write_all(text.as_bytes())?;
    Ok(out.flush()?)
}
