//! `plumbrise explain`: what a measure means.

use std::io::{self, Write};

use clap::Args;

use super::common::Stop;
use crate::error::Error;
use crate::judgement::measures::{self, Explained};
use crate::references;

#[derive(Debug, Args)]
pub(super) struct Explain {
    /// Name of a measure; without it, a list
    pub measure: Option<String>,
}

pub(super) fn run(arguments: &Explain) -> Result<(), Stop> {
    let mut out = io::stdout().lock();
    match &arguments.measure {
        Some(name) => {
            let it = measures::find(name).ok_or_else(|| Error::UnknownMeasure(name.clone()))?;
            write!(out, "{}", explained(it))?;
        }
        None => write!(out, "{}", list())?,
    }
    Ok(out.flush()?)
}

/// Everything there is to explain, a line each.
pub(super) fn list() -> String {
    measures::explained().map(|it| format!("{:<28} {}\n", it.key, it.briefly())).collect()
}

pub(super) fn explained(it: &Explained) -> String {
    let cited: String = references::cited(|key| it.cites(key))
        .iter()
        .map(|(key, text)| format!("\n[{key}] {text}"))
        .collect();
    format!(
        "{}\n\n{}\n\n  Formula   {}\n  Unit      {}\n  Validity  {}\n  Source    {}\n{cited}\n",
        it.key, it.definition, it.formula, it.reads, it.validity, it.source
    )
}
