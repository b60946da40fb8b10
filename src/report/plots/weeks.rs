//! A measure from session to session.

use super::chart::{Axis, Drawing, Sign};
use crate::between::weeks::{Followed, Series, Value};
use crate::report::wording::{self, trend as words};
use crate::session::Plot;

const SECONDS_PER_DAY: f64 = 86_400.0;

/// Sessions in a drawing of plain characters: as many as a line has room for.
const IN_LINE: usize = 6;
/// Columns for each of them, and before the first.
const COLUMN: usize = 11;
const BEFORE: usize = 9;
/// Rows of such a drawing.
const ROWS: usize = 5;

/// The measure over the weeks, with the band around the first value in which nothing is
/// sure to have changed; `None` with fewer than two values.
pub fn week_plot(series: &Series, course: &Followed) -> Option<Plot> {
    let points = points(series, course);
    let (first, last) = (points.first()?, points.last()?);
    if points.len() < 2 {
        return None;
    }
    let days = last.0.max(1.0);
    let band = course
        .since_first
        .as_ref()
        .and_then(|c| c.detectable)
        .map(|by| (first.1.value - by, first.1.value + by));
    let whole = course.values.iter().flatten().all(|v| v.standard_error.is_none());
    let ends = points.iter().flat_map(|(_, v)| {
        let error = v.standard_error.unwrap_or(0.0);
        [v.value - error, v.value + error]
    });
    let ends = ends.chain(band.into_iter().flat_map(|(low, high)| [low, high]));
    // A count is never below nought, whatever its band.
    let ends = ends.map(|v| if whole { v.max(0.0) } else { v });
    let (_, unit, _) = words::told(course.measure);
    let alternative = words::plot(series, course);
    let mut drawing = Drawing::new(182.0);
    let across = Axis::new(-0.03 * days, 1.03 * days);
    let frame = drawing.frame((40.0, 150.0), across, Axis::around(ends, (0.0, 1.0)), unit.shown());
    if let Some((low, high)) = band {
        drawing.band(&frame, (low, high), words::BAND);
    }
    let line: Vec<_> = points.iter().map(|(day, v)| (*day, Some(v.value), None)).collect();
    drawing.course(&frame, &line);
    for (day, v) in &points {
        drawing.sign(&frame, Sign::Dot, (*day, v.value), v.standard_error);
    }
    drawing.level_axis(&frame, words::DAYS, true);
    let svg = drawing.finish(&alternative);
    Some(Plot { title: words::label_in_unit(course.measure), alternative, svg })
}

/// Days since the first session, with the value where it is known.
fn points(series: &Series, course: &Followed) -> Vec<(f64, Value)> {
    let Some(start) = series.sessions.first().map(|s| s.recorded_at.as_second()) else {
        return Vec::new();
    };
    let both = series.sessions.iter().zip(&course.values);
    both.filter_map(|(session, value)| {
        let seconds = (session.recorded_at.as_second() - start) as f64;
        Some((seconds / SECONDS_PER_DAY, (*value)?))
    })
    .collect()
}

/// The same in plain characters, a column a session: the last of them, each with its day
/// and value.
pub fn week_lines(series: &Series, course: &Followed) -> Vec<String> {
    let all = series.sessions.len();
    let skipped = all.saturating_sub(IN_LINE);
    let shown: Vec<_> = series.sessions.iter().zip(&course.values).skip(skipped).collect();
    let known: Vec<f64> = shown.iter().filter_map(|(_, v)| Some((**v)?.value)).collect();
    let low = known.iter().copied().fold(f64::INFINITY, f64::min);
    let high = known.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if known.len() < 2 {
        return Vec::new();
    }
    let (_, _, digits) = words::told(course.measure);
    let title = match skipped {
        0 => words::label_in_unit(course.measure),
        _ => words::last_of(&words::label_in_unit(course.measure), shown.len(), all),
    };
    // Row 0 is the highest; where all are alike they stand in the middle.
    let row_of = |v: f64| {
        let share = if high > low { (v - low) / (high - low) } else { 0.5 };
        ((1.0 - share) * (ROWS - 1) as f64).round() as usize
    };
    let mut lines = vec![title];
    for row in 0..ROWS {
        let name = match row {
            _ if high <= low => String::new(),
            0 => wording::number(high, digits),
            _ if row + 1 == ROWS => wording::number(low, digits),
            _ => String::new(),
        };
        let mut line = format!("{name:>width$} |", width = BEFORE - 2);
        for (_, value) in &shown {
            let here = value.is_some_and(|v| row_of(v.value) == row);
            line += &format!("{:^COLUMN$}", if here { "o" } else { "" });
        }
        lines.push(line.trim_end().into());
    }
    let under = |cells: &mut dyn Iterator<Item = String>| {
        let cells: String = cells.map(|cell| format!("{cell:^COLUMN$}")).collect();
        format!("{}{cells}", " ".repeat(BEFORE)).trim_end().to_owned()
    };
    lines.push(under(&mut shown.iter().map(|(session, _)| words::day(session.day()))));
    lines.push(under(&mut shown.iter().map(|(_, v)| words::value(course.measure, **v))));
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::between::weeks::{Repeats, Trend, tests::session};

    #[test]
    fn plain_lines_fit_and_show_the_last_sessions() {
        let days = 4..=12;
        let sessions = days.map(|d| {
            session(&format!("s{d}"), &format!("2026-05-{d:02}"), d, &[("wobble_cm", 1.0)])
        });
        let trend = Trend::of(None, sessions.collect(), &Repeats::default());
        let series = &trend.series[0];
        let clean = week_lines(series, series.course("clean").unwrap());
        assert!(clean.iter().all(|l| l.chars().count() <= 78), "{clean:#?}");
        assert!(clean[0].contains("last 6 of 9"), "{}", clean[0]);
        assert!(clean[1].starts_with("     12 |") && clean[1].ends_with('o'), "{clean:#?}");
        assert!(clean[5].starts_with("      7 |     o"), "{clean:#?}");
        assert!(clean[6].trim_start().starts_with("7 May") && clean[7].ends_with("12"));
        assert_eq!(clean[1..6].iter().map(|l| l.matches('o').count()).sum::<usize>(), 6);
        // All alike: a level line.
        let wobble = week_lines(series, series.course("wobble_cm").unwrap());
        assert_eq!(wobble[3].matches('o').count(), 6);
        assert!(week_plot(series, series.course("clean").unwrap()).is_some());
    }
}
