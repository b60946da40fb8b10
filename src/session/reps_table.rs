//! One row a rep, for spreadsheets.

use std::io::{self, Write};

use serde_json::Value;

use crate::judgement::document::Assessment;

/// Writes the reps as CSV: the fields of the JSON document in its order, then the
/// standard error of each number; lists joined by spaces, unknown cells empty,
/// outcomes of single criteria left out.
///
/// # Errors
/// What `out` gives.
pub fn write_reps(assessment: &Assessment, out: &mut dyn Write) -> io::Result<()> {
    let mut table = csv::Writer::from_writer(out);
    for (i, rep) in assessment.reps.iter().enumerate() {
        let Value::Object(fields) = serde_json::to_value(rep)? else { continue };
        let nested = ["criteria", "standard_error"];
        let shown = || fields.iter().filter(|(name, _)| !nested.contains(&name.as_str()));
        let numbers = rep.numbers();
        if i == 0 {
            let errors = numbers.iter().map(|(name, _)| format!("{name}_standard_error"));
            table.write_record(shown().map(|(name, _)| name.clone()).chain(errors))?;
        }
        let errors = numbers
            .iter()
            .map(|(name, _)| rep.standard_error.get(name).map_or(String::new(), f64::to_string));
        table.write_record(shown().map(|(_, value)| cell(value)).chain(errors))?;
    }
    table.flush()
}

/// A value of the document in a cell; lists joined by spaces, unknown empty.
pub(crate) fn cell(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        Value::Array(items) => items.iter().map(cell).collect::<Vec<_>>().join(" "),
        other => other.to_string(),
    }
}
