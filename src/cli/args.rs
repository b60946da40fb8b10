//! Words that several commands take.

use std::ops::RangeInclusive;
use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde::de::DeserializeOwned;

use crate::body::Side;
use crate::error::{Error, Result};
use crate::judgement::document::{Rung, Told};
use crate::pipeline::Wanted;
use crate::shown;

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
    /// Height of the seat in cm: gives the scale where stature is not known, and tells which
    /// sets may be compared
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

/// Takes a value by its name in the document; the dashes of a command line are as good as
/// underscores.
pub(super) fn named<T: DeserializeOwned>(text: &str) -> Result<T, String> {
    serde_json::from_value(text.replace('-', "_").into()).map_err(|e| shown::line(&e.to_string()))
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
