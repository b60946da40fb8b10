//! `plumbrise archive`.

use std::collections::BTreeSet;
use std::fmt::Display;
use std::io::{self, StdoutLock, Write};
use std::path::PathBuf;

use clap::{Args, Subcommand};
use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;
use serde::Serialize;

use super::common::{Stop, complain, json, note};
use super::export::{Delivery, EXPORT};
use super::remedies::exit_status;
use super::sessions::ArchivePlace;
use crate::archive::{Adding, Archive, restore};
use crate::error::{Error, Result};
use crate::export::Item;
use crate::report::wording::archive as words;
use crate::report::{archive as tables, wrapped, write_reports_again};
use crate::session::person::Code;
use crate::shown;

#[derive(Debug, Args)]
pub(super) struct ArchiveArgs {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Add sessions of one person, under a code
    Add(Add),
    /// List persons, or the sessions of one
    List(List),
    /// Show a session: its numbers and files
    Show(Show),
    /// Put a session under another code, where it was added under a wrong one
    Move(Move),
    /// Make sure that every file is there and unchanged, the index says what they say, and
    /// nothing else is there
    Verify(Verify),
    /// Hand sessions on in an open standard
    Export(Export),
    /// Erase a person for good
    Erase(Erase),
    /// Write the whole archive into one file
    Backup(Backup),
    /// Make an archive from a back-up, in a new folder
    Restore(Restore),
    /// Say or show how many years sessions are to be kept
    Retention(Retention),
}

#[derive(Debug, Args)]
struct Add {
    /// Session folders of one person
    #[arg(required = true, value_name = "SESSION")]
    sessions: Vec<PathBuf>,
    /// Code of the person, no name: letters, digits, dashes [default: a new one is drawn]
    #[arg(long, value_name = "CODE")]
    person: Option<String>,
    /// When it was filmed, such as 2026-05-04 or 2026-05-04T14:30, in this computer's time
    /// [default: as the camera wrote it]
    #[arg(long, value_name = "TIME")]
    recorded: Option<String>,
    /// Keep the clip itself too
    #[arg(long, value_name = "CLIP")]
    clip: Option<PathBuf>,
    /// Keep film and pictures in which faces can be seen: everybody in them has agreed
    #[arg(long)]
    faces_shown_with_consent: bool,
    /// Take a code that was erased before: the same person came back and agrees
    #[arg(long)]
    again: bool,
    #[command(flatten)]
    place: ArchivePlace,
}

#[derive(Debug, Args)]
struct List {
    /// The sessions of this person
    #[arg(long, value_name = "CODE", conflicts_with = "due")]
    person: Option<String>,
    /// Persons whose last session is older than is to be kept
    #[arg(long)]
    due: bool,
    /// Print the list as JSON and nothing else on standard output
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    place: ArchivePlace,
}

#[derive(Debug, Args)]
struct Show {
    /// Id of the session; its beginning is enough
    #[arg(value_name = "ID")]
    session: String,
    /// Print it as JSON and nothing else on standard output
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    place: ArchivePlace,
}

#[derive(Debug, Args)]
struct Move {
    /// Id of the session; its beginning is enough
    #[arg(value_name = "ID")]
    session: String,
    /// Code of the right person
    #[arg(long, value_name = "CODE")]
    person: String,
    /// Take a code that was erased before
    #[arg(long)]
    again: bool,
    #[command(flatten)]
    place: ArchivePlace,
}

#[derive(Debug, Args)]
#[command(after_help = "Exit status: 0 nothing is wrong; 1 something is.")]
struct Verify {
    /// Print what was found as JSON and nothing else on standard output
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    place: ArchivePlace,
}

#[derive(Debug, Args)]
#[command(after_long_help = EXPORT)]
struct Export {
    /// Ids of sessions [default: all of the person, or of the archive]
    #[arg(value_name = "ID")]
    sessions: Vec<String>,
    /// All sessions of this person
    #[arg(long, value_name = "CODE", conflicts_with = "sessions")]
    person: Option<String>,
    #[command(flatten)]
    delivery: Delivery,
    #[command(flatten)]
    place: ArchivePlace,
}

#[derive(Debug, Args)]
#[command(after_help = ERASE)]
struct Erase {
    /// Code of the person
    #[arg(value_name = "CODE", required_unless_present = "due", conflicts_with = "due")]
    person: Option<String>,
    /// Everybody whose last session is older than is to be kept
    #[arg(long)]
    due: bool,
    /// Yes, erase: it cannot be undone
    #[arg(long)]
    yes: bool,
    #[command(flatten)]
    place: ArchivePlace,
}

const ERASE: &str = "\
To erase one session only, move it to a code of its own and erase that.

Exit status: 0 erased; 2 not erased, as --yes is missing.";

#[derive(Debug, Args)]
struct Backup {
    /// The back-up, outside the archive
    #[arg(value_name = "FILE.tar")]
    file: PathBuf,
    /// Replace a file that exists
    #[arg(long)]
    force: bool,
    #[command(flatten)]
    place: ArchivePlace,
}

#[derive(Debug, Args)]
struct Restore {
    /// The back-up
    #[arg(value_name = "FILE.tar")]
    file: PathBuf,
    /// Folder for the archive, which must not exist
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// The archive that was in use: who was erased there is erased here too
    #[arg(long, value_name = "ARCHIVE")]
    erased_in: Option<PathBuf>,
}

#[derive(Debug, Args)]
struct Retention {
    /// Years after a person's last session
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=200))]
    years: Option<u32>,
    #[command(flatten)]
    place: ArchivePlace,
}

pub(super) fn run(arguments: &ArchiveArgs) -> Result<(), Stop> {
    match &arguments.what {
        What::Add(arguments) => add(arguments),
        What::List(arguments) => list(arguments),
        What::Show(arguments) => show(arguments),
        What::Move(arguments) => moved(arguments),
        What::Verify(arguments) => verify(arguments),
        What::Export(arguments) => export(arguments),
        What::Erase(arguments) => erase(arguments),
        What::Backup(arguments) => backup(arguments),
        What::Restore(arguments) => restored(arguments),
        What::Retention(arguments) => retention(arguments),
    }
}

fn add(arguments: &Add) -> Result<(), Stop> {
    let sessions = arguments.sessions.len();
    if arguments.clip.is_some() && sessions > 1 {
        return Err(Error::OneSessionOnly { option: "--clip", sessions }.into());
    }
    let recorded_at = arguments.recorded.as_deref().map(recorded).transpose()?;
    let told = arguments.person.as_deref().map(Code::new).transpose()?;
    let mut archive = Archive::open_or_create(arguments.place.needed()?)?;
    let person = match &told {
        Some(person) => person.clone(),
        None => archive.free_code()?,
    };
    let how = Adding {
        person: &person,
        recorded_at,
        clip: arguments.clip.as_deref(),
        faces_with_consent: arguments.faces_shown_with_consent,
        again: arguments.again,
        reports: write_reports_again,
    };
    let mut told_of = Told::new();
    let mut worst = 0;
    let mut any = false;
    let mut remarks = BTreeSet::new();
    for session in &arguments.sessions {
        match archive.add(session, &how) {
            Ok(added) => {
                any = true;
                told_of.say(tables::added(&added));
                remarks.extend(tables::remarks(&added, arguments.clip.is_some()));
            }
            Err(error) if sessions > 1 => {
                complain(&error);
                worst = worst.max(exit_status(&error));
            }
            Err(error) => return Err(error.into()),
        }
    }
    if any && told.is_none() {
        told_of.say(wrapped(&words::drawn(person.as_str()), ""));
    }
    let ended = told_of.end(worst);
    for remark in remarks {
        note(format_args!("plumbrise: {remark}"));
    }
    ended
}

/// A day or a moment in this computer's time; of a day its noon, so that it is the same day
/// nearly everywhere.
fn recorded(text: &str) -> Result<Timestamp> {
    let wrong = || Error::Setting {
        name: "--recorded",
        value: text.into(),
        allowed: "the past, or not a time such as 2026-05-04 or 2026-05-04T14:30",
    };
    let time: DateTime = match text.parse::<Date>() {
        Ok(date) if text.len() <= 10 => date.at(12, 0, 0, 0),
        _ => text.parse().map_err(|_| wrong())?,
    };
    let zoned = time.to_zoned_datetime(TimeZone::system()).map_err(|_| wrong())?;
    let (now, told) = (Timestamp::now(), zoned.timestamp());
    // Noon of today may still be to come.
    let future = told > now && zoned.date() != now.to_zoned_datetime(TimeZone::system()).date();
    if future { Err(wrong()) } else { Ok(told.min(now)) }
}

/// Sessions from the archive in the form of an open standard, each under its own person's
/// code.
fn export(arguments: &Export) -> Result<(), Stop> {
    let archive = Archive::open(arguments.place.needed()?)?;
    let mut entries = Vec::new();
    for id in &arguments.sessions {
        entries.push(archive.session(id)?);
    }
    if let Some(person) = &arguments.person {
        entries.extend(archive.sessions_of(&Code::new(person)?)?);
    } else if arguments.sessions.is_empty() {
        entries.extend(archive.sessions()?);
    }
    let items = entries.iter().map(|entry| {
        Ok(Item {
            session: Box::new(archive.open_session(entry)?),
            person: Some(Code::new(&entry.person)?),
            recorded_at: entry.filmed_at(),
            id: entry.id.clone(),
        })
    });
    arguments.delivery.deliver(&items.collect::<Result<Vec<_>>>()?)
}

fn list(arguments: &List) -> Result<(), Stop> {
    let archive = Archive::open(arguments.place.needed()?)?;
    if let Some(person) = &arguments.person {
        let sessions = archive.sessions_of(&Code::new(person)?)?;
        return print(arguments.json, &sessions, |sessions| tables::sessions(sessions));
    }
    let persons = match arguments.due {
        true => archive.due(Timestamp::now())?,
        false => archive.persons()?,
    };
    let nobody = if arguments.due { words::NOBODY_DUE } else { words::EMPTY };
    print(arguments.json, &persons, |persons| tables::persons(persons, nobody))
}

fn show(arguments: &Show) -> Result<(), Stop> {
    let archive = Archive::open(arguments.place.needed()?)?;
    let entry = archive.session(&arguments.session)?;
    let files = archive.files(&entry)?;
    let mut out = io::stdout().lock();
    if arguments.json {
        let mut told = serde_json::to_value(&entry).map_err(io::Error::from)?;
        told["files"] = serde_json::to_value(&files).map_err(io::Error::from)?;
        writeln!(out, "{}", json(&told)?)?;
        return Ok(out.flush()?);
    }
    write!(out, "{}", tables::session(&entry, &files))?;
    Ok(out.flush()?)
}

fn moved(arguments: &Move) -> Result<(), Stop> {
    let person = Code::new(&arguments.person)?;
    let mut archive = Archive::open(arguments.place.needed()?)?;
    let entry = archive.move_session(&arguments.session, &person, arguments.again)?;
    Told::only(words::moved(&entry.id, &entry.person))
}

fn verify(arguments: &Verify) -> Result<(), Stop> {
    let found = Archive::open_as_it_is(arguments.place.needed()?)?.verify()?;
    match print(arguments.json, &found, tables::verified) {
        // That nobody reads what is wrong does not make it right.
        Ok(()) | Err(Stop::Pipe) if !found.is_clean() => Err(Stop::Worst(1)),
        printed => printed,
    }
}

fn erase(arguments: &Erase) -> Result<(), Stop> {
    let mut archive = Archive::open(arguments.place.needed()?)?;
    let persons: Vec<Code> = match &arguments.person {
        Some(person) => vec![Code::new(person)?],
        None => {
            let due = archive.due(Timestamp::now())?;
            due.iter().map(|person| Code::new(&person.code)).collect::<Result<_>>()?
        }
    };
    let mut told = Told::new();
    if persons.is_empty() {
        told.say(words::NOBODY_DUE);
    }
    if !arguments.yes && !persons.is_empty() {
        for person in &persons {
            let sessions = archive.sessions_of(person)?;
            told.say(format_args!(
                "{person}: {}",
                words::count(sessions.len(), "session", "sessions")
            ));
            told.say(tables::sessions(&sessions).trim_end());
        }
        let ended = told.end(2);
        note(format_args!("plumbrise: {}", words::NOT_YET));
        return ended;
    }
    for person in &persons {
        told.say(tables::receipt(&archive.erase(person)?).trim_end());
    }
    told.end(0)
}

fn backup(arguments: &Backup) -> Result<(), Stop> {
    Archive::open(arguments.place.needed()?)?.backup(&arguments.file, arguments.force)?;
    Told::only(format_args!("Written: {}\n{}", shown::path(&arguments.file), words::BACKED_UP))
}

fn restored(arguments: &Restore) -> Result<(), Stop> {
    let other = arguments.erased_in.as_deref().map(Archive::open).transpose()?;
    let erased = restore(&arguments.file, &arguments.folder, other.as_ref())?;
    let mut told = Told::new();
    told.say(words::restored(&arguments.folder));
    for person in &erased.persons {
        told.say(tables::receipt(person).trim_end());
    }
    let ended = told.end(0);
    if other.is_none() {
        note(format_args!("plumbrise: {}", words::ERASED_SINCE));
    }
    ended
}

fn retention(arguments: &Retention) -> Result<(), Stop> {
    let mut archive = Archive::open(arguments.place.needed()?)?;
    if let Some(years) = arguments.years {
        archive.set_retention_years(years)?;
    }
    let told = words::retention(archive.retention_years()?);
    Told::only(format_args!("{told}\n{}", wrapped(words::RETENTION_RULES, "")))
}

/// Messages about work that goes on whether or not they can be printed.
struct Told {
    out: StdoutLock<'static>,
    failed: Option<io::Error>,
}

impl Told {
    fn new() -> Self {
        Self { out: io::stdout().lock(), failed: None }
    }

    /// A single one, about work that is done.
    fn only(text: impl Display) -> Result<(), Stop> {
        let mut told = Self::new();
        told.say(text);
        told.end(0)
    }

    fn say(&mut self, text: impl Display) {
        if self.failed.is_none() {
            self.failed = writeln!(self.out, "{text}").err();
        }
    }

    /// The end of the work, with the exit status of what came of it. That nobody reads the
    /// messages is no fault; that they could not be written is told.
    fn end(mut self, status: u8) -> Result<(), Stop> {
        let failed = self.failed.take().or_else(|| self.out.flush().err());
        let mut worst = status;
        if let Some(source) = failed.filter(|e| e.kind() != io::ErrorKind::BrokenPipe) {
            complain(&Error::CannotWrite { path: "standard output".into(), source });
            if status == 0 {
                note(format_args!("plumbrise: {}", words::DONE_UNTOLD));
            }
            worst = worst.max(1);
        }
        if worst > 0 { Err(Stop::Worst(worst)) } else { Ok(()) }
    }
}

/// For programs or for people.
fn print<T: Serialize>(
    for_programs: bool,
    value: &T,
    text: impl Fn(&T) -> String,
) -> Result<(), Stop> {
    let mut out = io::stdout().lock();
    match for_programs {
        true => writeln!(out, "{}", json(value)?)?,
        false => write!(out, "{}", text(value))?,
    }
    Ok(out.flush()?)
}
