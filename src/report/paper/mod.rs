//! The report on paper: A4, for print, reading aloud and archive
//! (PDF/A-2a, ISO 19005-2; PDF/UA-1, ISO 14289-1).
//!
//! The typesetter runs inside this program. It gets a fixed template and the
//! content as data, never text pasted into the template; it sees no file, no
//! font and no network beside.

mod desk;

use serde_json::Value;

use super::content::Content;
use super::leaflet::Leaflet;
use super::sheet::{Day, Sheet, picture_file};
use super::wording::headings::{KEYWORDS, LEAFLET, WORDS};
use crate::error::{Error, Result};
use crate::shown;

/// What all papers have in common.
const HOUSE: &str = include_str!("house.typ");
const SHORT: &str = include_str!("leaflet.typ");
const TEMPLATE: &str = include_str!("paper.typ");

/// Sets the content as a PDF file.
///
/// # Errors
/// [`Error::Paper`] with what the typesetter complains of.
pub fn paper(content: &Content) -> Result<Vec<u8>> {
    let data = serde_json::to_value(Sheet::of(content)).map_err(failed)?;
    let pictures = content.figures.pictures.iter().enumerate();
    let pictures = pictures.map(|(number, p)| (picture_file(number), p.jpeg.clone()));
    set(TEMPLATE, data, pictures.collect())
}

/// Sets a short report as a PDF file.
///
/// # Errors
/// [`Error::Paper`] with what the typesetter complains of.
pub fn leaflet_paper(it: &Leaflet) -> Result<Vec<u8>> {
    let data = serde_json::json!({
        "words": WORDS,
        "own": LEAFLET,
        "keywords": KEYWORDS,
        "title": it.title,
        "about": it.about,
        "date": Day::of(it.date),
        "day": it.date.strftime("%-d %B %Y").to_string(),
        "headline": it.headline,
        "facts": it.facts,
        "reviewed": it.reviewed,
        "sections": serde_json::to_value(&it.sections).map_err(failed)?,
        "notes": it.notes,
        "cautions": it.cautions,
        "sources": it.sources,
    });
    set(SHORT, data, Vec::new())
}

/// Sets a template with its data and pictures.
fn set(template: &str, mut data: Value, mut files: Vec<(String, Vec<u8>)>) -> Result<Vec<u8>> {
    printable(&mut data);
    files.push(("content.json".into(), serde_json::to_vec(&data).map_err(failed)?));
    files.push(("house.typ".into(), HOUSE.into()));
    desk::typeset(template, files).map_err(Error::Paper)
}

fn failed(error: serde_json::Error) -> Error {
    Error::Paper(error.to_string())
}

/// Makes text safe to show, but for drawings, which are ours. Puts a question mark in place
/// of every sign that the typeface lacks (a file may be named in any script), for an
/// archive must not hold empty boxes.
fn printable(value: &mut Value) {
    match value {
        Value::String(text) => *text = with_glyphs(&shown::line(text)),
        Value::Array(values) => values.iter_mut().for_each(printable),
        Value::Object(fields) => {
            for (name, value) in fields {
                match value {
                    Value::String(drawing) if name == "svg" => *drawing = with_glyphs(drawing),
                    _ => printable(value),
                }
            }
        }
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

fn with_glyphs(text: &str) -> String {
    let kept = |c: char| if c == '\n' || desk::has_glyph(c) { c } else { '?' };
    text.chars().map(kept).collect()
}
