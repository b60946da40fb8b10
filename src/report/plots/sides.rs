//! Both legs on a common axis, rep by rep.

use super::chart::{Axis, Drawing, Sign};
use crate::between::sides::{Comparison, LegSession};
use crate::body::Side;
use crate::judgement::document::Rep;
use crate::report::wording;
use crate::report::wording::comparison::{self as words, RepValue};
use crate::report::wording::headings::tracked;
use crate::session::Plot;

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

fn values(session: &LegSession, name: &str) -> Vec<RepValue> {
    let of = |rep: &Rep| RepValue {
        rep: rep.number,
        value: rep.numbers().into_iter().find(|(own, _)| own == name).and_then(|(_, v)| v),
        error: rep.standard_error.get(name).copied(),
    };
    session.reps.iter().map(of).collect()
}

fn plot(c: &Comparison, name: &str, at_least: f64) -> Option<Plot> {
    let legs = c.legs().map(|(leg, session)| (leg, values(session, name)));
    let all = || legs.iter().flat_map(|(_, values)| values);
    all().find_map(|v| v.value)?;
    let last = all().map(|v| v.rep).max()?;
    let limits = if name == "knee_offset_peak_cm" { limits(c) } else { Vec::new() };
    let said: Vec<String> = limits.iter().map(|(_, text)| text.clone()).collect();
    let alternative = words::plot(name, &legs, &said.join(", "));
    let ends = all().filter_map(|v| Some((v.value?, v.error.unwrap_or(0.0))));
    let ends = ends.flat_map(|(value, error)| [value - error, value + error]);
    let shown = ends.chain(limits.iter().map(|(cm, _)| *cm));
    let up = Axis::around(shown, (0.0, at_least));
    let across = Axis::new(0.4, last as f64 + 0.6);
    let (_, unit, _) = tracked(name);
    let mut drawing = Drawing::new(182.0);
    let frame = drawing.frame((40.0, 150.0), across, up, unit);
    match limits.as_slice() {
        [(cm, text)] => drawing.allowed(&frame, *cm, text),
        several => several.iter().enumerate().for_each(|(at, (cm, text))| {
            drawing.limit(&frame, *cm, text, at > 0);
        }),
    }
    for ((leg, values), column) in legs.iter().zip([58.0, 128.0]) {
        let (shape, aside) = sign(*leg);
        drawing.key(&frame, column, shape, leg.word());
        for v in values {
            if let Some(value) = v.value {
                drawing.sign(&frame, shape, (v.rep as f64 + aside, value), v.error);
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
