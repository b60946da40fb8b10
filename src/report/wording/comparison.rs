//! What is said of left against right.

use super::headings;
use super::{UNKNOWN, full_day, number, review, signed, with_error, with_unit};
use crate::between::Count;
use crate::between::sides::{
    Caution, Comparison, DAYS_APART_MAX, Difference, DifferenceSeen, LegSession, NotComparable,
    Symmetry, USUAL_THRESHOLD_PERCENT,
};
use crate::body::Side;
use crate::judgement::measures::Measure;
use crate::session::summary::Spread;

/// Title of the report.
pub const TITLE: &str = "Left leg and right leg";

/// Headings.
pub const COUNTS: &str = "How many";
/// See [`COUNTS`].
pub const MOVEMENT: &str = "How it was done";
/// See [`COUNTS`].
pub const REP_BY_REP: &str = "Rep by rep";

/// Labels of the facts.
pub const LEFT: &str = "Left leg";
/// See [`LEFT`].
pub const RIGHT: &str = "Right leg";
/// See [`LEFT`].
pub const EXERCISE: &str = "Exercise";
/// See [`LEFT`].
pub const INVOLVED: &str = "Involved leg";
/// See [`LEFT`].
pub const NOT_NAMED: &str = "not named (--involved left or right)";

/// What both need for the per cent to mean anything.
pub const EFFORT: &str = "The counts compare the legs only if both sets were done in the same way \
    and went on for as long as they could be done.";

/// Why the per cent alone is not enough.
pub const FLATTERS: &str = "The per cent flatters when the other leg has grown weaker too. In one \
    group it rose from 76 to 85 % between one and five years after a cruciate ligament was \
    reconstructed, in part because the other leg lost; both legs stayed below those of people \
    without injury [Patterson2020]. Look at both counts.";

/// How the table of measures is to be read.
pub const HOW_TO_READ: &str = "Means over the reps, after ± their standard error; L − R: left less \
    right. «Within error»: no difference beyond measurement error, which stands under «Needs» and \
    is 1.96·√(SE² + SE²) of the two (derived). «Not known»: whether they differ cannot be told, \
    as the errors of measuring are not known.";

/// Heads of its columns.
pub const MOVEMENT_HEAD: [&str; 6] = ["", "Left", "Right", "L − R", "Needs", "Says"];

/// No measure differs.
pub const NONE_DIFFERS: &str = "No measure shows a difference beyond measurement error.";

/// The result in a sentence or two.
pub fn headline(c: &Comparison) -> String {
    let Some(clean) = c.count(Count::Clean) else { return TITLE.into() };
    let reps = |n: usize| if n == 1 { "1 clean rep".into() } else { format!("{n} clean reps") };
    let counts = |first: Side| {
        let (a, b) = of_legs(clean, first);
        format!("{} on the {} leg, {b} on the {}", reps(a), first.word(), first.opposite().word())
    };
    match (c.involved, clean.percent) {
        (Some(leg), Some(percent)) => format!(
            "{}: the involved {} leg reaches {percent} % of the other.",
            counts(leg),
            leg.word()
        ),
        (None, Some(percent)) => {
            format!("{}: the lower count is {percent} % of the higher.", counts(Side::Left))
        }
        (leg, None) => format!(
            "{}. Where one count is nought there is no per cent.",
            counts(leg.unwrap_or(Side::Left))
        ),
    }
}

fn of_legs(s: &Symmetry, first: Side) -> (usize, usize) {
    if first == Side::Left { (s.left, s.right) } else { (s.right, s.left) }
}

/// Heading of the column with the per cent.
pub fn percent_of(involved: Option<Side>) -> String {
    match involved {
        Some(leg) => format!("{} of {}", leg.word(), leg.opposite().word()),
        None => "lower of higher".into(),
    }
}

/// A row of the table of counts.
pub fn count_row(s: &Symmetry) -> Vec<String> {
    let percent = match (s.percent, s.usual_threshold_reached) {
        (None, _) => UNKNOWN.into(),
        // Rounding must not lift it over the threshold.
        (Some(USUAL_THRESHOLD_PERCENT), Some(false)) => {
            format!("just under {USUAL_THRESHOLD_PERCENT} %")
        }
        (Some(percent), _) => format!("{percent} %"),
    };
    vec![headings::count(s.count).into(), s.left.to_string(), s.right.to_string(), percent]
}

/// How the per cent is to be read.
pub fn threshold(c: &Comparison) -> String {
    let mut text = format!(
        "{USUAL_THRESHOLD_PERCENT} % is the usual threshold [KSSTA2019]; usual, not a pass mark."
    );
    let clean = c.count(Count::Clean);
    let below = clean.map(|s| match c.involved {
        Some(Side::Left) => s.right,
        Some(Side::Right) => s.left,
        None => s.left.max(s.right),
    });
    if let Some(n) = below.filter(|n| *n > 0) {
        text += &format!(" Here one clean rep more or less is {:.0} %.", 100.0 / n as f64);
    }
    text
}

/// A row of the table of measures.
pub fn measure_row(d: &Difference) -> Vec<String> {
    let digits = d.measure.digits;
    let says = match (d.outcome, d.left_less_right) {
        (DifferenceSeen::Differs, Some(by)) if by > 0.0 => "left higher",
        (DifferenceSeen::Differs, _) => "right higher",
        (DifferenceSeen::WithinError, _) => "within error",
        (DifferenceSeen::CannotTell, _) => "not known",
    };
    vec![
        d.measure.label_in_unit(),
        mean_of(d.left, digits),
        mean_of(d.right, digits),
        d.left_less_right.map_or(UNKNOWN.into(), |by| signed(by, digits)),
        with_error(d.measurement_error, None, digits),
        says.into(),
    ]
}

fn mean_of(spread: Option<Spread>, digits: usize) -> String {
    with_error(spread.map(|s| s.mean), spread.and_then(|s| s.standard_error), digits)
}

/// A sentence for each measure that differs.
pub fn differing(c: &Comparison) -> Vec<String> {
    let sentence = |d: &Difference| {
        let Measure { label, unit, digits, .. } = d.measure;
        let (left, right) = d.left.zip(d.right).filter(|_| d.outcome == DifferenceSeen::Differs)?;
        let [left, right] =
            [left, right].map(|s| with_unit(&number(s.mean, *digits), unit.shown()));
        Some(format!(
            "{label}: {left} on the left, {right} on the right, more than measuring errs by."
        ))
    };
    let found: Vec<String> = c.differences.iter().filter_map(sentence).collect();
    if found.is_empty() { vec![NONE_DIFFERS.into()] } else { found }
}

/// Which session a leg's numbers are of.
pub fn session(leg: &LegSession) -> String {
    let s = &leg.summary;
    let day = leg.day().map_or("day not known".into(), full_day);
    let unjudged = match s.not_judged {
        0 => String::new(),
        n => format!(", {n} not judged"),
    };
    format!("{}, {day}; {} of {} reps clean{unjudged}", leg.session, s.clean, s.reps)
}

/// How far both are reviewed.
pub fn reviewed(c: &Comparison) -> String {
    let [left, right] = c.legs().map(|(_, leg)| review::state(leg.summary.review.clone()));
    if left == right { left } else { format!("Left leg: {left} Right leg: {right}") }
}

/// A caution in words; None where [`reviewed`] says it.
pub fn caution(caution: &Caution) -> Option<String> {
    let cm = |m: &f64| format!("{:.0} cm", 100.0 * m);
    Some(match caution {
        Caution::SeatHeights { left_m, right_m } => format!(
            "The seats differed: {} for the left leg, {} for the right. A lower seat is harder; \
             the legs cannot be compared by this.",
            cm(left_m),
            cm(right_m)
        ),
        Caution::SeatHeightUnknown => {
            "Whether both legs used the same seat is not known (assess with --seat-height). A \
             lower seat is harder."
                .into()
        }
        Caution::Statures { left_m, right_m } => format!(
            "Different statures were told, {} and {}: are these two people, or was one mistyped?",
            cm(left_m),
            cm(right_m)
        ),
        Caution::DaysApart { days } => format!(
            "The two were filmed {days} days apart; beyond {DAYS_APART_MAX} days (design choice) \
             training and the form of the day may make the difference."
        ),
        Caution::DayUnknown => "When both were filmed is not known: compare only sets of the same \
             week."
            .into(),
        Caution::OtherLimits => {
            "The two were judged by different limits of good form; judge one again with the \
             other's (plumbrise reassess --criteria)."
                .into()
        }
        Caution::NotReviewed { .. } => return None,
        Caution::ManyNotJudged { leg, not_judged, reps } => format!(
            "On the {} leg {not_judged} of {reps} reps could not be judged: its number of clean \
             reps may be too low.",
            leg.word()
        ),
    })
}

/// Title of a drawing.
pub fn plot_title(measure: &Measure) -> String {
    format!("{}, rep by rep", measure.label)
}

/// A measure in one rep, as it is drawn.
#[derive(Debug, Clone, Copy)]
pub struct RepValue {
    /// Number of the rep.
    pub rep: usize,
    /// The value, if it is known.
    pub value: Option<f64>,
    /// Its standard error, if that is known.
    pub error: Option<f64>,
}

/// Text in place of a drawing: every value of both legs.
pub fn plot(measure: &Measure, legs: &[(Side, Vec<RepValue>)], limits: &str) -> String {
    let Measure { label, unit, digits, .. } = measure;
    let one = |(leg, values): &(Side, Vec<RepValue>)| {
        let each = values.iter().map(|RepValue { rep, value, .. }| {
            format!("{rep}: {}", value.map_or("not known".into(), |v| number(v, *digits)))
        });
        format!("{} leg: {}.", leg.word(), each.collect::<Vec<_>>().join("; "))
    };
    let both: Vec<String> = legs.iter().map(one).collect();
    let limits = if limits.is_empty() { String::new() } else { format!(" {limits}.") };
    format!("{label}, rep by rep, {}. {}{limits}", unit.shown(), both.join(" "))
}

/// Why two sessions cannot be set against each other.
pub fn not_comparable(why: NotComparable) -> String {
    match why {
        NotComparable::Rungs(one, other) => {
            format!("one is «{}», the other «{}»", one.words(), other.words())
        }
        NotComparable::SameLeg(leg) => format!("both are of the {} leg", leg.word()),
        NotComparable::LegUnknown => "of one it is not said which leg works".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::between::sides::tests::session;

    #[test]
    fn both_counts_stand_beside_every_per_cent() {
        let of = |left, right, involved| {
            let sides = (session(Side::Left, left, 1, 24), session(Side::Right, right, 1, 24));
            headline(&Comparison::of(sides.0, sides.1, involved).unwrap())
        };
        assert_eq!(
            of(18, 22, None),
            "18 clean reps on the left leg, 22 on the right: the lower count is 82 % of the higher."
        );
        assert_eq!(
            of(22, 20, Some(Side::Right)),
            "20 clean reps on the right leg, 22 on the left: the involved right leg reaches 91 % \
             of the other."
        );
        let nought = of(0, 22, Some(Side::Left));
        assert!(nought.starts_with("0 clean reps on the left leg, 22 on the right. Where one"));
        let close = Symmetry {
            count: Count::Clean,
            left: 43,
            right: 48,
            percent: Some(90),
            usual_threshold_reached: Some(false),
        };
        assert_eq!(count_row(&close)[3], "just under 90 %");
    }
}
