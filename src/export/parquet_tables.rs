//! The same tables for statistics: typed columns in files that are read as one table, the
//! person in the folder's name (the partition scheme of Hive: `person=CODE`).

use std::sync::Arc;

use parquet::basic::{ConvertedType, LogicalType, Repetition, TimeUnit, Type as Physical};
use parquet::column::writer::ColumnWriter;
use parquet::data_type::ByteArray;
use parquet::errors::{ParquetError, Result as Written};
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::{Type, TypePtr};

use super::columns::{Cell, PERSON, Table, rep_table, session_table};
use super::stored::Stored;
use crate::error::{Error, Remedy, Result};
use crate::files::FolderWriter;

/// The value of a partition that stands for «unknown».
const NOBODY: &str = "__HIVE_DEFAULT_PARTITION__";

pub(super) fn write(session: &Stored, into: &FolderWriter) -> Result<()> {
    let (person, id) = (session.person().unwrap_or(NOBODY), session.id());
    for (name, table) in [("reps", rep_table(session)), ("sessions", session_table(session))] {
        let place = format!("{name}/{PERSON}={person}/{id}.parquet");
        let bytes = file(name, with_code(table), &session.session.machine.program_version);
        let bytes = bytes.map_err(|e| Error::NotExported {
            what: format!("'{place}' cannot be made ({e})"),
            remedy: Remedy::Report,
        })?;
        into.write(&place, |out| out.write_all(&bytes))?;
    }
    Ok(())
}

/// The column that names the person in the file itself: readers guess the kind of what a
/// folder's name says, so that «007» there may become 7.
const CODE: &str = "person_code";

fn with_code(mut table: Table) -> Table {
    for column in table.columns.iter_mut().filter(|column| column.name == PERSON) {
        column.name = CODE.into();
    }
    table
}

fn file(name: &str, table: Table, version: &str) -> Written<Vec<u8>> {
    let first = table.rows.first().map_or(&[][..], Vec::as_slice);
    let columns = table.columns.iter().zip(first);
    let fields = columns.map(|(column, cell)| field(&column.name, cell)).collect::<Written<_>>()?;
    let schema = Arc::new(Type::group_type_builder(name).with_fields(fields).build()?);
    let mut facts = vec![
        KeyValue::new("plumbrise.table".to_owned(), name.to_owned()),
        KeyValue::new("plumbrise.program_version".to_owned(), version.to_owned()),
        KeyValue::new("plumbrise.times".to_owned(), "UTC".to_owned()),
    ];
    facts.extend(table.columns.iter().filter_map(|column| {
        Some(KeyValue::new(format!("unit.{}", column.name), column.unit?.to_owned()))
    }));
    let properties = WriterProperties::builder()
        .set_created_by(format!("plumbrise {}", env!("CARGO_PKG_VERSION")))
        .set_key_value_metadata(Some(facts))
        .build();
    let mut bytes = Vec::new();
    let mut file = SerializedFileWriter::new(&mut bytes, schema, Arc::new(properties))?;
    let mut group = file.next_row_group()?;
    let mut at = 0;
    while let Some(mut column) = group.next_column()? {
        let cells: Vec<&Cell> = table.rows.iter().filter_map(|row| row.get(at)).collect();
        fill(column.untyped(), &cells)?;
        column.close()?;
        at += 1;
    }
    group.close()?;
    file.close()?;
    Ok(bytes)
}

fn field(name: &str, cell: &Cell) -> Written<TypePtr> {
    let (physical, logical) = match cell {
        Cell::Text(_) => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
        Cell::Whole(_) => (Physical::INT64, None),
        Cell::Number(_) => (Physical::DOUBLE, None),
        Cell::Flag(_) => (Physical::BOOLEAN, None),
        Cell::Time(_) => (Physical::INT64, Some(LogicalType::timestamp(true, TimeUnit::MICROS))),
    };
    let field = Type::primitive_type_builder(name, physical)
        .with_repetition(Repetition::OPTIONAL)
        .with_converted_type(ConvertedType::NONE)
        .with_logical_type(logical);
    Ok(Arc::new(field.build()?))
}

/// Writes a column: the known values, and for each row whether it has one.
fn fill(column: &mut ColumnWriter, cells: &[&Cell]) -> Written<()> {
    let known: Vec<i16> = cells.iter().map(|cell| i16::from(is_known(cell))).collect();
    let known = Some(known.as_slice());
    match column {
        ColumnWriter::ByteArrayColumnWriter(out) => {
            let values: Vec<ByteArray> = cells
                .iter()
                .filter_map(|cell| match cell {
                    Cell::Text(value) => value.as_deref().map(ByteArray::from),
                    _ => None,
                })
                .collect();
            out.write_batch(&values, known, None)?;
        }
        ColumnWriter::Int64ColumnWriter(out) => {
            let values: Vec<i64> = cells
                .iter()
                .filter_map(|cell| match cell {
                    Cell::Whole(value) => *value,
                    Cell::Time(value) => value.map(|at| at.as_microsecond()),
                    _ => None,
                })
                .collect();
            out.write_batch(&values, known, None)?;
        }
        ColumnWriter::DoubleColumnWriter(out) => {
            let values: Vec<f64> = cells
                .iter()
                .filter_map(|cell| match cell {
                    Cell::Number(value) => *value,
                    _ => None,
                })
                .collect();
            out.write_batch(&values, known, None)?;
        }
        ColumnWriter::BoolColumnWriter(out) => {
            let values: Vec<bool> = cells
                .iter()
                .filter_map(|cell| match cell {
                    Cell::Flag(value) => *value,
                    _ => None,
                })
                .collect();
            out.write_batch(&values, known, None)?;
        }
        _ => return Err(ParquetError::General("a column of a kind that no cell has".into())),
    }
    Ok(())
}

fn is_known(cell: &Cell) -> bool {
    match cell {
        Cell::Text(value) => value.is_some(),
        Cell::Whole(value) => value.is_some(),
        Cell::Number(value) => value.is_some(),
        Cell::Flag(value) => value.is_some(),
        Cell::Time(value) => value.is_some(),
    }
}
