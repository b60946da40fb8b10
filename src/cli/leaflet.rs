//! A short report: told, printed as JSON, kept in a folder.

use std::io::{self, Write};
use std::path::PathBuf;

use clap::Args;
use jiff::civil::Date;
use serde::Serialize;

use super::common::{Stop, colour, json, note};
use crate::error::Error;
use crate::files::FolderWriter;
use crate::report::leaflet::Leaflet;
use crate::report::wording;
use crate::report::{self, leaflet_page, leaflet_paper};

/// What becomes of it.
#[derive(Debug, Args)]
pub(super) struct Output {
    /// Write it to this folder too, as JSON, page (HTML) and paper (PDF)
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Replace the folder of --out if it exists
    #[arg(long, requires = "out")]
    pub force: bool,
    /// Print it as JSON and nothing else on standard output
    #[arg(long)]
    pub json: bool,
}

/// The day reports are dated by.
pub(super) fn today() -> Date {
    jiff::ZonedDateTime::now().date()
}

/// Writes and tells `document` and the report made of it; the files are called `name`.
pub(super) fn deliver(
    name: &str,
    document: &impl Serialize,
    report: &Leaflet,
    output: &Output,
) -> Result<(), Stop> {
    if let Some(place) = &output.out {
        let folder = FolderWriter::new(place, output.force)?;
        folder.write(&format!("{name}.json"), |out| {
            serde_json::to_writer_pretty(&mut *out, document)?;
            writeln!(out)
        })?;
        let page = leaflet_page(report)?;
        folder.write(&format!("{name}.html"), |out| out.write_all(page.as_bytes()))?;
        match leaflet_paper(report) {
            Ok(paper) => folder.write(&format!("{name}.pdf"), |out| out.write_all(&paper))?,
            Err(why @ Error::NotBuilt { .. }) => note(format!("no paper: {why}")),
            Err(why) => return Err(why.into()),
        }
        folder.publish()?;
    }
    let mut out = io::stdout().lock();
    if output.json {
        writeln!(out, "{}", json(document)?)?;
    } else {
        write!(out, "{}", report::leaflet(report, colour(&out)))?;
        if let Some(place) = &output.out {
            let page = place.join(format!("{name}.html"));
            writeln!(out, "\n{}", wording::kept_in(place))?;
            writeln!(out, "{}", wording::to_look_at(&page))?;
        }
    }
    Ok(out.flush()?)
}
