//! `export`: sessions in the forms of open standards.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::Args;

use super::args::named;
use super::common::{Stop, note};
use crate::error::Result;
use crate::export::{self, Format, Item};
use crate::files::FolderWriter;
use crate::report::wording::{self, export as words};
use crate::session;
use crate::session::person::Code;

#[derive(Debug, Args)]
#[command(after_long_help = EXPORT)]
pub(super) struct ExportArgs {
    /// Folders that 'plumbrise assess' made
    #[arg(required = true, value_name = "SESSION")]
    sessions: Vec<PathBuf>,
    /// Code of the person all these sessions are of: 2 to 32 letters, digits and dashes
    /// with at least one digit, no name
    #[arg(long, value_name = "CODE")]
    person: Option<String>,
    #[command(flatten)]
    delivery: Delivery,
}

/// In which form, and whereto.
#[derive(Debug, Args)]
pub(super) struct Delivery {
    /// The form: fhir, dicom, csv, parquet, trc, c3d or bids
    #[arg(long = "as", value_parser = named::<Format>, value_name = "FORM")]
    format: Format,
    /// Folder for what is exported
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Replace the folder of --out if it exists
    #[arg(long)]
    force: bool,
}

pub(super) const EXPORT: &str = "\
  fhir      HL7 FHIR R4: a bundle with report, numbers and verdicts, for a record system;
            preliminary until the session is signed off (plumbrise review)
  dicom     the report on paper for a picture archive (Encapsulated PDF)
  csv       reps.csv, sessions.csv, and columns.csv that tells what they hold
  parquet   the same with types, one folder a person, read as one table
  trc       the points in three dimensions as text
  c3d       the points and the moments of the reps, for a motion laboratory
  bids      a motion data set for research; needs --person

Names of files and folders do not go along; times are UTC.

  plumbrise export *.plumbrise --as csv --out tables
  plumbrise archive export --as parquet --out all-sessions
  plumbrise export MONDAY.plumbrise --as fhir --person K7-M2 --out for-the-record";

pub(super) fn run(arguments: &ExportArgs) -> Result<(), Stop> {
    let person = arguments.person.as_deref().map(Code::new).transpose()?;
    let items: Vec<Item> = arguments
        .sessions
        .iter()
        .map(|folder| item(folder, person.clone()))
        .collect::<Result<_>>()?;
    arguments.delivery.deliver(&items)
}

impl Delivery {
    /// Writes the sessions.
    pub fn deliver(&self, items: &[Item]) -> Result<(), Stop> {
        let into = FolderWriter::new(&self.out, self.force)?;
        export::write(self.format, items, &into)?;
        into.publish()?;
        let mut out = io::stdout().lock();
        writeln!(out, "{}", wording::kept_in(&self.out))?;
        out.flush()?;
        note(words::BEFORE_IT_GOES);
        Ok(())
    }
}

fn item(folder: &Path, person: Option<Code>) -> Result<Item<'static>> {
    let session = Box::new(folder.to_path_buf());
    Ok(Item { id: session::id(folder)?, session, person, recorded_at: None })
}
