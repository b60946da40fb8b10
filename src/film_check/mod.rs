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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::movement::kinematics::made::{Body, SIZE_PX, near, stance};
    use crate::record::landmarks::PoseFrame;

    /// Off the seat from a tenth of the way on, a rise from 80 % on.
    #[test]
    fn rises_come_nearly_all_the_way_up() {
        let found =
            rises(&stance(vec![9.0, 11.0, 81.0, 11.0, 10.0, 50.0, 80.0, 9.0, 90.0], 0.0, 100.0));
        assert_eq!(found, [1..4, 8..9]);
    }

    /// The lowest samples within 1.2 s on either side.
    #[test]
    fn a_rise_is_widened_to_its_valleys() {
        let mut body_px = vec![5.0; 600];
        body_px[200..300].fill(100.0);
        for (sample, px) in [(70, -9.0), (85, -5.0), (330, -5.0), (415, -5.0), (425, -9.0)] {
            body_px[sample] = px;
        }
        let tracks = crate::movement::kinematics::made::still(600, 100.0);
        // 120 samples from 200 and from 300: 85 and 330 are within.
        let valleys = |body_px: &[f64], rise| {
            from_valley_to_valley(&stance(body_px.to_vec(), 0.0, 100.0), &tracks, rise)
        };
        assert_eq!(valleys(&body_px, 200..300), 85..330);
        body_px[330] = 5.0;
        assert_eq!(valleys(&body_px, 200..300), 85..415);
        assert_eq!(valleys(&body_px, 0..600), 0..600, "nothing on either side");
        assert_eq!(valleys(&body_px, 0..550), 0..550);
    }

    /// As good as the worst that is told.
    #[test]
    fn the_film_as_a_whole() {
        let of = |grades: &[Grade]| {
            let finding = |g: &Grade| Finding::new(Aspect::Turn, Unit::Degrees, *g, None);
            overall(&grades.iter().map(finding).collect::<Vec<_>>())
        };
        let (good, usable, again) = (Grade::Good, Grade::Usable, Grade::FilmAgain);
        assert_eq!(of(&[good, usable, good]), usable);
        assert_eq!(of(&[again, usable, Grade::NotTold]), again);
        assert_eq!(of(&[good, Grade::NotTold]), good);
        assert_eq!((of(&[Grade::NotTold]), of(&[])), (Grade::NotTold, Grade::NotTold));
    }

    #[test]
    fn numbers_are_rounded_and_those_that_are_none_left_out() {
        let finding = || Finding::new(Aspect::Turn, Unit::Degrees, Grade::Good, None);
        let told = finding().measuring(7.3456, 2).within(0.26, 1);
        assert_eq!((told.measured, told.standard_error), (Some(7.35), Some(0.3)));
        let none = finding().measuring(f64::INFINITY, 2).within(f64::NAN, 1);
        assert_eq!((none.measured, none.standard_error), (None, None));
    }

    /// A film of 100 looks with one landmark elsewhere in some of them.
    fn looks(of: &[(Option<Landmark>, usize)], place_px: (f64, f64)) -> Finding {
        let mut recording = Body::USUAL.recording();
        recording.frames.truncate(100);
        let mut frames = recording.frames.iter_mut();
        for (landmark, count) in of {
            for frame in frames.by_ref().take(*count) {
                let at = landmark.map_or(NOSE, |l| l.at(Side::Left));
                let pose = frame.pose.as_mut().unwrap();
                pose.image[at].place_px = nalgebra::Point2::new(place_px.0, place_px.1);
            }
        }
        in_view(&recording)
    }

    /// Nearer than 0.004 of the longer side, 7.68 px, to an edge is out of the picture.
    #[test]
    fn what_is_near_the_edge_is_out() {
        let (right, bottom) = (SIZE_PX.0 - 7.68, SIZE_PX.1 - 7.68);
        for (u, v) in [(7.0, 500.0), (500.0, 7.0), (right + 1.0, 500.0), (500.0, bottom + 1.0)] {
            let found = looks(&[(Some(Landmark::Heel), 10)], (u, v));
            assert_eq!((found.grade, found.because), (Grade::Usable, Some(Because::FeetOut)));
            assert_eq!(found.measured, Some(90.0));
        }
        // On the line itself it is in.
        let margin_px = 0.004 * SIZE_PX.1;
        let (right, bottom) = (SIZE_PX.0 - margin_px, SIZE_PX.1 - margin_px);
        for (u, v) in [(margin_px, 500.0), (500.0, margin_px), (right, 500.0), (500.0, bottom)] {
            assert_eq!(looks(&[(Some(Landmark::Heel), 10)], (u, v)).measured, Some(100.0));
        }
    }

    #[test]
    fn feet_body_and_head_in_view() {
        for (landmark, because) in [
            (Some(Landmark::Ankle), Because::FeetOut),
            (Some(Landmark::FootIndex), Because::FeetOut),
            (Some(Landmark::Knee), Because::LegOut),
            (Some(Landmark::Hip), Because::LegOut),
            (Some(Landmark::Shoulder), Because::LegOut),
            (None, Because::HeadOut),
        ] {
            let found = looks(&[(landmark, 10)], (0.0, 0.0));
            assert_eq!(found.because, Some(because), "{landmark:?}");
        }
        // Elbows and wrists may leave it.
        assert_eq!(looks(&[(Some(Landmark::Wrist), 10)], (0.0, 0.0)).grade, Grade::Good);
        let mut recording = Body::USUAL.recording();
        recording.frames.truncate(100);
        recording.frames[..40].iter_mut().for_each(|frame| frame.pose = None);
        let found = in_view(&recording);
        assert_eq!((found.measured, found.because), (Some(60.0), Some(Because::PersonLost)));
        recording.frames.clear();
        assert_eq!(in_view(&recording).measured, Some(0.0));
    }

    /// A film as it should be, judged by itself: everything that can be told without pictures
    /// is good.
    #[test]
    fn a_body_well_filmed() {
        let body = Body { toe_out_deg: 7.0, lean_deg: 30.0, below_m: 0.5, ..Body::USUAL };
        let recording = body.recording();
        let found = check(&recording, Some(body.stature_m), 20.0);
        let of = |aspect: Aspect| found.iter().find(|f| f.aspect == aspect).unwrap();
        for aspect in [
            Aspect::InView,
            Aspect::Rises,
            Aspect::Turn,
            Aspect::Height,
            Aspect::Distance,
            Aspect::Size,
            Aspect::FrameRate,
            Aspect::Chair,
            Aspect::Others,
        ] {
            assert_eq!(of(aspect).grade, Grade::Good, "{aspect:?}");
        }
        for aspect in [Aspect::Level, Aspect::Still, Aspect::Light, Aspect::Sharpness] {
            assert_eq!(of(aspect).grade, Grade::NotTold, "{aspect:?}");
        }
        assert_eq!(found.len(), 13);
        assert_eq!(of(Aspect::Rises).measured, Some(1.0));
        near(of(Aspect::Turn).measured.unwrap(), 0.0, 1.0);
        near(of(Aspect::Distance).measured.unwrap(), body.distance_m, 0.1);
        // Pixels of the stature at the ankle's distance.
        let stature_px = 0.9 * SIZE_PX.1 / body.distance_m * body.stature_m;
        near(of(Aspect::Size).measured.unwrap(), stature_px, 10.0);
        let checked = Checked::new(&recording, Some(body.stature_m), 20.0);
        assert_eq!((checked.schema.as_str(), checked.overall), (SCHEMA, Grade::Good));
        assert_eq!((checked.clip, checked.findings), (recording.clip, found));
    }

    /// Nobody rises, or nobody is seen: what does not need it is told all the same.
    #[test]
    fn nobody_who_rises() {
        let mut recording = Body::USUAL.recording();
        recording.frames.truncate(40);
        let seated = check(&recording, None, 20.0);
        recording.frames.iter_mut().for_each(|frame: &mut PoseFrame| frame.pose = None);
        let nobody = check(&recording, None, 20.0);
        for found in [&seated, &nobody] {
            let of = |aspect: Aspect| found.iter().find(|f| f.aspect == aspect).unwrap();
            assert_eq!(of(Aspect::Rises).because, Some(Because::NoRise));
            assert_eq!(of(Aspect::Distance).because, Some(Because::NoRise));
            assert_eq!(of(Aspect::FrameRate).grade, Grade::Good);
        }
        assert_eq!(seated[0].grade, Grade::Good);
        assert_eq!(nobody[0].because, Some(Because::PersonLost));
    }

    /// Of markers only heading and rate.
    #[test]
    fn markers_have_no_pictures() {
        let mut recording = Body::USUAL.recording();
        recording.motion = Some(crate::record::markers::Motion::new(100.0, 10));
        let aspects: Vec<Aspect> = check(&recording, None, 20.0).iter().map(|f| f.aspect).collect();
        assert_eq!(aspects, [Aspect::Turn, Aspect::FrameRate]);
    }
}
