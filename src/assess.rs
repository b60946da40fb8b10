//! From a recording to an assessment: kinematics, reps, judgement, in order.

use std::path::Path;

use crate::assessment::{
    Assessment, AttemptSeen, Reason, Rep, Rung, SCHEMA, ScaleUsed, Source, Told, View, ViewKind,
};
use crate::criteria::Criteria;
use crate::error::{Error, Result};
use crate::film::{self, Riser};
use crate::judgement::{self, Conditions, Measures, measure};
use crate::kinematics::{Alignment, Courses, Feet, Observation, Scale, Stance, Trunk};
use crate::record::Recording;
use crate::repetition::{Course, Events};
use crate::report::wording;
use crate::settings;
use crate::signal::rounded;
use crate::trajectory::Trajectories;
use crate::uncertainty::{self, StandardErrors};

/// Judges a recording. Also returns the courses the judgement rests on.
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
) -> Result<(Assessment, Trajectories)> {
    let first = assess_once(recording, told, criteria, source, &[])?;
    // Laboratory markers err in other ways than a network does: no errors are stated.
    if recording.motion.is_some() {
        return Ok(first);
    }
    let assessment = &first.0;
    let same = Told { leg: told.leg.or(assessment.leg), rung: Some(assessment.rung), ..*told };
    let trials = uncertainty::trials(|trial| {
        let (recording, told) = uncertainty::disturbed(recording, &same, trial);
        let (assessment, courses) = assess_once(&recording, &told, criteria, source, &[]).ok()?;
        Some((assessment.reps, courses.uncertain()))
    });
    let (reps, courses): (Vec<_>, Vec<_>) = trials.into_iter().unzip();
    let rate_hz = assessment.clip.frame_rate_hz.min(settings::MAX_ANALYSED_HZ);
    let errors = uncertainty::standard_errors(&assessment.reps, &reps, rate_hz);
    let (assessment, mut trajectories) = assess_once(recording, told, criteria, source, &errors)?;
    trajectories.add_errors(&courses);
    Ok((assessment, trajectories))
}

/// `errors`: standard errors of the numbers of each rep, as far as they are known.
fn assess_once(
    recording: &Recording,
    told: &Told,
    criteria: &Criteria,
    source: &Path,
    errors: &[StandardErrors],
) -> Result<(Assessment, Trajectories)> {
    let filming = &recording.filming;
    let poor = || Error::TrackingPoor {
        path: source.into(),
        tracked: filming.tracked_frames,
        frames: filming.analysed_frames,
    };
    let no_rep = |why: String| Error::NoRep { path: source.into(), why };
    if (filming.tracked_frames as f64) < settings::MIN_TRACKED * filming.analysed_frames as f64 {
        return Err(poor());
    }
    let observation = Observation::of(recording);
    let tracks = observation.tracks().ok_or_else(poor)?;
    let stance = observation.stance(&tracks, told.leg).map_err(no_rep)?;
    let scale = observation.scale(&tracks, &stance, told.stature_m, told.seat_height_m);
    if !(scale.m_per_px.is_finite() && scale.m_per_px > 0.0) {
        return Err(no_rep("the person's standing posture cannot be made out".into()));
    }
    let pelvis = observation.pelvis(&tracks, &stance, &scale);
    let course = Course { tracks: &tracks, stance: &stance, pelvis: &pelvis };
    let full_rise = criteria.attempt_share.value / 100.0;
    let source_kind = match &recording.motion {
        None => Source::Film,
        Some(motion) if motion.trunk_by_camera.is_some() => Source::PointsOfAFilm,
        Some(_) => Source::Markers,
    };
    let found = match source_kind {
        Source::Markers => course.find_by_levels(full_rise),
        _ => course.find(full_rise),
    };
    // Markers leave no doubt that it is the same movement; a film does.
    if !found.sat && source_kind != Source::Markers {
        return Err(no_rep(wording::never_sat(filming, found.reps.len())));
    }
    if found.reps.is_empty() {
        return Err(no_rep(wording::never_rose(found.attempts.len(), found.cut_off)));
    }

    let mut feet_at_work = judgement::foot_work(&tracks, &stance, &scale, &found.reps);
    feet_at_work.stagger_m = observation.stagger_m().unwrap_or(feet_at_work.stagger_m);
    let rung = told.rung.unwrap_or_else(|| feet_at_work.rung());
    // Where both legs work alike and none was named, both knees are watched.
    let both = rung == Rung::TwoLeg && told.leg.is_none();
    let loaded: Vec<_> = found.reps.iter().map(|r| r.loaded(tracks.rate_hz)).collect();
    let align = |stance: &Stance| {
        observation
            .alignment(&tracks, stance, &scale, &pelvis, &loaded)
            .ok_or_else(|| no_rep("a marker of the leg is missing".into()))
    };
    let mut alignments = vec![align(&stance)?];
    let view = view(&alignments[0], criteria);
    if both && view.kind == ViewKind::Frontal {
        let other = observation.stance(&tracks, Some(stance.side.opposite())).map_err(no_rep)?;
        alignments.push(align(&other)?);
    }
    let shown = if view.kind == ViewKind::Frontal { &alignments[..] } else { &[] };
    let yaw_deg = view.yaw_deg.unwrap_or(0.0);
    let trunk = Trunk::new(&tracks, &stance, &pelvis.forward_lean_deg, yaw_deg);
    let feet = Feet::new(&tracks, &stance, &scale);
    let quality = tracks.quality(stance.side, stance.ankle_px, observation.foot_reach_px(&scale));
    let courses = Courses {
        tracks: &tracks,
        stance: &stance,
        scale: &scale,
        pelvis: &pelvis,
        trunk: &trunk,
        feet: &feet,
        alignments: shown,
        quality: &quality,
    };
    // How far up a rise went that the recording cut off is not known.
    let reached: Vec<f64> =
        found.reps.iter().filter(|r| !r.ended_after).map(|r| r.reached).collect();
    let standing_share = crate::signal::percentile(&reached, 75.0).unwrap_or(1.0);

    let mut reps: Vec<Rep> = Vec::new();
    for events in &found.reps {
        let known = errors.get(reps.len()).cloned().unwrap_or_default();
        let measures = measure(&courses, *events, criteria, &known);
        let stand_percent = 100.0 * events.reached / standing_share;
        let mut conditions = Conditions {
            rung,
            view: &view,
            rate_hz: tracks.rate_hz,
            camera_moved_s: &filming.camera_moved_s,
            pause_s: None,
        };
        let unseen = judgement::unseen(&measures, &conditions, criteria);
        let mut rep = as_rep(reps.len() + 1, &measures, &scale, stand_percent, criteria, unseen);
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
            judgement::judge(&measures, &conditions, criteria, stand_percent, unseen);
        reps.push(rep);
    }
    let set = judgement::summary(&reps, criteria);
    let alignment = &alignments[0];
    let riser = Riser { tracks: &tracks, stance: &stance, scale: &scale, alignment };
    let leg = (!both).then_some(stance.side);
    let mut assessment = Assessment {
        schema: SCHEMA.into(),
        program_version: env!("CARGO_PKG_VERSION").into(),
        clip: recording.clip.clone(),
        source: source_kind,
        cycle: found.cycle,
        seat_seen: found.sat,
        rung,
        leg,
        leg_clarity: rounded(stance.clarity, 2),
        view,
        scale: ScaleUsed {
            source: scale.source,
            m_per_px: rounded(scale.m_per_px, 6),
            relative_uncertainty: rounded(scale.relative_uncertainty, 3),
            stature_m: rounded(scale.stature_m, 2),
        },
        reps,
        attempts: found
            .attempts
            .iter()
            .map(|a| AttemptSeen {
                time_s: rounded(a.time_s, 2),
                reached_percent: rounded(100.0 * a.reached, 0),
            })
            .collect(),
        set,
        told: *told,
        filming: filming.clone(),
        film: film::findings(recording, Some(riser), criteria.yaw_max.value),
        notes: Vec::new(),
        cautions: wording::CAUTIONS.iter().map(|c| (*c).to_owned()).collect(),
    };
    assessment.notes = wording::notes(&assessment, found.cut_off, &feet_at_work, criteria);
    let points = observation.points(&courses, &alignments[0]);
    let trajectories = Trajectories::new(&courses, &found.reps, points);
    Ok((assessment, trajectories))
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

/// Measures in the units of the document.
fn as_rep(
    number: usize,
    m: &Measures,
    scale: &Scale,
    stand_percent: f64,
    criteria: &Criteria,
    unseen: Option<Reason>,
) -> Rep {
    let e: &Events = &m.events;
    // Numbers from what was not seen would be guesses: none of the knee where the
    // leg was not, none at all where the person was lost or the camera moved.
    let lost = matches!(unseen, Some(Reason::TrackingLost | Reason::CameraMoved));
    let sure = (!lost).then_some(());
    let whole_descent = sure.filter(|()| !e.began_before);
    let whole_rise = sure.filter(|()| !e.ended_after);
    // One end of the way up or down is needed to know how high the person stands.
    let stood = whole_descent.or(whole_rise);
    let knee = m.knee.as_ref().filter(|_| unseen.is_none());
    let times = [e.seat_off_s, e.stand_s, e.descent_start_s, e.seat_contact_s];
    let [seat_off_s, stand_s, descent_start_s, seat_contact_s] =
        std::array::from_fn(|i| m.events_sure[i].then(|| rounded(times[i], 3)));
    let touches = if lost { &[][..] } else { &m.touches };
    let fppa = knee.and_then(|k| k.fppa.as_ref());
    let cm = |v: f64| rounded(100.0 * v, 2);
    let known = |v: f64, digits| v.is_finite().then(|| rounded(v, digits));
    let maybe = |v: Option<f64>, digits| v.and_then(|v| known(v, digits));
    let leg_m = (crate::anthropometry::THIGH + crate::anthropometry::SHANK) * scale.stature_m;
    let limit_m = criteria.knee_offset_limit_m(scale.stature_m);
    let all = m.seen.iter().sum::<usize>().max(1) as f64;
    Rep {
        number,
        seat_off_s,
        stand_s,
        descent_start_s,
        seat_contact_s,
        rise_s: between(seat_off_s, stand_s),
        stand_time_s: between(stand_s, descent_start_s),
        descent_s: between(descent_start_s, seat_contact_s),
        seated_pause_s: None,
        cycle_s: None,
        excursion_m: stood.and(known(e.excursion_m(), 3)),
        descent_mean_m_s: whole_descent.and(known(m.descent_mean_m_s, 3)),
        descent_peak_m_s: sure.and(known(m.descent_peak_m_s, 3)),
        descent_final_m_s: sure.and(known(m.descent_final_m_s, 3)),
        final_ratio: whole_descent.and(known(m.descent_final_m_s / m.descent_mean_m_s, 2)),
        descent_end_m_s: sure.and(known(m.descent_end_m_s, 3)),
        descent_acceleration_m_s2: sure.and(maybe(m.descent_acceleration_m_s2, 2)),
        lower_half_percent: whole_descent.and(known(100.0 * m.lower_half_share, 0)),
        knee_leg: knee.map(|k| k.side),
        knee_offset_peak_cm: knee.map(|k| cm(k.offset_peak_m)),
        knee_offset_peak_percent_leg: knee.map(|k| rounded(100.0 * k.offset_peak_m / leg_m, 1)),
        knee_offset_peak_at_s: knee.map(|k| rounded(k.offset_peak_at_s, 2)),
        knee_offset_peak_phase: knee.map(|k| k.offset_peak_phase),
        knee_offset_grade: knee.map(|k| {
            // Inside the second toe counts once it is more than its own error.
            if k.offset_peak_m > limit_m {
                2
            } else {
                u8::from(k.offset_peak_m > 2.0 * k.offset_se_m)
            }
        }),
        knee_past_limit_s: knee.map(|k| rounded(k.past_limit_s, 2)),
        knee_past_limit_spans_s: knee.map_or(Vec::new(), |k| {
            let round = |(from, to): &(f64, f64)| (rounded(*from, 3), rounded(*to, 3));
            k.past_limit_spans_s.iter().map(round).collect()
        }),
        fppa_peak_deg: fppa.map(|f| rounded(f.peak_deg, 1)),
        fppa_peak_phase: fppa.map(|f| f.phase),
        fppa_picture_peak_deg: fppa.and_then(|f| known(f.picture_peak_deg, 1)),
        wobble_cm: knee.map(|k| cm(k.wobble_m)),
        wobble_turns: knee.map(|k| k.wobble_turns),
        trunk_lean_deg: knee.and(known(m.trunk_lean_deg, 1)),
        pelvic_drop_deg: knee.and(known(m.pelvic_drop_deg, 1)),
        forward_lean_deg: knee.and(known(m.forward_lean_deg, 0)),
        free_foot_touches_s: touches.iter().map(|t| rounded(t.time_s, 2)).collect(),
        free_foot_height_cm: sure.and(known(100.0 * m.free_foot_height_m, 1)),
        hands_used: sure.and(m.hands_used),
        stance_foot_shift_cm: sure.and(known(100.0 * m.stance_foot_shift_m, 1)),
        stand_percent: whole_rise.and(known(stand_percent, 0)),
        sparc_rise: whole_rise.and(maybe(m.sparc_rise, 3)),
        sparc_descent: whole_descent.and(maybe(m.sparc_descent, 3)),
        jerk_rise: whole_rise.and(maybe(m.jerk_rise, 2)),
        jerk_descent: whole_descent.and(maybe(m.jerk_descent, 2)),
        standard_error: Default::default(),
        well_seen_percent: rounded(100.0 * m.seen[0] as f64 / all, 0),
        judgement: crate::assessment::Verdict::NotJudged,
        reasons: Vec::new(),
        criteria: Vec::new(),
    }
}

/// Seconds from one event to a later one, if both are known.
fn between(from_s: Option<f64>, to_s: Option<f64>) -> Option<f64> {
    Some(rounded(to_s? - from_s?, 3))
}
