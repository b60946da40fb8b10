//! The report on paper: A4, for print, reading aloud and archive
//! (PDF/A-2a, ISO 19005-2; PDF/UA-1, ISO 14289-1).
//!
//! The typesetter runs inside this program. It gets a fixed template and the
//! content as data, never text pasted into the template; it sees no file, no
//! font and no network beside.

mod desk;

use serde_json::Value;

use super::content::Content;
use super::sheet::{Sheet, picture_file};
use crate::error::{Error, Result};

const TEMPLATE: &str = include_str!("paper.typ");

/// Sets the content as a PDF file.
///
/// # Errors
/// [`Error::Paper`] with what the typesetter complains of.
pub fn paper(content: &Content) -> Result<Vec<u8>> {
    let failed = |e: serde_json::Error| Error::Paper(e.to_string());
    let mut data = serde_json::to_value(Sheet::of(content)).map_err(failed)?;
    printable(&mut data);
    let data = serde_json::to_vec(&data).map_err(failed)?;
    let mut files = vec![("content.json".to_owned(), data)];
    for (number, picture) in content.figures.pictures.iter().enumerate() {
        files.push((picture_file(number), picture.jpeg.clone()));
    }
    desk::typeset(TEMPLATE, files).map_err(Error::Paper)
}

/// Puts a question mark in place of every sign that the typeface lacks (a file
/// may be named in any script), for an archive must not hold empty boxes.
fn printable(value: &mut Value) {
    match value {
        Value::String(text) => {
            let kept = |c: char| c == '\n' || desk::has_glyph(c);
            if !text.chars().all(kept) {
                *text = text.chars().map(|c| if kept(c) { c } else { '?' }).collect();
            }
        }
        Value::Array(values) => values.iter_mut().for_each(printable),
        Value::Object(fields) => fields.values_mut().for_each(printable),
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}
