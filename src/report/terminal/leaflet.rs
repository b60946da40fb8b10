//! A short report for a terminal.

use crate::report::leaflet::{Leaflet, Part, Table};
use crate::report::lines::{GAP, Stands, WIDTH, padded, section, strong, wrapped};
use crate::report::wording::headings::{LEAFLET, WORDS};
use crate::shown;

/// The report as text of at most 78 columns; `colour` adds emphasis without a meaning of its
/// own.
pub fn leaflet(it: &Leaflet, colour: bool) -> String {
    let strong = |text: &str| strong(text, colour);
    let mut out = String::new();
    let mut line = |text: &str| {
        if text.is_empty() && out.ends_with("\n\n") {
            return;
        }
        out.push_str(text);
        out.push('\n');
    };
    for text in wrapped(&it.headline, "").lines() {
        line(&strong(text));
    }
    line("");
    for (label, value) in &it.facts {
        line(&wrapped(value, &format!("{label}: ")));
    }
    line(&wrapped(&it.reviewed, ""));
    for section in it.sections.iter().filter(|s| s.is_drawn_in_plain()) {
        line("");
        line(&strong(&section.title));
        for (at, part) in section.parts.iter().enumerate() {
            match part {
                Part::Paragraph(text) => line(&wrapped(text, "")),
                Part::Points(texts) => texts.iter().for_each(|text| line(&wrapped(text, "- "))),
                Part::Table(table) => {
                    if at > 0 {
                        line("");
                    }
                    lines_of(table).iter().for_each(|text| line(text));
                    line("");
                }
                Part::Figures(figures) => {
                    for figure in figures.iter().filter(|f| !f.plain.is_empty()) {
                        line("");
                        figure.plain.iter().for_each(|text| line(text));
                    }
                }
            }
        }
    }
    out.truncate(out.trim_end().len());
    out.push('\n');
    section(&mut out, &strong(LEAFLET.notes), &it.notes);
    section(&mut out, &strong(WORDS.cautions), &it.cautions);
    out
}

/// A table; a last column of words takes what room is left, in as many lines as it needs.
fn lines_of(table: &Table) -> Vec<String> {
    // A cell may hold the name of a folder.
    let shown = |row: &Vec<String>| row.iter().map(|cell| shown::line(cell)).collect();
    let rows: Vec<Vec<String>> =
        std::iter::once(&table.head).chain(&table.rows).map(shown).collect();
    let columns = table.head.len();
    let last = if table.ends_in_words { columns.saturating_sub(1) } else { columns };
    // What a row is about stands left, its numbers right.
    let stands: Vec<Stands> =
        (0..last).map(|at| if at == 0 { Stands::Left } else { Stands::Right }).collect();
    let padded = padded(&rows, &stands);
    rows.iter()
        .zip(padded)
        .flat_map(|(row, padded)| {
            let text: String = padded.iter().map(|cell| format!("{cell}{GAP}")).collect();
            let before = text.chars().count();
            if last == columns {
                return vec![text.trim_end().to_owned()];
            }
            // A table too wide for its last column puts that below.
            let (indent, start) = match before + 12 > WIDTH {
                true => (4, text.trim_end().to_owned() + "\n    "),
                false => (before, text),
            };
            let cell = row.get(last).map_or("", String::as_str);
            let bullet = " ".repeat(indent);
            let body = wrapped(cell, &bullet);
            let body = body.strip_prefix(&bullet).unwrap_or(&body);
            (start + body).lines().map(|l| l.trim_end().to_owned()).collect::<Vec<_>>()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_fits_the_terminal_and_keeps_every_word() {
        let words = "one two three four five six seven eight nine ten eleven twelve thirteen";
        let row = |first: &str| vec![first.into(), "3.9 ±1.2".into(), words.into()];
        let table = Table {
            name: "t".into(),
            head: ["", "Value", "What"].map(String::from).to_vec(),
            ends_in_words: true,
            rows: vec![row("Knee inward, cm"), row("Longest clean run of the whole set")],
        };
        let lines = lines_of(&table);
        assert!(lines.iter().all(|l| l.chars().count() <= WIDTH), "{lines:#?}");
        assert_eq!(lines.join(" ").matches("thirteen").count(), 2);
        assert!(lines[1].starts_with("Knee inward, cm"));
        let rows = vec![vec!["a".into(), "7".into()], vec!["b".into(), "12".into()]];
        let head = vec![String::new(), "n".into()];
        let table = Table { name: "t".into(), head, rows, ends_in_words: false };
        assert_eq!(lines_of(&table), ["    n", "a   7", "b  12"]);
    }
}
