//! The words of the command line.

use std::ops::RangeInclusive;
use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::assessment::{Rung, Told};
use crate::error::{Error, Result};
use crate::motion::Axis;
use crate::pipeline::Wanted;
use crate::skeleton::Side;

/// Watches phone video of a person rising from a chair and tells, rep by rep,
/// how well it was done. Everything stays on this computer.
#[derive(Debug, Parser)]
#[command(name = "plumbrise", version, max_term_width = 90, after_help = AFTER)]
pub(super) struct Arguments {
    #[command(subcommand)]
    pub command: Command,
}

const AFTER: &str = "\
Exit status: 0 done; 1 anything else; 2 wrong usage; 3 the file cannot be read as
video or motion capture; 4 it can be read, but nothing could be assessed, or it is to
be filmed again; 130 interrupted.

A summary of movement, not a diagnosis. Stop the exercise if it hurts.";

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Look in a few seconds whether a clip is filmed well enough to assess
    Check(Check),
    /// Assess a clip: find the reps, measure and judge them
    Assess(Assess),
    /// Judge a session again from its stored landmarks, without the network
    Reassess(Reassess),
    /// Compare a session with a clinician's own labels of its reps
    Agreement(Agreement),
    /// Keep sessions in an archive: add, list, check, back up, erase
    Archive(super::archive::ArchiveArgs),
    /// Print the limits of good form in force, with source and origin
    Criteria(CriteriaArgs),
    /// Explain a measure: definition, formula, unit, validity, source
    Explain(Explain),
    /// Tell how to film, when not to, and when to stop
    Guide {
        /// Print it as one HTML page: plumbrise guide --html > guide.html
        #[arg(long)]
        html: bool,
    },
    /// Print a completion script for your shell
    Completions {
        /// Which shell
        shell: clap_complete::Shell,
    },
}

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

#[derive(Debug, Args)]
pub(super) struct Assess {
    /// Clips to assess, or marker files (.trc) of a motion laboratory (a name that begins with a dash goes after --)
    #[arg(required = true, value_name = "CLIP")]
    pub clips: Vec<PathBuf>,
    #[command(flatten)]
    pub told: ToldArgs,
    /// Frame rate at which a slow-motion clip was really recorded, per second
    #[arg(long, value_name = "HZ")]
    pub recorded_fps: Option<f64>,
    /// Upward axis of a marker file (.trc) [default: found from the body]
    #[arg(long, value_enum, value_name = "AXIS")]
    pub up: Option<Up>,
    /// Names of markers that are not among the common ones (TOML)
    #[arg(long, value_name = "FILE")]
    pub markers: Option<PathBuf>,
    /// Limits other than the usual ones (see 'plumbrise criteria')
    #[arg(long, value_name = "FILE")]
    pub criteria: Option<PathBuf>,
    /// Folder for the results [default: CLIP-name.plumbrise beside the clip]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Replace a results folder that exists
    #[arg(long)]
    pub force: bool,
    /// Print the assessment as JSON and nothing else on standard output
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub places: Places,
    #[command(flatten)]
    pub reports: Reports,
}

#[derive(Debug, Args)]
#[command(next_help_heading = "Reports")]
pub(super) struct Reports {
    /// Write no annotated film (annotated.mp4)
    #[arg(long)]
    pub no_video: bool,
    /// Write no page (report.html)
    #[arg(long)]
    pub no_html: bool,
    /// Write no paper (report.pdf)
    #[arg(long)]
    pub no_pdf: bool,
    /// Faces in film and pictures; show them only with the consent of everybody seen
    #[arg(long, value_enum, default_value = "hide")]
    pub faces: FacesChoice,
    /// Show the faulted seconds of the annotated film four times slower
    #[arg(long)]
    pub slow_faults: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum FacesChoice {
    Hide,
    Show,
}

#[derive(Debug, Args)]
pub(super) struct ToldArgs {
    /// The working leg, of the person [default: auto, or as before in reassess]
    #[arg(long, value_enum)]
    pub leg: Option<Leg>,
    /// The exercise [default: auto, or as before in reassess]
    #[arg(long, value_enum)]
    pub rung: Option<RungChoice>,
    /// The person's stature in cm; makes lengths and speeds right
    #[arg(long, value_name = "CM")]
    pub stature: Option<f64>,
    /// Height of the seat in cm, where stature is not known
    #[arg(long, value_name = "CM")]
    pub seat_height: Option<f64>,
}

#[derive(Debug, Args)]
pub(super) struct Places {
    /// Folder of the pose network [default: 'models' near the program]
    #[arg(long, value_name = "DIR", env = "PLUMBRISE_MODELS")]
    pub models: Option<PathBuf>,
    /// The ONNX Runtime library [default: in 'runtime' near the program]
    #[arg(long, value_name = "FILE", env = "PLUMBRISE_ONNXRUNTIME")]
    pub onnxruntime: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(super) struct Reassess {
    /// Folder that 'plumbrise assess' made
    #[arg(value_name = "SESSION")]
    pub session: PathBuf,
    /// Limits to judge by [default: those the session was judged by]
    #[arg(long, value_name = "FILE")]
    pub criteria: Option<PathBuf>,
    #[command(flatten)]
    pub told: ToldArgs,
    /// Write the result to this folder instead of renewing the session
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Replace the folder of --out if it exists
    #[arg(long)]
    pub force: bool,
    /// The clip, for the annotated film [default: looked for beside the session]
    #[arg(long, value_name = "CLIP")]
    pub clip: Option<PathBuf>,
    /// Print the assessment as JSON and nothing else on standard output
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub reports: Reports,
}

#[derive(Debug, Args)]
#[command(after_long_help = LABELS)]
pub(super) struct Agreement {
    /// Session folder and its labels; further pairs are pooled with them
    #[arg(value_name = "SESSION LABELS.csv", required_unless_present = "template")]
    pub pairs: Vec<PathBuf>,
    /// Print an empty table of labels for the reps of a session
    #[arg(long, value_name = "SESSION", conflicts_with_all = ["pairs", "json"])]
    pub template: Option<PathBuf>,
    /// Print the agreement as JSON and nothing else on standard output
    #[arg(long)]
    pub json: bool,
}

const LABELS: &str = "\
The labels are a table with a heading, separated by commas or semicolons (then with
decimal points or commas), UTF-8, one row a rep:

  start_s, end_s   when the rep was, in seconds of the clip; or
  at_s             a moment inside it; or
  rep              its number, where there are no times
  judgement        clean, faulted or not_judged
  knee_inward, drop, incomplete_stand, free_foot_down, hands_used, foot_moved
                   1 for yes, 0 for no
  reasons          in place of these six: the names of those seen, with spaces
                   between, or none; no other was seen then, and on a clean rep
                   none was
  descent_s, knee_offset_peak_cm, ...   any number of a rep in assessment.json
  note             not read

An empty cell means that the clinician did not say. Rows with times are matched to
reps by time, so that a rep too many or too few on either side shifts nothing.
Several sessions: one a person.";

#[derive(Debug, Args)]
pub(super) struct CriteriaArgs {
    /// Show the limits with this file's changes
    #[arg(long, value_name = "FILE")]
    pub criteria: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(super) struct Explain {
    /// Name of a measure; without it, a list
    pub measure: Option<String>,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum Leg {
    Left,
    Right,
    Auto,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum Up {
    X,
    Y,
    Z,
}

impl Up {
    pub fn axis(self) -> Axis {
        match self {
            Up::X => Axis::X,
            Up::Y => Axis::Y,
            Up::Z => Axis::Z,
        }
    }
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum RungChoice {
    Auto,
    SingleLeg,
    Lowering,
    SplitStance,
    TwoLeg,
}

impl Reports {
    pub fn wanted(&self) -> Wanted {
        Wanted {
            film: !self.no_video,
            page: !self.no_html,
            paper: !self.no_pdf,
            faces_shown: matches!(self.faces, FacesChoice::Show),
            slow_faults: self.slow_faults,
        }
    }
}

impl ToldArgs {
    /// What was said, over what was said before: a word replaces it, «auto»
    /// takes it back, silence leaves it.
    ///
    /// # Errors
    /// [`Error::Setting`] for a size nobody has.
    pub fn told(&self, before: Told) -> Result<Told> {
        within("--stature", self.stature, 100.0..=230.0, "100 to 230 cm")?;
        within("--seat-height", self.seat_height, 10.0..=90.0, "10 to 90 cm")?;
        Ok(Told {
            leg: self.leg.map_or(before.leg, Leg::side),
            rung: self.rung.map_or(before.rung, RungChoice::rung),
            stature_m: self.stature.map(|cm| cm / 100.0).or(before.stature_m),
            seat_height_m: self.seat_height.map(|cm| cm / 100.0).or(before.seat_height_m),
        })
    }
}

/// Refuses a number outside its range.
pub(super) fn within(
    name: &'static str,
    value: Option<f64>,
    range: RangeInclusive<f64>,
    allowed: &'static str,
) -> Result<()> {
    match value {
        Some(v) if !range.contains(&v) => {
            Err(Error::Setting { name, value: v.to_string(), allowed })
        }
        _ => Ok(()),
    }
}

impl Leg {
    fn side(self) -> Option<Side> {
        match self {
            Leg::Left => Some(Side::Left),
            Leg::Right => Some(Side::Right),
            Leg::Auto => None,
        }
    }
}

impl RungChoice {
    fn rung(self) -> Option<Rung> {
        match self {
            RungChoice::Auto => None,
            RungChoice::SingleLeg => Some(Rung::SingleLeg),
            RungChoice::Lowering => Some(Rung::Lowering),
            RungChoice::SplitStance => Some(Rung::SplitStance),
            RungChoice::TwoLeg => Some(Rung::TwoLeg),
        }
    }
}
