//! Rep × criterion → outcome; outcomes → verdict; verdicts → set.

use crate::judgement::criteria::Criteria;
use crate::judgement::document::{
    CriterionOutcome, Drift, Outcome, Reason, Rep, Rung, SetSummary, Verdict, View, ViewKind,
};
use crate::judgement::measure::Measures;
use crate::judgement::measures::{DESCENT_FINAL, FINAL_RATIO, STANCE_FOOT_SHIFT, STAND_PERCENT};
use crate::settings;

/// What holds for the whole clip.
#[derive(Debug, Clone)]
pub struct Conditions<'a> {
    /// The rung judged.
    pub rung: Rung,
    /// The view.
    pub view: &'a View,
    /// Frame rate of the analysed frames, per second.
    pub rate_hz: f64,
    /// Spans in which the camera moved, seconds.
    pub camera_moved_s: &'a [(f64, f64)],
    /// Rest on the seat before the rep, seconds.
    pub pause_s: Option<f64>,
}

/// Judges one rep: outcomes of the rung's criteria, verdict, and its reasons.
/// `unseen` is why the rep as a whole cannot be judged, if so.
pub fn judge(
    m: &Measures,
    conditions: &Conditions,
    criteria: &Criteria,
    stand_percent: f64,
    unseen: Option<Reason>,
) -> (Vec<CriterionOutcome>, Verdict, Vec<Reason>) {
    let judged = |criterion, bad: bool, close: bool| CriterionOutcome {
        criterion,
        outcome: if bad { Outcome::NotMet } else { Outcome::Met },
        because: None,
        close,
    };
    let cannot = |criterion, because| CriterionOutcome {
        criterion,
        outcome: Outcome::CannotJudge,
        because: Some(because),
        close: false,
    };
    let mut outcomes =
        vec![knee_inward(m, conditions, criteria, unseen), drop(m, conditions, criteria, unseen)];
    let cut_off = m.events.ended_after.then_some(Reason::CutOff);
    outcomes.push(match unseen.or(cut_off) {
        Some(why) => cannot(Reason::IncompleteStand, why),
        None => {
            let short = criteria.stand_share_min.value - stand_percent;
            // Read in whole per cent: it is not surer than one.
            let error = m.error(&STAND_PERCENT, settings::STAND_SE_PERCENT).max(1.0);
            let (bad, close) = past(short, 0.0, error);
            judged(Reason::IncompleteStand, bad, close)
        }
    });
    if conditions.rung == Rung::SingleLeg || conditions.rung == Rung::Lowering {
        let touches = m.touches.len() as f64;
        outcomes.push(match unseen {
            Some(why) => cannot(Reason::FreeFootDown, why),
            None if conditions.rate_hz < settings::MIN_HZ_FOR_DROPS => {
                cannot(Reason::FreeFootDown, Reason::FrameRateTooLow)
            }
            None => {
                judged(Reason::FreeFootDown, touches > criteria.free_foot_touches_max.value, false)
            }
        });
    }
    // A hidden hand does not unmake a rep: it is reported as unknown only.
    if let (Some(used), None) = (m.hands_used, unseen) {
        let used = f64::from(u8::from(used));
        outcomes.push(judged(Reason::HandsUsed, used > criteria.hands_used_max.value, false));
    }
    if unseen.is_none() {
        let error = m.error(&STANCE_FOOT_SHIFT, settings::FOOT_SHIFT_SE_CM);
        let limit = criteria.stance_foot_shift_max.value;
        let (bad, close) = past(100.0 * m.stance_foot_shift_m, limit, error);
        outcomes.push(judged(Reason::FootMoved, bad, close));
    }
    if criteria.pause_faults_rep.value >= 0.5
        && unseen.is_none()
        && let Some(pause) = conditions.pause_s
    {
        outcomes.push(judged(Reason::PauseTooLong, pause > criteria.pause_max.value, false));
    }
    let (verdict, reasons) = conclude(&outcomes);
    (outcomes, verdict, reasons)
}

/// Whether a value is past its limit by more than its standard error, and whether it is
/// so near that it cannot be told.
fn past(value: f64, limit: f64, error: f64) -> (bool, bool) {
    let bad = value > limit + error;
    (bad, !bad && value > limit - error)
}

/// A failed criterion outweighs one that cannot be judged.
fn conclude(outcomes: &[CriterionOutcome]) -> (Verdict, Vec<Reason>) {
    let failed: Vec<Reason> =
        outcomes.iter().filter(|o| o.outcome == Outcome::NotMet).map(|o| o.criterion).collect();
    if !failed.is_empty() {
        return (Verdict::Faulted, failed);
    }
    let mut unknown: Vec<Reason> = outcomes.iter().filter_map(|o| o.because).collect();
    unknown.sort();
    unknown.dedup();
    let verdict = if unknown.is_empty() { Verdict::Clean } else { Verdict::NotJudged };
    (verdict, unknown)
}

/// Why the rep as a whole cannot be seen well enough, if so.
pub fn unseen(m: &Measures, conditions: &Conditions, criteria: &Criteria) -> Option<Reason> {
    let [good, hidden, outside, lost] = m.seen;
    let all = (good + hidden + outside + lost).max(1) as f64;
    let allowed = 1.0 - criteria.good_samples_min.value / 100.0;
    let reaches =
        |(from, to): &(f64, f64)| *from < m.events.seat_contact_s && *to > m.events.seat_off_s;
    if conditions.rate_hz < settings::MIN_HZ_FOR_EVENTS {
        Some(Reason::FrameRateTooLow)
    } else if conditions.camera_moved_s.iter().any(reaches) {
        Some(Reason::CameraMoved)
    } else if m.gap || lost as f64 / all > allowed {
        Some(Reason::TrackingLost)
    } else if outside as f64 / all > allowed {
        Some(Reason::OutOfFrame)
    } else if (hidden + outside + lost) as f64 / all > allowed {
        Some(Reason::Occluded)
    } else {
        None
    }
}

/// The offset leads. Either measure alone faults a rep when it is past its
/// limit by more than its own standard error. Two that each come within one
/// standard error of their limits agree with each other, and fault it together
/// (design choice); one alone that comes so near is «close».
fn knee_inward(
    m: &Measures,
    conditions: &Conditions,
    criteria: &Criteria,
    unseen: Option<Reason>,
) -> CriterionOutcome {
    let off_axis = conditions.view.kind != ViewKind::Frontal
        || conditions.view.yaw_deg.is_none_or(|yaw| yaw.abs() > criteria.yaw_max.value);
    let (outcome, because, close) = match (&m.knee, unseen) {
        (_, Some(why)) => (Outcome::CannotJudge, Some(why), false),
        (Some(knee), None) if !off_axis => {
            let hold_s = criteria.knee_offset_hold.value;
            let offset_bad = knee.clearly_past_limit_s >= hold_s;
            let offset_near = knee.nearly_past_limit_s >= hold_s;
            let limit = criteria.fppa_max.value;
            let fppa = knee.fppa.as_ref().map(|f| past(f.peak_deg, limit, f.se_deg));
            let (fppa_bad, fppa_close) = fppa.unwrap_or((false, false));
            let bad = offset_bad || fppa_bad || (offset_near && fppa_close);
            let close = !bad && (offset_near || fppa_close);
            (if bad { Outcome::NotMet } else { Outcome::Met }, None, close)
        }
        _ => (Outcome::CannotJudge, Some(Reason::OffAxis), false),
    };
    CriterionOutcome { criterion: Reason::KneeInward, outcome, because, close }
}

/// A drop reaches the seat fast, and faster than the rest of the same descent.
fn drop(
    m: &Measures,
    conditions: &Conditions,
    criteria: &Criteria,
    unseen: Option<Reason>,
) -> CriterionOutcome {
    let too_slow = conditions.rate_hz < settings::MIN_HZ_FOR_DROPS;
    let speed = past(
        m.descent_final_m_s,
        criteria.drop_final_speed_max.value,
        m.error(&DESCENT_FINAL, settings::FINAL_SPEED_SE_M_S),
    );
    let ratio = past(
        m.descent_final_m_s / m.descent_mean_m_s.max(1e-6),
        criteria.drop_final_ratio_max.value,
        m.error(&FINAL_RATIO, settings::FINAL_RATIO_SE),
    );
    let bad = speed.0 && ratio.0;
    // Of a descent that began before the recording the mean speed is less than it seems and
    // the ratio more: only a slow end clears it.
    let ratio_open = m.events.began_before && !bad && (speed.0 || speed.1);
    let because = unseen
        .or(too_slow.then_some(Reason::FrameRateTooLow))
        .or(ratio_open.then_some(Reason::CutOff));
    let outcome = match because {
        Some(_) => Outcome::CannotJudge,
        None if bad => Outcome::NotMet,
        None => Outcome::Met,
    };
    // Neither clearly within its limit.
    let near = |(past, close): (bool, bool)| past || close;
    let close = because.is_none() && !bad && near(speed) && near(ratio);
    CriterionOutcome { criterion: Reason::Drop, outcome, because, close }
}

/// Totals, the longest clean run and the drift.
pub fn summary(reps: &[Rep], criteria: &Criteria) -> SetSummary {
    let count = |v: Verdict| reps.iter().filter(|r| r.judgement == v).count();
    let (mut run, mut longest) = (0, 0);
    for rep in reps {
        let rested = rep.seated_pause_s.is_some_and(|p| p > criteria.pause_max.value);
        run = match rep.judgement {
            Verdict::Clean if rested => 1,
            Verdict::Clean => run + 1,
            _ => 0,
        };
        longest = longest.max(run);
    }
    let target = criteria.target_reps.value.round() as usize;
    SetSummary {
        reps: reps.len(),
        clean: count(Verdict::Clean),
        faulted: count(Verdict::Faulted),
        not_judged: count(Verdict::NotJudged),
        longest_clean_run: longest,
        target,
        target_met: longest >= target,
        drift: drift(reps),
        one_go: reps.iter().all(|r| r.seated_pause_s.is_none_or(|p| p <= criteria.pause_max.value)),
    }
}

/// Mean of the last third less mean of the first.
fn drift(reps: &[Rep]) -> Option<Drift> {
    let third = reps.len() / 3;
    if third < 2 {
        return None;
    }
    let change = |value: &dyn Fn(&Rep) -> Option<f64>| {
        let mean = |part: &[Rep]| {
            let values: Option<Vec<f64>> = part.iter().map(value).collect();
            crate::signal::mean(&values?)
        };
        Some(mean(&reps[reps.len() - third..])? - mean(&reps[..third])?)
    };
    Some(Drift {
        knee_offset_cm: change(&|r| r.knee_offset_peak_cm),
        wobble_cm: change(&|r| r.wobble_cm),
        rise_s: change(&|r| r.rise_s),
        descent_s: change(&|r| r.descent_s),
    })
}
