//! How a command ends early, and what several of them need.

use std::io::{self, IsTerminal, Write};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use serde::Serialize;

use super::remedies::{exit_status, hint};
use crate::error::{Error, Result};
use crate::judgement::criteria::Criteria;
use crate::report::{self, wording};
use crate::session::{PAGE, Session};
use crate::shown;

/// Why a command ended early.
pub(super) enum Stop {
    /// Nobody reads our output any more.
    Pipe,
    Error(Error),
    /// Some of several clips failed; errors are printed, this is the status.
    Worst(u8),
}

impl From<Error> for Stop {
    fn from(error: Error) -> Self {
        Stop::Error(error)
    }
}

impl From<io::Error> for Stop {
    /// Only writing to standard output gives these here.
    fn from(error: io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::BrokenPipe => Stop::Pipe,
            _ => Stop::Error(Error::CannotWrite { path: "standard output".into(), source: error }),
        }
    }
}

/// A message for people, on standard error. Where nobody can get it, the work goes on.
pub(super) fn note(text: impl std::fmt::Display) {
    let _ = writeln!(io::stderr(), "{text}");
}

/// An error for people: what is wrong, and what to do.
pub(super) fn complain(error: &Error) {
    note(format_args!("plumbrise: {}", shown::line(&error.to_string())));
    if let Some(hint) = hint(error) {
        note(format_args!("hint: {}", shown::line(&hint)));
    }
}

/// What became of printing something of work that is done: that nobody reads it is no
/// fault.
pub(super) fn heard(printed: Result<(), Stop>) -> Result<(), Stop> {
    match printed {
        Err(Stop::Pipe) => Ok(()),
        other => other,
    }
}

/// The end of work that is done, with the exit status of what came of it: printing it may
/// have failed, which undoes nothing.
pub(super) fn ended(printed: Result<(), Stop>, status: u8) -> Result<(), Stop> {
    let worst = match printed {
        Ok(()) | Err(Stop::Pipe) => status,
        Err(Stop::Error(error)) => {
            complain(&error);
            status.max(exit_status(&error))
        }
        Err(Stop::Worst(other)) => status.max(other),
    };
    if worst > 0 { Err(Stop::Worst(worst)) } else { Ok(()) }
}

/// JSON for standard output, safe where that is a terminal.
pub(super) fn json(value: &impl Serialize) -> io::Result<String> {
    Ok(shown::json(&serde_json::to_string_pretty(value)?))
}

/// Whether to emphasise.
pub(super) fn colour(out: &io::StdoutLock) -> bool {
    out.is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty())
}

/// Tells a result that is in the folder `place`.
pub(super) fn present(session: &Session, json: bool, place: &Path, page: bool) -> Result<(), Stop> {
    let mut out = io::stdout().lock();
    if json {
        writeln!(out, "{}", self::json(&session.machine)?)?;
    } else {
        write!(out, "{}", report::terminal(session, colour(&out)))?;
        writeln!(out, "\n{}", wording::kept_in(place))?;
        if page {
            writeln!(out, "{}", wording::to_look_at(&place.join(PAGE)))?;
        }
    }
    Ok(out.flush()?)
}

/// The limits of a file, or the usual ones.
pub(super) fn limits(file: Option<&Path>) -> Result<Criteria> {
    file.map_or_else(Criteria::built_in, Criteria::read)
}

/// A flag that Ctrl-C (or a request to end) raises; the run then ends in order,
/// leaving nothing behind.
pub(super) fn stop_on_signal() -> Arc<AtomicBool> {
    let stopped = Arc::new(AtomicBool::new(false));
    let flag = stopped.clone();
    // Without a handler Ctrl-C still ends the program, only less tidily.
    let _ = ctrlc::set_handler(move || flag.store(true, Ordering::Relaxed));
    stopped
}
