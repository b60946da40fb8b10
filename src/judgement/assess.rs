//! From a recording to an assessment: observe, count, judge, document.

use std::path::Path;

use super::criteria::Criteria;
use super::document::{
    Assessment, AttemptSeen, Origin, Rep, Rung, SCHEMA, ScaleUsed, Told, View, ViewKind,
};
use super::notes::{Note, notes};
use super::rep::{as_rep, between};
use super::trajectories::Trajectories;
use super::uncertainty::{self, StandardErrors};
use super::{Conditions, FootWork, foot_work, judge, measure, summary, unseen};
use crate::error::{Error, NoRep, Result};
use crate::film_check::{self, Riser};
use crate::movement::kinematics::{
    Alignment, Courses, Feet, Observation, Pelvis, Scale, Stance, Tracks, Trunk,
};
use crate::movement::repetition::{Course, Found};
use crate::record::Recording;
use crate::settings;
use crate::signal::{percentile, rounded};

/// What came of judging a recording.
#[derive(Debug, Clone)]
pub struct Judgement {
    /// The result. What it says in words is left empty: that is for those who show it.
    pub assessment: Assessment,
    /// What to bear in mind of it.
    pub notes: Vec<Note>,
    /// The courses the judgement rests on.
    pub trajectories: Trajectories,
}

/// Judges a recording.
///
/// Measured once to know the reps, then again and again with all that may be wrong to
/// know how far the numbers can be trusted, then judged with that.
///
/// # Errors
/// [`Error::TrackingPoor`] and [`Error::NoRep`], naming `source`.
pub fn assess(
    recording: &Recording,
    told: &Told,
    criteria: &Criteria,
    source: &Path,
) -> Result<Judgement> {
    let refused = |why| match why {
        Refusal::TrackingPoor => Error::TrackingPoor {
            path: source.into(),
            tracked: recording.filming.tracked_frames,
            frames: recording.filming.analysed_frames,
        },
        Refusal::NoRep(why) => Error::NoRep { path: source.into(), why },
    };
    let first = once(recording, told, criteria, &[]).map_err(refused)?;
    // Laboratory markers err in other ways than a network does: no errors are stated.
    if recording.motion.is_some() {
        return Ok(first);
    }
    let assessment = &first.assessment;
    let same = Told { leg: told.leg.or(assessment.leg), rung: Some(assessment.rung), ..*told };
    let trials = uncertainty::trials(|trial| {
        let (recording, told) = uncertainty::disturbed(recording, &same, trial);
        let trial = once(&recording, &told, criteria, &[]).ok()?;
        Some((trial.assessment.reps, trial.trajectories.uncertain()))
    });
    let (reps, courses): (Vec<_>, Vec<_>) = trials.into_iter().unzip();
    let rate_hz = assessment.clip.frame_rate_hz.min(settings::MAX_ANALYSED_HZ);
    let errors = uncertainty::standard_errors(&assessment.reps, &reps, rate_hz);
    let mut judgement = once(recording, told, criteria, &errors).map_err(refused)?;
    judgement.trajectories.add_errors(&courses);
    Ok(judgement)
}

/// Why a recording is not judged.
enum Refusal {
    TrackingPoor,
    NoRep(NoRep),
}

impl From<NoRep> for Refusal {
    fn from(why: NoRep) -> Self {
        Refusal::NoRep(why)
    }
}

/// All steps in their order. `errors`: standard errors of the numbers of each rep, as far
/// as they are known.
fn once(
    recording: &Recording,
    told: &Told,
    criteria: &Criteria,
    errors: &[StandardErrors],
) -> Result<Judgement, Refusal> {
    let seen = observe(recording, told)?;
    let counted = count(&seen, told, criteria)?;
    let shown = frontal(&seen, &counted, told, criteria)?;
    let Seen { observation, tracks, stance, scale, pelvis, .. } = &seen;
    let trunk =
        Trunk::measure(tracks, stance, &pelvis.forward_lean_deg, shown.view.yaw_deg.unwrap_or(0.0));
    let feet = Feet::measure(tracks, stance, scale);
    let quality = tracks.quality(stance.side, stance.ankle_px, observation.foot_reach_px(scale));
    let courses = Courses {
        tracks,
        stance,
        scale,
        pelvis,
        trunk: &trunk,
        feet: &feet,
        alignments: shown.judged(),
        quality: &quality,
    };
    let reps = judge_reps(&courses, &counted, &shown.view, recording, criteria, errors);
    let points = observation.points(&courses, shown.working());
    let trajectories = Trajectories::new(&courses, &counted.found.reps, points);
    let assessment = document(&seen, &counted, &shown, reps, told, criteria);
    let notes = notes(&assessment, counted.found.cut_off, &counted.feet, criteria);
    Ok(Judgement { assessment, notes, trajectories })
}

/// A recording on its way to be counted.
struct Seen<'a> {
    recording: &'a Recording,
    observation: Observation<'a>,
    tracks: Tracks,
    stance: Stance,
    scale: Scale,
    pelvis: Pelvis,
}

/// Observes: landmarks or points to the height of the body, in metres.
fn observe<'a>(recording: &'a Recording, told: &Told) -> Result<Seen<'a>, Refusal> {
    let filming = &recording.filming;
    if (filming.tracked_frames as f64) < settings::MIN_TRACKED * filming.analysed_frames as f64 {
        return Err(Refusal::TrackingPoor);
    }
    let observation = Observation::of(recording);
    let tracks = observation.tracks().ok_or(Refusal::TrackingPoor)?;
    let stance = observation.stance(&tracks, told.leg).ok_or(NoRep::SameHeight)?;
    let scale = observation.scale(&tracks, &stance, told.stature_m, told.seat_height_m);
    if !(scale.m_per_px.is_finite() && scale.m_per_px > 0.0) {
        return Err(NoRep::NoStandingPosture.into());
    }
    let pelvis = observation.pelvis(&tracks, &stance, &scale);
    Ok(Seen { recording, observation, tracks, stance, scale, pelvis })
}

/// The reps of a recording and the exercise they are of.
struct Counted {
    origin: Origin,
    found: Found,
    feet: FootWork,
    rung: Rung,
}

/// Counts: the height of the body to reps, the feet to the rung.
fn count(seen: &Seen, told: &Told, criteria: &Criteria) -> Result<Counted, NoRep> {
    let Seen { recording, observation, tracks, stance, scale, pelvis } = seen;
    let origin = match &recording.motion {
        None => Origin::Film,
        Some(motion) if motion.trunk_by_camera.is_some() => Origin::PointsOfAFilm,
        Some(_) => Origin::Markers,
    };
    let course = Course { tracks, stance, pelvis };
    let full_rise = criteria.attempt_share.value / 100.0;
    let found = match origin {
        Origin::Markers => course.find_by_levels(full_rise),
        _ => course.find(full_rise),
    };
    // Markers leave no doubt that it is the same movement; a film does.
    if !found.sat && origin != Origin::Markers {
        return Err(NoRep::NeverSat {
            tracked: recording.filming.tracked_frames,
            frames: recording.filming.analysed_frames,
            downs: found.reps.len(),
        });
    }
    if found.reps.is_empty() {
        return Err(match (found.attempts.len(), found.cut_off) {
            (0, 0) => NoRep::NeverStood,
            (0, cut_off) => NoRep::CutOff(cut_off),
            (attempts, _) => NoRep::TurnedBack(attempts),
        });
    }
    let mut feet = foot_work(tracks, stance, scale, &found.reps);
    feet.stagger_m = observation.stagger_m().unwrap_or(feet.stagger_m);
    let rung = told.rung.unwrap_or_else(|| feet.rung());
    Ok(Counted { origin, found, feet, rung })
}

/// Knee over foot as far as the view shows it.
struct Frontal {
    view: View,
    /// The working leg named or found; `None` where both legs work alike and both knees are
    /// watched.
    leg: Option<crate::body::Side>,
    /// Of the working leg, and of the other where both are watched; never empty.
    alignments: Vec<Alignment>,
}

impl Frontal {
    /// Those that the view lets judge.
    fn judged(&self) -> &[Alignment] {
        if self.view.kind == ViewKind::Frontal { &self.alignments } else { &[] }
    }

    fn working(&self) -> &Alignment {
        &self.alignments[0]
    }
}

fn frontal(
    seen: &Seen,
    counted: &Counted,
    told: &Told,
    criteria: &Criteria,
) -> Result<Frontal, NoRep> {
    let Seen { observation, tracks, stance, scale, pelvis, .. } = seen;
    let loaded: Vec<_> = counted.found.reps.iter().map(|r| r.loaded(tracks.rate_hz)).collect();
    let align = |stance: &Stance| {
        observation.alignment(tracks, stance, scale, pelvis, &loaded).ok_or(NoRep::MarkerMissing)
    };
    let mut alignments = vec![align(stance)?];
    let view = view(&alignments[0], criteria);
    // Where both legs work alike and none was named, both knees are watched.
    let both = counted.rung == Rung::TwoLeg && told.leg.is_none();
    if both && view.kind == ViewKind::Frontal {
        let other = observation.stance(tracks, Some(stance.side.opposite()));
        alignments.push(align(&other.ok_or(NoRep::SameHeight)?)?);
    }
    Ok(Frontal { view, leg: (!both).then_some(stance.side), alignments })
}

fn view(alignment: &Alignment, criteria: &Criteria) -> View {
    let yaw = alignment.yaw_deg;
    let kind = if alignment.shoulder_to_trunk < settings::SIDE_VIEW_BREADTH {
        ViewKind::Sagittal
    } else if !alignment.facing
        || alignment.shoulder_to_trunk < settings::FRONT_VIEW_BREADTH
        || yaw.abs() > criteria.yaw_max.value
    {
        ViewKind::Oblique
    } else {
        ViewKind::Frontal
    };
    let seen = (kind != ViewKind::Sagittal).then_some(());
    View {
        kind,
        yaw_deg: seen.map(|()| rounded(yaw, 1)),
        yaw_standard_error_deg: seen.map(|()| rounded(alignment.yaw_se_deg, 1)),
        toe_out_deg: seen.map(|()| rounded(alignment.toe_out_deg, 1)),
    }
}

/// Judges: measures every rep and holds it against the limits.
fn judge_reps(
    courses: &Courses,
    counted: &Counted,
    view: &View,
    recording: &Recording,
    criteria: &Criteria,
    errors: &[StandardErrors],
) -> Vec<Rep> {
    let found = &counted.found;
    // How far up a rise went that the recording cut off is not known.
    let reached: Vec<f64> =
        found.reps.iter().filter(|r| !r.ended_after).map(|r| r.reached).collect();
    let standing_share = percentile(&reached, 75.0).unwrap_or(1.0);
    let mut reps: Vec<Rep> = Vec::new();
    for events in &found.reps {
        let known = errors.get(reps.len()).cloned().unwrap_or_default();
        let measures = measure(courses, *events, criteria, &known);
        let stand_percent = 100.0 * events.reached / standing_share;
        let mut conditions = Conditions {
            rung: counted.rung,
            view,
            rate_hz: courses.tracks.rate_hz,
            camera_moved_s: &recording.filming.camera_moved_s,
            pause_s: None,
        };
        let unseen = unseen(&measures, &conditions, criteria);
        let number = reps.len() + 1;
        let mut rep = as_rep(number, &measures, courses.scale, stand_percent, criteria, unseen);
        if events.from_standing() {
            rep.stand_time_s = None;
            rep.seated_pause_s = between(rep.seat_contact_s, rep.seat_off_s);
        }
        if let Some(before) = reps.last_mut() {
            if events.from_standing() {
                before.stand_time_s = between(before.stand_s, rep.descent_start_s);
            } else {
                rep.seated_pause_s = between(before.seat_contact_s, rep.seat_off_s);
            }
            before.cycle_s = between(before.seat_off_s, rep.seat_off_s);
        }
        rep.standard_error = known;
        conditions.pause_s = rep.seated_pause_s;
        (rep.criteria, rep.judgement, rep.reasons) =
            judge(&measures, &conditions, criteria, stand_percent, unseen);
        reps.push(rep);
    }
    reps
}

/// Documents: everything in the units of the output contract.
fn document(
    seen: &Seen,
    counted: &Counted,
    shown: &Frontal,
    reps: Vec<Rep>,
    told: &Told,
    criteria: &Criteria,
) -> Assessment {
    let Seen { recording, tracks, stance, scale, .. } = seen;
    let riser = Riser { tracks, stance, scale, alignment: shown.working() };
    let attempts = counted.found.attempts.iter().map(|a| AttemptSeen {
        time_s: rounded(a.time_s, 2),
        reached_percent: rounded(100.0 * a.reached, 0),
    });
    Assessment {
        schema: SCHEMA.into(),
        program_version: env!("CARGO_PKG_VERSION").into(),
        clip: recording.clip.clone(),
        source: counted.origin,
        cycle: counted.found.cycle,
        seat_seen: counted.found.sat,
        rung: counted.rung,
        leg: shown.leg,
        leg_clarity: rounded(stance.clarity, 2),
        view: shown.view.clone(),
        scale: ScaleUsed {
            source: scale.source,
            m_per_px: rounded(scale.m_per_px, 6),
            relative_uncertainty: rounded(scale.relative_uncertainty, 3),
            stature_m: rounded(scale.stature_m, 2),
        },
        attempts: attempts.collect(),
        set: summary(&reps, criteria),
        reps,
        told: *told,
        filming: recording.filming.clone(),
        film: film_check::findings(recording, Some(riser), criteria.yaw_max.value),
        notes: Vec::new(),
        cautions: Vec::new(),
    }
}
