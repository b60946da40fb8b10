//! What is worth a look and is no fault.

use super::criteria::Criteria;
use super::document::{Assessment, Outcome, Reason, Rep};

/// The knee of the last third of a set has gone elsewhere than that of the first by more than
/// this, cm (design choice: about the standard error of a rep's knee offset).
const KNEE_DRIFT_CM: f64 = 1.0;

/// Something worth a look.
#[derive(Debug, Clone, PartialEq)]
pub enum Remark {
    /// The knee was so near its limit that the measure cannot decide, in these reps.
    KneeClose(Vec<usize>),
    /// So was the speed at the seat.
    DropClose(Vec<usize>),
    /// The trunk leant sideways by more than the limit, degrees.
    TrunkLean(Vec<usize>, f64),
    /// The free side of the pelvis was lower by more than the limit, degrees.
    PelvicDrop(Vec<usize>, f64),
    /// Rises that turned back, and when, seconds.
    TurnedBack(Vec<f64>),
    /// Rests on the seat before these reps longer than the limit, seconds.
    Rested(Vec<usize>, f64),
    /// The knee went further inward toward the end of the set by so much, cm; less far where
    /// negative.
    KneeDrift(f64),
}

/// What is worth a look in a set, in the order of telling.
pub fn remarks(a: &Assessment, criteria: &Criteria) -> Vec<Remark> {
    let which = |keep: &dyn Fn(&Rep) -> bool| -> Option<Vec<usize>> {
        let reps: Vec<usize> = a.reps.iter().filter(|r| keep(r)).map(|r| r.number).collect();
        (!reps.is_empty()).then_some(reps)
    };
    let close = |reason: Reason| {
        which(&|r: &Rep| {
            r.criteria.iter().any(|c| c.criterion == reason && c.close && c.outcome == Outcome::Met)
        })
    };
    let (lean_deg, drop_deg) = (criteria.trunk_lean_note.value, criteria.pelvic_drop_note.value);
    let rest_s = criteria.pause_max.value;
    let turned_back: Vec<f64> = a.attempts.iter().map(|attempt| attempt.time_s).collect();
    let drift_cm = a.set.drift.as_ref().and_then(|drift| drift.knee_offset_cm);
    [
        close(Reason::KneeInward).map(Remark::KneeClose),
        close(Reason::Drop).map(Remark::DropClose),
        which(&|r| r.trunk_lean_deg.is_some_and(|deg| deg.abs() > lean_deg))
            .map(|reps| Remark::TrunkLean(reps, lean_deg)),
        which(&|r| r.pelvic_drop_deg.is_some_and(|deg| deg > drop_deg))
            .map(|reps| Remark::PelvicDrop(reps, drop_deg)),
        (!turned_back.is_empty()).then_some(Remark::TurnedBack(turned_back)),
        which(&|r| r.seated_pause_s.is_some_and(|pause_s| pause_s > rest_s))
            .map(|reps| Remark::Rested(reps, rest_s)),
        drift_cm.filter(|cm| cm.abs() > KNEE_DRIFT_CM).map(Remark::KneeDrift),
    ]
    .into_iter()
    .flatten()
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};

    /// A set of one rep, with what a test changes; limits 10° and 3 s as built in.
    fn said(rep: Value, drift_cm: Option<f64>) -> Vec<Remark> {
        let drift = drift_cm.map(|cm| json!({ "knee_offset_cm": cm }));
        let a = json!({
            "schema": "", "program_version": "", "rung": "single_leg", "leg": "left",
            "clip": { "file": "", "sha256": "", "width_px": 1, "height_px": 1,
                      "duration_s": 9.0, "frames": 9, "frame_rate_hz": 30.0 },
            "leg_clarity": 1.0, "reps": [Rep::made(rep)], "attempts": [],
            "view": { "kind": "frontal", "yaw_deg": 0.0, "yaw_standard_error_deg": 1.0,
                      "toe_out_deg": 1.0 },
            "scale": { "source": "stature", "m_per_px": 0.002, "relative_uncertainty": 0.02,
                       "stature_m": 1.7 },
            "set": { "reps": 1, "clean": 1, "faulted": 0, "not_judged": 0,
                     "longest_clean_run": 1, "target": 22, "target_met": false,
                     "drift": drift, "one_go": true },
            "told": { "leg": null, "rung": null, "stature_m": null, "seat_height_m": null },
            "filming": { "analysed_frames": 9, "tracked_frames": 9, "other_people": 0,
                         "camera_moved_s": [], "damaged": 0, "cut_short": false, "hdr": false,
                         "recorded_hz": null },
            "notes": [], "cautions": [],
        });
        remarks(&serde_json::from_value(a).unwrap(), &Criteria::built_in().unwrap())
    }

    #[test]
    fn leans_drops_and_rests_are_told_past_their_limits_only() {
        let of = |rep| said(rep, None);
        assert_eq!(of(json!({ "trunk_lean_deg": -10.0, "pelvic_drop_deg": 10.0 })), []);
        for to_either_side in [10.1, -10.1] {
            let lean = Remark::TrunkLean(vec![1], 10.0);
            assert_eq!(of(json!({ "trunk_lean_deg": to_either_side })), [lean]);
        }
        let drop = Remark::PelvicDrop(vec![1], 10.0);
        assert_eq!(of(json!({ "pelvic_drop_deg": 10.1 })), [drop]);
        assert_eq!(of(json!({ "pelvic_drop_deg": -30.0 })), [], "the free side is higher");
        assert_eq!(of(json!({ "seated_pause_s": 3.0 })), []);
        assert_eq!(of(json!({ "seated_pause_s": 3.1 })), [Remark::Rested(vec![1], 3.0)]);
    }

    #[test]
    fn a_knee_that_wanders_is_told_from_a_centimetre_on() {
        assert_eq!(said(json!({}), Some(1.0)), []);
        assert_eq!(said(json!({}), Some(1.1)), [Remark::KneeDrift(1.1)]);
        assert_eq!(said(json!({}), Some(-1.1)), [Remark::KneeDrift(-1.1)]);
    }

    #[test]
    fn what_is_close_and_no_fault_is_told() {
        let near = |reason: &str, outcome: &str| {
            let criterion = json!({ "criterion": reason, "outcome": outcome, "close": true });
            said(json!({ "criteria": [criterion] }), None)
        };
        assert_eq!(near("knee_inward", "met"), [Remark::KneeClose(vec![1])]);
        assert_eq!(near("drop", "met"), [Remark::DropClose(vec![1])]);
        assert_eq!(near("drop", "not_met"), []);
    }
}
