//! Words in, words out, exit status. Each command has a file of its own.

mod agreement;
mod archive;
mod args;
mod assess;
mod assessing;
mod check;
mod common;
mod compare;
mod completions;
mod criteria;
#[cfg(test)]
mod every_output;
mod explain;
mod export;
mod fault;
mod guide;
mod keeping;
mod leaflet;
mod markers;
mod progress;
mod reassess;
mod remedies;
mod review;
mod sessions;
mod trend;
mod watch;

use std::process::ExitCode;

use clap::error::{ContextKind, ContextValue};
use clap::{CommandFactory, Parser, Subcommand};

use crate::shown;
use common::{Stop, complain};
use remedies::exit_status;

/// Watches phone video of a person rising from a chair and tells, rep by rep,
/// how well it was done. Everything stays on this computer.
#[derive(Debug, Parser)]
#[command(name = "plumbrise", version, max_term_width = 90, after_help = AFTER)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

const AFTER: &str = "\
Exit status: 0 done; 1 anything else; 2 wrong usage; 3 the file cannot be read as
video or motion capture; 4 it can be read, but nothing could be assessed, or it is to
be filmed again; 130 interrupted.

A summary of movement, not a diagnosis. Stop the exercise if it hurts.";

#[derive(Debug, Subcommand)]
enum Command {
    /// Look in a few seconds whether a clip is filmed well enough to assess
    Check(check::Check),
    /// Assess clips: find the reps, measure and judge them
    Assess(assess::Assess),
    /// Assess every clip that appears in a folder, until it is ended
    Watch(watch::Watch),
    /// Judge a session again from its stored landmarks, without the network
    Reassess(reassess::Reassess),
    /// Compare a session with a clinician's own labels of its reps
    Agreement(agreement::Agreement),
    /// Compare the left leg with the right: two sessions of the same exercise
    Compare(compare::Compare),
    /// Follow one person over weeks: what has changed beyond what chance may do
    Trend(trend::TrendArgs),
    /// Say what a clinician sees otherwise, rep by rep, and sign off
    Review(review::ReviewArgs),
    /// Keep sessions in an archive: add, list, check, back up, erase
    Archive(archive::ArchiveArgs),
    /// Hand sessions on in an open standard: FHIR, DICOM, CSV, Parquet, TRC, C3D, BIDS
    Export(export::ExportArgs),
    /// Print the limits of good form in force, with source and origin
    Criteria(criteria::CriteriaArgs),
    /// Print the names of markers that are known, in the form that --markers takes
    Markers(markers::MarkersArgs),
    /// Explain a measure: definition, formula, unit, validity, source
    Explain(explain::Explain),
    /// Tell how to film, when not to, and when to stop
    Guide(guide::Guide),
    /// Print a completion script for your shell
    Completions(completions::Completions),
}

/// Runs the command line of this process.
pub fn main() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => return answer(error),
    };
    fault::say_the_place();
    match fault::caught(|| run(arguments.command)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(Stop::Pipe) => ExitCode::SUCCESS,
        Err(Stop::Error(error)) => {
            complain(&error);
            ExitCode::from(exit_status(&error))
        }
        Err(Stop::Worst(status)) => ExitCode::from(status),
    }
}

/// What the command line itself says: help and version on standard output with status 0,
/// what is wrong with the words on standard error with status 2.
fn answer(error: clap::Error) -> ExitCode {
    if error.use_stderr() {
        // Nowhere to say it if this fails.
        let _ = safe(error).print();
        return ExitCode::from(2);
    }
    match error.print().map_err(Stop::from) {
        Err(Stop::Error(full)) => {
            complain(&full);
            ExitCode::from(exit_status(&full))
        }
        _ => ExitCode::SUCCESS,
    }
}

/// The same with words that are safe to show: a shell's star may have put in any file's
/// name.
fn safe(mut error: clap::Error) -> clap::Error {
    let given = error.context().filter_map(|(kind, value)| match value {
        ContextValue::String(word) if word.contains(shown::acts) => Some((kind, shown::line(word))),
        _ => None,
    });
    for (kind, word) in given.collect::<Vec<_>>() {
        error.insert(kind, ContextValue::String(word));
        // A tip that repeats it.
        error.remove(ContextKind::Suggested);
    }
    error
}

fn run(command: Command) -> Result<(), Stop> {
    match command {
        Command::Check(arguments) => check::run(&arguments),
        Command::Assess(arguments) => assess::run(&arguments),
        Command::Watch(arguments) => watch::run(&arguments),
        Command::Reassess(arguments) => reassess::run(&arguments),
        Command::Agreement(arguments) => agreement::run(&arguments),
        Command::Compare(arguments) => compare::run(&arguments),
        Command::Trend(arguments) => trend::run(&arguments),
        Command::Archive(arguments) => archive::run(&arguments),
        Command::Export(arguments) => export::run(&arguments),
        Command::Review(arguments) => review::run(&arguments),
        Command::Criteria(arguments) => criteria::run(&arguments),
        Command::Markers(_) => markers::run(),
        Command::Explain(arguments) => explain::run(&arguments),
        Command::Guide(arguments) => guide::run(&arguments),
        Command::Completions(arguments) => completions::run(&arguments, Arguments::command()),
    }
}
