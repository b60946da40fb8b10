//! Which row of the labels is which rep.

use crate::between::agreement::labels::{Label, When};
use crate::judgement::document::Rep;

/// Share of the shorter of two spans that must lie in the other for them to be
/// the same rep (design choice: more than half leaves one candidate on either
/// side at most).
const OVERLAP_MIN: f64 = 0.5;

/// Reps and rows that belong together, as indices.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Matching {
    /// Rep and row, by time.
    pub by_time: Vec<(usize, usize)>,
    /// Rep and row, by number, where the row has no time.
    pub by_number: Vec<(usize, usize)>,
}

/// Matches each row to one rep at most and each rep to one row at most. Rows
/// with times go by time, so that a rep too many or too few on either side
/// shifts nothing: of all matchings that keep the order of time, the one with
/// the largest total overlap. Rows without times then go by number, to reps
/// that are still free.
pub fn matched(reps: &[Rep], rows: &[Label]) -> Matching {
    let mut spans: Vec<(usize, (f64, f64))> =
        reps.iter().enumerate().filter_map(|(i, r)| Some((i, r.span_s()?))).collect();
    spans.sort_by(|a, b| a.1.0.total_cmp(&b.1.0));
    let mut times: Vec<(usize, When)> =
        rows.iter().enumerate().filter_map(|(i, r)| Some((i, r.when?))).collect();
    times.sort_by(|a, b| middle(a.1).total_cmp(&middle(b.1)));

    let by_time = in_order(spans.len(), times.len(), |i, j| likeness(spans[i].1, times[j].1))
        .into_iter()
        .map(|(i, j)| (spans[i].0, times[j].0))
        .collect::<Vec<_>>();
    let by_number = rows
        .iter()
        .enumerate()
        .filter(|(_, row)| row.when.is_none())
        .filter_map(|(j, row)| Some((reps.iter().position(|r| Some(r.number) == row.rep)?, j)))
        .filter(|(i, _)| by_time.iter().all(|(taken, _)| taken != i))
        .collect();
    Matching { by_time, by_number }
}

fn middle(when: When) -> f64 {
    match when {
        When::Span(start, end) => (start + end) / 2.0,
        When::Moment(at) => at,
    }
}

/// 0 for what cannot be the same rep, else up to 1: shared time over time of
/// either.
fn likeness((start, end): (f64, f64), when: When) -> f64 {
    match when {
        When::Moment(at) => f64::from(u8::from((start..=end).contains(&at))),
        When::Span(from, to) => {
            let shared = end.min(to) - start.max(from);
            let shorter = (end - start).min(to - from);
            if shared < OVERLAP_MIN * shorter {
                return 0.0;
            }
            shared / (end.max(to) - start.min(from))
        }
    }
}

/// The one-to-one matching of two ordered lists that keeps their order and has
/// the largest sum of `likeness`, pairs with 0 left out: the usual recursion
/// over the rests of both lists.
fn in_order(
    left: usize,
    right: usize,
    likeness: impl Fn(usize, usize) -> f64,
) -> Vec<(usize, usize)> {
    let mut best = vec![vec![0.0f64; right + 1]; left + 1];
    for i in (0..left).rev() {
        for j in (0..right).rev() {
            let like = likeness(i, j);
            let pair = if like > 0.0 { like + best[i + 1][j + 1] } else { 0.0 };
            best[i][j] = pair.max(best[i + 1][j]).max(best[i][j + 1]);
        }
    }
    let (mut i, mut j) = (0, 0);
    let mut pairs = Vec::new();
    while i < left && j < right {
        if best[i][j] == best[i + 1][j] {
            i += 1;
        } else if best[i][j] == best[i][j + 1] {
            j += 1;
        } else {
            pairs.push((i, j));
            i += 1;
            j += 1;
        }
    }
    pairs
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rep(number: usize, start: f64, end: f64) -> Rep {
        Rep::made(serde_json::json!({
            "number": number, "seat_off_s": start, "seat_contact_s": end,
        }))
    }

    fn row(rep: Option<usize>, when: Option<When>) -> Label {
        Label { line: 2, rep, when, judgement: None, reasons: [None; 6], numbers: Vec::new() }
    }

    fn spans(times: &[(f64, f64)]) -> Vec<Label> {
        times.iter().map(|(a, b)| row(None, Some(When::Span(*a, *b)))).collect()
    }

    #[test]
    fn a_missed_and_an_added_rep_shift_nothing() {
        let reps = [rep(1, 2.0, 6.0), rep(2, 8.0, 12.0), rep(3, 20.0, 24.0)];
        // The second rep was not labelled; one at 14–18 s was not found.
        let rows = spans(&[(1.5, 6.5), (14.0, 18.0), (19.0, 23.0)]);
        assert_eq!(matched(&reps, &rows).by_time, [(0, 0), (2, 2)]);
    }

    /// A row that touches two reps goes where it overlaps most, and the order
    /// of the file does not matter.
    #[test]
    fn the_largest_overlap_wins_whatever_the_order() {
        let reps = [rep(1, 2.0, 6.0), rep(2, 6.0, 10.0)];
        assert_eq!(matched(&reps, &spans(&[(5.0, 9.0)])).by_time, [(1, 0)]);
        assert_eq!(matched(&reps, &spans(&[(6.2, 10.2), (2.2, 6.1)])).by_time, [(0, 1), (1, 0)]);
        assert_eq!(matched(&reps, &spans(&[(9.5, 14.0)])).by_time, []);
    }

    #[test]
    fn moments_and_numbers() {
        let reps = [rep(1, 2.0, 6.0), rep(2, 8.0, 12.0)];
        let rows = [
            row(Some(9), Some(When::Moment(9.0))),
            row(None, Some(When::Moment(7.0))),
            row(Some(1), None),
            row(Some(2), None),
            row(Some(3), None),
        ];
        let m = matched(&reps, &rows);
        assert_eq!((m.by_time, m.by_number), (vec![(1, 0)], vec![(0, 2)]));
    }
}
