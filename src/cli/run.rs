//! What each command does.

use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use clap::CommandFactory;

use super::args::{self, Arguments, Command};
use super::progress::Progress;
use crate::agreement::{Set, compare};
use crate::assessment::{Assessment, Told};
use crate::criteria::Criteria;
use crate::error::{Error, Result};
use crate::files::{self, FolderWriter};
use crate::film::{Checked, Grade};
use crate::motion::{self, MarkerNames};
use crate::pipeline::{self, Judged, Wanted, Watcher};
use crate::pose::{Assets, Networks};
use crate::record::ClipFacts;
use crate::report::measures::{self, Measure};
use crate::report::wording;
use crate::{labels, record, references, report, session, settings, video};

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

pub(super) fn run(command: Command) -> Result<(), Stop> {
    match command {
        Command::Check(arguments) => check(&arguments),
        Command::Assess(arguments) => assess_clips(&arguments),
        Command::Reassess(arguments) => reassess(&arguments),
        Command::Agreement(arguments) => agreement(&arguments),
        Command::Archive(arguments) => super::archive::run(&arguments),
        Command::Criteria(arguments) => {
            let criteria = criteria(arguments.criteria.as_deref())?;
            io::stdout().write_all(criteria.to_toml().as_bytes())?;
            Ok(())
        }
        Command::Explain(arguments) => explain(arguments.measure.as_deref()),
        Command::Guide { html } => guide(html),
        Command::Completions { shell } => {
            let mut script = Vec::new();
            clap_complete::generate(shell, &mut Arguments::command(), "plumbrise", &mut script);
            io::stdout().write_all(&script)?;
            Ok(())
        }
    }
}

/// Status of a film that is not worth a long run: the same as where nothing could be
/// assessed.
const FILM_AGAIN: u8 = 4;

fn check(arguments: &args::Check) -> Result<(), Stop> {
    args::within("--stature", arguments.stature, 100.0..=230.0, "100 to 230 cm")?;
    args::within("--recorded-fps", arguments.recorded_fps, 10.0..=1000.0, "10 to 1000")?;
    let clip = &arguments.clip;
    video::probe(clip, &video::Options::default())?;
    let places = &arguments.places;
    let assets = Assets::find(places.models.as_deref(), places.onnxruntime.as_deref())?;
    let mut networks = Networks::load(&assets, settings::LANES)?;
    let mut progress = Progress::new(stop_on_signal());
    let recording =
        pipeline::look_at_clip(clip, arguments.recorded_fps, &mut networks, &mut progress)?;
    std::mem::drop(progress);
    let yaw_max_deg = Criteria::built_in()?.yaw_max.value;
    let stature_m = arguments.stature.map(|cm| cm / 100.0);
    let checked = Checked::new(&recording, stature_m, yaw_max_deg);
    let mut out = io::stdout().lock();
    if arguments.json {
        let text = serde_json::to_string_pretty(&checked).map_err(io::Error::from)?;
        writeln!(out, "{text}")?;
    } else {
        let text = report::film_check(&checked.clip, &checked.findings, colour(&out));
        write!(out, "{text}")?;
    }
    out.flush()?;
    if checked.overall == Grade::FilmAgain { Err(Stop::Worst(FILM_AGAIN)) } else { Ok(()) }
}

fn assess_clips(arguments: &args::Assess) -> Result<(), Stop> {
    let told = arguments.told.told(Told::default())?;
    args::within("--recorded-fps", arguments.recorded_fps, 10.0..=1000.0, "10 to 1000")?;
    let criteria = criteria(arguments.criteria.as_deref())?;
    let clips = arguments.clips.len();
    for (given, option) in [(arguments.json, "--json"), (arguments.out.is_some(), "--out")] {
        if given && clips > 1 {
            return Err(Error::OneClipOnly { option, clips }.into());
        }
    }
    let stopped = stop_on_signal();
    let mut networks = None;
    let mut worst = 0;
    for clip in &arguments.clips {
        if clips > 1 {
            eprintln!("{}", clip.display());
        }
        let done = assess_clip(clip, arguments, &told, &criteria, &mut networks, &stopped);
        match done {
            Ok(()) => {}
            Err(Stop::Error(error)) if clips > 1 && !matches!(error, Error::Interrupted) => {
                super::complain(&error);
                worst = worst.max(error.exit_status());
            }
            Err(stop) => return Err(stop),
        }
    }
    if worst > 0 { Err(Stop::Worst(worst)) } else { Ok(()) }
}

fn assess_clip(
    clip: &Path,
    arguments: &args::Assess,
    told: &Told,
    criteria: &Criteria,
    networks: &mut Option<Networks>,
    stopped: &Arc<AtomicBool>,
) -> Result<(), Stop> {
    if motion::is_motion_file(clip) {
        return assess_markers(clip, arguments, told, criteria, stopped);
    }
    // Everything that can be refused is refused before the long run.
    video::probe(clip, &video::Options::default())?;
    let place = arguments.out.clone().unwrap_or_else(|| session::beside(clip));
    let folder = FolderWriter::new(&place, arguments.force)?;
    let networks = match networks {
        Some(loaded) => loaded,
        None => {
            let places = &arguments.places;
            let assets = Assets::find(places.models.as_deref(), places.onnxruntime.as_deref())?;
            networks.insert(Networks::load(&assets, settings::LANES)?)
        }
    };
    let mut progress = Progress::new(stopped.clone());
    let recording = pipeline::watch_clip(clip, arguments.recorded_fps, networks, &mut progress)?;
    if progress.stopped() {
        return Err(Error::Interrupted.into());
    }
    let judged = Judged::new(&recording, told, criteria, clip)?;
    let wanted = arguments.reports.wanted();
    conclude(folder, &judged, Some(clip), &wanted, progress, arguments.json, &place)
}

fn assess_markers(
    file: &Path,
    arguments: &args::Assess,
    told: &Told,
    criteria: &Criteria,
    stopped: &Arc<AtomicBool>,
) -> Result<(), Stop> {
    let names = match &arguments.markers {
        Some(file) => MarkerNames::read(file)?,
        None => MarkerNames::built_in()?,
    };
    let recording = record::read_markers(file, &names, arguments.up.map(args::Up::axis))?;
    let place = arguments.out.clone().unwrap_or_else(|| session::beside(file));
    let folder = FolderWriter::new(&place, arguments.force)?;
    let judged = Judged::new(&recording, told, criteria, file)?;
    let progress = Progress::new(stopped.clone());
    let wanted = arguments.reports.wanted();
    conclude(folder, &judged, None, &wanted, progress, arguments.json, &place)
}

fn reassess(arguments: &args::Reassess) -> Result<(), Stop> {
    let stored = session::read(&arguments.session)?;
    let told = arguments.told.told(stored.assessment.told)?;
    let criteria = match &arguments.criteria {
        Some(file) => Criteria::read(file)?,
        None => session::read_criteria(&arguments.session)?,
    };
    let recording = stored.recording;
    let place = arguments.out.as_deref().unwrap_or(&arguments.session);
    let renew = arguments.out.is_none() || arguments.force;
    let folder = FolderWriter::new(place, renew)?;
    let wanted = arguments.reports.wanted();
    // Markers have no film.
    let of_film = wanted.film && recording.motion.is_none();
    let clip = if of_film { clip_of(&recording.clip, arguments)? } else { None };
    let judged = Judged::new(&recording, &told, &criteria, &arguments.session)?;
    let progress = Progress::new(stop_on_signal());
    conclude(folder, &judged, clip.as_deref(), &wanted, progress, arguments.json, place)?;
    if of_film && clip.is_none() {
        eprintln!("plumbrise: {}", wording::clip_not_found(&recording.clip.file));
    }
    Ok(())
}

/// Writes everything, moves it into place and tells the result.
fn conclude(
    folder: FolderWriter,
    judged: &Judged,
    clip: Option<&Path>,
    wanted: &Wanted,
    mut progress: Progress,
    json: bool,
    place: &Path,
) -> Result<(), Stop> {
    let failed = pipeline::write_session(&folder, judged, clip, wanted, &mut progress)?;
    folder.publish()?;
    std::mem::drop(progress);
    present(&judged.assessment, judged.criteria, json, place, wanted.page)?;
    failed.iter().for_each(super::complain);
    if failed.is_empty() { Ok(()) } else { Err(Stop::Worst(1)) }
}

/// The clip a session was made from: as named, else of its name beside the session.
fn clip_of(facts: &ClipFacts, arguments: &args::Reassess) -> Result<Option<PathBuf>> {
    let same = |path: &Path| Ok::<_, Error>(files::sha256(path)? == facts.sha256);
    if let Some(named) = &arguments.clip {
        return if same(named)? {
            Ok(Some(named.clone()))
        } else {
            Err(Error::OtherClip(named.clone()))
        };
    }
    // The name comes from a document: only a file beside the session is meant.
    let Some(name) = Path::new(&facts.file).file_name() else { return Ok(None) };
    let beside = arguments.session.canonicalize().ok().and_then(|s| Some(s.parent()?.join(name)));
    match beside {
        Some(path) if path.is_file() && same(&path)? => Ok(Some(path)),
        _ => Ok(None),
    }
}

fn agreement(arguments: &args::Agreement) -> Result<(), Stop> {
    let mut out = io::stdout().lock();
    if let Some(folder) = &arguments.template {
        let reps = session::read_assessment(folder)?.reps;
        out.write_all(labels::template(&reps).as_bytes())?;
        out.flush()?;
        eprintln!("{}", report::TEMPLATE_HELP);
        return Ok(());
    }
    let (pairs, rest) = arguments.pairs.as_chunks::<2>();
    if !rest.is_empty() {
        return Err(Error::NotInPairs(arguments.pairs.len()).into());
    }
    let mut sets = Vec::new();
    for [folder, file] in pairs {
        let assessment = session::read_assessment(folder)?;
        let Some(first) = assessment.reps.first() else {
            let why = "it has no rep".into();
            return Err(Error::Session { path: folder.clone(), why }.into());
        };
        let names: Vec<String> = first.numbers().into_iter().map(|(name, _)| name).collect();
        let labels = labels::read(file, &names)?;
        sets.push(Set {
            session: folder.display().to_string(),
            labels_file: file.display().to_string(),
            assessment,
            labels,
        });
    }
    let compared = compare(&sets);
    if arguments.json {
        let text = serde_json::to_string_pretty(&compared).map_err(io::Error::from)?;
        writeln!(out, "{text}")?;
    } else {
        write!(out, "{}", report::agreement(&compared, colour(&out)))?;
    }
    Ok(out.flush()?)
}

/// Whether to emphasise.
fn colour(out: &io::StdoutLock) -> bool {
    out.is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty())
}

fn present(
    a: &Assessment,
    criteria: &Criteria,
    json: bool,
    place: &Path,
    page: bool,
) -> Result<(), Stop> {
    let mut out = io::stdout().lock();
    if json {
        let text = serde_json::to_string_pretty(a).map_err(io::Error::from)?;
        writeln!(out, "{text}")?;
    } else {
        write!(out, "{}", report::terminal(a, criteria, colour(&out)))?;
        writeln!(out, "\nEverything is in {}", place.display())?;
        if page {
            writeln!(out, "To look at: {}", place.join(session::PAGE).display())?;
        }
    }
    Ok(out.flush()?)
}

fn guide(html: bool) -> Result<(), Stop> {
    let mut out = io::stdout().lock();
    let text = if html { report::guide_page() } else { report::guide(colour(&out)) };
    out.write_all(text.as_bytes())?;
    Ok(out.flush()?)
}

fn explain(name: Option<&str>) -> Result<(), Stop> {
    let mut out = io::stdout().lock();
    match name {
        Some(name) => {
            let m = measures::find(name).ok_or_else(|| Error::UnknownMeasure(name.into()))?;
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

fn criteria(file: Option<&Path>) -> Result<Criteria> {
    file.map_or_else(Criteria::built_in, Criteria::read)
}

/// A flag that Ctrl-C (or a request to end) raises; the run then ends in order,
/// leaving nothing behind.
fn stop_on_signal() -> Arc<AtomicBool> {
    let stopped = Arc::new(AtomicBool::new(false));
    let flag = stopped.clone();
    // Without a handler Ctrl-C still ends the program, only less tidily.
    let _ = ctrlc::set_handler(move || flag.store(true, Ordering::Relaxed));
    stopped
}
