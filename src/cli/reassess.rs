//! `plumbrise reassess`: a session judged again from what was stored.

use std::path::{Path, PathBuf};

use clap::Args;

use super::args::{Reports, ToldArgs};
use super::common::{Stop, complain, ended, note, present, stop_on_signal};
use super::progress::Bar;
use crate::error::{Error, Result};
use crate::files::{self, FolderWriter};
use crate::judgement::criteria::Criteria;
use crate::pipeline::{self, Judged};
use crate::record::ClipFacts;
use crate::report::wording;
use crate::session::{self, Session};

#[derive(Debug, Args)]
pub(super) struct Reassess {
    /// Folder that 'plumbrise assess' made
    #[arg(value_name = "SESSION")]
    pub session: PathBuf,
    /// Limits to judge by [default: those the session was judged by]
    #[arg(long, value_name = "FILE")]
    pub criteria: Option<PathBuf>,
    #[command(flatten)]
    pub told: ToldArgs,
    /// Write the result to this folder instead of renewing the session
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Replace the folder of --out if it exists
    #[arg(long)]
    pub force: bool,
    /// The clip, for the annotated film [default: looked for beside the session]
    #[arg(long, value_name = "CLIP")]
    pub clip: Option<PathBuf>,
    /// Print the assessment as JSON and nothing else on standard output
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub reports: Reports,
}

pub(super) fn run(arguments: &Reassess) -> Result<(), Stop> {
    let stored = Session::open(&arguments.session)?;
    let recording = session::read_recording(&arguments.session, &stored.machine)?;
    let told = arguments.told.told(stored.machine.told)?;
    let criteria = match &arguments.criteria {
        Some(file) => Criteria::read(file)?,
        None => stored.criteria,
    };
    let place = arguments.out.as_deref().unwrap_or(&arguments.session);
    let renew = arguments.out.is_none() || arguments.force;
    session::refuse_if_reviewed(place)?;
    let folder = FolderWriter::new(place, renew)?;
    let wanted = arguments.reports.wanted();
    // Markers have no film.
    let of_film = wanted.film && recording.motion.is_none();
    let clip = if of_film { clip_of(&recording.clip, arguments)? } else { None };
    let judged = Judged::new(&recording, &told, criteria, &arguments.session)?;
    let mut progress = Bar::new(stop_on_signal());
    let failed =
        pipeline::write_session(&folder, &judged, clip.as_deref(), &wanted, &mut progress)?;
    folder.publish_unless(session::refuse_if_reviewed)?;
    std::mem::drop(progress);
    let told = present(&judged.session, arguments.json, place, wanted.page);
    failed.iter().for_each(complain);
    if of_film && clip.is_none() {
        note(format_args!("plumbrise: {}", wording::clip_not_found(&recording.clip.file)));
    }
    ended(told, u8::from(!failed.is_empty()))
}

/// The clip a session was made from: as named, else of its name beside the session.
fn clip_of(facts: &ClipFacts, arguments: &Reassess) -> Result<Option<PathBuf>> {
    let same = |path: &Path| Ok::<_, Error>(files::sha256(path)? == facts.sha256);
    if let Some(named) = &arguments.clip {
        return if same(named)? {
            Ok(Some(named.clone()))
        } else {
            Err(Error::OtherClip(named.clone()))
        };
    }
    // The name comes from a document: only a file beside the session is meant.
    let Some(name) = Path::new(&facts.file).file_name() else { return Ok(None) };
    let beside = files::real_path(&arguments.session).and_then(|s| Some(s.parent()?.join(name)));
    match beside {
        Some(path) if files::is_file(&path) && same(&path)? => Ok(Some(path)),
        _ => Ok(None),
    }
}
