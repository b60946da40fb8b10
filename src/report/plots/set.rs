//! The whole set, rep by rep: does it change as it goes on?

use super::chart::{Axis, Drawing, Sign};
use crate::judgement::criteria::Criteria;
use crate::judgement::document::{Assessment, Reason};
use crate::judgement::measures::{DESCENT, KNEE_OFFSET_PEAK, RISE};
use crate::report::wording;
use crate::session::Plot;

/// The knee and the times of every rep; none with fewer than two reps.
pub fn set_plots(a: &Assessment, criteria: &Criteria) -> Vec<Plot> {
    if a.reps.len() < 2 {
        return Vec::new();
    }
    [knee(a, criteria), times(a)].into_iter().flatten().collect()
}

fn numbers(a: &Assessment) -> Axis {
    Axis::new(0.4, a.reps.len() as f64 + 0.6)
}

fn knee(a: &Assessment, criteria: &Criteria) -> Option<Plot> {
    let values = || a.reps.iter().filter_map(|r| r.knee_offset_peak_cm);
    values().next()?;
    let limit_cm = 100.0 * criteria.knee_offset_limit_m(a.scale.stature_m);
    let alternative = wording::knee_set_plot(a, limit_cm);
    let mut drawing = Drawing::new(182.0);
    let ends = a.reps.iter().flat_map(|r| {
        let error = KNEE_OFFSET_PEAK.error(r).unwrap_or(0.0);
        r.knee_offset_peak_cm.into_iter().flat_map(move |cm| [cm - error, cm + error])
    });
    let cm = Axis::around(ends, (0.0, 5.0));
    let frame = drawing.frame((40.0, 150.0), numbers(a), cm, "cm");
    drawing.allowed(&frame, limit_cm, &wording::limit_is(limit_cm));
    drawing.key(&frame, 58.0, Sign::Dot, wording::KNEE_OVER_FOOT);
    drawing.key(&frame, 158.0, Sign::Diamond, wording::KNEE_INSIDE);
    drawing.key(&frame, 238.0, Sign::Unknown, wording::NOT_JUDGED);
    for rep in &a.reps {
        let x = rep.number as f64;
        let error = KNEE_OFFSET_PEAK.error(rep);
        match rep.knee_offset_peak_cm {
            Some(cm) => {
                let inward = rep.reasons.contains(&Reason::KneeInward);
                let sign = if inward { Sign::Diamond } else { Sign::Dot };
                drawing.sign(&frame, sign, (x, cm), error);
            }
            None => drawing.unknown(&frame, x),
        }
    }
    drawing.level_axis(&frame, wording::REP, true);
    let svg = drawing.finish(&alternative);
    Some(Plot { title: wording::KNEE_SET_PLOT.into(), alternative, svg })
}

fn times(a: &Assessment) -> Option<Plot> {
    let values = || a.reps.iter().flat_map(|r| [r.rise_s, r.descent_s]).flatten();
    values().next()?;
    let alternative = wording::times_set_plot(a);
    let mut drawing = Drawing::new(182.0);
    let frame = drawing.frame((40.0, 150.0), numbers(a), Axis::around(values(), (0.0, 2.0)), "s");
    drawing.key(&frame, 58.0, Sign::Up, wording::UP);
    drawing.key(&frame, 128.0, Sign::Down, wording::DOWN);
    for rep in &a.reps {
        let x = rep.number as f64;
        let signs = [(RISE, Sign::Up, -0.12), (DESCENT, Sign::Down, 0.12)];
        for (measure, sign, aside) in signs {
            if let Some(seconds) = (measure.of)(rep) {
                drawing.sign(&frame, sign, (x + aside, seconds), measure.error(rep));
            }
        }
    }
    drawing.level_axis(&frame, wording::REP, true);
    let svg = drawing.finish(&alternative);
    Some(Plot { title: wording::TIMES_SET_PLOT.into(), alternative, svg })
}
