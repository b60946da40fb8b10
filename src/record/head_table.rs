//! Heads as a plain CSV table: one row a sighting.

use std::io::{self, Read, Write};
use std::path::Path;

use nalgebra::Point2;

use crate::error::{Error, Result};
use crate::record::landmarks::Head;

const COLUMNS: [&str; 5] = ["person", "time_s", "u_px", "v_px", "radius_px"];

/// Writes the table.
///
/// # Errors
/// What `out` gives.
pub fn write_heads(heads: &[Head], out: &mut dyn Write) -> io::Result<()> {
    let mut table = csv::Writer::from_writer(out);
    table.write_record(COLUMNS)?;
    for head in heads {
        table.write_record([
            head.person.to_string(),
            format!("{:.6}", head.time_s),
            format!("{:.1}", head.centre_px.x),
            format!("{:.1}", head.centre_px.y),
            format!("{:.1}", head.radius_px),
        ])?;
    }
    table.flush()
}

/// Reads the table back.
///
/// # Errors
/// [`Error::Session`] with the row, naming `path`.
pub fn read_heads(input: impl Read, path: &Path) -> Result<Vec<Head>> {
    let bad = |why: String| Error::Session { path: path.into(), why };
    let mut table = csv::Reader::from_reader(input);
    let mut heads = Vec::new();
    for (i, record) in table.records().enumerate() {
        let record = record.map_err(|e| bad(e.to_string()))?;
        heads.push(parse(&record).ok_or_else(|| bad(format!("row {} is damaged", i + 2)))?);
    }
    Ok(heads)
}

fn parse(record: &csv::StringRecord) -> Option<Head> {
    let number = |i: usize| -> Option<f64> {
        let value: f64 = record.get(i)?.parse().ok()?;
        value.is_finite().then_some(value)
    };
    Some(Head {
        person: record.get(0)?.parse().ok()?,
        time_s: number(1)?,
        centre_px: Point2::new(number(2)?, number(3)?),
        radius_px: number(4)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_written_table_reads_back_and_a_damaged_one_is_refused() {
        let head =
            Head { person: 1, time_s: 0.2, centre_px: Point2::new(3.5, -1.0), radius_px: 60.5 };
        let mut bytes = Vec::new();
        write_heads(&[head], &mut bytes).unwrap();
        assert_eq!(read_heads(bytes.as_slice(), Path::new("x")).unwrap(), [head]);
        let damaged = String::from_utf8(bytes).unwrap().replace("60.5", "wide");
        let error = read_heads(damaged.as_bytes(), Path::new("x")).unwrap_err();
        assert!(error.to_string().contains("row 2"), "{error}");
    }
}
