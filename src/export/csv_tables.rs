//! Tables for a spreadsheet: a row a rep, a row a session, and what the columns mean.

use std::io;

use super::Item;
use super::columns::{Cell, Column, Table, rep_table, session_table};
use super::stored::{Stored, iso};
use crate::error::{Error, Result};
use crate::files::FolderWriter;

pub(super) fn write(items: &[Item], into: &FolderWriter) -> Result<()> {
    let mut reps = Sheet::default();
    let mut sessions = Sheet::default();
    let mut meanings = Sheet::default();
    for item in items {
        let stored = Stored::read(item)?;
        for (sheet, name, table) in [
            (&mut reps, "reps", rep_table(&stored)),
            (&mut sessions, "sessions", session_table(&stored)),
        ] {
            if sheet.bytes.is_empty() {
                explain(&mut meanings, name, &table.columns).map_err(failed)?;
            }
            sheet.add(&table).map_err(failed)?;
        }
    }
    for (name, sheet) in [("reps", reps), ("sessions", sessions), ("columns", meanings)] {
        into.write(&format!("{name}.csv"), |out| out.write_all(&sheet.bytes))?;
    }
    Ok(())
}

fn failed(source: io::Error) -> Error {
    Error::CannotWrite { path: "the table".into(), source }
}

/// A table as text.
#[derive(Default)]
struct Sheet {
    bytes: Vec<u8>,
}

impl Sheet {
    fn add(&mut self, table: &Table) -> io::Result<()> {
        let first = self.bytes.is_empty();
        let mut out = csv::Writer::from_writer(&mut self.bytes);
        if first {
            out.write_record(table.columns.iter().map(|c| &c.name))?;
        }
        for row in &table.rows {
            out.write_record(row.iter().map(text))?;
        }
        out.flush()
    }
}

/// Appends what each column means.
fn explain(sheet: &mut Sheet, table: &str, columns: &[Column]) -> io::Result<()> {
    let first = sheet.bytes.is_empty();
    let mut out = csv::Writer::from_writer(&mut sheet.bytes);
    if first {
        out.write_record(["table", "column", "unit_ucum", "meaning"])?;
    }
    for column in columns {
        let Column { name, unit, meaning, .. } = column;
        out.write_record([table, name, unit.unwrap_or(""), meaning])?;
    }
    out.flush()
}

fn text(cell: &Cell) -> String {
    match cell {
        Cell::Text(value) => value.clone().unwrap_or_default(),
        Cell::Whole(value) => value.map_or(String::new(), |v| v.to_string()),
        Cell::Number(value) => value.map_or(String::new(), |v| v.to_string()),
        Cell::Flag(value) => value.map_or(String::new(), |v| v.to_string()),
        Cell::Time(value) => value.map_or(String::new(), iso),
    }
}
