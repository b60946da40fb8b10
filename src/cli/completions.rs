//! `plumbrise completions`: the words of the command line for a shell.

use std::io::{self, Write};

use clap::{Args, Command};

use super::common::Stop;

#[derive(Debug, Args)]
pub(super) struct Completions {
    /// Which shell
    shell: clap_complete::Shell,
}

pub(super) fn run(arguments: &Completions, mut command: Command) -> Result<(), Stop> {
    let mut script = Vec::new();
    clap_complete::generate(arguments.shell, &mut command, "plumbrise", &mut script);
    let mut out = io::stdout().lock();
    out.write_all(&script)?;
    Ok(out.flush()?)
}
