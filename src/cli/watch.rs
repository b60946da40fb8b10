//! `plumbrise watch`: every clip that appears in a folder.

use std::io::{self, Write};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use clap::Args;

use super::args::within;
use super::assessing::Assessing;
use super::common::{Stop, complain, stop_on_signal};
use super::remedies::{exit_status, hint};
use crate::error::{Error, Result};
use crate::files::{self, LockFile, Stamp};
use crate::pipeline::{Arrivals, AssessOptions, Done, Existing, Note, Task, clips_in};
use crate::report::wording::clips as words;
use crate::session;

#[derive(Debug, Args)]
#[command(after_help = WATCH)]
pub(super) struct Watch {
    /// The folder, for instance the one a phone's films are copied to
    #[arg(value_name = "FOLDER")]
    pub folder: PathBuf,
    /// A clip is whole when it has not changed for this long
    #[arg(long, value_name = "SECONDS", default_value_t = 10.0)]
    pub settle: f64,
    /// Time between two looks into the folder
    #[arg(long, value_name = "SECONDS", default_value_t = 5.0)]
    pub every: f64,
    /// Assess what is there, then end
    #[arg(long)]
    pub once: bool,
    #[command(flatten)]
    pub assessing: Assessing,
}

const WATCH: &str = "\
The results of CLIP go to CLIP-name.plumbrise beside it. A clip that cannot be assessed
gets a note beside it (CLIP.not-assessed.txt: why, and what to do) and is tried again when
it changes or the note is deleted. Nothing else in the folder is touched; while it is
watched, there is a hidden lock file, as two watchers would do everything twice. It can be
ended and started at any time: what is done is not done again. Files on their way (.part,
.crdownload, .tmp, hidden ones) are left alone. Folders in the folder are not looked into.

Exit status: 0 ended by Ctrl-C or a request to end. With --once: as for assess, of the
clips that were tried; 130 if interrupted.";

/// The lock file of a watched folder.
const LOCK: &str = ".plumbrise-watch.lock";

/// What fails by no fault of the clip, such as a full disk, is tried again after this
/// long (design choice: no hurry, as every try may take minutes).
const TRY_AGAIN: Duration = Duration::from_secs(60);

pub(super) fn run(arguments: &Watch) -> Result<(), Stop> {
    let settings = arguments.assessing.settings()?;
    within("--settle", Some(arguments.settle), 0.0..=3600.0, "0 to 3600 s")?;
    within("--every", Some(arguments.every), 0.1..=3600.0, "0.1 to 3600 s")?;
    let folder = &arguments.folder;
    files::list(folder)?;
    // Missed now rather than by every clip.
    arguments.assessing.networks().find()?;
    let mut watch = Watching {
        arguments,
        settings,
        stopped: stop_on_signal(),
        arrivals: Arrivals::new(Duration::from_secs_f64(arguments.settle)),
        lock: None,
        worst: 0,
        unsaid: false,
    };
    watch.take_lock()?;
    files::sweep(folder);
    watch.say(&words::watching(folder));
    watch.until_the_end()
}

struct Watching<'a> {
    arguments: &'a Watch,
    settings: AssessOptions,
    stopped: Arc<AtomicBool>,
    arrivals: Arrivals,
    lock: Option<LockFile>,
    /// Worst exit status of the clips that were tried.
    worst: u8,
    /// Some line about them could not be printed, as on a full disk.
    unsaid: bool,
}

impl Watching<'_> {
    fn until_the_end(&mut self) -> Result<(), Stop> {
        let Watch { folder, once, every, .. } = self.arguments;
        let mut there = true;
        while !self.is_stopped() {
            // A folder on a drive may go and come back.
            match clips_in(folder, false) {
                Ok(clips) => {
                    if !there {
                        there = true;
                        self.say(&words::back(folder));
                    }
                    self.take_lock()?;
                    self.look(&clips);
                    if *once && !self.arrivals.waiting() {
                        break;
                    }
                }
                Err(error) if *once => return Err(error.into()),
                Err(_) if there => {
                    there = false;
                    self.lock = None;
                    self.say(&words::away(folder));
                }
                Err(_) => {}
            }
            self.rest(Duration::from_secs_f64(*every));
        }
        match (once, self.is_stopped()) {
            (true, true) => Err(Error::Interrupted.into()),
            (true, false) if self.worst > 0 => Err(Stop::Worst(self.worst)),
            _ if self.unsaid => Err(Stop::Worst(1)),
            _ => Ok(()),
        }
    }

    /// One look into the folder, and the work it gives.
    fn look(&mut self, clips: &[PathBuf]) {
        // What cannot be looked at is not there.
        let stamped: Vec<(PathBuf, Stamp)> =
            clips.iter().filter_map(|c| Some((c.clone(), files::stamp(c).ok()?))).collect();
        let mut tasks = Vec::new();
        let mut noted = 0;
        for clip in self.arrivals.look(Instant::now(), &stamped) {
            let note = Note::of(&clip);
            if self.arrivals.stamp(&clip).is_some_and(|stamp| note.speaks_of(stamp)) {
                self.arrivals.told(&clip, note.path().into());
                noted += 1;
            } else {
                tasks.push(Task { place: session::beside(&clip), clip });
            }
        }
        let Self { arguments, settings, stopped, arrivals, worst, unsaid, .. } = self;
        let mut done_before = 0;
        let existing = Existing::Keep;
        arguments.assessing.assess_all(&tasks, existing, settings, stopped, |task, outcome| {
            match conclude(task, outcome, arrivals, worst) {
                Ok(Some(line)) => say(unsaid, &line),
                Ok(None) => done_before += 1,
                Err(error) => complain(&error),
            }
        });
        if done_before + noted > 0 {
            self.say(&words::known(done_before, noted));
        }
    }

    fn say(&mut self, line: &str) {
        say(&mut self.unsaid, line);
    }

    /// Keeps other watchers out of the folder; again when its drive was away.
    fn take_lock(&mut self) -> Result<()> {
        let folder = &self.arguments.folder;
        if self.lock.as_ref().is_none_or(LockFile::is_lost) {
            self.lock = None;
            self.lock = LockFile::take(&folder.join(LOCK))?;
        }
        if self.lock.is_none() { Err(Error::Watched(folder.clone())) } else { Ok(()) }
    }

    fn is_stopped(&self) -> bool {
        self.stopped.load(Ordering::Relaxed)
    }

    /// Sleeps, but wakes up soon after Ctrl-C.
    fn rest(&self, time: Duration) {
        let end = Instant::now() + time;
        while !self.is_stopped() && Instant::now() < end {
            thread::sleep(Duration::from_millis(100).min(time));
        }
    }
}

/// What became of a clip: its note, what is remembered of it, and a line about it; none
/// where it was done before.
fn conclude(
    task: &Task,
    outcome: Result<Done>,
    arrivals: &mut Arrivals,
    worst: &mut u8,
) -> Result<Option<String>> {
    let Task { clip, place } = task;
    let note = Note::of(clip);
    let error = match outcome {
        Ok(outcome) => {
            arrivals.told(clip, place.clone());
            note.remove()?;
            return Ok(match outcome {
                Done::Before(_) => None,
                Done::Assessed(done) => {
                    done.failed.iter().for_each(complain);
                    *worst = (*worst).max(u8::from(!done.failed.is_empty()));
                    Some(words::watched(clip, &done.session.in_force, place))
                }
            });
        }
        Err(error) => error,
    };
    let later = Instant::now() + TRY_AGAIN;
    match &error {
        Error::Interrupted => Ok(None),
        _ if !files::exists(clip) => Ok(None),
        Error::Changed(_) => Ok(Some(words::still_changing(clip))),
        _ => {
            *worst = (*worst).max(exit_status(&error));
            let stamp = arrivals.stamp(clip).filter(|_| is_of_the_clip(&error));
            if let Some(stamp) = stamp {
                arrivals.later(clip, later);
                note.write(stamp, &error, hint(&error))?;
                arrivals.told(clip, note.path().into());
                Ok(Some(words::noted(clip, &error, note.path())))
            } else {
                arrivals.later(clip, later);
                Ok(Some(words::tried_again(clip, &error, hint(&error), TRY_AGAIN.as_secs())))
            }
        }
    }
}

/// Whether the clip is to blame, and another try would end the same.
fn is_of_the_clip(error: &Error) -> bool {
    let of_place = matches!(error, Error::ResultsOfAnother(_) | Error::Fault(_));
    of_place || matches!(exit_status(error), 3 | 4)
}

/// A line with the time of day. Where it cannot be printed, the work goes on, and one
/// complaint is made.
fn say(unsaid: &mut bool, line: &str) {
    let print = || -> Result<(), Stop> {
        let mut out = io::stdout().lock();
        writeln!(out, "{}  {line}", jiff::ZonedDateTime::now().strftime("%H:%M:%S"))?;
        Ok(out.flush()?)
    };
    if let Err(Stop::Error(error)) = print()
        && !std::mem::replace(unsaid, true)
    {
        complain(&error);
    }
}
