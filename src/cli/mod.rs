//! Words in, words out, exit status.

mod agreement;
mod archive;
mod args;
mod assess;
mod assessing;
mod check;
mod compare;
mod completions;
mod criteria;
mod explain;
mod export;
mod guide;
mod keeping;
mod leaflet;
mod progress;
mod reassess;
mod review;
mod run;
mod sessions;
mod trend;
mod watch;

use std::process::ExitCode;

use clap::Parser;

/// Runs the command line of this process.
pub fn main() -> ExitCode {
    let arguments = match args::Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version go to standard output with status 0, the rest
            // to standard error with status 2. A closed pipe is no fault.
            let _ = error.print();
            return ExitCode::from(if error.use_stderr() { 2 } else { 0 });
        }
    };
    match run::run(arguments.command) {
        Ok(()) => ExitCode::SUCCESS,
        Err(run::Stop::Pipe) => ExitCode::SUCCESS,
        Err(run::Stop::Error(error)) => {
            complain(&error);
            ExitCode::from(error.exit_status())
        }
        Err(run::Stop::Worst(status)) => ExitCode::from(status),
    }
}

/// An error for people: what is wrong, and what to do.
fn complain(error: &crate::Error) {
    eprintln!("plumbrise: {error}");
    if let Some(hint) = error.hint() {
        eprintln!("hint: {hint}");
    }
}
