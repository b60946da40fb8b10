//! Both legs on a common axis, rep by rep.

use super::chart::{Axis, Drawing, Sign};
use crate::between::sides::{Comparison, LegSession};
use crate::body::Side;
use crate::judgement::document::Rep;
use crate::judgement::measures::{self, KNEE_OFFSET_PEAK, Measure};
use crate::report::wording;
use crate::report::wording::comparison::{self as words, RepValue};
use crate::session::Plot;

/// Each leg has a sign of its own, and stands a little aside so that none hides the other.
fn sign(leg: Side) -> (Sign, f64) {
    match leg {
        Side::Left => (Sign::Dot, -0.14),
        Side::Right => (Sign::Down, 0.14),
    }
}

/// A drawing for each measure that is known of a rep.
pub fn sides_plots(c: &Comparison) -> Vec<Plot> {
    let drawn = measures::compared().into_iter();
    drawn.filter_map(|(measure, how)| plot(c, measure, how.drawn_by_leg?)).collect()
}

fn values(session: &LegSession, measure: &Measure) -> Vec<RepValue> {
    let of = |rep: &Rep| RepValue {
        rep: rep.number,
        value: (measure.of)(rep),
        error: measure.error(rep),
    };
    session.reps.iter().map(of).collect()
}

fn plot(c: &Comparison, measure: &Measure, at_least: f64) -> Option<Plot> {
    let legs = c.legs().map(|(leg, session)| (leg, values(session, measure)));
    let all = || legs.iter().flat_map(|(_, values)| values);
    all().find_map(|v| v.value)?;
    let last = all().map(|v| v.rep).max()?;
    let limits = if *measure == KNEE_OFFSET_PEAK { limits(c) } else { Vec::new() };
    let said: Vec<String> = limits.iter().map(|(_, text)| text.clone()).collect();
    let alternative = words::plot(measure, &legs, &said.join(", "));
    let ends = all().filter_map(|v| Some((v.value?, v.error.unwrap_or(0.0))));
    let ends = ends.flat_map(|(value, error)| [value - error, value + error]);
    let shown = ends.chain(limits.iter().map(|(cm, _)| *cm));
    let up = Axis::around(shown, (0.0, at_least));
    let across = Axis::new(0.4, last as f64 + 0.6);
    let mut drawing = Drawing::new(182.0);
    let frame = drawing.frame((40.0, 150.0), across, up, measure.unit.shown());
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
    Some(Plot { title: words::plot_title(measure), alternative, svg })
}

/// The knee's limit, or both where the legs were judged by different ones, with its name.
fn limits(c: &Comparison) -> Vec<(f64, String)> {
    let [left, right] = c.legs().map(|(_, leg)| leg.knee_limit_cm);
    // Nearer than a line can be told from another (design choice).
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
