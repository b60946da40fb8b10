//! What is said of a clinician's review.

use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::{reasons, verdict};
use crate::judgement::document::{Assessment, Rep};
use crate::movement::repetition::Cycle;
use crate::report::wording::number;
use crate::session::review::{Amendment, Change, RepChange, Review, ReviewState, Wrong};
use crate::shown::prose;

/// Above what was said.
pub const HEADING: &str = "What the review says";

/// Where film and numbers are the machine's own, beside a reviewed verdict.
pub const MACHINE_STAYS: &str = "Where the review changed a verdict, the program's own stands \
                                 beside it. Film, knee and speeds are as the program found them.";

/// How far a session is reviewed.
pub fn state(state: ReviewState) -> String {
    match state {
        ReviewState::NotReviewed => "Not reviewed: the verdicts are the program's own.".into(),
        ReviewState::Begun => "Not reviewed: a review was begun and is not signed off.".into(),
        ReviewState::SignedOff { by, at } => {
            format!("Reviewed and signed off by {}, {}.", prose(&by), moment(at))
        }
    }
}

/// Everything that was said, a line each, in order.
pub fn record(review: &Review, machine: &Assessment) -> Vec<String> {
    let said = review.amendments.iter().map(|amendment| {
        let Amendment { at, by, what } = amendment;
        let what = match what {
            Change::Rep(change) => {
                let before = machine.reps.iter().find(|rep| rep.number == change.rep);
                format!("rep {}: {}", change.rep, changed(change, before))
            }
            Change::Note { text } => format!("note: {text}"),
            Change::SignOff => "signed off".into(),
        };
        prose(&format!("{}, {by}: {what}.", moment(*at)))
    });
    let mut lines: Vec<String> = said.collect();
    if review.amendments.iter().any(|a| matches!(a.what, Change::Rep(_))) {
        lines.push(MACHINE_STAYS.into());
    }
    lines
}

/// What the review says of a rep: the program's verdict where it was changed, and notes.
pub fn of_rep(review: &Review, machine: &Rep) -> Vec<String> {
    let changes: Vec<&RepChange> = review.changes_of(machine.number).collect();
    let mut lines = Vec::new();
    if changes.iter().any(|c| c.judgement.is_some() || c.reasons.is_some()) {
        lines.push(format!("Changed in the review; the program said: {}.", judged(machine)));
    }
    if changes.iter().any(|c| c.start_s.is_some() || c.end_s.is_some()) {
        let time = |t: Option<f64>| t.map_or("–".into(), |t| number(t, 2));
        lines.push(format!(
            "Start and end set in the review; the program had {} and {} s.",
            time(machine.seat_off_s),
            time(machine.seat_contact_s)
        ));
    }
    let notes = changes.iter().filter_map(|c| c.note.as_ref());
    lines.extend(notes.map(|note| format!("Note: {}", prose(note))));
    lines
}

fn judged(rep: &Rep) -> String {
    match rep.reasons.is_empty() {
        true => verdict(rep.judgement).into(),
        false => format!("{} ({})", verdict(rep.judgement), reasons(&rep.reasons)),
    }
}

fn changed(change: &RepChange, machine: Option<&Rep>) -> String {
    let mut parts = Vec::new();
    if let Some(judgement) = change.judgement {
        parts.push(verdict(judgement).to_owned());
    }
    match &change.reasons {
        Some(list) if list.is_empty() => parts.push("no reason".into()),
        Some(list) => parts.push(reasons(list)),
        None => {}
    }
    if let Some(machine) = machine.filter(|_| !parts.is_empty()) {
        parts.push(format!("the program said {}", judged(machine)));
    }
    parts.extend(change.start_s.map(|s| format!("leaves the seat at {} s", number(s, 2))));
    parts.extend(change.end_s.map(|s| format!("reaches the seat at {} s", number(s, 2))));
    parts.extend(change.note.as_ref().map(|note| format!("«{note}»")));
    parts.join("; ")
}

/// Why a correction does not hold.
pub fn wrong(why: &Wrong) -> String {
    match why {
        Wrong::NoSuchRep { rep, reps } => format!("there is no rep {rep}, only 1 to {reps}"),
        Wrong::ReasonsDoNotFit => "a clean rep has no reason, a faulted one needs one of a fault, \
            one that is not judged one of what was not seen"
            .into(),
        Wrong::Times(Cycle::SeatToSeat) => {
            "a rep ends after it begins, and both lie within the clip".into()
        }
        Wrong::Times(Cycle::StandToStand) => {
            "a rep counted from standing reaches the seat (--end) \
            before it leaves it (--start), and both lie within the clip"
                .into()
        }
        Wrong::Empty => "nothing was said".into(),
    }
}

/// A moment in the reader's own time.
fn moment(at: Timestamp) -> String {
    at.to_zoned_datetime(TimeZone::system()).strftime("%-d %B %Y, %H:%M").to_string()
}
