//! Every limit of the criteria file matters: of a sample clip it finds more where it is strict
//! than where it is lax. Which clip shows what is known from the way it was rendered
//! (`sample-clips/*.truth.json`).

mod common;

use std::path::Path;

use common::session;
use plumbrise::assess;
use plumbrise::judgement::criteria::Criteria;
use plumbrise::judgement::document::{Assessment, Outcome, Reason};
use plumbrise::report::wording;
use plumbrise::session::{read_assessment, read_recording};

/// A limit, a clip, a strict and a lax value, further limits that are out of the way, and
/// what there is more of where it is strict.
struct Trial {
    limit: &'static str,
    clip: &'static str,
    strict: f64,
    lax: f64,
    beside: &'static [(&'static str, f64)],
    finds: fn(&Assessment, &Criteria) -> usize,
}

const fn trial(
    limit: &'static str,
    clip: &'static str,
    (strict, lax): (f64, f64),
    beside: &'static [(&'static str, f64)],
    finds: fn(&Assessment, &Criteria) -> usize,
) -> Trial {
    Trial { limit, clip, strict, lax, beside, finds }
}

/// Reps that fail a criterion.
fn failed(a: &Assessment, criterion: Reason) -> usize {
    let of = |outcome| {
        move |r: &&plumbrise::judgement::document::Rep| {
            r.criteria.iter().any(|c| c.criterion == criterion && c.outcome == outcome)
        }
    };
    a.reps.iter().filter(of(Outcome::NotMet)).count()
}

/// Outcomes that are not judged for a reason.
fn unjudged(a: &Assessment, because: impl Fn(Reason) -> bool) -> usize {
    let outcomes = a.reps.iter().flat_map(|r| &r.criteria);
    outcomes.filter(|c| c.because.is_some_and(&because)).count()
}

const FPPA_OFF: &[(&str, f64)] = &[("fppa_max", 60.0)];
const OFFSET_OFF: &[(&str, f64)] = &[("knee_offset_max", 20.0)];
const SHORT_REST: &[(&str, f64)] = &[("pause_max", 0.1)];

const TRIALS: [Trial; 17] = [
    trial("knee_offset_max", "knee_in_left", (0.1, 20.0), FPPA_OFF, |a, _| {
        failed(a, Reason::KneeInward)
    }),
    trial("knee_offset_hold", "knee_in_left", (0.0, 5.0), FPPA_OFF, |a, _| {
        failed(a, Reason::KneeInward)
    }),
    trial("fppa_max", "knee_in_left", (1.0, 60.0), OFFSET_OFF, |a, _| {
        failed(a, Reason::KneeInward)
    }),
    trial("drop_final_speed_max", "drops_right", (0.05, 5.0), &[], |a, _| failed(a, Reason::Drop)),
    trial("drop_final_ratio_max", "drops_right", (1.0, 10.0), &[], |a, _| failed(a, Reason::Drop)),
    trial("stand_share_min", "knee_in_left", (100.0, 50.0), &[], |a, _| {
        failed(a, Reason::IncompleteStand)
    }),
    trial("attempt_share", "not_up", (100.0, 30.0), &[], |a, _| a.attempts.len()),
    trial("free_foot_touches_max", "foot_down", (0.0, 100.0), &[], |a, _| {
        failed(a, Reason::FreeFootDown)
    }),
    trial("hands_used_max", "hands_help", (0.0, 1.0), &[], |a, _| failed(a, Reason::HandsUsed)),
    trial("stance_foot_shift_max", "clean_right", (0.5, 50.0), &[], |a, _| {
        failed(a, Reason::FootMoved)
    }),
    trial("pause_max", "clean_right", (0.1, 600.0), &[], |a, _| usize::from(!a.set.one_go)),
    trial("pause_faults_rep", "clean_right", (1.0, 0.0), SHORT_REST, |a, _| {
        failed(a, Reason::PauseTooLong)
    }),
    trial("yaw_max", "yaw_minus_15", (1.0, 45.0), &[], |a, _| {
        unjudged(a, |why| why == Reason::OffAxis)
    }),
    trial("good_samples_min", "knee_in_left", (100.0, 50.0), &[], |a, _| unjudged(a, |_| true)),
    trial("target_reps", "clean_right", (1000.0, 1.0), &[], |a, _| usize::from(!a.set.target_met)),
    trial("trunk_lean_note", "knee_in_left", (1.0, 60.0), &[], |a, c| {
        wording::worth_a_look(a, c).iter().filter(|line| line.contains("Trunk")).count()
    }),
    trial("pelvic_drop_note", "clean_right", (1.0, 60.0), &[], |a, c| {
        wording::worth_a_look(a, c).iter().filter(|line| line.contains("pelvis")).count()
    }),
];

fn found(trial: &Trial, value: f64) -> usize {
    let limits = trial.beside.iter().copied().chain([(trial.limit, value)]);
    let text: String =
        limits.map(|(name, value)| format!("[{name}]\nvalue = {value:?}\n")).collect();
    let criteria = Criteria::parse(&text, Path::new("changed.toml")).expect("limits");
    let folder = session(trial.clip);
    let machine = read_assessment(&folder).expect("a session");
    let recording = read_recording(&folder, &machine).expect("landmarks");
    let judged = assess(&recording, &machine.told, &criteria, &folder).expect("judged");
    (trial.finds)(&judged.assessment, &criteria)
}

#[test]
fn every_limit_matters() {
    let criteria = Criteria::built_in().expect("limits");
    let names: Vec<&str> = criteria.limits().into_iter().map(|(name, _)| name).collect();
    let tried: Vec<&str> = TRIALS.iter().map(|trial| trial.limit).collect();
    assert_eq!(tried, names, "a trial for every limit");
    for trial in &TRIALS {
        let (strict, lax) = (found(trial, trial.strict), found(trial, trial.lax));
        assert!(strict > lax, "{} in {}: {strict} and {lax}", trial.limit, trial.clip);
    }
}
