//! What is said of weeks.

use jiff::civil::Date;

use super::headings;
use super::{
    UNKNOWN, capital, full_day, number, plain_list, review, signed, with_error, with_unit,
};
use crate::between::Count;
use crate::between::weeks::{
    Basis, Caution, Change, ChangeSeen, Dated, Followed, Reached, Series, Tracked, Trend, Value,
};
use crate::body::Side;
use crate::judgement::document::Rung;
use crate::judgement::measures::{KNEE_OFFSET_PEAK, Unit, WOBBLE, Way, in_unit};

/// Title of the report.
pub const TITLE: &str = "Over the weeks";

/// Headings.
pub const LADDER: &str = "Exercises so far";
/// See [`LADDER`].
pub const IN_YOUR_WORDS: &str = "For the athlete: since last time";

/// In place of a code.
pub const SOMEBODY: &str = "Sessions of one person";

/// No session at all.
pub const NOTHING: &str = "There is no session yet.";

/// Heads of columns.
pub const FIRST: &str = "First";
/// See [`FIRST`].
pub const LAST_TIME: &str = "Last time";
/// See [`FIRST`].
pub const LATEST: &str = "Latest";
/// See [`FIRST`].
pub const SINCE_FIRST: &str = "Since first";
/// See [`FIRST`].
pub const SINCE_LAST_TIME: &str = "Since last time";
/// See [`FIRST`].
pub const NEEDS: &str = "Needs";

/// How the tables are to be read.
pub const HOW_TO_READ: &str = "Means over the reps, after ± their standard error. A difference is \
    called change only beyond what «Needs» says, the minimal detectable change; «not sure»: it is \
    not; «unknown»: nobody knows yet how far this scatters from one set to the next where nothing \
    has changed. Repeat a session on the same day, a few times in all, and the program learns it.";

/// Only one session, or all of one day.
pub const NO_TIME_PASSED: &str = "All of one day: no time has passed that could be compared.";

/// Labels of the facts.
pub const PERSON: &str = "Person";
/// See [`PERSON`].
pub const SESSIONS: &str = "Sessions";
/// See [`PERSON`].
pub const FROM_TO: &str = "From – to";

/// A day in a table.
pub fn day(day: Date) -> String {
    day.strftime("%-d %b").to_string()
}

fn leg(leg: Option<Side>) -> String {
    leg.map_or("both legs".into(), |leg| format!("{} leg", leg.word()))
}

/// Heading of a series.
pub fn series(s: &Series) -> String {
    let seat = s.seat_height_m.map_or(String::new(), |m| format!(", seat {:.0} cm", 100.0 * m));
    capital(&format!("{}, {}{seat}", leg(s.leg), s.rung.words()))
}

/// How far a leg has come.
pub fn reached(r: &Reached) -> String {
    let on = match r.leg {
        Some(side) => format!("On the {} leg", side.word()),
        None => "On both legs".into(),
    };
    format!("{on}: {} since {}.", r.rung.words(), full_day(r.since))
}

/// Label, unit and digits of what is followed.
pub fn told(tracked: Tracked) -> (&'static str, Unit, usize) {
    match tracked {
        Tracked::Count(count) => (headings::count(count), Unit::One, 0),
        Tracked::Measure(measure, _) => (measure.label, measure.unit, measure.digits),
    }
}

/// Label and unit: «Knee inward, cm».
pub fn label_in_unit(tracked: Tracked) -> String {
    let (label, unit, _) = told(tracked);
    in_unit(label, unit)
}

/// Which way a value went.
fn direction(tracked: Tracked, up: bool) -> &'static str {
    let way = match tracked {
        Tracked::Count(Count::Clean | Count::Reps) => Way::Number,
        Tracked::Count(Count::LongestCleanRun) => Way::Length,
        Tracked::Measure(_, how) => how.way,
    };
    match (way, up) {
        (Way::Number, true) => "more",
        (Way::Number, false) => "fewer",
        (Way::Length, true) => "longer",
        (Way::Length, false) => "shorter",
        (Way::Inward, true) => "further in",
        (Way::Inward, false) => "less far in",
        (Way::Speed, true) => "faster",
        (Way::Speed, false) => "slower",
        (Way::Size, true) => "larger",
        (Way::Size, false) => "smaller",
    }
}

/// What is hoped for, where something is.
fn hoped(tracked: Tracked) -> &'static str {
    match tracked {
        Tracked::Count(Count::Clean | Count::LongestCleanRun) => "More is what is aimed at.",
        Tracked::Count(Count::Reps) => "",
        Tracked::Measure(_, how) => how.hope,
    }
}

/// The result in a sentence.
pub fn headline(trend: &Trend) -> String {
    let Some(latest) = trend.latest() else { return NOTHING.into() };
    let clean = latest.course(Count::Clean.key());
    let change = clean.and_then(|c| c.since_first.as_ref());
    let Some((course, change)) = clean.zip(change) else {
        let sessions = latest.sessions.len();
        return format!(
            "{}: {} so far, nothing to compare yet.",
            series(latest),
            if sessions == 1 {
                "one session".into()
            } else {
                format!("{sessions} sessions of one day")
            }
        );
    };
    let days = [change.from, change.to].map(|at| latest.sessions.get(at).map(|s| s.day()));
    let values = [change.from, change.to].map(|at| course.values.get(at).copied().flatten());
    let ([Some(from), Some(to)], [Some(before), Some(now)]) = (days, values) else {
        return series(latest);
    };
    format!(
        "{}: {} clean on {}, {} on {}. {}",
        series(latest),
        number(before.value, 0),
        full_day(from),
        number(now.value, 0),
        full_day(to),
        match change.outcome {
            ChangeSeen::Changed if change.source == Some(Basis::FromMemory) => {
                "That is more than the six reps by which such counts may scatter (from memory, \
                 unverified)."
            }
            ChangeSeen::Changed => "That is more than chance may do.",
            ChangeSeen::WithinError => "The difference may be chance.",
            ChangeSeen::CannotTell => "Whether that is change cannot be told yet.",
        }
    )
}

/// A sentence for each measure that changed since the first session, or since last time.
pub fn findings(s: &Series) -> Vec<String> {
    let mut lines = Vec::new();
    for course in &s.courses {
        let changed = |c: &&Change| {
            c.outcome == ChangeSeen::Changed && c.difference.is_some_and(|d| d != 0.0)
        };
        let first = course.since_first.as_ref().filter(changed);
        let last = course.since_last_time.as_ref().filter(changed);
        let Some(change) = first.or(last) else { continue };
        let Some(by) = change.difference else { continue };
        let (label, unit, digits) = told(course.measure);
        let value = |at: usize| {
            let v = course.values.get(at).copied().flatten()?;
            Some(with_unit(&number(v.value, digits), unit.shown()))
        };
        let (Some(before), Some(now)) = (value(change.from), value(change.to)) else { continue };
        let since = s.sessions.get(change.from).map_or(String::new(), |s| full_day(s.day()));
        let text = format!(
            "{label}: {before} on {since}, now {now}: {}, beyond what chance may do. {}",
            direction(course.measure, by > 0.0),
            hoped(course.measure)
        );
        lines.push(text.trim_end().to_owned());
    }
    if lines.is_empty() {
        lines.push("Nothing has changed that is beyond what chance may do.".into());
    }
    lines
}

/// A value with its standard error.
pub fn value(tracked: Tracked, value: Option<Value>) -> String {
    let (_, _, digits) = told(tracked);
    with_error(value.map(|v| v.value), value.and_then(|v| v.standard_error), digits)
}

/// A difference and what can be said of it.
pub fn change(tracked: Tracked, change: Option<&Change>) -> String {
    let (_, _, digits) = told(tracked);
    let Some((c, by)) = change.and_then(|c| Some((c, c.difference?))) else {
        return UNKNOWN.into();
    };
    let says = match c.outcome {
        _ if number(by.abs(), digits) == number(0.0, digits) => "same",
        ChangeSeen::Changed => direction(tracked, by > 0.0),
        ChangeSeen::WithinError => "not sure",
        ChangeSeen::CannotTell => "unknown",
    };
    format!("{}, {says}", signed(by, digits))
}

/// How large a change must be.
pub fn needs(tracked: Tracked, change: Option<&Change>) -> String {
    let (_, _, digits) = told(tracked);
    // Rounded up: what is shown must not be less than what is asked for.
    let up = |by: f64| {
        let unit = 10f64.powi(digits as i32);
        (by * unit - 1e-9).ceil() / unit
    };
    change.and_then(|c| c.detectable).map_or(UNKNOWN.into(), |by| number(up(by), digits))
}

/// Where the minimal detectable change of some measures comes from.
pub fn known_from(source: Option<Basis>, of: &[Tracked]) -> String {
    let labels: Vec<&str> = of.iter().map(|tracked| told(*tracked).0).collect();
    let of = plain_list(&labels);
    match source {
        None => format!(
            "{of}: cannot be called change yet, for no minimal detectable change is known; repeat a \
             session on the same day to learn it."
        ),
        Some(Basis::Published { key }) => format!("{of}: published [{key}]."),
        Some(Basis::FromMemory) => {
            format!("{of}: «Needs» is about six rises, from memory, unverified.")
        }
        Some(Basis::Repeats { groups, degrees_of_freedom }) => format!(
            "{of}: «Needs» is learnt from sets repeated on one day ({groups} days, \
             {degrees_of_freedom} degrees of freedom; t·√2·SEM [Weir2005])."
        ),
        Some(Basis::MeasurementError) => {
            format!(
                "{of}: «Needs» is 1.96·√(SE² + SE²) of the two values (derived), more than is \
                 published or learnt."
            )
        }
    }
}

/// Heads of the table of sessions.
pub const SESSIONS_HEAD: [&str; 6] = ["Day", "Clean", "Of", "Run", "Not judged", "Session"];

/// A row of it.
pub fn session_row(session: &Dated) -> Vec<String> {
    let s = &session.summary;
    let mut row = vec![full_day(session.day())];
    row.extend([s.clean, s.reps, s.longest_clean_run, s.not_judged].map(|n| n.to_string()));
    row.push(format!("{} ({}, {})", session.id, leg(s.leg), s.rung.words()));
    row
}

/// How far the sessions are reviewed.
pub fn reviewed(trend: &Trend) -> String {
    let open = trend.cautions.iter().find_map(|c| match c {
        Caution::NotReviewed { sessions, of } => Some((*sessions, *of)),
        _ => None,
    });
    let all = trend.series.iter().flat_map(|s| &s.sessions);
    match open {
        Some((sessions, of)) if sessions == of => {
            "Judged by the program; none of the sessions is signed off by a person.".into()
        }
        Some((sessions, of)) => format!(
            "{} of {of} sessions are signed off by a person; the others are judged by the program.",
            of - sessions
        ),
        None => {
            let last = all.max_by_key(|s| s.recorded_at);
            let last = last.map(|s| review::state(s.summary.review.clone()));
            last.map_or(String::new(), |last| {
                format!("All sessions are signed off. The latest: {last}")
            })
        }
    }
}

/// A caution in words; None where [`reviewed`] says it.
pub fn caution(caution: &Caution) -> Option<String> {
    Some(match caution {
        Caution::SameClip { ids } => {
            format!("The same clip was given more than once: {}.", ids.join(", "))
        }
        Caution::Seats { unknown: true, .. } => {
            "For some sessions the height of the seat was not told (assess with --seat-height). A \
             lower seat is harder, so compare only sets from the same seat; sessions with and \
             without a told height stand apart."
                .into()
        }
        Caution::Seats { .. } => "The seats were not always of the same height; sessions on \
             different seats are not compared."
            .into(),
        Caution::DayUnknown { ids } => format!(
            "When it was filmed is not known of {}: it stands on the day it was added to the \
             archive ('plumbrise archive add --recorded DAY' says the day).",
            ids.join(", ")
        ),
        Caution::NotReviewed { .. } => return None,
        Caution::ManyNotJudged { id, not_judged, reps } => format!(
            "In {id} {not_judged} of {reps} reps could not be judged: its number of clean reps may \
             be too low."
        ),
        Caution::OtherTarget => "The number of reps aimed at was not always the same; a set that \
             stops at its target tells no more than that."
            .into(),
    })
}

/// The number of reps says something only under this condition.
pub const EFFORT: &str = "Numbers of reps can be compared only if every set went on for as long as \
    it could be done, on the same seat and in the same way.";

/// Along the level axis of a drawing.
pub const DAYS: &str = "days";

/// A drawing shows but the last sessions.
pub fn last_of(title: &str, shown: usize, all: usize) -> String {
    format!("{title} (the last {shown} of {all} sessions)")
}

/// Name of the band around the first value.
pub const BAND: &str = "not sure";

/// Text in place of a drawing.
pub fn plot(s: &Series, course: &Followed) -> String {
    let each: Vec<String> = s
        .sessions
        .iter()
        .zip(&course.values)
        .map(|(s, v)| format!("{}: {}", full_day(s.day()), value(course.measure, *v)))
        .collect();
    let detectable = course.since_first.as_ref().and_then(|c| c.detectable);
    let band = match detectable {
        Some(_) => format!(
            " Within {} of the first it is not sure that anything has changed.",
            needs(course.measure, course.since_first.as_ref())
        ),
        None => String::new(),
    };
    format!("{}. {}.{band}", label_in_unit(course.measure), each.join("; "))
}

/// What changed since last time, in the athlete's words: three to six short sentences.
pub fn since_last(trend: &Trend) -> String {
    let Some(latest) = trend.latest() else { return NOTHING.into() };
    let on = match latest.leg {
        Some(side) => format!("On your {} leg", side.word()),
        None => "On both legs".into(),
    };
    let exercise = match latest.rung {
        Rung::SingleLeg => "rising on one leg",
        Rung::Lowering => "up on two legs and down on one",
        Rung::SplitStance => "rising with one foot in front",
        Rung::TwoLeg => "rising on two legs",
    };
    let change_of = |key: &str| {
        let course = latest.course(key)?;
        let change = course.since_last_time.as_ref()?;
        let value = |at: usize| Some(course.values.get(at).copied().flatten()?.value);
        Some((value(change.from)?, value(change.to)?, change))
    };
    let mut said = Vec::new();
    match change_of(Count::Clean.key()) {
        Some((before, now, change)) => said.push(format!(
            "{on}, {exercise}, you did {now:.0} clean {} this time and {before:.0} last time{}.",
            if now == 1.0 { "rep" } else { "reps" },
            sure(change, "a real change")
        )),
        None => {
            let clean = latest.last().map_or(0, |s| s.summary.clean);
            said.push(format!(
                "{on}, {exercise}, you did {clean} clean {}.",
                if clean == 1 { "rep" } else { "reps" }
            ));
            said.push("There is no earlier day yet to compare it with.".into());
        }
    }
    if let Some((before, now, change)) = change_of(Count::LongestCleanRun.key()) {
        said.push(format!(
            "Your longest run of clean reps was {now:.0}, before it was {before:.0}{}.",
            sure(change, "a real change")
        ));
    }
    for (measure, more, less, of) in [
        (WOBBLE, "Your knee shook more", "Your knee shook less", "your knee shakes less or more"),
        (
            KNEE_OFFSET_PEAK,
            "Your knee came further inward",
            "Your knee came less far inward",
            "your knee stays better over the foot",
        ),
    ] {
        if let Some((_, _, change)) = change_of(measure.key()) {
            said.push(match (change.outcome, change.difference) {
                (ChangeSeen::Changed, Some(by)) if by > 0.0 => {
                    format!("{more} than last time; show it to your physiotherapist.")
                }
                (ChangeSeen::Changed, _) => format!("{less} than last time."),
                _ => format!("Whether {of} than last time: not sure yet."),
            });
        }
    }
    said.push("Keep going as agreed, and ask your physiotherapist what this means for you.".into());
    said.push("Stop at once with sharp or growing pain, or if the knee gives way or locks.".into());
    said.join(" ")
}

fn sure(change: &Change, what: &str) -> String {
    match change.outcome {
        ChangeSeen::Changed => format!(": {what}"),
        _ if change.difference == Some(0.0) => String::new(),
        _ => format!("; not sure yet whether that is {what}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::between::weeks::{Repeats, tests::session};

    fn told(sessions: Vec<Dated>) -> String {
        since_last(&Trend::of(None, sessions, &Repeats::default()))
    }

    #[test]
    fn the_athlete_hears_three_to_six_sentences_and_when_to_stop() {
        let knee = |cm| [("knee_offset_peak_cm", cm), ("wobble_cm", 0.5)];
        let first = session("a", "2026-05-04", 8, &knee(4.0));
        let alone = told(vec![first.clone()]);
        let both = told(vec![first.clone(), session("b", "2026-05-18", 15, &knee(4.0))]);
        let nearly = told(vec![first, session("b", "2026-05-18", 14, &knee(4.0))]);
        for text in [&alone, &both, &nearly] {
            let sentences = text.matches(['.', '!']).count();
            assert!((3..=6).contains(&sentences), "{sentences}: {text}");
            assert!(text.contains("ask your physiotherapist") && text.contains("Stop at once"));
        }
        assert!(alone.contains("8 clean reps") && alone.contains("no earlier day"));
        // Seven more are beyond the six that may be chance, six are not.
        assert!(both.contains("15 clean reps this time and 8 last time: a real change."));
        assert!(nearly.contains("14 clean reps this time and 8 last time; not sure yet"));
        assert!(
            both.contains("Whether your knee shakes less or more than last time: not sure yet.")
        );
        assert_eq!(told(Vec::new()), NOTHING);
    }
}
