//! The two tables of an export, one row a rep and one row a session, with types and units.
//! CSV and Parquet write the same.

use jiff::Timestamp;
use serde_json::Value;

use super::codes::unit;
use super::stored::Stored;
use crate::judgement::document::{Rep, SetSummary, word};
use crate::report::measures;
use crate::report::wording::export as words;
use crate::session;
use crate::session::review::ReviewState;
use crate::session::summary::COMPARED;

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

/// Numbers of a rep that count or grade.
const WHOLE: [&str; 2] = ["knee_offset_grade", "wobble_turns"];

/// Fields of a rep that stand among the first columns, or that are told by others.
const TOLD_ELSEWHERE: [&str; 5] = ["number", "judgement", "reasons", "criteria", "standard_error"];

/// A row under construction.
#[derive(Default)]
struct Row {
    columns: Vec<Column>,
    cells: Vec<Cell>,
}

impl Row {
    fn add(&mut self, name: impl Into<String>, unit: Option<&'static str>, cell: Cell) {
        let name = name.into();
        let meaning = words::column(&name).map_or_else(|| meaning(&name), str::to_owned);
        self.columns.push(Column { name, unit, meaning });
        self.cells.push(cell);
    }

    fn text(&mut self, name: &str, value: Option<String>) {
        self.add(name, None, Cell::Text(value));
    }

    fn whole(&mut self, name: &str, unit: &'static str, value: usize) {
        self.add(name, Some(unit), Cell::Whole(i64::try_from(value).ok()));
    }

    fn number(&mut self, name: &str, value: Option<f64>) {
        let cell = match WHOLE.contains(&name) {
            true => Cell::Whole(value.map(|v| v.round() as i64)),
            false => Cell::Number(value),
        };
        self.add(name, Some(unit(name)), cell);
    }

    fn flag(&mut self, name: &str, value: Option<bool>) {
        self.add(name, None, Cell::Flag(value));
    }

    fn time(&mut self, name: &str, value: Option<Timestamp>) {
        self.add(name, None, Cell::Time(value));
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

/// What a number of a rep is, in words.
pub(super) fn meaning(name: &str) -> String {
    if let Some(of) = name.strip_suffix("_standard_error") {
        return words::standard_error(of);
    }
    measures::find(name).map_or(String::new(), |m| m.definition.to_owned())
}

/// A row a rep: verdicts of program and review, then every field of the document as it
/// stands after the review, then the standard errors.
pub(super) fn rep_table(stored: &Stored) -> Table {
    let mut table = Table::default();
    for (machine, rep) in stored.session.machine.reps.iter().zip(&stored.session.in_force.reps) {
        let mut row = Row::of(stored);
        row.whole("rep", "1", rep.number);
        row.text("verdict_of_program", word(&machine.judgement));
        row.text("verdict", word(&rep.judgement));
        row.text("reasons_of_program", Some(reasons(machine)));
        row.text("reasons", Some(reasons(rep)));
        row.flag("times_corrected", Some(machine.numbers() != rep.numbers()));
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
    let numbers = rep.numbers();
    if let Ok(Value::Object(fields)) = serde_json::to_value(rep) {
        for (name, value) in &fields {
            if TOLD_ELSEWHERE.contains(&name.as_str()) {
                continue;
            }
            match numbers.iter().find(|(number, _)| number == name) {
                Some((_, value)) => row.number(name, *value),
                None if name == "hands_used" => row.flag(name, value.as_bool()),
                None => {
                    let text = Some(session::cell(value)).filter(|_| !value.is_null());
                    row.text(name, text);
                }
            }
        }
    }
    for (name, _) in &numbers {
        let error = rep.standard_error.get(name).copied();
        row.add(format!("{name}_standard_error"), Some(unit(name)), Cell::Number(error));
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
    row.number("clip_duration_s", Some(a.clip.duration_s));
    row.number("clip_frame_rate_hz", Some(a.clip.frame_rate_hz));
    row.text("view", word(&a.view.kind));
    row.number("yaw_deg", a.view.yaw_deg);
    row.add("yaw_standard_error", Some("deg"), Cell::Number(a.view.yaw_standard_error_deg));
    row.number("toe_out_deg", a.view.toe_out_deg);
    row.text("scale_source", word(&a.scale.source));
    row.number("scale_relative_uncertainty", Some(a.scale.relative_uncertainty));
    row.number("stature_m", Some(a.scale.stature_m));
    row.number("seat_height_m", a.told.seat_height_m);
    totals(&mut row, &stored.session.in_force.set, "");
    totals(&mut row, &a.set, "_of_program");
    row.whole("target", "{reps}", a.set.target);
    row.flag("one_go", Some(a.set.one_go));
    row.whole("attempts", "1", a.attempts.len());
    let summary = stored.session.summary();
    for name in COMPARED {
        let spread = summary.measures.get(name);
        row.whole(&format!("{name}_n"), "{reps}", spread.map_or(0, |s| s.n));
        for (ending, value) in [
            ("mean", spread.map(|s| s.mean)),
            ("standard_deviation", spread.and_then(|s| s.standard_deviation)),
            ("standard_error", spread.and_then(|s| s.standard_error)),
        ] {
            row.add(format!("{name}_{ending}"), Some(unit(name)), Cell::Number(value));
        }
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
        row.whole(&format!("{name}{of}"), "{reps}", value);
    }
}
