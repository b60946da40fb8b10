//! Sessions that go into the archive as soon as they are there.

use std::io::{self, Write};
use std::path::Path;

use clap::Args;

use super::common::{Stop, note};
use super::sessions::{ArchivePlace, weeks_of};
use crate::archive::{Adding, Archive};
use crate::error::Result;
use crate::report;
use crate::report::wording::archive as words;
use crate::report::wording::trend::SINCE_LAST_TIME;
use crate::session::person::Code;

#[derive(Debug, Args)]
#[command(next_help_heading = "Archive")]
pub(super) struct Keeping {
    /// Keep the result in the archive under this person's code, and tell at the end what has
    /// changed since last time
    #[arg(long, value_name = "CODE", requires = "archive")]
    person: Option<String>,
    #[command(flatten)]
    place: ArchivePlace,
}

impl Keeping {
    /// Who keeps the sessions, if a person was named.
    ///
    /// # Errors
    /// Those of the code and of opening or making the archive.
    pub fn keeper(&self) -> Result<Option<Keeper>> {
        let Some(person) = &self.person else { return Ok(None) };
        let person = Code::new(person)?;
        Ok(Some(Keeper { archive: Archive::open_or_create(self.place.needed()?)?, person }))
    }
}

/// Keeps sessions of one person.
pub(super) struct Keeper {
    archive: Archive,
    person: Code,
}

impl Keeper {
    /// Adds a session.
    ///
    /// # Errors
    /// Those of [`Archive::add`].
    pub fn keep(&mut self, session: &Path) -> Result<()> {
        let how = Adding {
            person: &self.person,
            recorded_at: None,
            clip: None,
            faces_with_consent: false,
            again: false,
            reports: report::write_reports_again,
        };
        let added = self.archive.add(session, &how)?;
        if !added.left_out.is_empty() {
            note(format_args!("plumbrise: {}", words::left_out(&added.left_out)));
        }
        Ok(())
    }

    /// Tells what has changed since last time, in the athlete's words; aside where
    /// standard output is for a program.
    pub fn tell(&self, aside: bool) -> Result<(), Stop> {
        let said = report::since_last(&weeks_of(&self.person, &self.archive)?);
        let text = format!("\n{}\n{}", SINCE_LAST_TIME, report::wrapped(&said, ""));
        if aside {
            note(text);
            return Ok(());
        }
        let mut out = io::stdout().lock();
        writeln!(out, "{text}")?;
        Ok(out.flush()?)
    }
}
