//! The assessment for a terminal: the plain sentence first, then the reps,
//! then what to look at, then the cautions.

#[cfg(feature = "archive")]
pub mod archive;
mod film_check;
mod leaflet;

pub use film_check::film_check;
pub use leaflet::leaflet;

use super::lines::{section, strong, wrapped};
use super::sheet::in_column;
use super::wording;
use super::wording::headings::{self, WORDS};
use crate::judgement::document::{Rep, Verdict};
use crate::judgement::measures::{self, Column, Measure};
use crate::session::Session;

/// The session as it stands, as text, and what a review says of it; `colour` adds ANSI
/// emphasis that carries no meaning of its own.
pub fn terminal(session: &Session, colour: bool) -> String {
    let Session { machine, review, in_force: a, criteria } = session;
    let strong = |text: &str| strong(text, colour);
    let mut out = String::new();
    let mut line = |text: &str| {
        out.push_str(text);
        out.push('\n');
    };
    line(&strong(&wording::headline(a)));
    for finding in wording::findings(a) {
        line(&wrapped(&finding, ""));
    }
    if a.set.reps > 0 {
        line(&wrapped(&wording::run_and_target(&a.set), ""));
    }
    line(&wrapped(&wording::review::state(session.state()), ""));
    line("");
    line(&strong(&header()));
    line(&units());
    for rep in &a.reps {
        line(&row(rep));
    }
    if let Some(review) = review {
        let said = wording::review::record(review, machine);
        section(&mut out, &strong(wording::review::HEADING), &said);
    }
    section(&mut out, &strong(WORDS.look), &wording::worth_a_look(a, criteria));
    section(&mut out, &strong(WORDS.film), &a.notes);
    section(&mut out, &strong(WORDS.cautions), &wording::cautions(a));
    out
}

/// Width of a column of a measure: its heading and the two spaces before it, or what a
/// standard error needs.
fn width(column: Column) -> usize {
    let needed = if column.with_error { 10 } else { 6 };
    needed.max(column.head.chars().count() + 1)
}

fn header() -> String {
    let [rep, verdict] = headings::REP_AND_VERDICT;
    let heads = in_columns(|_, column| column.head.into());
    format!("{rep:>3}  {verdict:<10}{heads}  {}", headings::WHY)
}

fn units() -> String {
    format!("{:>3}  {:<10}{}", "", "", in_columns(|_, column| column.unit.into()))
}

/// A cell for each measure of the table, to the right.
fn in_columns(cell: impl Fn(&Measure, Column) -> String) -> String {
    measures::in_table()
        .map(|(measure, column)| format!(" {:>1$}", cell(measure, column), width(column)))
        .collect()
}

fn row(rep: &Rep) -> String {
    let mark = match rep.judgement {
        Verdict::Clean => "",
        Verdict::Faulted => "! ",
        Verdict::NotJudged => "? ",
    };
    let numbers = in_columns(|measure, column| in_column(measure, column, rep));
    let (verdict, why) = (wording::verdict(rep.judgement), wording::reasons(&rep.reasons));
    format!("{:>3}  {verdict:<10}{numbers}  {mark}{why}", rep.number).trim_end().to_owned()
}
