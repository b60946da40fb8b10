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
use crate::movement::repetition::{Course, Events, Found};
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
    let stands = stands_percent(&counted.found.reps);
    let mut reps: Vec<Rep> = Vec::new();
    for (events, stand_percent) in counted.found.reps.iter().zip(stands) {
        let known = errors.get(reps.len()).cloned().unwrap_or_default();
        let measures = measure(courses, *events, criteria, &known);
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

/// How far up each rep went, % of the usual stand of the set: of that which a quarter of the
/// reps exceed.
fn stands_percent(reps: &[Events]) -> Vec<f64> {
    // How far up a rise went that the recording cut off is not known.
    let reached: Vec<f64> = reps.iter().filter(|r| !r.ended_after).map(|r| r.reached).collect();
    let usual = percentile(&reached, 75.0).unwrap_or(1.0);
    reps.iter().map(|r| 100.0 * r.reached / usual).collect()
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

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::body::Side;
    use crate::judgement::document::{Outcome, Phase, Reason, Verdict};
    use crate::judgement::verdict::tests::{good, limits};
    use crate::movement::kinematics::ScaleSource;
    use crate::movement::kinematics::made::{Body, FOCAL_PX, HIPS_M, RATE_HZ, near};
    use crate::movement::repetition::{Attempt, Cycle};

    // What is expected is the closed form of the body that was filmed: where its points are,
    // and the minimum-jerk course of its way up and down ([Flash1985]).

    pub(in super::super) fn tall(body: &Body) -> Told {
        Told { stature_m: Some(body.stature_m), ..Told::default() }
    }

    pub(in super::super) fn judged(body: &Body) -> Judgement {
        judged_as(&body.recording(), &tall(body))
    }

    pub(in super::super) fn judged_as(recording: &Recording, told: &Told) -> Judgement {
        once(recording, told, &limits(), &[]).unwrap_or_else(|_| panic!("refused"))
    }

    pub(in super::super) fn foot_work_of(body: &Body) -> FootWork {
        let (recording, told) = (body.recording(), tall(body));
        let seen = observe(&recording, &told).unwrap_or_else(|_| panic!("refused"));
        count(&seen, &told, &limits()).unwrap().feet
    }

    fn refused(recording: &Recording, told: &Told) -> Option<NoRep> {
        match once(recording, told, &limits(), &[]) {
            Err(Refusal::NoRep(why)) => Some(why),
            Err(Refusal::TrackingPoor) => None,
            Ok(_) => panic!("judged"),
        }
    }

    /// When the way up and the way down begin, and how long they last, seconds.
    const UP_S: (f64, f64) = (1.5, 1.6);
    const DOWN_S: (f64, f64) = (4.1, 2.0);

    /// Moments of the made body by their definitions, from where its hip joints truly are, to a
    /// thousandth of a second: off the seat by 2 % of the way, at 5 % of the peak speed down, back
    /// to 2 %.
    fn moments_s(body: &Body) -> [f64; 3] {
        let joint = Body { fold_m: 0.0, ..*body };
        let height_m = |t: f64| joint.point_m(crate::body::Landmark::Hip, body.side, t).y;
        let (seat_m, way_m) = (height_m(0.0), height_m(3.5) - height_m(0.0));
        let speed = |t: f64| (height_m(t - 0.001) - height_m(t + 0.001)) / 0.002;
        let times = |from_s: f64| (0..4000).map(move |ms| from_s + f64::from(ms) / 1000.0);
        let peak = times(DOWN_S.0).take(2000).map(speed).fold(0.0, f64::max);
        let off_seat = |t: &f64| height_m(*t) > seat_m + 0.02 * way_m;
        [
            times(UP_S.0).find(off_seat).unwrap(),
            times(DOWN_S.0).find(|t| speed(*t) > 0.05 * peak).unwrap(),
            times(DOWN_S.0).find(|t| !off_seat(t)).unwrap(),
        ]
    }

    /// How far the knee truly is inward of the vertical plane through the foot, at its largest
    /// clear of the seat (15 % up, by the tilts of the leg): a foot that is turned out leaves a knee
    /// that goes straight ahead inward of it.
    fn knee_offset_peak_m(body: &Body) -> f64 {
        let medial = body.side.medial();
        let (sin, cos) = (-medial * body.toe_out_deg).to_radians().sin_cos();
        (0..(Body::lasts_s() * RATE_HZ) as usize)
            .map(|i| i as f64 / RATE_HZ)
            .filter(|t| Body::up(*t) > settings::KNEE_CLEAR_OF_SEAT)
            .map(|t| body.point_m(crate::body::Landmark::Knee, body.side, t))
            .map(|knee| medial * (knee.x * cos - knee.z * sin))
            .fold(f64::NEG_INFINITY, f64::max)
    }

    /// How far the middle of the free foot is above that of the other at the seat, where it is
    /// lowest, metres in the picture at the distance of the working ankle.
    fn free_foot_m(body: &Body) -> f64 {
        use crate::body::Landmark::{Ankle, FootIndex, Heel};
        let row_px = |side| -> f64 {
            let rows = [Ankle, Heel, FootIndex]
                .map(|l| body.picture_px(body.point_m(l, side, UP_S.0)).y / 3.0);
            rows.iter().sum()
        };
        (row_px(body.side) - row_px(body.side.opposite())) * body.distance_m / FOCAL_PX
    }

    #[test]
    fn one_clean_rise_is_one_clean_rep() {
        for side in [Side::Left, Side::Right] {
            // With the usual turn-out, and a trunk that leans: both tell the heading.
            let (fold_m, toe_out_deg, lean_deg) = (settings::HIP_ROW_SEATED_M, 7.0, 35.0);
            let body = Body { side, fold_m, toe_out_deg, lean_deg, ..Body::USUAL };
            let Judgement { assessment: a, .. } = judged(&body);
            assert_eq!((a.rung, a.leg, a.cycle), (Rung::SingleLeg, Some(side), Cycle::SeatToSeat));
            assert_eq!(
                (a.source, a.view.kind, a.seat_seen),
                (Origin::Film, ViewKind::Frontal, true)
            );
            assert_eq!(a.scale.source, ScaleSource::Stature);
            near(a.view.yaw_deg.unwrap(), 0.0, 3.0);
            let [rep] = a.reps.as_slice() else { panic!("{} reps", a.reps.len()) };
            let known = |value: Option<f64>| value.expect("known");
            let [seat_off_s, descent_start_s, seat_contact_s] = moments_s(&body);
            near(known(rep.seat_off_s), seat_off_s, 0.10);
            near(known(rep.stand_s), UP_S.0 + UP_S.1, 0.35);
            near(known(rep.descent_start_s), descent_start_s, 0.10);
            near(known(rep.seat_contact_s), seat_contact_s, 0.10);
            near(known(rep.rise_s), known(rep.stand_s) - known(rep.seat_off_s), 0.002);
            near(known(rep.stand_time_s), known(rep.descent_start_s) - known(rep.stand_s), 0.002);
            let descent_s = known(rep.seat_contact_s) - known(rep.descent_start_s);
            near(known(rep.descent_s), descent_s, 0.002);
            let hip_m = |time_s| body.point_m(crate::body::Landmark::Hip, side, time_s).y;
            let way_m = hip_m(3.5) - (hip_m(0.0) - settings::HIP_ROW_SEATED_M);
            near(known(rep.excursion_m), way_m, 0.05);
            near(known(rep.descent_mean_m_s), 0.98 * known(rep.excursion_m) / descent_s, 0.005);
            near(
                known(rep.final_ratio),
                rep.descent_final_m_s.unwrap() / rep.descent_mean_m_s.unwrap(),
                0.02,
            );
            assert!(known(rep.descent_peak_m_s) > 1.5 * known(rep.descent_mean_m_s));
            near(known(rep.lower_half_percent), 50.0, 12.0);
            near(known(rep.knee_offset_peak_cm), 100.0 * knee_offset_peak_m(&body), 1.0);
            // A turn that is found 3° off makes 3.6° at 60° of flexion, and as much at the seat.
            near(known(rep.fppa_peak_deg), 0.0, 8.0);
            assert_eq!((rep.knee_leg, rep.stand_percent), (Some(side), Some(100.0)));
            assert_eq!(rep.well_seen_percent, 100.0);
            near(known(rep.free_foot_height_cm), 100.0 * free_foot_m(&body), 2.0);
            near(known(rep.stance_foot_shift_cm), 0.0, 0.3);
            assert_eq!((rep.cycle_s, rep.seated_pause_s), (None, None));
            assert_eq!((rep.judgement, rep.reasons.as_slice()), (Verdict::Clean, [].as_slice()));
            assert_eq!((a.set.reps, a.set.clean, a.set.longest_clean_run), (1, 1, 1));
        }
    }

    /// 8 cm inward half-way, 1.75 m tall: the limit is at 4.8 cm.
    #[test]
    fn a_knee_that_dives_inward_is_seen_and_faulted() {
        for side in [Side::Left, Side::Right] {
            let body = Body { side, knee_in_m: 0.08, ..Body::USUAL };
            let a = judged(&body).assessment;
            let rep = &a.reps[0];
            near(rep.knee_offset_peak_cm.unwrap(), 8.0, 1.5);
            let leg_cm = 100.0 * (body.thigh_m() + body.shank_m());
            let percent = 100.0 * rep.knee_offset_peak_cm.unwrap() / leg_cm;
            near(rep.knee_offset_peak_percent_leg.unwrap(), percent, 0.06);
            assert_eq!(rep.knee_offset_grade, Some(2));
            assert!(matches!(rep.knee_offset_peak_phase, Some(Phase::Rise | Phase::Descent)));
            let half_up = [UP_S, DOWN_S].map(|(from_s, lasts_s)| from_s + lasts_s / 2.0);
            let at_s = rep.knee_offset_peak_at_s.unwrap();
            assert!(half_up.iter().any(|t| (at_s - t).abs() < 0.3), "{at_s}");
            assert!(rep.knee_past_limit_s.unwrap() > 0.3);
            assert_eq!(rep.knee_past_limit_spans_s.len(), 2, "going up and going down");
            assert_eq!(
                (rep.judgement, rep.reasons.as_slice()),
                (Verdict::Faulted, [Reason::KneeInward].as_slice())
            );
            assert!(rep.fppa_peak_deg.unwrap() > 10.0);
            // Outward is no fault, however far.
            let out = judged(&Body { knee_in_m: -0.08, ..body }).assessment;
            assert_eq!(
                (out.reps[0].judgement, out.reps[0].knee_offset_grade),
                (Verdict::Clean, Some(0))
            );
        }
    }

    /// The free side 3 cm lower over 20 cm between the hips: atan 0.15 is 8.5°.
    #[test]
    fn trunk_and_pelvis_are_measured_in_degrees() {
        let body = Body { aside_deg: 8.0, drop_m: 0.03, lean_deg: 30.0, ..Body::USUAL };
        let rep = judged(&body).assessment.reps.remove(0);
        near(rep.trunk_lean_deg.unwrap(), 8.0, 2.0);
        near(rep.pelvic_drop_deg.unwrap(), (0.03 / HIPS_M).atan().to_degrees(), 1.0);
        near(rep.forward_lean_deg.unwrap(), 30.0, 8.0);
    }

    #[test]
    fn beyond_the_limit_of_the_turn_the_knee_is_not_judged() {
        let a = judged(&Body { yaw_deg: 32.0, lean_deg: 35.0, ..Body::USUAL }).assessment;
        assert_eq!(a.view.kind, ViewKind::Oblique);
        near(a.view.yaw_deg.unwrap(), 32.0, 8.0);
        let rep = &a.reps[0];
        assert_eq!(
            (rep.judgement, rep.reasons.as_slice()),
            (Verdict::NotJudged, [Reason::OffAxis].as_slice())
        );
        assert_eq!((rep.knee_offset_peak_cm, rep.knee_leg), (None, None));
        assert!(rep.descent_mean_m_s.is_some(), "speeds are seen from anywhere");
        let drop = rep.criteria.iter().find(|c| c.criterion == Reason::Drop).unwrap();
        assert_eq!(drop.outcome, Outcome::Met);
    }

    #[test]
    fn the_view_goes_by_breadth_facing_and_turn() {
        let body = Body::USUAL;
        let (recording, told, criteria) = (body.recording(), tall(&body), limits());
        let seen = observe(&recording, &told).unwrap_or_else(|_| panic!("refused"));
        let counted = count(&seen, &told, &criteria).unwrap();
        let shown = frontal(&seen, &counted, &told, &criteria).unwrap();
        let of = |change: &dyn Fn(&mut Alignment)| {
            let mut alignment = shown.working().clone();
            (alignment.yaw_deg, alignment.facing) = (0.0, true);
            change(&mut alignment);
            view(&alignment, &criteria)
        };
        assert_eq!(of(&|_| {}).kind, ViewKind::Frontal);
        let broad = |share: f64| of(&|a| a.shoulder_to_trunk = share);
        assert_eq!(broad(settings::SIDE_VIEW_BREADTH - 0.01).kind, ViewKind::Sagittal);
        assert_eq!(broad(settings::SIDE_VIEW_BREADTH - 0.01).yaw_deg, None);
        assert_eq!(broad(settings::SIDE_VIEW_BREADTH).kind, ViewKind::Oblique);
        assert_eq!(broad(settings::FRONT_VIEW_BREADTH - 0.01).kind, ViewKind::Oblique);
        assert_eq!(broad(settings::FRONT_VIEW_BREADTH).kind, ViewKind::Frontal);
        assert_eq!(of(&|a| a.facing = false).kind, ViewKind::Oblique);
        let limit_deg = criteria.yaw_max.value;
        for sign in [-1.0, 1.0] {
            assert_eq!(of(&|a| a.yaw_deg = sign * limit_deg).kind, ViewKind::Frontal);
            let beyond = of(&|a| a.yaw_deg = sign * (limit_deg + 0.1));
            assert_eq!((beyond.kind, beyond.yaw_deg), (ViewKind::Oblique, Some(sign * 20.1)));
        }
    }

    #[test]
    fn where_both_legs_work_both_knees_are_watched() {
        let body = Body { knee_in_m: 0.08, ..Body::USUAL };
        let recording = body.recording();
        let two = Told { rung: Some(Rung::TwoLeg), ..tall(&body) };
        let judged = judged_as(&recording, &two);
        assert_eq!((judged.assessment.rung, judged.assessment.leg), (Rung::TwoLeg, None));
        assert_eq!(judged.assessment.reps[0].knee_leg, Some(Side::Right), "the one further in");
        assert!(judged.notes.contains(&Note::BothLegs));
        let other = Note::OtherRung { told: Rung::TwoLeg, seen: Rung::SingleLeg };
        assert!(judged.notes.contains(&other));
        let named = Told { leg: Some(Side::Right), ..two };
        let judged = judged_as(&recording, &named);
        assert_eq!(judged.assessment.leg, Some(Side::Right));
        assert!(!judged.notes.contains(&Note::BothLegs));
        assert_eq!(judged.assessment.leg_clarity, 1.0);
    }

    #[test]
    fn sizes_come_from_what_is_told() {
        let body = Body::USUAL;
        let recording = body.recording();
        let none = judged_as(&recording, &Told::default());
        assert_eq!(none.assessment.scale.source, ScaleSource::NetworkLandmarks);
        assert!(
            none.notes.iter().any(|n| matches!(n, Note::ScaleOfNetwork(percent) if *percent > 5.0))
        );
        let seat = Told { seat_height_m: Some(0.45), ..Told::default() };
        let seat = judged_as(&recording, &seat);
        assert_eq!(seat.assessment.scale.source, ScaleSource::SeatHeight);
        assert!(seat.notes.contains(&Note::ScaleOfSeat));
        assert!(
            !judged(&body)
                .notes
                .iter()
                .any(|n| matches!(n, Note::ScaleOfNetwork(_) | Note::ScaleOfSeat))
        );
    }

    /// The film twice, the second time right after the first.
    fn twice(body: &Body) -> Recording {
        let mut recording = body.recording();
        let (count, again) = (recording.frames.len(), recording.frames.clone());
        recording.frames.extend(again.into_iter().map(|mut frame| {
            frame.index += count;
            frame.time_s += count as f64 / RATE_HZ;
            frame
        }));
        recording.clip.frames *= 2;
        recording.clip.duration_s = 2.0 * Body::lasts_s();
        recording
    }

    /// 7.6 s and a picture from one to the next.
    #[test]
    fn rests_and_cycles_go_from_rep_to_rep() {
        let body = Body::USUAL;
        let a = judged_as(&twice(&body), &tall(&body)).assessment;
        assert_eq!(a.reps.len(), 2);
        near(a.reps[0].cycle_s.unwrap(), Body::lasts_s() + 1.0 / RATE_HZ, 0.02);
        let [seat_off_s, _, seat_contact_s] = moments_s(&body);
        let rest_s = Body::lasts_s() + 1.0 / RATE_HZ + seat_off_s - seat_contact_s;
        near(a.reps[1].seated_pause_s.unwrap(), rest_s, 0.20);
        assert_eq!((a.reps[0].seated_pause_s, a.reps[1].cycle_s), (None, None));
        assert_eq!((a.reps[0].number, a.reps[1].number), (1, 2));
        assert!(!a.set.one_go, "longer than 3 s");
    }

    #[test]
    fn what_is_no_rep_is_refused_with_its_reason() {
        let body = Body::USUAL;
        let told = tall(&body);
        let part = |seconds: std::ops::Range<f64>| {
            let mut recording = body.recording();
            recording.frames.retain(|f| seconds.contains(&f.time_s));
            for (index, frame) in recording.frames.iter_mut().enumerate() {
                (frame.index, frame.time_s) = (index, index as f64 / RATE_HZ);
            }
            recording.clip.frames = recording.frames.len();
            recording.clip.duration_s = seconds.end - seconds.start;
            recording
        };
        assert_eq!(refused(&part(0.0..1.2), &told), Some(NoRep::SameHeight));
        assert_eq!(refused(&part(0.0..3.6), &told), Some(NoRep::CutOff(1)));
        let mut lost = body.recording();
        lost.filming.analysed_frames = 1000;
        lost.filming.tracked_frames = (1000.0 * settings::MIN_TRACKED) as usize - 1;
        assert_eq!(refused(&lost, &told), None, "the person was hardly followed");
        lost.filming.tracked_frames += 1;
        assert_eq!(judged_as(&lost, &told).assessment.reps.len(), 1);
    }

    /// From standing down to the seat's height and up again without a rest there.
    #[test]
    fn a_squat_on_film_is_no_rise_from_a_seat() {
        let body = Body::USUAL;
        let mut recording = twice(&body);
        recording
            .frames
            .retain(|f| (3.2..11.6).contains(&f.time_s) && !(6.0..7.6 + 1.6).contains(&f.time_s));
        for (index, frame) in recording.frames.iter_mut().enumerate() {
            (frame.index, frame.time_s) = (index, index as f64 / RATE_HZ);
        }
        recording.clip.duration_s = recording.frames.len() as f64 / RATE_HZ;
        recording.filming.analysed_frames = recording.frames.len();
        recording.filming.tracked_frames = recording.frames.len();
        let why = refused(&recording, &tall(&body));
        let frames = recording.frames.len();
        assert!(
            matches!(why, Some(NoRep::NeverSat { tracked, frames: of, .. })
                if (tracked, of) == (frames, frames)),
            "{why:?}"
        );
    }

    /// The points of the made film, written as a marker file and read back: as they are, and as
    /// markers of a laboratory, which have no trunk as a camera sees it.
    #[test]
    fn points_and_markers_are_told_apart_and_counted() {
        use crate::record::markers::{MarkerNames, read_motion};
        let body = Body::USUAL;
        let film = judged_as(&twice(&body), &tall(&body));
        let place = tempfile::tempdir().unwrap();
        let path = place.path().join("motion.trc");
        let mut text = Vec::new();
        film.trajectories.write_motion("motion.trc", &mut text).unwrap();
        crate::files::write_text(&path, std::str::from_utf8(&text).unwrap()).unwrap();
        let mut motion =
            read_motion(&path, &MarkerNames::built_in().unwrap(), None).unwrap().motion;
        let of = |motion| Recording { frames: Vec::new(), motion: Some(motion), ..twice(&body) };
        let points = judged_as(&of(motion.clone()), &tall(&body)).assessment;
        assert_eq!((points.source, points.reps.len()), (Origin::PointsOfAFilm, 2));
        motion.trunk_by_camera = None;
        let markers = judged_as(&of(motion), &tall(&body)).assessment;
        assert_eq!((markers.source, markers.reps.len()), (Origin::Markers, 2));
        for (film, other) in film.assessment.reps.iter().zip(&markers.reps) {
            near(other.seat_contact_s.unwrap(), film.seat_contact_s.unwrap(), 0.15);
            near(other.excursion_m.unwrap(), film.excursion_m.unwrap(), 0.04);
        }
    }

    /// Of 0.5, 0.8, 0.8, 0.9 and one cut off, which counts for nothing, three quarters lie below
    /// 0.825 (linear between the third and the fourth, as NumPy has it).
    #[test]
    fn stands_are_held_against_the_usual_one_of_the_set() {
        let usual = good().events;
        let of = |reached: f64, ended_after| Events { reached, ended_after, ..usual };
        let reps = [of(0.5, false), of(0.8, false), of(0.8, false), of(0.9, false), of(0.1, true)];
        for (found, share) in stands_percent(&reps).iter().zip([0.5, 0.8, 0.8, 0.9, 0.1]) {
            near(*found, 100.0 * share / 0.825, 1e-9);
        }
        assert_eq!(stands_percent(&[of(0.7, true)]), [70.0]);
    }

    #[test]
    fn rises_that_turned_back_are_told_in_seconds_and_percent() {
        let body = Body::USUAL;
        let (recording, told, criteria) = (body.recording(), tall(&body), limits());
        let seen = observe(&recording, &told).unwrap_or_else(|_| panic!("refused"));
        let mut counted = count(&seen, &told, &criteria).unwrap();
        counted.found.attempts.push(Attempt { time_s: 1.234, reached: 0.456 });
        let shown = frontal(&seen, &counted, &told, &criteria).unwrap();
        let document = document(&seen, &counted, &shown, Vec::new(), &told, &criteria);
        let [attempt] = document.attempts.as_slice() else { panic!("one") };
        assert_eq!((attempt.time_s, attempt.reached_percent), (1.23, 46.0));
    }

    #[test]
    fn what_was_hidden_or_lost_is_not_judged() {
        let body = Body::USUAL;
        let mut recording = body.recording();
        for frame in &mut recording.frames {
            if (2.0..5.5).contains(&frame.time_s) {
                let leg = [crate::body::Landmark::Knee, crate::body::Landmark::Ankle];
                let pose = frame.pose.as_mut().unwrap();
                leg.iter().for_each(|l| pose.image[l.at(Side::Right)].heat = Some(0.1));
            }
        }
        let told = Told { leg: Some(Side::Right), ..tall(&body) };
        let a = judged_as(&recording, &told).assessment;
        let rep = &a.reps[0];
        assert_eq!(
            (rep.judgement, rep.reasons.as_slice()),
            (Verdict::NotJudged, [Reason::Occluded].as_slice())
        );
        assert_eq!(rep.knee_offset_peak_cm, None);
        assert!(rep.well_seen_percent < 50.0 && rep.descent_mean_m_s.is_some());
    }

    /// All steps with their trials: the same rep, and a standard error of each number.
    #[test]
    fn trials_give_every_number_its_error() {
        let body = Body::USUAL;
        let path = Path::new("made.mp4");
        let judged = assess(&body.recording(), &tall(&body), &limits(), path).unwrap();
        let [rep] = judged.assessment.reps.as_slice() else { panic!("one rep") };
        for m in crate::judgement::measures::all().filter(|m| m.kind.has_error()) {
            assert_eq!(m.error(rep).is_some(), (m.of)(rep).is_some(), "{}", m.key());
        }
        assert_eq!(rep.judgement, Verdict::Clean);
        let gone = assess(
            &Recording { frames: Vec::new(), ..body.recording() },
            &tall(&body),
            &limits(),
            path,
        );
        assert!(matches!(gone, Err(Error::TrackingPoor { path: named, .. }) if named == path));
    }
}
