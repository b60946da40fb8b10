//! Weeks as a short report.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::leaflet::{Figure, Leaflet, Part, Section, Table, sources};
use super::plots::{week_lines, week_plot};
use super::wording::trend as words;
use super::wording::{CAUTIONS, full_day};
use crate::between::Count;
use crate::between::weeks::{Basis, Dated, Followed, Series, Tracked, Trend};

pub use super::wording::trend::since_last;

/// Of what is drawn, as many are drawn in plain characters too (design choice: a screen).
const DRAWN_IN_PLAIN: usize = 4;

/// What is drawn: what is aimed at, and what a physiotherapist watches.
fn is_drawn(tracked: Tracked) -> bool {
    match tracked {
        Tracked::Count(count) => count != Count::Reps,
        Tracked::Measure(_, how) => how.drawn_over_weeks,
    }
}

/// The trend as a short report of that day.
pub fn trend(trend: &Trend, date: Date) -> Leaflet {
    let mut sections = Vec::new();
    if !trend.reached.is_empty() {
        let points = trend.reached.iter().map(words::reached).collect();
        sections.push(Section { title: words::LADDER.into(), parts: vec![Part::Points(points)] });
    }
    let mut series: Vec<&Series> = trend.series.iter().collect();
    // The latest first: that is what one looks for.
    series.sort_by_key(|s| std::cmp::Reverse(s.last().map(|last| last.recorded_at)));
    sections.extend(series.into_iter().map(section));
    sections.push(Section {
        title: words::IN_YOUR_WORDS.into(),
        parts: vec![Part::Paragraph(since_last(trend))],
    });
    sections.push(listed(trend));
    let mut notes = vec![words::EFFORT.to_owned()];
    notes.extend(trend.cautions.iter().filter_map(words::caution));
    Leaflet {
        title: words::TITLE.into(),
        about: trend.person.clone().unwrap_or_else(|| words::SOMEBODY.into()),
        date,
        headline: words::headline(trend),
        facts: facts(trend),
        reviewed: words::reviewed(trend),
        sources: sources(&sections),
        sections: sections.into_iter().filter(|s| !s.parts.is_empty()).collect(),
        notes,
        cautions: CAUTIONS.map(String::from).to_vec(),
    }
}

fn facts(trend: &Trend) -> Vec<(String, String)> {
    let days = || trend.series.iter().flat_map(|s| &s.sessions).map(|s| s.day());
    let mut facts = Vec::new();
    if let Some(person) = &trend.person {
        facts.push((words::PERSON.into(), person.clone()));
    }
    facts.push((words::SESSIONS.into(), days().count().to_string()));
    if let Some((first, last)) = days().min().zip(days().max()) {
        let span = format!("{} – {}", full_day(first), full_day(last));
        facts.push((words::FROM_TO.into(), span));
    }
    facts
}

/// What is told of sessions that can be compared.
fn section(s: &Series) -> Section {
    let compared = s.courses.iter().any(|c| c.since_first.is_some());
    let mut parts = Vec::new();
    if compared {
        parts.push(Part::Points(words::findings(s)));
    } else {
        parts.push(Part::Paragraph(words::NO_TIME_PASSED.into()));
    }
    parts.push(Part::Table(values(s)));
    if compared {
        parts.push(Part::Table(changes(s)));
        parts.push(Part::Points(known_from(s)));
        parts.push(Part::Paragraph(words::HOW_TO_READ.into()));
    }
    let drawn = s.courses.iter().filter(|course| is_drawn(course.measure));
    let drawn = drawn.enumerate().filter_map(|(at, course)| {
        let plain = if at < DRAWN_IN_PLAIN { week_lines(s, course) } else { Vec::new() };
        Some(Figure { plot: week_plot(s, course)?, plain })
    });
    let figures: Vec<Figure> = drawn.collect();
    if !figures.is_empty() {
        parts.push(Part::Figures(figures));
    }
    Section { title: words::series(s), parts }
}

/// The first session, that of last time and the latest.
fn values(s: &Series) -> Table {
    let last = s.sessions.len().saturating_sub(1);
    let change = s.courses.iter().find_map(|c| c.since_last_time.as_ref());
    let mut shown = vec![(words::FIRST, 0)];
    match change.map(|c| c.from) {
        Some(0) => {}
        Some(before) => shown.push((words::LAST_TIME, before)),
        None => {}
    }
    if last > 0 {
        shown.push((words::LATEST, last));
    }
    let head = |(name, at): &(&str, usize)| {
        let day = s.sessions.get(*at).map_or(String::new(), |s| words::day(s.day()));
        format!("{name}, {day}")
    };
    let row = |course: &Followed| {
        let cell = |(_, at): &(&str, usize)| {
            words::value(course.measure, course.values.get(*at).copied().flatten())
        };
        std::iter::once(words::label_in_unit(course.measure))
            .chain(shown.iter().map(cell))
            .collect()
    };
    Table {
        name: words::series(s),
        head: std::iter::once(String::new()).chain(shown.iter().map(head)).collect(),
        rows: s.courses.iter().map(row).collect(),
        ends_in_words: false,
    }
}

/// What of the differences is change.
fn changes(s: &Series) -> Table {
    // With two days there is but one difference.
    let once = s.courses.iter().all(|c| match (&c.since_first, &c.since_last_time) {
        (Some(first), Some(last)) => first.from == last.from,
        _ => true,
    });
    let mut head = vec![String::new(), words::SINCE_FIRST.into(), words::NEEDS.into()];
    if !once {
        head.extend([words::SINCE_LAST_TIME.into(), words::NEEDS.into()]);
    }
    let row = |course: &Followed| {
        let (name, first, last) =
            (course.measure, course.since_first.as_ref(), course.since_last_time.as_ref());
        let mut row =
            vec![words::label_in_unit(name), words::change(name, first), words::needs(name, first)];
        if !once {
            row.extend([words::change(name, last), words::needs(name, last)]);
        }
        row
    };
    let rows = s.courses.iter().map(row).collect();
    Table { name: words::NEEDS.into(), head, rows, ends_in_words: false }
}

/// Where each minimal detectable change comes from: one sentence a source.
fn known_from(s: &Series) -> Vec<String> {
    let mut by_source: BTreeMap<Option<Basis>, Vec<Tracked>> = BTreeMap::new();
    for course in &s.courses {
        for change in course.since_first.iter().chain(&course.since_last_time) {
            let names = by_source.entry(change.source).or_default();
            if !names.contains(&course.measure) {
                names.push(course.measure);
            }
        }
    }
    // What is not known stands last.
    by_source.iter().rev().map(|(source, names)| words::known_from(*source, names)).collect()
}

/// Every session, so that it can be found.
fn listed(trend: &Trend) -> Section {
    let mut all: Vec<&Dated> = trend.series.iter().flat_map(|s| &s.sessions).collect();
    all.sort_by_key(|s| s.recorded_at);
    let table = Table {
        name: words::SESSIONS.into(),
        head: words::SESSIONS_HEAD.map(String::from).to_vec(),
        rows: all.into_iter().map(words::session_row).collect(),
        ends_in_words: true,
    };
    let parts = if table.rows.is_empty() { Vec::new() } else { vec![Part::Table(table)] };
    Section { title: words::SESSIONS.into(), parts }
}
