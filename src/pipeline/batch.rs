//! Many clips, some at a time, each with networks of its own.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::channel;
use std::thread;

use super::{AssessOptions, Assessed, LazyNetworks, Progress, assess_file};
use crate::error::{Error, Result};
use crate::session::{self, Session};

/// A clip and the folder its results go to.
#[derive(Debug, Clone)]
pub struct Task {
    /// The clip.
    pub clip: PathBuf,
    /// The folder.
    pub place: PathBuf,
}

/// What to do where a folder of results exists.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Existing {
    /// Replace it.
    Replace,
    /// Leave the clip alone if they are its own, refuse it otherwise.
    Keep,
}

/// What came of a task.
#[derive(Debug)]
pub enum Done {
    /// It was assessed now.
    Assessed(Assessed),
    /// It had been assessed before, as it stands after its review.
    Before(Session),
}

/// Works through tasks, `jobs` at a time. `progress` makes one for each task; `finished` is
/// told each task's number and outcome in the order in which they end. A failure of one is
/// none of the others; once one of them says stop, the rest is [`Error::Interrupted`].
pub fn assess_files<P: Progress>(
    tasks: &[Task],
    jobs: usize,
    existing: Existing,
    settings: &AssessOptions,
    networks: &LazyNetworks,
    progress: &(impl Fn(&Task) -> P + Sync),
    mut finished: impl FnMut(usize, Result<Done>),
) {
    let next = AtomicUsize::new(0);
    let (tell, ended) = channel();
    thread::scope(|scope| {
        for _ in 0..jobs.clamp(1, tasks.len().max(1)) {
            let (tell, next) = (tell.clone(), &next);
            scope.spawn(move || {
                loop {
                    let number = next.fetch_add(1, Ordering::Relaxed);
                    let Some(task) = tasks.get(number) else { break };
                    let work = || {
                        let mut progress = progress(task);
                        if progress.stopped() {
                            return Err(Error::Interrupted);
                        }
                        assess_task(task, existing, settings, networks, &mut progress)
                    };
                    // A fault of the program in one clip must not cost a night's work on
                    // the others.
                    let outcome = catch_unwind(AssertUnwindSafe(work))
                        .unwrap_or_else(|_| Err(Error::Fault(task.clip.clone())));
                    if tell.send((number, outcome)).is_err() {
                        break;
                    }
                }
            });
        }
        drop(tell);
        for (number, outcome) in ended {
            finished(number, outcome);
        }
    });
}

fn assess_task(
    task: &Task,
    existing: Existing,
    settings: &AssessOptions,
    networks: &LazyNetworks,
    progress: &mut dyn Progress,
) -> Result<Done> {
    let Task { clip, place } = task;
    if existing == Existing::Keep
        && let Some(before) = session::of_clip(place, clip)?
    {
        return Ok(Done::Before(before));
    }
    let replace = existing == Existing::Replace;
    assess_file(clip, place, replace, settings, networks, progress).map(Done::Assessed)
}
