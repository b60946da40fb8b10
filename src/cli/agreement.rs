//! `plumbrise agreement`: how far a clinician and the program agree.

use std::io::{self, Write};
use std::path::PathBuf;

use clap::Args;

use super::common::{Stop, colour, json, note};
use crate::between::agreement::labels;
use crate::between::agreement::{Set, compare};
use crate::error::Error;
use crate::{report, session};

#[derive(Debug, Args)]
#[command(after_long_help = LABELS)]
pub(super) struct Agreement {
    /// Session folder and its labels; further pairs are pooled with them
    #[arg(value_name = "SESSION LABELS.csv", required_unless_present = "template")]
    pub pairs: Vec<PathBuf>,
    /// Print an empty table of labels for the reps of a session
    #[arg(long, value_name = "SESSION", conflicts_with_all = ["pairs", "json"])]
    pub template: Option<PathBuf>,
    /// Print the agreement as JSON and nothing else on standard output
    #[arg(long)]
    pub json: bool,
}

const LABELS: &str = "\
The labels are a table with a heading, separated by commas or semicolons (then with
decimal points or commas), UTF-8, one row a rep:

  start_s, end_s   when the rep was, in seconds of the clip; or
  at_s             a moment inside it; or
  rep              its number, where there are no times
  judgement        clean, faulted or not_judged
  knee_inward, drop, incomplete_stand, free_foot_down, hands_used, foot_moved
                   1 for yes, 0 for no
  reasons          in place of these six: the names of those seen, with spaces
                   between, or none; no other was seen then, and on a clean rep
                   none was
  descent_s, knee_offset_peak_cm, ...   any number of a rep in assessment.json
  note             not read

An empty cell means that the clinician did not say. Rows with times are matched to
reps by time, so that a rep too many or too few on either side shifts nothing.
Several sessions: one a person.";

pub(super) fn run(arguments: &Agreement) -> Result<(), Stop> {
    let mut out = io::stdout().lock();
    if let Some(folder) = &arguments.template {
        let reps = session::read_assessment(folder)?.reps;
        out.write_all(labels::template(&reps).as_bytes())?;
        out.flush()?;
        note(report::TEMPLATE_HELP);
        return Ok(());
    }
    let (pairs, rest) = arguments.pairs.as_chunks::<2>();
    if !rest.is_empty() {
        return Err(Error::NotInPairs(arguments.pairs.len()).into());
    }
    let mut sets = Vec::new();
    for [folder, file] in pairs {
        let assessment = session::read_assessment(folder)?;
        if assessment.reps.is_empty() {
            let why = "it has no rep".into();
            return Err(Error::Session { path: folder.clone(), why }.into());
        }
        let labels = labels::read(file)?;
        sets.push(Set {
            session: folder.display().to_string(),
            labels_file: file.display().to_string(),
            assessment,
            labels,
        });
    }
    let compared = compare(&sets);
    if arguments.json {
        writeln!(out, "{}", json(&compared)?)?;
    } else {
        write!(out, "{}", report::agreement(&compared, colour(&out)))?;
    }
    Ok(out.flush()?)
}
