//! The two tables of an export, one row a rep and one row a session, with types and units.
//! CSV and Parquet write the same.

use jiff::Timestamp;

use super::stored::Stored;
use crate::judgement::document::{Rep, SetSummary, word};
use crate::judgement::measures::{self, Field, Measure, Said, Unit};
use crate::report::wording::export as words;
use crate::session::review::ReviewState;

/// A value of a table.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Cell {
    Text(Option<String>),
    Whole(Option<i64>),
    Number(Option<f64>),
    Flag(Option<bool>),
    Time(Option<Timestamp>),
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Column {
    pub name: String,
    /// In UCUM; `None` for what is no number.
    pub unit: Option<&'static str>,
    /// What it is, in words.
    pub meaning: String,
}

/// A table: as many cells in each row as there are columns, each column of one kind.
#[derive(Debug, Clone, Default)]
pub(super) struct Table {
    pub columns: Vec<Column>,
    pub rows: Vec<Vec<Cell>>,
}

/// The column that names the person; in Parquet the folder names it too.
pub(super) const PERSON: &str = "person";

/// A row under construction.
#[derive(Default)]
struct Row {
    columns: Vec<Column>,
    cells: Vec<Cell>,
}

impl Row {
    fn add(&mut self, name: &str, unit: Option<Unit>, meaning: &str, cell: Cell) {
        let unit = unit.map(Unit::ucum);
        self.columns.push(Column { name: name.into(), unit, meaning: meaning.into() });
        self.cells.push(cell);
    }

    fn text(&mut self, name: &str, value: Option<String>) {
        self.add(name, None, words::column(name), Cell::Text(value));
    }

    fn whole(&mut self, name: &str, unit: Unit, value: usize) {
        self.add(name, Some(unit), words::column(name), Cell::Whole(i64::try_from(value).ok()));
    }

    fn number(&mut self, name: &str, unit: Unit, value: Option<f64>) {
        self.add(name, Some(unit), words::column(name), Cell::Number(value));
    }

    fn measure(&mut self, measure: &Measure, rep: &Rep) {
        let value = (measure.of)(rep);
        let cell = match measure.kind.is_whole() {
            true => Cell::Whole(value.map(|v| v.round() as i64)),
            false => Cell::Number(value),
        };
        self.add(measure.key(), Some(measure.unit), measure.about.definition, cell);
    }

    fn error(&mut self, measure: &Measure, error: Option<f64>) {
        let name = format!("{}_standard_error", measure.key());
        let meaning = words::standard_error(measure.key());
        self.add(&name, Some(measure.unit), &meaning, Cell::Number(error));
    }

    fn flag(&mut self, name: &str, value: Option<bool>) {
        self.add(name, None, words::column(name), Cell::Flag(value));
    }

    fn time(&mut self, name: &str, value: Option<Timestamp>) {
        self.add(name, None, words::column(name), Cell::Time(value));
    }

    /// What both tables begin with.
    fn of(stored: &Stored) -> Self {
        let mut row = Self::default();
        row.text(PERSON, stored.person().map(str::to_owned));
        row.text("session", Some(stored.id().to_owned()));
        row.time("recorded_at_utc", stored.recorded_at);
        row.text("rung", word(&stored.session.machine.rung));
        row.text("leg", stored.session.machine.leg.map(|leg| leg.word().to_owned()));
        row.text("review_state", Some(state(&stored.session.state()).to_owned()));
        row
    }
}

/// How far a session is reviewed, in the word of the document.
pub(super) fn state(state: &ReviewState) -> &'static str {
    match state {
        ReviewState::NotReviewed => "not_reviewed",
        ReviewState::Begun => "begun",
        ReviewState::SignedOff { .. } => "signed_off",
    }
}

/// A row a rep: verdicts of program and review, then every field of the document as it
/// stands after the review, then the standard errors.
pub(super) fn rep_table(stored: &Stored) -> Table {
    let mut table = Table::default();
    for (machine, rep) in stored.session.machine.reps.iter().zip(&stored.session.in_force.reps) {
        let mut row = Row::of(stored);
        row.whole("rep", Unit::One, rep.number);
        row.text("verdict_of_program", word(&machine.judgement));
        row.text("verdict", word(&rep.judgement));
        row.text("reasons_of_program", Some(reasons(machine)));
        row.text("reasons", Some(reasons(rep)));
        let corrected = measures::all().any(|m| (m.of)(machine) != (m.of)(rep));
        row.flag("times_corrected", Some(corrected));
        fields(&mut row, rep);
        table.columns = row.columns;
        table.rows.push(row.cells);
    }
    table
}

fn reasons(rep: &Rep) -> String {
    rep.reasons.iter().filter_map(word).collect::<Vec<_>>().join(" ")
}

fn fields(row: &mut Row, rep: &Rep) {
    for field in measures::fields() {
        match field {
            Field::Number(measure) => row.measure(measure, rep),
            Field::Mark(mark) => {
                let cell = match (mark.of)(rep) {
                    Said::Words(words) => Cell::Text(words),
                    Said::Flag(flag) => Cell::Flag(flag),
                };
                row.add(mark.key, None, mark.definition, cell);
            }
        }
    }
    for measure in measures::all() {
        row.error(measure, measure.error(rep));
    }
}

/// One row: the session as a whole, and its measures over the reps.
pub(super) fn session_table(stored: &Stored) -> Table {
    let a = &stored.session.machine;
    let mut row = Row::of(stored);
    let reviewed = match stored.session.state() {
        ReviewState::SignedOff { at, .. } => Some(at),
        _ => None,
    };
    row.time("reviewed_at_utc", reviewed);
    row.text("program_version", Some(a.program_version.clone()));
    row.text("source", word(&a.source));
    row.text("clip_sha256", Some(a.clip.sha256.clone()));
    row.number("clip_duration_s", Unit::Second, Some(a.clip.duration_s));
    row.number("clip_frame_rate_hz", Unit::Hertz, Some(a.clip.frame_rate_hz));
    row.text("view", word(&a.view.kind));
    row.number("yaw_deg", Unit::Degree, a.view.yaw_deg);
    row.number("yaw_standard_error", Unit::Degree, a.view.yaw_standard_error_deg);
    row.number("toe_out_deg", Unit::Degree, a.view.toe_out_deg);
    row.text("scale_source", word(&a.scale.source));
    row.number("scale_relative_uncertainty", Unit::One, Some(a.scale.relative_uncertainty));
    row.number("stature_m", Unit::Metre, Some(a.scale.stature_m));
    row.number("seat_height_m", Unit::Metre, a.told.seat_height_m);
    totals(&mut row, &stored.session.in_force.set, "");
    totals(&mut row, &a.set, "_of_program");
    row.whole("target", Unit::Reps, a.set.target);
    row.flag("one_go", Some(a.set.one_go));
    row.whole("attempts", Unit::One, a.attempts.len());
    let summary = stored.session.summary();
    for (measure, _) in measures::compared() {
        let (key, spread) = (measure.key(), summary.measures.get(measure.key()));
        row.whole(&format!("{key}_n"), Unit::Reps, spread.map_or(0, |s| s.n));
        for (ending, value) in [
            ("mean", spread.map(|s| s.mean)),
            ("standard_deviation", spread.and_then(|s| s.standard_deviation)),
        ] {
            let cell = Cell::Number(value);
            row.add(&format!("{key}_{ending}"), Some(measure.unit), "", cell);
        }
        row.error(measure, spread.and_then(|s| s.standard_error));
    }
    Table { columns: row.columns, rows: vec![row.cells] }
}

fn totals(row: &mut Row, set: &SetSummary, of: &str) {
    for (name, value) in [
        ("reps", set.reps),
        ("clean", set.clean),
        ("faulted", set.faulted),
        ("not_judged", set.not_judged),
        ("longest_clean_run", set.longest_clean_run),
    ] {
        row.whole(&format!("{name}{of}"), Unit::Reps, value);
    }
}
