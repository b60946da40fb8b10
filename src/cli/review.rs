//! `review`: what a clinician says of a session.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use jiff::Timestamp;

use super::args::named;
use super::common::{Stop, colour, json};
use super::sessions::{self, ArchivePlace, Named};
use crate::error::{Error, Result};
use crate::judgement::document::{Reason, Verdict};
use crate::report::wording;
use crate::session::review::{Change, RepChange};
use crate::session::{self, Session, SessionFiles};
use crate::{pipeline, report};

#[derive(Debug, Args)]
#[command(after_long_help = REVIEW)]
pub(super) struct ReviewArgs {
    /// Folder that 'plumbrise assess' made, or the id of a session in the archive
    #[arg(value_name = "SESSION")]
    session: PathBuf,
    /// Who reviews: a name or code that your clinic knows you by
    #[arg(long, value_name = "WHO")]
    by: Option<String>,
    /// Number of the rep that is spoken of
    #[arg(long, value_name = "N")]
    rep: Option<usize>,
    /// Verdict on the rep: clean, faulted or not-judged
    #[arg(long, value_parser = named::<Verdict>, requires = "rep", value_name = "VERDICT")]
    judgement: Option<Verdict>,
    /// Reasons for it, with commas between; in place of the program's
    #[arg(long, value_parser = named::<Reason>, value_delimiter = ',', requires = "rep",
          value_name = "REASON,…")]
    reasons: Option<Vec<Reason>>,
    /// When the rep leaves the seat, seconds of the clip
    #[arg(long, value_name = "SECONDS", requires = "rep")]
    start: Option<f64>,
    /// When the rep reaches the seat, seconds of the clip
    #[arg(long, value_name = "SECONDS", requires = "rep")]
    end: Option<f64>,
    /// A note on the rep, or without --rep on the session
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// Stand for the session as it now is
    #[arg(long)]
    sign_off: bool,
    /// Print the review as JSON and nothing else on standard output
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    place: ArchivePlace,
}

const REVIEW: &str = "\
Without any change it shows the session as it stands. What the program said stays
beside every change, and every change is kept with who and when. A change after the
sign-off opens the review again: sign off once more. Speeds and the knee's numbers
stay as they were measured; page and paper are made again.

Reasons of a fault: knee_inward, drop, incomplete_stand, free_foot_down, hands_used,
foot_moved, pause_too_long. Of a rep that is not judged: tracking_lost, out_of_frame,
occluded, camera_moved, off_axis, frame_rate_too_low, cut_off.

  plumbrise review MONDAY.plumbrise --by M3 --rep 4 --judgement clean --note \"trousers\"
  plumbrise review MONDAY.plumbrise --by M3 --sign-off";

impl ReviewArgs {
    /// What is said, in the order in which it is kept.
    fn changes(&self) -> Vec<Change> {
        let note = self.note.clone();
        let mut changes = Vec::new();
        match self.rep {
            Some(rep) => changes.push(Change::Rep(RepChange {
                rep,
                judgement: self.judgement,
                reasons: self.reasons.clone(),
                start_s: self.start,
                end_s: self.end,
                note,
            })),
            None => changes.extend(note.map(|text| Change::Note { text })),
        }
        changes.extend(self.sign_off.then_some(Change::SignOff));
        changes
    }

    /// The changes with who makes them.
    fn said(&self) -> Result<Option<(&str, Vec<Change>)>> {
        let changes = self.changes();
        let by = self.by.as_deref().map(str::trim).filter(|by| !by.is_empty());
        match (changes.is_empty(), by) {
            (true, _) => Ok(None),
            (false, Some(by)) => Ok(Some((by, changes))),
            (false, None) => Err(Error::Review("--by WHO is missing".into())),
        }
    }
}

pub(super) fn run(arguments: &ReviewArgs) -> Result<(), Stop> {
    let said = arguments.said()?;
    match sessions::find(&arguments.session, &arguments.place)? {
        Named::Folder(folder) => {
            if let Some((by, changes)) = said {
                say(&folder, by, changes)?;
            }
            show(&folder, arguments.json)
        }
        Named::Archived(mut archive, entry) => {
            if let Some((by, changes)) = said {
                archive.amend(&entry.id, |folder| say(folder, by, changes))?;
            }
            show(&archive.open_session(&archive.session(&entry.id)?)?, arguments.json)
        }
    }
}

/// Says more of a session: all of it, or nothing where some of it does not hold.
fn say(folder: &Path, by: &str, changes: Vec<Change>) -> Result<()> {
    pipeline::add_to_review(folder, |assessment, review| {
        changes.into_iter().try_for_each(|change| {
            let said = review.add(assessment, Timestamp::now(), by, change);
            said.map_err(|why| Error::Review(wording::review::wrong(&why)))
        })
    })
}

fn show<F: SessionFiles + ?Sized>(session: &F, for_programs: bool) -> Result<(), Stop> {
    let opened = Session::open(session)?;
    let mut out = io::stdout().lock();
    if for_programs {
        writeln!(out, "{}", json(&session::review_so_far(session)?)?)?;
    } else {
        write!(out, "{}", report::terminal(&opened, colour(&out)))?;
    }
    Ok(out.flush()?)
}
