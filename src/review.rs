//! A clinician's review of a session: amendments kept beside the machine's verdict, with
//! who and when. Nothing is ever taken away; a later word on the same thing goes before
//! an earlier one.

use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::assessment::{Assessment, Reason, Rep, Verdict};
use crate::criteria::Criteria;
use crate::judgement;
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
    /// When.
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
    /// Seat-off, seconds of the clip.
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
pub enum State {
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
    /// The end does not come after the start, or a time lies outside the clip.
    Times,
    /// It says nothing.
    Empty,
}

impl fmt::Display for Wrong {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Wrong::NoSuchRep { rep, reps } => write!(f, "there is no rep {rep}, only 1 to {reps}"),
            Wrong::ReasonsDoNotFit => f.write_str(
                "a clean rep has no reason, a faulted one needs one of a fault, one that is not \
                 judged one of what was not seen",
            ),
            Wrong::Times => f.write_str("a rep ends after it begins, and both lie within the clip"),
            Wrong::Empty => f.write_str("nothing was said"),
        }
    }
}

impl Review {
    /// An empty review of the assessment whose file has that SHA-256.
    pub fn new(assessment_sha256: String) -> Self {
        Self { schema: SCHEMA.into(), assessment_sha256, amendments: Vec::new() }
    }

    /// How far the session is reviewed.
    pub fn state(&self) -> State {
        match self.amendments.last() {
            None => State::NotReviewed,
            Some(Amendment { what: Change::SignOff, by, at }) => {
                State::SignedOff { by: by.clone(), at: *at }
            }
            Some(_) => State::Begun,
        }
    }

    /// Adds what someone says of `assessment`.
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
                let rep = self.rep_in_force(machine);
                if !fit(rep.judgement, &rep.reasons) {
                    return Err(Wrong::ReasonsDoNotFit);
                }
                let within = |t: f64| (0.0..=assessment.clip.duration_s).contains(&t);
                let told = change.start_s.iter().chain(&change.end_s);
                let ordered = match (rep.seat_off_s, rep.seat_contact_s) {
                    (Some(start), Some(end)) => start < end,
                    _ => true,
                };
                if !ordered || !told.copied().all(within) {
                    return Err(Wrong::Times);
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
        let between = |from: Option<f64>, to: Option<f64>| Some(rounded(to? - from?, 3));
        if rep.seat_off_s != machine.seat_off_s {
            rep.rise_s = between(rep.seat_off_s, rep.stand_s).filter(|s| *s > 0.0);
        }
        if rep.seat_contact_s != machine.seat_contact_s {
            rep.descent_s = between(rep.descent_start_s, rep.seat_contact_s).filter(|s| *s > 0.0);
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
    pub fn applied(&self, assessment: &Assessment, criteria: &Criteria) -> Assessment {
        let mut after = assessment.clone();
        after.reps = assessment.reps.iter().map(|rep| self.rep_in_force(rep)).collect();
        for next in 1..after.reps.len() {
            let (before, machine) = (&after.reps[next - 1], &assessment.reps);
            let moved = before.seat_contact_s != machine[next - 1].seat_contact_s
                || after.reps[next].seat_off_s != machine[next].seat_off_s;
            if moved && assessment.seat_seen {
                let rest = before.seat_contact_s.zip(after.reps[next].seat_off_s);
                after.reps[next].seated_pause_s =
                    rest.map(|(from, to)| rounded((to - from).max(0.0), 3));
            }
        }
        after.set = judgement::summary(&after.reps, criteria);
        after
    }
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
