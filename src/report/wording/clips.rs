//! Words about many clips: the table, the watcher's lines, the note beside a clip.

use std::path::Path;

use super::{by_frequency, capital, headline, short};
use crate::error::Error;
use crate::judgement::document::Assessment;
use crate::shown::{self, name};

/// Headings of the table.
pub const HEADINGS: [&str; 7] = ["Clip", "Leg", "Exercise", "Reps", "Clean", "State", "Seen"];

/// A line of the watcher: what became of a clip.
pub fn watched(clip: &Path, a: &Assessment, place: &Path) -> String {
    format!("{}: {} {}. Results: {}", name(clip), headline(a), capital(&seen(a)), name(place))
}

/// A line of the watcher: a clip with a note beside it.
pub fn noted(clip: &Path, error: &Error, note: &Path) -> String {
    format!("{}: not assessed: {}. See {}", name(clip), why(clip, error), name(note))
}

/// A line of the watcher: what failed by no fault of the clip, and what to do about it.
pub fn tried_again(clip: &Path, error: &Error, hint: Option<String>, seconds: u64) -> String {
    let remedy = hint.map_or(String::new(), |hint| format!(" ({})", shown::line(&hint)));
    format!(
        "{}: not assessed yet: {}{remedy}. Tried again in {seconds} s",
        name(clip),
        why(clip, error)
    )
}

/// A line of the watcher: a clip that was not whole after all.
pub fn still_changing(clip: &Path) -> String {
    format!("{}: changed while it was read; waiting until it is whole", name(clip))
}

/// A line of the watcher: clips it need not do.
pub fn known(done: usize, noted: usize) -> String {
    let clips = |n: usize| if n == 1 { "1 clip".into() } else { format!("{n} clips") };
    match (done, noted) {
        (_, 0) => format!("{} assessed before", clips(done)),
        (0, _) => format!("{} could not be assessed before and did not change", clips(noted)),
        _ => format!(
            "{} assessed before; {noted} could not be assessed and did not change",
            clips(done)
        ),
    }
}

/// A line of the watcher: its beginning.
pub fn watching(folder: &Path) -> String {
    format!("watching '{}' for clips; Ctrl-C ends it", shown::path(folder))
}

/// A line of the watcher: the folder is gone, or there again.
pub fn away(folder: &Path) -> String {
    format!("'{}' cannot be reached; waiting for it", shown::path(folder))
}

/// See [`away`].
pub fn back(folder: &Path) -> String {
    format!("'{}' is there again", shown::path(folder))
}

/// What was seen, in a cell: the reasons, most frequent first, with their number of reps.
pub fn seen(a: &Assessment) -> String {
    let words: Vec<String> = by_frequency(a)
        .iter()
        .map(|(reason, reps)| format!("{} ({})", short(*reason), reps.len()))
        .collect();
    if words.is_empty() { "all clean".into() } else { words.join(", ") }
}

/// Why a clip was not assessed, where its name stands beside: «it» instead of its name.
pub fn why(clip: &Path, error: &Error) -> String {
    match error {
        Error::Missing(_) => "there is no such file".into(),
        _ => shown::line(&error.to_string().replace(&format!("'{}'", clip.display()), "it")),
    }
}

/// The note beside a clip that could not be assessed, with what to do about it.
pub fn not_assessed(clip: &Path, error: &Error, hint: Option<String>) -> String {
    let name = name(clip);
    let remedy =
        hint.map_or(String::new(), |hint| format!("What to do: {}.\n", shown::line(&hint)));
    format!(
        "{name} was not assessed.\n\n\
         Why: {}.\n\
         {remedy}\n\
         It is tried again when the clip changes, or when this note is deleted. The note goes\n\
         away by itself once the clip is assessed.\n",
        why(clip, error)
    )
}

/// Totals under the table.
pub fn totals(all: usize, states: &[(&str, usize)], reps: usize, clean: usize) -> String {
    let parts: Vec<String> =
        states.iter().filter(|(_, n)| *n > 0).map(|(state, n)| format!("{n} {state}")).collect();
    let clips = if all == 1 { "clip" } else { "clips" };
    let in_all = if reps == 1 { "rep" } else { "reps" };
    format!("{all} {clips}: {}. {reps} {in_all}, {clean} clean.", parts.join(", "))
}

/// A clip is done.
pub fn done(clip: &Path, a: &Assessment) -> String {
    format!("{}: {}", shown::path(clip), headline(a))
}

/// A clip was done before.
pub fn before(clip: &Path) -> String {
    format!("{}: assessed before (--force does it again)", shown::path(clip))
}

/// Where to look.
pub fn where_results_are(out: Option<&Path>) -> String {
    let caution = "A summary of movement, not a diagnosis.";
    match out {
        Some(folder) => {
            format!(
                "Results: in folders of the clips' names in {}.\n{caution}",
                shown::path(folder)
            )
        }
        None => format!("Results: beside each clip, in the folder NAME.plumbrise.\n{caution}"),
    }
}

/// After Ctrl-C.
pub const INTERRUPTED: &str = "interrupted; what is done stays, and nothing is half written. The \
                               same command goes on from here";
