//! Measures of a rep in the units of the document.

use super::Measures;
use super::criteria::Criteria;
use super::document::{Reason, Rep, Verdict};
use crate::body::anthropometry;
use crate::movement::kinematics::Scale;
use crate::movement::repetition::Events;
use crate::signal::rounded;

/// Measures in the units of the document.
pub(super) fn as_rep(
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
    let leg_m = (anthropometry::THIGH + anthropometry::SHANK) * scale.stature_m;
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
        judgement: Verdict::NotJudged,
        reasons: Vec::new(),
        criteria: Vec::new(),
    }
}

/// Seconds from one event to a later one, if both are known.
pub(super) fn between(from_s: Option<f64>, to_s: Option<f64>) -> Option<f64> {
    Some(rounded(to_s? - from_s?, 3))
}
