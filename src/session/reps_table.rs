//! One row a rep, for spreadsheets.

use std::io::{self, Write};

use crate::judgement::document::{Assessment, Rep, word};
use crate::judgement::measures::{self, Field, Said};

/// Writes the reps as CSV: number, all fields in the order of the document, verdict and
/// reasons, then the standard error of each number; lists joined by spaces, unknown cells
/// empty.
///
/// # Errors
/// What `out` gives.
pub fn write_reps(assessment: &Assessment, out: &mut dyn Write) -> io::Result<()> {
    let mut table = csv::Writer::from_writer(out);
    let key = |field| match field {
        Field::Number(measure) => measure.key(),
        Field::Mark(mark) => mark.key,
    };
    let names = std::iter::once("number").chain(measures::fields().map(key));
    let names = names.chain(["judgement", "reasons"]).map(str::to_owned);
    let errors = measures::all().map(|m| format!("{}_standard_error", m.key()));
    if !assessment.reps.is_empty() {
        table.write_record(names.chain(errors))?;
    }
    for rep in &assessment.reps {
        let fields = measures::fields().map(|field| cell(field, rep));
        let reasons: Vec<String> = rep.reasons.iter().filter_map(word).collect();
        let verdict = [word(&rep.judgement).unwrap_or_default(), reasons.join(" ")];
        let errors =
            measures::all().map(|m| m.error(rep).map_or(String::new(), |error| error.to_string()));
        let row = std::iter::once(rep.number.to_string()).chain(fields).chain(verdict);
        table.write_record(row.chain(errors))?;
    }
    table.flush()
}

fn cell(field: Field, rep: &Rep) -> String {
    match field {
        Field::Number(measure) => measure.written(rep).unwrap_or_default(),
        Field::Mark(mark) => match (mark.of)(rep) {
            Said::Words(words) => words.unwrap_or_default(),
            Said::Flag(flag) => flag.map_or(String::new(), |flag| flag.to_string()),
        },
    }
}
