//! One row a rep, for spreadsheets.

use std::io::{self, Write};

use serde_json::Value;

use crate::assessment::Assessment;

/// Writes the reps as CSV: the fields of the JSON document in its order; lists
/// joined by spaces, unknown cells empty, outcomes of single criteria left out.
///
/// # Errors
/// What `out` gives.
pub fn write_reps(assessment: &Assessment, out: &mut dyn Write) -> io::Result<()> {
    let mut table = csv::Writer::from_writer(out);
    for (i, rep) in assessment.reps.iter().enumerate() {
        let Value::Object(fields) = serde_json::to_value(rep)? else { continue };
        let shown = || fields.iter().filter(|(name, _)| *name != "criteria");
        if i == 0 {
            table.write_record(shown().map(|(name, _)| name.as_str()))?;
        }
        table.write_record(shown().map(|(_, value)| cell(value)))?;
    }
    table.flush()
}

fn cell(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        Value::Array(items) => items.iter().map(cell).collect::<Vec<_>>().join(" "),
        other => other.to_string(),
    }
}
