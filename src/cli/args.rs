//! The words of the command line.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::assessment::Rung;
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
video; 4 it can be read, but nothing could be assessed; 130 interrupted.

A summary of movement, not a diagnosis. Stop the exercise if it hurts.";

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Assess a clip: find the reps, measure and judge them
    Assess(Assess),
    /// Judge a session again from its stored landmarks, without the network
    Reassess(Reassess),
    /// Print the limits of good form in force, with source and origin
    Criteria(CriteriaArgs),
    /// Explain a measure: definition, formula, unit, validity, source
    Explain(Explain),
    /// Print a completion script for your shell
    Completions {
        /// Which shell
        shell: clap_complete::Shell,
    },
}

#[derive(Debug, Args)]
pub(super) struct Assess {
    /// Clips to assess (a name that begins with a dash goes after --)
    #[arg(required = true, value_name = "CLIP")]
    pub clips: Vec<PathBuf>,
    #[command(flatten)]
    pub told: ToldArgs,
    /// Frame rate at which a slow-motion clip was really recorded, per second
    #[arg(long, value_name = "HZ")]
    pub recorded_fps: Option<f64>,
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
}

#[derive(Debug, Args)]
pub(super) struct ToldArgs {
    /// The working leg, of the person [default: found in the picture]
    #[arg(long, value_enum, default_value = "auto", hide_default_value = true)]
    pub leg: Leg,
    /// The exercise [default: found in the picture]
    #[arg(long, value_enum, default_value = "auto", hide_default_value = true)]
    pub rung: RungChoice,
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
    /// Limits other than the usual ones
    #[arg(long, value_name = "FILE")]
    pub criteria: Option<PathBuf>,
    /// The working leg, if it was found wrongly [default: as before]
    #[arg(long, value_enum)]
    pub leg: Option<Leg>,
    /// The exercise, if it was found wrongly [default: as before]
    #[arg(long, value_enum)]
    pub rung: Option<RungChoice>,
    /// The person's stature in cm [default: as before]
    #[arg(long, value_name = "CM")]
    pub stature: Option<f64>,
    /// Height of the seat in cm [default: as before]
    #[arg(long, value_name = "CM")]
    pub seat_height: Option<f64>,
    /// Write the result to this folder instead of renewing the session
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Replace the folder of --out if it exists
    #[arg(long)]
    pub force: bool,
    /// Print the assessment as JSON and nothing else on standard output
    #[arg(long)]
    pub json: bool,
}

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
pub(super) enum RungChoice {
    Auto,
    SingleLeg,
    Lowering,
    SplitStance,
    TwoLeg,
}

impl Leg {
    pub fn side(self) -> Option<Side> {
        match self {
            Leg::Left => Some(Side::Left),
            Leg::Right => Some(Side::Right),
            Leg::Auto => None,
        }
    }
}

impl RungChoice {
    pub fn rung(self) -> Option<Rung> {
        match self {
            RungChoice::Auto => None,
            RungChoice::SingleLeg => Some(Rung::SingleLeg),
            RungChoice::Lowering => Some(Rung::Lowering),
            RungChoice::SplitStance => Some(Rung::SplitStance),
            RungChoice::TwoLeg => Some(Rung::TwoLeg),
        }
    }
}
