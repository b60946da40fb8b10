//! How well the filming was done: findings about the film, not about the movement.
//!
//! [`check`] judges a recording, dense or sparse, by itself; [`findings`] does the same
//! with the postures, scale and heading an assessment has found already. Limits are in
//! [`crate::settings`]; words in [`crate::report::wording::film`].
//!
//! | Aspect | Measured | From |
//! |---|---|---|
//! | in view | % of the looks with the whole leg in the picture | landmarks |
//! | rises | rises seen | body height |
//! | size | pixels of stature | landmarks, scale |
//! | distance | metres | scale, usual focal length |
//! | turn | degrees from facing the lens | trunk and foot, [`Alignment`] |
//! | level | degrees of roll | upright lines of the room |
//! | height | metres above the floor | [`camera`] |
//! | still | cm the picture wanders at the person | background |
//! | frame rate | per second | timestamps |
//! | light | luma of the person, 0–255 | pictures |
//! | sharpness | cm of an edge's width at the person | pictures |
//! | chair | cm between the places where the hips rest, sideways | landmarks |
//! | others | other people | survey |

mod camera;
mod grading;
mod seat;

use std::ops::Range;

use serde::{Deserialize, Serialize};

use crate::body::{Landmark, Side};
use crate::movement::kinematics::{Alignment, Observation, Scale, Stance, Tracks};
use crate::record::{ClipFacts, Recording};
use crate::settings;
use crate::signal;

/// Version of the document `plumbrise check --json` prints.
pub const SCHEMA: &str = "plumbrise.film/1";

/// What is judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Aspect {
    InView,
    Rises,
    Turn,
    Level,
    Height,
    Still,
    Distance,
    Size,
    FrameRate,
    Light,
    Sharpness,
    Chair,
    Others,
}

/// How good it is, best first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Grade {
    /// Nothing to change.
    Good,
    /// The film does not show it.
    NotTold,
    /// Can be assessed, with something to bear in mind.
    Usable,
    /// Not worth a long run.
    FilmAgain,
}

/// Why a finding is not simply good.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Because {
    PersonLost,
    FeetOut,
    LegOut,
    HeadOut,
    NoRise,
    Turned,
    FromTheSide,
    NotFromTheFront,
    Tilted,
    NoLines,
    NoFoot,
    TooHigh,
    TooLow,
    Moved,
    Shaky,
    NoBackground,
    TooNear,
    TooFar,
    TooSmall,
    TooFewFrames,
    FewFramesForDrops,
    FewFramesForShortDrops,
    Dark,
    Backlit,
    OutOfFocus,
    MotionBlur,
    NoEdges,
    SeatShifted,
    SeatedOnce,
    OtherPeople,
    MovementBehind,
    NoPictures,
}

/// Whether a finding gives this as its reason.
pub fn says(findings: &[Finding], because: Because) -> bool {
    findings.iter().any(|f| f.because == Some(because))
}

/// Unit of a finding's number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Unit {
    #[serde(rename = "%")]
    Percent,
    #[serde(rename = "m")]
    Metres,
    #[serde(rename = "cm")]
    Centimetres,
    #[serde(rename = "deg")]
    Degrees,
    #[serde(rename = "Hz")]
    Hertz,
    #[serde(rename = "px")]
    Pixels,
    #[serde(rename = "luma")]
    Luma,
    #[serde(rename = "count")]
    Count,
}

/// One aspect of the filming.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// What is judged.
    pub aspect: Aspect,
    /// How good it is.
    pub grade: Grade,
    /// Why it is not simply good.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub because: Option<Because>,
    /// The measured number, in `unit`; null where there is none.
    pub measured: Option<f64>,
    /// Its unit.
    pub unit: Unit,
    /// Its standard error in the same unit, where it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standard_error: Option<f64>,
    /// When, where it was not all the time: spans in seconds.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub when_s: Vec<(f64, f64)>,
}

impl Finding {
    fn new(aspect: Aspect, unit: Unit, grade: Grade, because: Option<Because>) -> Self {
        Self {
            aspect,
            grade,
            because,
            measured: None,
            unit,
            standard_error: None,
            when_s: Vec::new(),
        }
    }

    fn measuring(mut self, value: f64, digits: i32) -> Self {
        self.measured = value.is_finite().then(|| signal::rounded(value, digits));
        self
    }

    fn within(mut self, standard_error: f64, digits: i32) -> Self {
        self.standard_error =
            standard_error.is_finite().then(|| signal::rounded(standard_error, digits));
        self
    }
}

/// The whole film: as good as its worst aspect; what cannot be told does not count.
pub fn overall(findings: &[Finding]) -> Grade {
    let told = findings.iter().map(|f| f.grade).filter(|g| *g != Grade::NotTold);
    told.max().unwrap_or(Grade::NotTold)
}

/// The document `plumbrise check --json` prints.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Checked {
    /// [`SCHEMA`].
    pub schema: String,
    /// Version of the program that judged.
    pub program_version: String,
    /// The clip.
    pub clip: ClipFacts,
    /// The film as a whole.
    pub overall: Grade,
    /// Each aspect.
    pub findings: Vec<Finding>,
}

impl Checked {
    /// As [`check`].
    pub fn new(recording: &Recording, stature_m: Option<f64>, yaw_max_deg: f64) -> Self {
        let findings = check(recording, stature_m, yaw_max_deg);
        Self {
            schema: SCHEMA.into(),
            program_version: env!("CARGO_PKG_VERSION").into(),
            clip: recording.clip.clone(),
            overall: overall(&findings),
            findings,
        }
    }
}

/// What is known of a person who rises.
#[derive(Debug, Clone, Copy)]
pub struct Riser<'a> {
    /// Landmarks on the time grid.
    pub tracks: &'a Tracks,
    /// Postures and the working leg.
    pub stance: &'a Stance,
    /// Metres per pixel.
    pub scale: &'a Scale,
    /// Heading of the body.
    pub alignment: &'a Alignment,
}

/// Judges the filming of a recording; of markers only heading and rate. `yaw_max_deg` is
/// the turn from which on knee over foot is not judged, degrees; `stature_m` the person's
/// stature, if known, metres.
pub fn check(recording: &Recording, stature_m: Option<f64>, yaw_max_deg: f64) -> Vec<Finding> {
    let observation = Observation::of(recording);
    let Some(tracks) = observation.tracks() else {
        return findings(recording, None, yaw_max_deg);
    };
    let Some(stance) = observation.stance(&tracks, None) else {
        return findings(recording, None, yaw_max_deg);
    };
    let scale = observation.scale(&tracks, &stance, stature_m, None);
    if !(scale.m_per_px.is_finite() && scale.m_per_px > 0.0) {
        return findings(recording, None, yaw_max_deg);
    }
    let pelvis = observation.pelvis(&tracks, &stance, &scale);
    let loaded: Vec<_> = rises(&stance)
        .into_iter()
        .map(|rise| from_valley_to_valley(&stance, &tracks, rise))
        .collect();
    let alignment = observation.alignment(&tracks, &stance, &scale, &pelvis, &loaded);
    let riser = alignment.as_ref().map(|alignment| Riser {
        tracks: &tracks,
        stance: &stance,
        scale: &scale,
        alignment,
    });
    findings(recording, riser, yaw_max_deg)
}

/// The same with what an assessment knows of the person; `None` where nobody rises.
pub fn findings(recording: &Recording, riser: Option<Riser>, yaw_max_deg: f64) -> Vec<Finding> {
    let turn = grading::turn(riser.map(|r| r.alignment), yaw_max_deg);
    let frame_rate = grading::frame_rate(recording.clip.frame_rate_hz);
    if recording.motion.is_some() {
        return vec![turn, frame_rate];
    }
    let rises_seen = riser.map_or(0, |r| rises(r.stance).len());
    let pictures = recording.filming.pictures.as_ref();
    let m_across = riser.map(|r| r.scale.m_per_px * r.tracks.size_px.0);
    let stature_m = riser.map(|r| r.scale.stature_m);
    vec![
        in_view(recording),
        grading::rises(rises_seen),
        turn,
        grading::level(pictures),
        grading::height(riser.as_ref().and_then(|r| camera::height(r, pictures))),
        grading::still(&recording.filming, recording.clip.duration_s, m_across),
        grading::distance(riser.map(|r| r.scale)),
        grading::size(riser.map(|r| r.scale)),
        frame_rate,
        grading::light(pictures),
        grading::sharpness(pictures, stature_m),
        grading::chair(riser.and_then(|r| seat::shift_m(r.tracks, r.stance, r.scale))),
        grading::others(&recording.filming, riser.is_none_or(|r| from_the_front(r.alignment))),
    ]
}

/// Spans of samples in which the foot carries, and the body is nearly all the way up at
/// the top.
fn rises(stance: &Stance) -> Vec<Range<usize>> {
    let share = stance.share();
    let stood =
        |span: &Range<usize>| share[span.clone()].iter().any(|s| *s > settings::FILM_RISE_SHARE);
    signal::runs(&share, |s| *s > settings::SEATED_SHARE).into_iter().filter(stood).collect()
}

/// Seen from the front, so that the outline of the body and the length of the foot are
/// what is expected.
fn from_the_front(alignment: &Alignment) -> bool {
    alignment.facing && alignment.shoulder_to_trunk >= settings::FRONT_VIEW_BREADTH
}

/// A rise widened to the valleys of the body height on either side, where the trunk leans
/// furthest: about seat-off and contact.
fn from_valley_to_valley(stance: &Stance, tracks: &Tracks, rise: Range<usize>) -> Range<usize> {
    let reach = tracks.samples(settings::VALLEY_SEARCH_S);
    let lowest =
        |span: Range<usize>| span.min_by(|a, b| stance.body_px[*a].total_cmp(&stance.body_px[*b]));
    let start = lowest(rise.start.saturating_sub(reach)..rise.start).unwrap_or(rise.start);
    let end = lowest(rise.end..(rise.end + reach).min(tracks.count)).unwrap_or(rise.end);
    start..end
}

/// Are the landmarks of the body inside the picture, look by look?
fn in_view(recording: &Recording) -> Finding {
    let size = (
        f64::from(recording.clip.width_px.unwrap_or(0)),
        f64::from(recording.clip.height_px.unwrap_or(0)),
    );
    let margin = settings::FILM_EDGE_SHARE * size.0.max(size.1);
    let poses: Vec<_> = recording.frames.iter().filter_map(|f| f.pose.as_ref()).collect();
    let looks = poses.len().max(1) as f64;
    let outside = |index: usize, pose: &crate::record::landmarks::Pose| {
        let p = &pose.image[index];
        let (u, v) = (p.place_px.x, p.place_px.y);
        u < margin || v < margin || u > size.0 - margin || v > size.1 - margin
    };
    let share = |landmarks: &[Landmark]| {
        let out = |pose: &&&crate::record::landmarks::Pose| {
            landmarks
                .iter()
                .any(|l| [Side::Left, Side::Right].iter().any(|s| outside(l.at(*s), pose)))
        };
        poses.iter().filter(out).count() as f64 / looks
    };
    let feet = share(&[Landmark::Ankle, Landmark::Heel, Landmark::FootIndex]);
    let body = share(&[Landmark::Knee, Landmark::Hip, Landmark::Shoulder]);
    let head = poses.iter().filter(|p| outside(NOSE, p)).count() as f64 / looks;
    let followed = poses.len() as f64 / recording.frames.len().max(1) as f64;
    grading::in_view(followed, feet, body, head)
}

/// Index of the nose among the landmarks.
const NOSE: usize = 0;
