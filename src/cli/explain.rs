//! `plumbrise explain`: what a measure means.

use std::io::{self, Write};

use clap::Args;

use super::common::Stop;
use crate::error::Error;
use crate::references;
use crate::report::measures::{self, Measure};

#[derive(Debug, Args)]
pub(super) struct Explain {
    /// Name of a measure; without it, a list
    pub measure: Option<String>,
}

pub(super) fn run(arguments: &Explain) -> Result<(), Stop> {
    let mut out = io::stdout().lock();
    match &arguments.measure {
        Some(name) => {
            let m = measures::find(name).ok_or_else(|| Error::UnknownMeasure(name.clone()))?;
            write!(out, "{}", explained(m))?;
        }
        None => {
            for m in measures::MEASURES {
                let (first, _) = m.definition.split_once(['.', ':']).unwrap_or((m.definition, ""));
                writeln!(out, "{:<24} {first}", m.name)?;
            }
        }
    }
    Ok(out.flush()?)
}

fn explained(m: &Measure) -> String {
    let cited: String = references::cited(|key| m.cites(key))
        .iter()
        .map(|(key, text)| format!("\n[{key}] {text}"))
        .collect();
    format!(
        "{}\n\n{}\n\n  Formula   {}\n  Unit      {}\n  Validity  {}\n  Source    {}\n{cited}\n",
        m.name, m.definition, m.formula, m.unit, m.validity, m.source
    )
}
