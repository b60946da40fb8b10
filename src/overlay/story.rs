//! What the film says when.

use crate::assessment::{Assessment, Reason, Rep, Verdict};
use crate::criteria::Criteria;
use crate::report::wording;
use crate::signal;
use crate::trajectory::Trajectories;

/// A reason stays on the film at least this long, seconds (design choice: three words
/// are read in less).
const READ_S: f64 = 1.0;
/// Slow motion begins this long before a fault, seconds (design choice).
const BEFORE_S: f64 = 0.4;
/// A verdict stays until the next rep, but no longer than this, seconds.
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
pub(super) struct Story {
    reps: Vec<Told>,
    /// Spans in which the knee is past its limit in a rep that is faulted for it, seconds.
    knee_inside_s: Vec<(f64, f64)>,
    from_standing: bool,
}

struct Told {
    rep: Rep,
    span_s: (f64, f64),
    /// Reasons with the span in which they are said.
    moments: Vec<(Reason, f64, f64)>,
}

impl Story {
    pub fn new(a: &Assessment, trajectories: &Trajectories, criteria: &Criteria) -> Self {
        let limit_m = criteria.knee_offset_max.value / 100.0 * a.scale.stature_m;
        let mut knee_inside_s = Vec::new();
        let reps = a
            .reps
            .iter()
            .filter_map(|rep| {
                let span_s = rep.span_s()?;
                let inside = if rep.reasons.contains(&Reason::KneeInward) {
                    knee_inside(trajectories, rep, span_s, limit_m)
                } else {
                    Vec::new()
                };
                knee_inside_s.extend(&inside);
                Some(Told { rep: rep.clone(), span_s, moments: moments(rep, span_s, &inside) })
            })
            .collect();
        let from_standing = a.cycle == crate::repetition::Cycle::StandToStand;
        Self { reps, knee_inside_s, from_standing }
    }

    /// The knee is past its limit, in a rep that is faulted for it.
    pub fn knee_inside(&self, time_s: f64) -> bool {
        self.knee_inside_s.iter().any(|(from, to)| (*from..=*to).contains(&time_s))
    }

    pub fn at(&self, time_s: f64) -> Said {
        let of = self.reps.len();
        let over: Vec<&Told> = self.reps.iter().filter(|r| r.span_s.1 <= time_s).collect();
        let marks = over.iter().map(|r| wording::mark(r.rep.judgement)).collect();
        let now = self.reps.iter().find(|r| (r.span_s.0..r.span_s.1).contains(&time_s));
        let (title, detail) = match (now, over.last()) {
            (Some(told), _) => {
                let title = wording::rep_and_phase(told.rep.number, of, phase(&told.rep, time_s));
                (title, told.said_at(time_s))
            }
            (None, Some(told)) if time_s < told.span_s.1 + VERDICT_S => {
                let why: Vec<&str> = told.rep.reasons.iter().map(|r| wording::short(*r)).collect();
                let verdict = wording::verdict(told.rep.judgement);
                (wording::rep_and_phase(told.rep.number, of, verdict), why.join(", "))
            }
            _ => {
                let phase = if self.from_standing { "standing" } else { "seated" };
                (wording::between_reps(over.len(), of, phase), String::new())
            }
        };
        Said { title, detail, marks, reps: of }
    }

    /// Spans of the film in which something was faulted, seconds.
    pub fn faulted_s(&self) -> Vec<(f64, f64)> {
        let mut spans: Vec<(f64, f64)> = self
            .reps
            .iter()
            .filter(|r| r.rep.judgement == Verdict::Faulted)
            .flat_map(|r| {
                let shown = |(reason, from, to): &(Reason, f64, f64)| {
                    // What has no moment of its own would slow the whole rep.
                    (!lasts(*reason)).then_some((from - BEFORE_S, *to))
                };
                r.moments.iter().filter_map(shown)
            })
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

impl Told {
    fn said_at(&self, time_s: f64) -> String {
        let mut said: Vec<&str> = Vec::new();
        for (reason, from, to) in &self.moments {
            let word = wording::short(*reason);
            if (*from..=*to).contains(&time_s) && !said.contains(&word) {
                said.push(word);
            }
        }
        said.join(", ")
    }
}

/// Reasons with no moment of their own.
fn lasts(reason: Reason) -> bool {
    use Reason::{Drop, FreeFootDown, HandsUsed, IncompleteStand, KneeInward};
    !matches!(reason, KneeInward | Drop | IncompleteStand | FreeFootDown | HandsUsed)
}

/// When each reason of a rep is said.
fn moments(rep: &Rep, span_s: (f64, f64), inside_s: &[(f64, f64)]) -> Vec<(Reason, f64, f64)> {
    let (start, end) = span_s;
    let mut moments = Vec::new();
    for reason in &rep.reasons {
        let at = |from: f64, to: f64| (*reason, from, to.max(from + READ_S));
        match reason {
            Reason::KneeInward if inside_s.is_empty() => {
                let peak_s = rep.knee_offset_peak_at_s.unwrap_or(start);
                moments.push(at(peak_s, peak_s));
            }
            Reason::KneeInward => moments.extend(inside_s.iter().map(|(from, to)| at(*from, *to))),
            Reason::Drop => moments.push(at(end - BEFORE_S, end)),
            Reason::IncompleteStand => {
                let up_s = rep.stand_s.unwrap_or(start);
                moments.push(at(up_s, rep.descent_start_s.unwrap_or(up_s)));
            }
            Reason::FreeFootDown => {
                moments.extend(rep.free_foot_touches_s.iter().map(|t| at(*t, *t)));
            }
            Reason::HandsUsed => moments.push(at(start, rep.stand_s.unwrap_or(start))),
            _ => moments.push(at(start, end)),
        }
    }
    moments
}

/// Spans of a rep in which the stance knee is past its limit, seconds.
fn knee_inside(
    trajectories: &Trajectories,
    rep: &Rep,
    span_s: (f64, f64),
    limit_m: f64,
) -> Vec<(f64, f64)> {
    let Some(course) = trajectories.column("knee_offset_m") else { return Vec::new() };
    let rate_hz = trajectories.rate_hz;
    // Near the seat it is not judged; the judged peak is where to begin.
    let Some(peak_s) = rep.knee_offset_peak_at_s else { return Vec::new() };
    let past = |i: usize| course.get(i).copied().flatten().is_some_and(|v| v > limit_m);
    let first = (span_s.0 * rate_hz).ceil() as usize;
    let last = (span_s.1 * rate_hz).floor() as usize;
    let samples: Vec<usize> = (first..=last.max(first)).collect();
    signal::runs(&samples, |i| past(*i))
        .into_iter()
        .map(|run| (samples[run.start] as f64 / rate_hz, samples[run.end - 1] as f64 / rate_hz))
        .filter(|(from, to)| to - from > 0.1 || (*from..=*to).contains(&peak_s))
        .collect()
}

fn phase(rep: &Rep, time_s: f64) -> &'static str {
    let from = |at: Option<f64>| at.is_some_and(|at| time_s >= at);
    let turned = rep.seat_off_s > rep.descent_start_s;
    if turned {
        // From standing: down first, then up.
        return if from(rep.stand_s) {
            "standing"
        } else if from(rep.seat_off_s) {
            "going up"
        } else if from(rep.seat_contact_s) {
            "seated"
        } else {
            "going down"
        };
    }
    if from(rep.seat_contact_s) {
        "seated"
    } else if from(rep.descent_start_s) {
        "going down"
    } else if from(rep.stand_s) {
        "standing"
    } else {
        "going up"
    }
}
