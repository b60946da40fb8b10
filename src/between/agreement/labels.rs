//! A clinician's own labels of a set, rep by rep, from a table.
//!
//! One row a rep. Columns, in any order: `rep`, `start_s` and `end_s`, or
//! `at_s`; `judgement`; a column a reason or one column `reasons`; any number
//! of a rep in the document; `note`, which is not read. An empty cell means
//! that the clinician did not say.

use std::path::Path;

use strsim::levenshtein;

use crate::error::{Error, Result};
use crate::files;
use crate::judgement::document::{Reason, Rep, Verdict};
use crate::judgement::measures::{self, Measure};

/// Reasons a clinician can see, with their columns.
pub const REASONS: [(&str, Reason); 6] = [
    ("knee_inward", Reason::KneeInward),
    ("drop", Reason::Drop),
    ("incomplete_stand", Reason::IncompleteStand),
    ("free_foot_down", Reason::FreeFootDown),
    ("hands_used", Reason::HandsUsed),
    ("foot_moved", Reason::FootMoved),
];

/// When a rep was, seconds from the clip's first frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum When {
    /// From and to.
    Span(f64, f64),
    /// A moment inside it.
    Moment(f64),
}

/// One rep as the clinician saw it.
#[derive(Debug, Clone, PartialEq)]
pub struct Label {
    /// Line of the file, the first being 1.
    pub line: usize,
    /// Number of the rep, if given.
    pub rep: Option<usize>,
    /// When, if given.
    pub when: Option<When>,
    /// Verdict, if given.
    pub judgement: Option<Verdict>,
    /// Yes or no to each of [`REASONS`], if given.
    pub reasons: [Option<bool>; REASONS.len()],
    /// One value for each of [`Labels::numbers`], if given.
    pub numbers: Vec<Option<f64>>,
}

/// A table of labels.
#[derive(Debug, Clone, PartialEq)]
pub struct Labels {
    /// What the numbers measure.
    pub numbers: Vec<&'static Measure>,
    /// Rows in the order of the file.
    pub rows: Vec<Label>,
}

/// Reads a table of labels.
///
/// # Errors
/// [`Error::Labels`] with line and reason, and those of reading a file.
pub fn read(path: &Path) -> Result<Labels> {
    let refuse = |why: String| Error::Labels { path: path.into(), why };
    if !files::is_file(path) {
        let why = if files::exists(path) { "it is no file" } else { "it does not exist" };
        return Err(refuse(why.into()));
    }
    parse(&files::read_bytes(path)?).map_err(refuse)
}

/// Lines to fill in: a row a rep, its times given, all else empty.
pub fn template(reps: &[Rep]) -> String {
    let names: Vec<&str> = REASONS.iter().map(|(name, _)| *name).collect();
    let mut text = format!("rep,start_s,end_s,judgement,{},note\n", names.join(","));
    for rep in reps {
        let (start, end) = match rep.span_s() {
            Some((start, end)) => (format!("{start:.2}"), format!("{end:.2}")),
            None => (String::new(), String::new()),
        };
        let empty = ",".repeat(names.len() + 2);
        text.push_str(&format!("{},{start},{end}{empty}\n", rep.number));
    }
    text
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Column {
    Rep,
    Start,
    End,
    At,
    Judgement,
    Reasons,
    Reason(usize),
    Number(usize),
    Note,
}

/// Columns that are neither reason nor number.
const FIXED: [(&str, Column); 7] = [
    ("rep", Column::Rep),
    ("start_s", Column::Start),
    ("end_s", Column::End),
    ("at_s", Column::At),
    ("judgement", Column::Judgement),
    ("reasons", Column::Reasons),
    ("note", Column::Note),
];

fn parse(bytes: &[u8]) -> Result<Labels, String> {
    let text = std::str::from_utf8(bytes)
        .map_err(|_| "it is not UTF-8 text; save it as «CSV UTF-8»".to_owned())?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let Some(heading) = text.lines().find(|line| !line.trim().is_empty()) else {
        return Err("it is empty".into());
    };
    // A heading needs neither, so the first found there is the separator.
    let separator = [';', '\t'].into_iter().find(|s| heading.contains(*s)).unwrap_or(',');
    let mut table = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .delimiter(separator as u8)
        .from_reader(text.as_bytes());
    let mut columns: Vec<Column> = Vec::new();
    let mut numbers: Vec<&'static Measure> = Vec::new();
    let mut rows: Vec<Label> = Vec::new();
    for record in table.records() {
        let record = record.map_err(|e| e.to_string())?;
        let line = record.position().map_or(0, |p| line_at(text, p.byte()));
        if record.iter().all(str::is_empty) {
            continue;
        }
        let at_line = |why: String| format!("line {line}: {why}");
        if columns.is_empty() {
            (columns, numbers) = heading_of(&record).map_err(at_line)?;
            continue;
        }
        if record.len() != columns.len() {
            let comma = if separator == ',' {
                "; a decimal comma needs a file separated by semicolons"
            } else {
                ""
            };
            return Err(at_line(format!(
                "it has {} cells, the heading {}{comma}",
                record.len(),
                columns.len()
            )));
        }
        let label = row_of(&record, line, &columns, &numbers, separator != ',').map_err(at_line)?;
        rows.push(label);
    }
    if rows.is_empty() {
        return Err("it has a heading and no row".into());
    }
    for (i, row) in rows.iter().enumerate() {
        let twin = rows[..i].iter().find(|r| r.rep.is_some() && r.rep == row.rep);
        if let (Some(twin), Some(rep)) = (twin, row.rep) {
            return Err(format!("line {}: rep {rep} is already in line {}", row.line, twin.line));
        }
    }
    let said = |row: &Label| {
        row.judgement.is_some()
            || row.reasons.iter().any(Option::is_some)
            || row.numbers.iter().any(Option::is_some)
    };
    if !rows.iter().any(said) {
        return Err("no row says anything: judgement, reasons and numbers are all empty".into());
    }
    Ok(Labels { numbers, rows })
}

/// The line that holds the byte of that position, the first being 1; empty
/// lines before a record belong to its position, not to its line.
fn line_at(text: &str, byte: u64) -> usize {
    let start = usize::try_from(byte).unwrap_or(usize::MAX).min(text.len());
    let rest = text.as_bytes().get(start..).unwrap_or_default();
    let blank = rest.iter().take_while(|b| b.is_ascii_whitespace()).filter(|b| **b == b'\n');
    let before = text.as_bytes().get(..start).unwrap_or_default();
    1 + before.iter().filter(|b| **b == b'\n').count() + blank.count()
}

fn heading_of(record: &csv::StringRecord) -> Result<(Vec<Column>, Vec<&'static Measure>), String> {
    let mut columns = Vec::new();
    let mut numbers = Vec::new();
    let mut seen: Vec<String> = Vec::new();
    for cell in record {
        let name = cell.to_lowercase().replace(' ', "_");
        if seen.contains(&name) {
            return Err(format!("column «{cell}» is there twice"));
        }
        let fixed = FIXED.iter().find(|(n, _)| *n == name).map(|(_, column)| *column);
        let reason = || REASONS.iter().position(|(n, _)| *n == name).map(Column::Reason);
        columns.push(match (fixed.or_else(reason), measures::called(&name)) {
            (Some(column), _) => column,
            (None, Some(measure)) => {
                numbers.push(measure);
                Column::Number(numbers.len() - 1)
            }
            (None, None) => return Err(unknown(cell, &name)),
        });
        seen.push(name);
    }
    let has = |column| columns.contains(&column);
    if has(Column::Start) != has(Column::End) {
        return Err("start_s and end_s go together".into());
    }
    if has(Column::At) && has(Column::Start) {
        return Err("give start_s and end_s, or at_s, not both".into());
    }
    if !(has(Column::Rep) || has(Column::At) || has(Column::Start)) {
        return Err("no column tells which rep: rep, start_s and end_s, or at_s".into());
    }
    if has(Column::Reasons) && columns.iter().any(|c| matches!(c, Column::Reason(_))) {
        return Err("give one column 'reasons' or a column for each, not both".into());
    }
    Ok((columns, numbers))
}

/// An unknown column, with the names most like it.
fn unknown(cell: &str, name: &str) -> String {
    if cell.is_empty() {
        return "a column has no name".into();
    }
    let fixed = FIXED.iter().map(|(n, _)| *n).chain(REASONS.iter().map(|(n, _)| *n));
    let mut names: Vec<&str> = fixed.chain(measures::all().map(Measure::key)).collect();
    // A name that begins alike counts as near, however much follows.
    names.sort_by_key(|n| (!n.starts_with(name), levenshtein(name, n)));
    names.truncate(3);
    format!("there is no column «{cell}»; nearest: {}", names.join(", "))
}

fn row_of(
    record: &csv::StringRecord,
    line: usize,
    columns: &[Column],
    measures: &[&Measure],
    decimal_comma: bool,
) -> Result<Label, String> {
    let mut label = Label {
        line,
        rep: None,
        when: None,
        judgement: None,
        reasons: [None; REASONS.len()],
        numbers: vec![None; measures.len()],
    };
    let (mut start, mut end, mut at) = (None, None, None);
    let mut listed = None;
    for (column, cell) in columns.iter().zip(record) {
        if cell.is_empty() {
            continue;
        }
        let number_in =
            |name: &str| number(cell, decimal_comma).map_err(|e| format!("{name}: {e}"));
        match *column {
            Column::Rep => {
                let rep = cell.parse().ok().filter(|n| *n > 0);
                label.rep =
                    Some(rep.ok_or_else(|| format!("rep: «{cell}» is not a rep's number"))?);
            }
            Column::Start => start = Some(number_in("start_s")?),
            Column::End => end = Some(number_in("end_s")?),
            Column::At => at = Some(number_in("at_s")?),
            Column::Judgement => label.judgement = Some(judgement(cell)?),
            Column::Reasons => listed = Some(reasons(cell)?),
            Column::Reason(i) => {
                let name = REASONS[i].0;
                label.reasons[i] = Some(yes_or_no(cell).map_err(|e| format!("{name}: {e}"))?);
            }
            Column::Number(i) => label.numbers[i] = Some(number_in(measures[i].key())?),
            Column::Note => {}
        }
    }
    label.when = match (start, end, at) {
        (Some(start), Some(end), _) if start < end => Some(When::Span(start, end)),
        (Some(_), Some(_), _) => return Err("start_s is not before end_s".into()),
        (None, None, at) => at.map(When::Moment),
        _ => return Err("start_s and end_s go together".into()),
    };
    if label.when.is_none() && label.rep.is_none() {
        return Err("it does not tell which rep: give its times or its number".into());
    }
    // A list is complete: what is not in it was not seen. A clean rep has none.
    let lists = columns.contains(&Column::Reasons);
    if lists && listed.is_none() && label.judgement == Some(Verdict::Clean) {
        listed = Some([false; REASONS.len()]);
    }
    if let Some(listed) = listed {
        label.reasons = listed.map(Some);
    }
    Ok(label)
}

fn number(cell: &str, decimal_comma: bool) -> Result<f64, String> {
    let text = if decimal_comma { cell.replace(',', ".") } else { cell.to_owned() };
    // The minus of a word processor is one too.
    let value: Option<f64> = text.replace('\u{2212}', "-").parse().ok();
    value.filter(|v| v.is_finite()).ok_or_else(|| {
        let comma = if !decimal_comma && cell.contains(',') {
            "; a decimal comma needs a file separated by semicolons"
        } else {
            ""
        };
        format!("«{cell}» is not a number{comma}")
    })
}

fn judgement(cell: &str) -> Result<Verdict, String> {
    match cell.to_lowercase().replace(' ', "_").as_str() {
        "clean" => Ok(Verdict::Clean),
        "faulted" | "fault" => Ok(Verdict::Faulted),
        "not_judged" => Ok(Verdict::NotJudged),
        _ => Err(format!("judgement: «{cell}» is none of clean, faulted, not_judged")),
    }
}

fn yes_or_no(cell: &str) -> Result<bool, String> {
    match cell.to_lowercase().as_str() {
        "1" | "yes" | "true" => Ok(true),
        "0" | "no" | "false" => Ok(false),
        _ => Err(format!("«{cell}» is neither 1 nor 0")),
    }
}

fn reasons(cell: &str) -> Result<[bool; REASONS.len()], String> {
    let mut said = [false; REASONS.len()];
    let words = cell.split(|c: char| c.is_whitespace() || c == ';' || c == ',');
    for word in words.filter(|w| !w.is_empty()) {
        let name = word.to_lowercase();
        match REASONS.iter().position(|(n, _)| *n == name) {
            Some(i) => said[i] = true,
            None if name == "none" => {}
            None => {
                let names: Vec<&str> = REASONS.iter().map(|(n, _)| *n).collect();
                return Err(format!("reasons: «{word}» is none of {}, none", names.join(", ")));
            }
        }
    }
    Ok(said)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parsed(text: &str) -> Result<Labels, String> {
        parse(text.as_bytes())
    }

    #[test]
    fn separators_marks_and_decimal_commas_do_not_matter() {
        let comma = "rep,judgement,drop,descent_s\n1,clean,0,1.5\n2,faulted,,-0.25\n";
        let plain = parsed(comma).unwrap();
        let semicolon =
            "\u{feff}Rep; judgement ;DROP;descent_s\r\n1;Clean;0;1,5\r\n2;faulted;;−0,25";
        assert_eq!(parsed(semicolon).unwrap(), plain);
        assert_eq!(parsed(&comma.replace(',', "\t")).unwrap(), plain);
        assert_eq!(plain.rows[0].reasons[1], Some(false));
        assert_eq!(plain.rows[1].reasons[1], None);
        assert_eq!(plain.rows[1].numbers, [Some(-0.25)]);
    }

    #[test]
    fn a_list_of_reasons_is_complete() {
        let table = "at_s;judgement;reasons\n3;clean;\n9;faulted;drop, knee_inward\n15;faulted;\n";
        let rows = parsed(table).unwrap().rows;
        assert_eq!(rows[0].reasons, [Some(false); 6]);
        let two = [true, true, false, false, false, false].map(Some);
        assert_eq!(rows[1].reasons, two);
        assert_eq!(rows[2].reasons, [None; 6], "faulted, and why was not said");
    }

    #[test]
    fn what_is_wrong_is_said_with_its_line() {
        for (table, says) in [
            ("", "it is empty"),
            ("\n \n", "it is empty"),
            ("rep,drop\n", "no row"),
            ("rep,drop\n1,\n", "no row says anything"),
            (
                "rep,knee_inwards\n1,1\n",
                "line 1: there is no column «knee_inwards»; nearest: knee_inward,",
            ),
            ("rep,knee_offset\n1,1\n", "nearest: knee_offset_grade, knee_offset_peak_cm"),
            ("rep,drop,drop\n1,1,1\n", "twice"),
            ("drop\n1\n", "no column tells which rep"),
            ("start_s,drop\n1,1\n", "start_s and end_s go together"),
            ("start_s,end_s,drop\n2,1,1\n", "line 2: start_s is not before end_s"),
            ("start_s,end_s,drop\n1,2,1\n\n3,,1\n", "line 4: start_s and end_s go together"),
            ("rep,drop\n1,1\n1,0\n", "line 3: rep 1 is already in line 2"),
            ("rep,drop\n0,1\n", "«0» is not a rep's number"),
            ("rep,drop\n1,maybe\n", "line 2: drop: «maybe» is neither 1 nor 0"),
            ("rep,judgement\n1,good\n", "«good» is none of clean, faulted, not_judged"),
            ("rep,reasons\n1,fell\n", "«fell» is none of knee_inward"),
            ("rep,reasons,drop\n1,none,1\n", "not both"),
            ("rep,descent_s\n1,1,5\n", "line 2: it has 3 cells, the heading 2; a decimal comma"),
            ("rep,descent_s\n1,\"1,5\"\n", "«1,5» is not a number; a decimal comma"),
            ("rep,descent_s\n1,inf\n", "«inf» is not a number"),
            ("rep;descent_s\n1\n", "line 2: it has 1 cells"),
            ("at_s,rep,drop\n,,1\n", "line 2: it does not tell which rep"),
        ] {
            let error = parsed(table).unwrap_err();
            assert!(error.contains(says), "«{says}» is not in «{error}»");
        }
        assert!(parse(b"rep,note\n1,M\xfcller\n").unwrap_err().contains("UTF-8"));
    }
}
