//! `plumbrise check`: is the film good enough?

use std::io::{self, Write};
use std::path::PathBuf;

use clap::Args;

use super::args::{Places, within};
use super::common::{Stop, colour, ended, json, stop_on_signal};
use super::progress::Bar;
use crate::film_check::{Checked, Grade};
use crate::judgement::criteria::Criteria;
use crate::pose::{Assets, Networks};
use crate::{pipeline, report, settings, video};

#[derive(Debug, Args)]
#[command(after_help = CHECK)]
pub(super) struct Check {
    /// The clip (a name that begins with a dash goes after --)
    #[arg(value_name = "CLIP")]
    pub clip: PathBuf,
    /// The person's stature in cm; makes distance and height right
    #[arg(long, value_name = "CM")]
    pub stature: Option<f64>,
    /// Frame rate at which a slow-motion clip was really recorded, per second
    #[arg(long, value_name = "HZ")]
    pub recorded_fps: Option<f64>,
    /// Print the findings as JSON and nothing else on standard output
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub places: Places,
}

const CHECK: &str = "\
Exit status: 0 good or usable; 4 to be filmed again, or nobody found; others as for all
commands. With --json, a film to be filmed again also prints its findings.";

/// Status of a film that is not worth a long run: the same as where nothing could be
/// assessed.
const FILM_AGAIN: u8 = 4;

pub(super) fn run(arguments: &Check) -> Result<(), Stop> {
    within("--stature", arguments.stature, 100.0..=230.0, "100 to 230 cm")?;
    within("--recorded-fps", arguments.recorded_fps, 10.0..=1000.0, "10 to 1000")?;
    let clip = &arguments.clip;
    video::probe(clip, &video::Options::default())?;
    let places = &arguments.places;
    let assets = Assets::find(places.models.as_deref(), places.onnxruntime.as_deref())?;
    let mut networks = Networks::load(&assets, settings::LANES)?;
    let mut progress = Bar::new(stop_on_signal());
    let recording =
        pipeline::look_at_clip(clip, arguments.recorded_fps, &mut networks, &mut progress)?;
    std::mem::drop(progress);
    let yaw_max_deg = Criteria::built_in()?.yaw_max.value;
    let stature_m = arguments.stature.map(|cm| cm / 100.0);
    let checked = Checked::new(&recording, stature_m, yaw_max_deg);
    let again = checked.overall == Grade::FilmAgain;
    ended(print(&checked, arguments.json), if again { FILM_AGAIN } else { 0 })
}

fn print(checked: &Checked, as_json: bool) -> Result<(), Stop> {
    let mut out = io::stdout().lock();
    if as_json {
        writeln!(out, "{}", json(checked)?)?;
    } else {
        let text = report::film_check(&checked.clip, &checked.findings, colour(&out));
        write!(out, "{text}")?;
    }
    Ok(out.flush()?)
}
