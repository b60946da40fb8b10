//! Both legs on a common axis, rep by rep.

use super::chart::{Axis, Drawing, Sign};
use crate::assessment::Rep;
use crate::comparison::{Comparison, LegSession};
use crate::report::content::Plot;
use crate::report::wording;
use crate::report::wording::comparison as words;
use crate::report::wording::labels::tracked;
use crate::skeleton::Side;

/// What is drawn, and what the upright axis shows at least.
const DRAWN: [(&str, f64); 4] =
    [("knee_offset_peak_cm", 5.0), ("wobble_cm", 1.0), ("descent_s", 2.0), ("rise_s", 2.0)];

/// Each leg has a sign of its own, and stands a little aside so that none hides the other.
fn sign(leg: Side) -> (Sign, f64) {
    match leg {
        Side::Left => (Sign::Dot, -0.14),
        Side::Right => (Sign::Down, 0.14),
    }
}

/// A drawing for each measure that is known of a rep.
pub fn sides_plots(c: &Comparison) -> Vec<Plot> {
    DRAWN.iter().filter_map(|(name, at_least)| plot(c, name, *at_least)).collect()
}

fn error(leg: &LegSession, rep: usize, name: &str) -> Option<f64> {
    let rep = leg.reps.iter().find(|r| r.number == rep)?;
    rep.standard_error.get(name).copied()
}

fn number(rep: &Rep, name: &str) -> Option<f64> {
    rep.numbers().into_iter().find(|(own, _)| own == name)?.1
}

fn plot(c: &Comparison, name: &str, at_least: f64) -> Option<Plot> {
    let of = |leg: &LegSession| -> Vec<(usize, Option<f64>)> {
        leg.reps.iter().map(|rep| (rep.number, number(rep, name))).collect()
    };
    let legs: Vec<_> = c.legs().into_iter().map(|(side, leg)| (side, of(leg))).collect();
    let ends: Vec<f64> = legs
        .iter()
        .zip(c.legs())
        .flat_map(|((_, values), (_, session))| {
            values.iter().filter_map(move |(rep, v)| Some((error(session, *rep, name), (*v)?)))
        })
        .flat_map(|(error, v)| [v - error.unwrap_or(0.0), v + error.unwrap_or(0.0)])
        .collect();
    if ends.is_empty() {
        return None;
    }
    let last = legs.iter().flat_map(|(_, v)| v.iter().map(|(rep, _)| *rep)).max().unwrap_or(1);
    let limits = if name == "knee_offset_peak_cm" { limits(c) } else { Vec::new() };
    let said: Vec<String> = limits.iter().map(|(_, text)| text.clone()).collect();
    let alternative = words::plot(name, &legs, &said.join(", "));
    let mut drawing = Drawing::new(182.0);
    let shown = ends.into_iter().chain(limits.iter().map(|(cm, _)| *cm));
    let up = Axis::around(shown, (0.0, at_least));
    let across = Axis::new(0.4, last as f64 + 0.6);
    let (_, unit, _) = tracked(name);
    let frame = drawing.frame((40.0, 150.0), across, up, unit);
    match limits.as_slice() {
        [(cm, text)] => drawing.allowed(&frame, *cm, text),
        several => several.iter().enumerate().for_each(|(at, (cm, text))| {
            drawing.limit(&frame, *cm, text, at > 0);
        }),
    }
    for (((leg, values), (_, session)), column) in legs.iter().zip(c.legs()).zip([58.0, 128.0]) {
        let (shape, aside) = sign(*leg);
        drawing.key(&frame, column, shape, leg.word());
        for (rep, value) in values {
            if let Some(value) = value {
                let error = error(session, *rep, name);
                drawing.sign(&frame, shape, (*rep as f64 + aside, *value), error);
            }
        }
    }
    drawing.level_axis(&frame, wording::REP, true);
    let svg = drawing.finish(&alternative);
    Some(Plot { title: words::plot_title(name), alternative, svg })
}

/// The knee's limit, or both where the legs were judged by different ones, with its name.
fn limits(c: &Comparison) -> Vec<(f64, String)> {
    let [left, right] = c.legs().map(|(_, leg)| leg.knee_limit_cm);
    if (left - right).abs() < 0.1 {
        return vec![(left, wording::limit_is(left))];
    }
    c.legs()
        .into_iter()
        .map(|(side, leg)| {
            let text = wording::limit_is(leg.knee_limit_cm);
            (leg.knee_limit_cm, format!("{text} ({})", side.word()))
        })
        .collect()
}
