//! A clinician's review of a session: amendments kept beside the machine's verdict, with
//! who and when. Nothing is ever taken away; a later word on the same thing goes before
//! an earlier one.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::judgement;
use crate::judgement::criteria::Criteria;
use crate::judgement::document::{Assessment, Reason, Rep, Verdict};
use crate::judgement::measures::{
    CYCLE, DESCENT, Measure, RISE, SEAT_CONTACT, SEAT_OFF, SEATED_PAUSE,
};
use crate::movement::repetition::Cycle;
use crate::signal::rounded;

/// Version of the document.
pub const SCHEMA: &str = "plumbrise.review/1";

/// The document `review.json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Review {
    /// [`SCHEMA`].
    pub schema: String,
    /// SHA-256 of the `assessment.json` it speaks of, hex.
    pub assessment_sha256: String,
    /// Everything that was said, in the order it was said.
    pub amendments: Vec<Amendment>,
}

/// One thing that was said.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Amendment {
    /// When; never before what was said earlier, whatever the computer's clock says.
    pub at: Timestamp,
    /// By whom: a name or code of the reviewer's choice.
    pub by: String,
    /// What.
    #[serde(flatten)]
    pub what: Change,
}

/// What an amendment says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "what")]
pub enum Change {
    /// Of one rep: only what is there was said.
    Rep(RepChange),
    /// A note on the session.
    Note {
        /// The note.
        text: String,
    },
    /// The reviewer stands for the session as it now is.
    SignOff,
}

/// A correction of one rep.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct RepChange {
    /// Number of the rep in the assessment.
    pub rep: usize,
    /// The verdict.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub judgement: Option<Verdict>,
    /// The reasons for it, in place of the machine's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reasons: Option<Vec<Reason>>,
    /// Seat-off, seconds of the clip. Where reps go from stand to stand it comes after the
    /// seat contact.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start_s: Option<f64>,
    /// Seat contact, seconds of the clip.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub end_s: Option<f64>,
    /// A note on the rep.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// How far a session is reviewed.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "state")]
pub enum ReviewState {
    /// Nobody has said anything.
    #[default]
    NotReviewed,
    /// Something was said, and not signed off since.
    Begun,
    /// Signed off, and nothing was said since.
    SignedOff {
        /// By whom.
        by: String,
        /// When.
        at: Timestamp,
    },
}

/// Why a correction does not hold.
#[derive(Debug, Clone, PartialEq)]
pub enum Wrong {
    /// The assessment has no rep of that number.
    NoSuchRep {
        /// The number.
        rep: usize,
        /// How many there are.
        reps: usize,
    },
    /// Clean with reasons for a fault, or not clean without a reason.
    ReasonsDoNotFit,
    /// Seat-off and seat contact do not follow each other as in such a rep, or one lies
    /// outside the clip.
    Times(Cycle),
    /// It says nothing.
    Empty,
}

impl Review {
    /// An empty review of the assessment whose file has that SHA-256.
    pub fn new(assessment_sha256: String) -> Self {
        Self { schema: SCHEMA.into(), assessment_sha256, amendments: Vec::new() }
    }

    /// How far the session is reviewed.
    pub fn state(&self) -> ReviewState {
        match self.amendments.last() {
            None => ReviewState::NotReviewed,
            Some(Amendment { what: Change::SignOff, by, at }) => {
                ReviewState::SignedOff { by: by.clone(), at: *at }
            }
            Some(_) => ReviewState::Begun,
        }
    }

    /// Adds what someone says of `assessment`. Where the clock was set back, it counts as
    /// said when the latest was: a sign-off must not seem older than what it covers.
    ///
    /// # Errors
    /// [`Wrong`]; nothing is added then.
    pub fn add(
        &mut self,
        assessment: &Assessment,
        at: Timestamp,
        by: &str,
        what: Change,
    ) -> Result<(), Wrong> {
        let latest = self.amendments.iter().map(|a| a.at).max();
        let at = latest.map_or(at, |latest| at.max(latest));
        self.amendments.push(Amendment { at, by: by.into(), what });
        let checked = self.check_last(assessment);
        if checked.is_err() {
            self.amendments.pop();
        }
        checked
    }

    fn check_last(&self, assessment: &Assessment) -> Result<(), Wrong> {
        let reps = assessment.reps.len();
        match self.amendments.last().map(|a| &a.what) {
            Some(Change::Rep(change)) => {
                let number = change.rep;
                let machine = assessment.reps.iter().find(|r| r.number == number);
                let machine = machine.ok_or(Wrong::NoSuchRep { rep: number, reps })?;
                if *change == (RepChange { rep: number, ..Default::default() }) {
                    return Err(Wrong::Empty);
                }
                // What it does not speak of is not its fault.
                let rep = self.rep_in_force(machine);
                let judged = change.judgement.is_some() || change.reasons.is_some();
                if judged && !fit(rep.judgement, &rep.reasons) {
                    return Err(Wrong::ReasonsDoNotFit);
                }
                let within = |t: &f64| (0.0..=assessment.clip.duration_s).contains(t);
                let told = || change.start_s.iter().chain(&change.end_s);
                let timed = told().next().is_some();
                if timed && !(told().all(within) && ordered(&rep, assessment.cycle)) {
                    return Err(Wrong::Times(assessment.cycle));
                }
                Ok(())
            }
            Some(Change::Note { text }) if text.trim().is_empty() => Err(Wrong::Empty),
            _ => Ok(()),
        }
    }

    /// A rep as it stands after the review.
    fn rep_in_force(&self, machine: &Rep) -> Rep {
        let mut rep = machine.clone();
        for change in self.changes_of(machine.number) {
            if let Some(judgement) = change.judgement {
                rep.judgement = judgement;
                if judgement == Verdict::Clean {
                    rep.reasons.clear();
                }
            }
            if let Some(reasons) = &change.reasons {
                rep.reasons.clone_from(reasons);
            }
            rep.seat_off_s = change.start_s.or(rep.seat_off_s);
            rep.seat_contact_s = change.end_s.or(rep.seat_contact_s);
        }
        // What a clinician set has no error that we could tell.
        if rep.seat_off_s != machine.seat_off_s {
            rep.rise_s = between(rep.seat_off_s, rep.stand_s).filter(|s| *s > 0.0);
            without_error(&mut rep, &[SEAT_OFF, RISE]);
        }
        if rep.seat_contact_s != machine.seat_contact_s {
            rep.descent_s = between(rep.descent_start_s, rep.seat_contact_s).filter(|s| *s > 0.0);
            without_error(&mut rep, &[SEAT_CONTACT, DESCENT]);
        }
        rep
    }

    /// What was said of a rep, in order.
    pub fn changes_of(&self, rep: usize) -> impl Iterator<Item = &RepChange> {
        self.amendments.iter().filter_map(move |a| match &a.what {
            Change::Rep(change) if change.rep == rep => Some(change),
            _ => None,
        })
    }

    /// The assessment as it stands after the review: verdicts, reasons, start and end, the
    /// times between them and the totals. Speeds and the knee's numbers stay as they were
    /// measured.
    pub(super) fn applied(&self, assessment: &Assessment, criteria: &Criteria) -> Assessment {
        let mut after = assessment.clone();
        after.reps = assessment.reps.iter().map(|rep| self.rep_in_force(rep)).collect();
        let timed = after.reps.clone();
        let lasts = |(from, to): (f64, f64)| rounded((to - from).max(0.0), 3);
        for (at, rep) in after.reps.iter_mut().enumerate() {
            let rest = |reps| rest(reps, at, assessment.cycle);
            if rest(&timed) != rest(&assessment.reps) {
                rep.seated_pause_s = rest(&timed).map(lasts);
                without_error(rep, &[SEATED_PAUSE]);
            }
            let cycle = |reps| cycle(reps, at);
            if cycle(&timed) != cycle(&assessment.reps) {
                rep.cycle_s = cycle(&timed).map(lasts);
                without_error(rep, &[CYCLE]);
            }
        }
        after.set = judgement::summary(&after.reps, criteria);
        after
    }
}

/// Whether seat-off and seat contact follow each other as the cycle has it; what is not known
/// is in no wrong order.
fn ordered(rep: &Rep, cycle: Cycle) -> bool {
    let known = rep.seat_off_s.zip(rep.seat_contact_s);
    known.is_none_or(|(off, contact)| match cycle {
        Cycle::SeatToSeat => off < contact,
        // Who only touches the seat leaves it that very moment.
        Cycle::StandToStand => contact <= off,
    })
}

/// From when to when the person sat before the rise of a rep: since its own seat contact
/// where it goes from stand to stand, else since that of the rep before.
fn rest(reps: &[Rep], at: usize, cycle: Cycle) -> Option<(f64, f64)> {
    let sat_down = match cycle {
        Cycle::StandToStand => at,
        Cycle::SeatToSeat => at.checked_sub(1)?,
    };
    Some((reps.get(sat_down)?.seat_contact_s?, reps.get(at)?.seat_off_s?))
}

/// From the seat-off of a rep to that of the next.
fn cycle(reps: &[Rep], at: usize) -> Option<(f64, f64)> {
    Some((reps.get(at)?.seat_off_s?, reps.get(at + 1)?.seat_off_s?))
}

/// Seconds from one event to a later one, if both are known.
fn between(from_s: Option<f64>, to_s: Option<f64>) -> Option<f64> {
    Some(rounded(to_s? - from_s?, 3))
}

/// Takes away what the machine knew of the errors of some numbers.
fn without_error(rep: &mut Rep, measures: &[Measure]) {
    rep.standard_error.retain(|name, _| measures.iter().all(|m| m.key() != name));
}

/// Reasons that go with a verdict.
fn fit(judgement: Verdict, reasons: &[Reason]) -> bool {
    let faults = reasons.iter().any(|r| r.is_fault());
    let unseen = reasons.iter().any(|r| !r.is_fault());
    match judgement {
        Verdict::Clean => reasons.is_empty(),
        Verdict::Faulted => faults,
        Verdict::NotJudged => unseen && !faults,
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    /// Reps by seat-off and seat contact, each with stand 1 s after the one and the begin of
    /// the way down 1 s before the other.
    fn assessment(cycle: Cycle, reps: &[(f64, f64)]) -> Assessment {
        let rep = |(n, (off, contact)): (usize, &(f64, f64))| {
            Rep::made(json!({
                "number": n + 1, "seat_off_s": off, "stand_s": off + 1.0, "rise_s": 1.0,
                "descent_start_s": contact - 1.0, "seat_contact_s": contact, "descent_s": 1.0,
                "standard_error": { "cycle_s": 0.1, "rise_s": 0.1, "wobble_cm": 0.1 },
            }))
        };
        let mut assessment: Assessment = serde_json::from_value(json!({
            "schema": "plumbrise.assessment/1", "program_version": "0.1.0",
            "clip": { "file": "made.trc", "sha256": "", "width_px": null, "height_px": null,
                      "duration_s": 40.0, "frames": 1200, "frame_rate_hz": 30.0,
                      "recorded_at": null },
            "cycle": cycle, "rung": "two_leg", "leg": null, "leg_clarity": 1.0,
            "view": { "kind": "frontal", "yaw_deg": 1.0, "yaw_standard_error_deg": 2.0,
                      "toe_out_deg": 8.0 },
            "scale": { "source": "stature", "m_per_px": 0.002, "relative_uncertainty": 0.02,
                       "stature_m": 1.72 },
            "reps": reps.iter().enumerate().map(rep).collect::<Vec<_>>(), "attempts": [],
            "set": { "reps": 0, "clean": 0, "faulted": 0, "not_judged": 0,
                     "longest_clean_run": 0, "target": 22, "target_met": false, "drift": null,
                     "one_go": true },
            "told": { "leg": null, "rung": null, "stature_m": null, "seat_height_m": null },
            "filming": { "analysed_frames": 1200, "tracked_frames": 1200, "other_people": 0,
                         "camera_moved_s": [], "damaged": 0, "cut_short": false, "hdr": false,
                         "recorded_hz": null },
            "notes": [], "cautions": [],
        }))
        .unwrap();
        let criteria = Criteria::built_in().unwrap();
        for n in 0..reps.len() {
            let pause = rest(&assessment.reps, n, cycle).map(|(from, to)| to - from);
            let next = reps.get(n + 1).map(|next| next.0 - reps[n].0);
            let rep = &mut assessment.reps[n];
            (rep.seated_pause_s, rep.cycle_s) = (pause, next);
        }
        assessment.set = judgement::summary(&assessment.reps, &criteria);
        assessment
    }

    fn at(second: i64) -> Timestamp {
        Timestamp::from_second(1_777_000_000 + second).unwrap()
    }

    fn times(rep: usize, start_s: Option<f64>, end_s: Option<f64>) -> Change {
        Change::Rep(RepChange { rep, start_s, end_s, ..Default::default() })
    }

    /// The review after one change, and the assessment as it then stands.
    fn said(machine: &Assessment, what: Change) -> Result<Assessment, Wrong> {
        let mut review = Review::new(String::new());
        review.add(machine, at(0), "M3", what)?;
        Ok(review.applied(machine, &Criteria::built_in().unwrap()))
    }

    const UP_AND_DOWN: [(f64, f64); 3] = [(2.0, 6.0), (7.0, 11.0), (12.0, 16.0)];
    /// On the seat, off it, on it, …
    const DOWN_AND_UP: [(f64, f64); 3] = [(4.0, 3.0), (9.0, 8.0), (14.0, 13.0)];

    #[test]
    fn start_and_end_follow_each_other_as_in_the_cycle() {
        for (cycle, reps, right, wrong) in [
            (Cycle::SeatToSeat, UP_AND_DOWN, (Some(7.5), None), (Some(11.0), None)),
            (Cycle::SeatToSeat, UP_AND_DOWN, (None, Some(10.0)), (None, Some(6.9))),
            (Cycle::StandToStand, DOWN_AND_UP, (Some(9.4), None), (Some(7.9), None)),
            (Cycle::StandToStand, DOWN_AND_UP, (None, Some(9.0)), (None, Some(9.1))),
            (Cycle::StandToStand, DOWN_AND_UP, (Some(9.4), Some(8.2)), (Some(8.2), Some(9.4))),
        ] {
            let machine = assessment(cycle, &reps);
            assert!(said(&machine, times(2, right.0, right.1)).is_ok(), "{cycle:?} {right:?}");
            let refused = said(&machine, times(2, wrong.0, wrong.1));
            assert_eq!(refused, Err(Wrong::Times(cycle)), "{wrong:?}");
            let outside = said(&machine, times(2, Some(41.0), None));
            assert_eq!(outside, Err(Wrong::Times(cycle)));
        }
    }

    /// A change is not refused for what it leaves alone.
    #[test]
    fn a_note_and_a_verdict_say_nothing_of_times_or_reasons() {
        let note = || RepChange { rep: 2, note: Some("seen".into()), ..Default::default() };
        let faulted = RepChange {
            judgement: Some(Verdict::Faulted),
            reasons: Some(vec![Reason::Drop]),
            ..note()
        };
        for cycle in [Cycle::SeatToSeat, Cycle::StandToStand] {
            for reps in [UP_AND_DOWN, DOWN_AND_UP] {
                let machine = assessment(cycle, &reps);
                assert!(said(&machine, Change::Rep(note())).is_ok());
                let after = said(&machine, Change::Rep(faulted.clone())).unwrap();
                assert_eq!((after.set.clean, after.set.faulted), (2, 1));
                assert_eq!(after.reps[1].seated_pause_s, machine.reps[1].seated_pause_s);
            }
        }
    }

    #[test]
    fn the_times_between_follow_those_that_were_set() {
        let machine = assessment(Cycle::SeatToSeat, &UP_AND_DOWN);
        let after = said(&machine, times(2, Some(7.5), Some(10.5))).unwrap();
        let [first, second, third] = &after.reps[..] else { panic!("three reps") };
        assert_eq!((second.rise_s, second.descent_s), (Some(0.5), Some(0.5)));
        assert_eq!((first.seated_pause_s, second.seated_pause_s), (None, Some(1.5)));
        assert_eq!(third.seated_pause_s, Some(1.5));
        assert_eq!((first.cycle_s, second.cycle_s, third.cycle_s), (Some(5.5), Some(4.5), None));
        let known = |rep: &Rep| rep.standard_error.keys().cloned().collect::<Vec<_>>();
        assert_eq!(known(second), ["wobble_cm"], "of what was set no error is known");
        assert_eq!(known(third), ["cycle_s", "rise_s", "wobble_cm"]);
    }

    /// There the rest on the seat is part of the rep itself, and of no other.
    #[test]
    fn from_stand_to_stand_the_rest_is_within_the_rep() {
        let machine = assessment(Cycle::StandToStand, &DOWN_AND_UP);
        let after = said(&machine, times(2, Some(9.5), Some(8.2))).unwrap();
        let pauses: Vec<_> = after.reps.iter().map(|rep| rep.seated_pause_s).collect();
        assert_eq!(pauses, [Some(1.0), Some(1.3), Some(1.0)]);
        let cycles: Vec<_> = after.reps.iter().map(|rep| rep.cycle_s).collect();
        assert_eq!(cycles, [Some(5.5), Some(4.5), None]);
        assert_eq!((after.reps[1].rise_s, after.reps[1].descent_s), (Some(0.5), Some(1.2)));
    }

    #[test]
    fn what_is_said_later_is_never_dated_earlier() {
        let machine = assessment(Cycle::SeatToSeat, &UP_AND_DOWN);
        let mut review = Review::new(String::new());
        let note = || Change::Note { text: "seen".into() };
        review.add(&machine, at(100), "M3", note()).unwrap();
        // The clock was set back.
        review.add(&machine, at(40), "M3", Change::SignOff).unwrap();
        assert_eq!(review.state(), ReviewState::SignedOff { by: "M3".into(), at: at(100) });
        review.add(&machine, at(130), "K9", note()).unwrap();
        let said: Vec<_> = review.amendments.iter().map(|a| a.at).collect();
        assert_eq!(said, [at(100), at(100), at(130)]);

        // A document in which times go backwards is read as it is, and goes on after all.
        review.amendments[1].at = at(40);
        review.amendments.pop();
        let text = serde_json::to_string(&review).unwrap();
        let mut read: Review = serde_json::from_str(&text).unwrap();
        assert_eq!(read, review);
        read.add(&machine, at(50), "K9", note()).unwrap();
        assert_eq!(read.amendments[2].at, at(100));
    }
}
