//! `plumbrise assess`: clips into session folders.

use std::collections::HashMap;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::Args;

use super::assessing::{Assessing, line};
use super::common::{Stop, colour, complain, ended, heard, note, present, stop_on_signal};
use super::keeping::Keeping;
use super::progress::Bar;
use super::remedies::{exit_status, hint};
use crate::error::{Error, Result};
use crate::pipeline::{AssessOptions, Done, Existing, Task, assess_file, clips_in};
use crate::record::markers;
use crate::report::{self, ClipLine, wording};
use crate::{files, session, shown};

#[derive(Debug, Args)]
#[command(after_help = MANY)]
pub(super) struct Assess {
    /// Clips, marker files (.trc) of a motion laboratory, and folders of them (a name that begins with a dash goes after --)
    #[arg(required = true, value_name = "CLIP")]
    pub clips: Vec<PathBuf>,
    /// Take the clips of the folders in a folder, too
    #[arg(long)]
    pub recursive: bool,
    /// Folder for the results [default: CLIP-name.plumbrise beside the clip]; of several
    /// clips the folder for their folders
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Replace results that exist
    #[arg(long)]
    pub force: bool,
    /// Print the assessment as JSON and nothing else on standard output; of several clips
    /// a line of JSON each
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub assessing: Assessing,
    #[command(flatten)]
    pub keeping: Keeping,
}

const MANY: &str = "\
Several clips, or a folder: a clip that cannot be assessed does not stop the others; one
that was assessed before is not done again (unless --force), so that a long run that was
interrupted goes on where it was. A table at the end; the exit status is the worst of all.
With --json each clip prints a line when it is done (JSON Lines): state, session, why
not, and the totals; the whole assessment is in the session's assessment.json.

In a folder, clips are known by their endings (mp4, mov, m4v, trc, ...); hidden files and
results of this program are left out.";

pub(super) fn run(arguments: &Assess) -> Result<(), Stop> {
    let settings = arguments.assessing.settings()?;
    match arguments.clips.as_slice() {
        [clip] if !files::is_folder(clip) => one(clip, arguments, &settings),
        _ => many(arguments, &settings),
    }
}

fn one(clip: &Path, arguments: &Assess, settings: &AssessOptions) -> Result<(), Stop> {
    let place = arguments.out.clone().unwrap_or_else(|| session::beside(clip));
    let keeper = arguments.keeping.keeper()?;
    let networks = arguments.assessing.networks();
    let mut progress = Bar::new(stop_on_signal());
    let done = assess_file(clip, &place, arguments.force, settings, &networks, &mut progress);
    progress.finish();
    let done = done?;
    let page = settings.wanted.page;
    let mut told = present(&done.session, arguments.json, &place, page);
    done.failed.iter().for_each(complain);
    let mut worst = u8::from(!done.failed.is_empty());
    if let Some(mut keeper) = keeper {
        match keeper.keep(&place) {
            Ok(()) => told = heard(told).and(heard(keeper.tell(arguments.json))),
            Err(error) => {
                complain(&error);
                worst = worst.max(exit_status(&error));
            }
        }
    }
    ended(told, worst)
}

fn many(arguments: &Assess, settings: &AssessOptions) -> Result<(), Stop> {
    let mut keeper = arguments.keeping.keeper()?;
    let mut worst = 0;
    let mut lines: Vec<(PathBuf, ClipLine)> = Vec::new();
    let mut tasks: Vec<Task> = Vec::new();
    for named in &arguments.clips {
        match clips_of(named, arguments.recursive) {
            Ok(clips) => tasks.extend(clips.into_iter().map(|clip| {
                let beside = session::beside(&clip);
                let place = match (&arguments.out, beside.file_name()) {
                    (Some(out), Some(name)) => out.join(name),
                    _ => beside,
                };
                Task { clip, place }
            })),
            Err(error) if arguments.clips.len() == 1 => return Err(error.into()),
            Err(error) => {
                complain(&error);
                worst = worst.max(exit_status(&error));
                lines.push((named.clone(), ClipLine::failed(named, &error, hint(&error))));
            }
        }
    }
    let tasks = each_once(tasks)?;
    if tasks.iter().any(|task| !markers::is_motion_file(&task.clip)) {
        // Missed now rather than by every clip.
        arguments.assessing.networks().find()?;
    }
    if let Some(out) = &arguments.out {
        files::make_folder(out)?;
    }
    let mut folders: Vec<_> = tasks.iter().filter_map(|task| task.place.parent()).collect();
    folders.dedup();
    folders.into_iter().for_each(files::sweep);

    let existing = if arguments.force { Existing::Replace } else { Existing::Keep };
    let stopped = stop_on_signal();
    let mut interrupted = false;
    let mut told = Ok(());
    arguments.assessing.assess_all(&tasks, existing, settings, &stopped, |task, outcome| {
        let line = line(task, &outcome);
        if let (Some(keeper), Ok(_)) = (&mut keeper, &outcome)
            && let Err(error) = keeper.keep(&task.place)
        {
            complain(&error);
            worst = worst.max(exit_status(&error));
        }
        match &outcome {
            Ok(Done::Before(_)) => note(wording::clips::before(&task.clip)),
            Ok(Done::Assessed(done)) => {
                note(wording::clips::done(&task.clip, &done.session.in_force));
                if !done.failed.is_empty() {
                    done.failed.iter().for_each(complain);
                    worst = worst.max(1);
                }
            }
            Err(Error::Interrupted) => interrupted = true,
            Err(error) => {
                complain(error);
                worst = worst.max(exit_status(error));
            }
        }
        if arguments.json && told.is_ok() {
            told = print_line(&line);
        }
        lines.push((task.clip.clone(), line));
    });
    if !arguments.json {
        let order = |clip: &Path| tasks.iter().position(|task| task.clip == clip);
        lines.sort_by_key(|(clip, _)| order(clip));
        let lines: Vec<ClipLine> = lines.into_iter().map(|(_, line)| line).collect();
        told = print_table(&lines, arguments.out.as_deref());
    }
    if let Some(keeper) = keeper.filter(|_| !interrupted) {
        told = heard(told).and(heard(keeper.tell(arguments.json)));
    }
    if interrupted {
        note(format_args!("plumbrise: {}", wording::clips::INTERRUPTED));
        worst = exit_status(&Error::Interrupted);
    }
    ended(told, worst)
}

fn print_line(line: &ClipLine) -> Result<(), Stop> {
    let mut out = io::stdout().lock();
    let text = serde_json::to_string(line).map_err(io::Error::from)?;
    writeln!(out, "{}", shown::json(&text))?;
    Ok(out.flush()?)
}

fn print_table(lines: &[ClipLine], into: Option<&Path>) -> Result<(), Stop> {
    let mut out = io::stdout().lock();
    write!(out, "{}", report::clips(lines, colour(&out)))?;
    writeln!(out, "{}", wording::clips::where_results_are(into))?;
    Ok(out.flush()?)
}

/// The clips of a folder; what is no folder is a clip.
fn clips_of(named: &Path, recursive: bool) -> Result<Vec<PathBuf>> {
    if !files::is_folder(named) {
        return Ok(vec![named.into()]);
    }
    let clips = clips_in(named, recursive)?;
    if clips.is_empty() { Err(Error::NoClips(named.into())) } else { Ok(clips) }
}

/// Each clip once, however often it was named.
///
/// # Errors
/// [`Error::SamePlace`] where two clips would have the same folder of results, also where
/// only a file system that minds the case of letters could keep them apart.
fn each_once(tasks: Vec<Task>) -> Result<Vec<Task>> {
    let whole = |path: &Path| files::real_path(path).unwrap_or_else(|| path.into());
    let mut kept: Vec<Task> = Vec::new();
    let mut by_place: HashMap<PathBuf, (PathBuf, usize)> = HashMap::new();
    for task in tasks {
        let folder = task.place.parent().filter(|p| !p.as_os_str().is_empty());
        let name = task.place.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
        let key = whole(folder.unwrap_or(Path::new("."))).join(name);
        let clip = whole(&task.clip);
        match by_place.get(&key) {
            None => {
                by_place.insert(key, (clip, kept.len()));
                kept.push(task);
            }
            Some((same, _)) if *same == clip => {}
            Some((_, first)) => {
                let first = kept.get(*first).map_or(clip, |task| task.clip.clone());
                return Err(Error::SamePlace { first, second: task.clip, place: task.place });
            }
        }
    }
    Ok(kept)
}
