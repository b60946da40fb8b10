//! What the film says when.

use crate::body::Side;
use crate::judgement::document::{Assessment, Reason, Rep, Verdict};
use crate::judgement::trajectories::Trajectories;
use crate::report::wording;

/// A reason stays on the film at least this long, seconds (design choice: three words
/// are read in less).
const READ_S: f64 = 1.0;
/// Slow motion begins this long before a fault, seconds (design choice).
const BEFORE_S: f64 = 0.4;
/// A verdict stays until the next rep, but no longer than this, seconds (design choice).
const VERDICT_S: f64 = 3.0;

/// What the panel shows at one moment.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Said {
    /// Rep and phase, or the verdict.
    pub title: String,
    /// What happens, or why the verdict is what it is.
    pub detail: String,
    /// Marks of the reps that are over.
    pub marks: Vec<char>,
    /// Reps in all.
    pub reps: usize,
}

/// The whole course of what is said.
pub(super) struct Story<'a> {
    reps: &'a [Rep],
    trajectories: &'a Trajectories,
}

impl<'a> Story<'a> {
    pub fn new(a: &'a Assessment, trajectories: &'a Trajectories) -> Self {
        Self { reps: &a.reps, trajectories }
    }

    /// The knee of that leg is past its limit, in a rep that is faulted for it.
    pub fn knee_inside(&self, leg: Side, time_s: f64) -> bool {
        self.reps
            .iter()
            .filter(|rep| rep.knee_leg == Some(leg) && rep.reasons.contains(&Reason::KneeInward))
            .flat_map(|rep| &rep.knee_past_limit_spans_s)
            .any(|(from, to)| (*from..=*to).contains(&time_s))
    }

    pub fn at(&self, time_s: f64) -> Said {
        let of = self.reps.len();
        let ended = |rep: &Rep| rep.span_s().is_some_and(|(_, end)| end <= time_s);
        // A rep nobody saw is over when a later one is.
        let over = self.reps.iter().rposition(ended).map_or(0, |last| last + 1);
        let marks = self.reps[..over].iter().map(|rep| wording::mark(rep.judgement)).collect();
        let now = self
            .reps
            .iter()
            .find(|rep| rep.span_s().is_some_and(|(start, end)| (start..end).contains(&time_s)));
        let last = self.reps[..over]
            .last()
            .filter(|rep| rep.span_s().is_some_and(|(_, end)| time_s < end + VERDICT_S));
        let phase = wording::phase(self.trajectories.phase_at(time_s));
        let (title, detail) = match (now, last) {
            (Some(rep), _) => (wording::rep_and_phase(rep.number, of, phase), said_at(rep, time_s)),
            (None, Some(rep)) => {
                let verdict = wording::verdict(rep.judgement);
                let title = wording::rep_and_phase(rep.number, of, verdict);
                (title, wording::reasons(&rep.reasons))
            }
            (None, None) => (wording::between_reps(over, of, phase), String::new()),
        };
        Said { title, detail, marks, reps: of }
    }

    /// Spans of the film in which something was faulted, seconds, in order, apart.
    pub fn faulted_s(&self) -> Vec<(f64, f64)> {
        let faulted = self.reps.iter().filter(|rep| rep.judgement == Verdict::Faulted);
        let mut spans: Vec<(f64, f64)> = faulted
            .flat_map(moments)
            // What has no moment of its own would slow the whole rep.
            .filter(|moment| !lasts(moment.reason))
            .map(|moment| (moment.from_s - BEFORE_S, moment.to_s))
            .collect();
        spans.sort_by(|a, b| a.0.total_cmp(&b.0));
        spans.dedup_by(|next, before| {
            let joined = next.0 <= before.1;
            if joined {
                before.1 = before.1.max(next.1);
            }
            joined
        });
        spans
    }
}

/// A reason with the span in which it is said, seconds.
struct Moment {
    reason: Reason,
    from_s: f64,
    to_s: f64,
}

/// The reasons of a rep that are said at a moment.
fn said_at(rep: &Rep, time_s: f64) -> String {
    let now = moments(rep).into_iter().filter(|m| (m.from_s..=m.to_s).contains(&time_s));
    let mut reasons: Vec<Reason> = now.map(|m| m.reason).collect();
    reasons.dedup();
    wording::reasons(&reasons)
}

/// Reasons with no moment of their own.
fn lasts(reason: Reason) -> bool {
    use Reason::{Drop, FreeFootDown, HandsUsed, IncompleteStand, KneeInward};
    !matches!(reason, KneeInward | Drop | IncompleteStand | FreeFootDown | HandsUsed)
}

/// When each reason of a rep is said.
fn moments(rep: &Rep) -> Vec<Moment> {
    let Some((start, end)) = rep.span_s() else { return Vec::new() };
    let when = |reason: Reason| -> Vec<(f64, f64)> {
        match reason {
            // By its angle alone, at the worst moment.
            Reason::KneeInward if rep.knee_past_limit_spans_s.is_empty() => {
                let peak_s = rep.knee_offset_peak_at_s.unwrap_or(start);
                vec![(peak_s, peak_s)]
            }
            Reason::KneeInward => rep.knee_past_limit_spans_s.clone(),
            Reason::Drop => vec![(end - BEFORE_S, end)],
            Reason::IncompleteStand => {
                let up_s = rep.stand_s.unwrap_or(start);
                vec![(up_s, rep.descent_start_s.unwrap_or(up_s))]
            }
            Reason::FreeFootDown => rep.free_foot_touches_s.iter().map(|t| (*t, *t)).collect(),
            Reason::HandsUsed => vec![(start, rep.stand_s.unwrap_or(start))],
            _ => vec![(start, end)],
        }
    };
    let each = rep.reasons.iter().flat_map(|reason| {
        when(*reason).into_iter().map(|(from_s, to_s)| Moment {
            reason: *reason,
            from_s,
            to_s: to_s.max(from_s + READ_S),
        })
    });
    each.collect()
}
