//! Text in lines for a terminal: wrapped paragraphs and sections of points.

use std::fmt::Write;

use crate::shown;

/// Width text is wrapped to.
pub(super) const WIDTH: usize = 78;

/// To which side of its column a cell stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stands {
    Left,
    Right,
}

/// Space between columns.
pub(super) const GAP: &str = "  ";

/// The cells of rows, each as wide as the widest of its column; columns beyond `stands` are
/// left out.
pub(super) fn padded(rows: &[Vec<String>], stands: &[Stands]) -> Vec<Vec<String>> {
    let cell = |row: &Vec<String>, column: usize| row.get(column).cloned().unwrap_or_default();
    let widest =
        |column: usize| rows.iter().map(|row| cell(row, column).chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..stands.len()).map(widest).collect();
    let pad = |row: &Vec<String>| {
        let columns = stands.iter().zip(&widths).enumerate();
        let padded = columns.map(|(column, (stands, width))| match stands {
            Stands::Left => format!("{:<width$}", cell(row, column)),
            Stands::Right => format!("{:>width$}", cell(row, column)),
        });
        padded.collect()
    };
    rows.iter().map(pad).collect()
}

/// A table, a line a row.
pub(super) fn table(rows: &[Vec<String>], stands: &[Stands]) -> Vec<String> {
    padded(rows, stands).iter().map(|row| row.join(GAP).trim_end().to_owned()).collect()
}

/// ANSI emphasis, which carries no meaning of its own.
pub(super) fn strong(text: &str, colour: bool) -> String {
    if colour { format!("\x1b[1m{text}\x1b[0m") } else { text.to_owned() }
}

pub(super) fn section(out: &mut String, title: &str, lines: &[String]) {
    if lines.is_empty() {
        return;
    }
    let _ = writeln!(out, "\n{title}");
    for text in lines {
        let _ = writeln!(out, "{}", wrapped(text, "- "));
    }
}

/// Wraps at word ends, with a hanging indent as wide as the bullet; what would act on the
/// terminal is written out.
pub(crate) fn wrapped(text: &str, bullet: &str) -> String {
    let indent = " ".repeat(bullet.chars().count());
    let mut out = String::from(bullet);
    let mut column = indent.len();
    for word in text.split_whitespace().map(shown::line) {
        let length = word.chars().count();
        if column > indent.len() {
            if column + 1 + length > WIDTH {
                let _ = write!(out, "\n{indent}");
                column = indent.len();
            } else {
                out.push(' ');
                column += 1;
            }
        }
        out.push_str(&word);
        column += length;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lines_wrap_with_an_indent() {
        let text = wrapped(&"word ".repeat(30), "- ");
        assert!(text.lines().all(|l| l.chars().count() <= WIDTH));
        assert!(text.lines().skip(1).all(|l| l.starts_with("  word")));
    }

    #[test]
    fn nothing_in_it_acts_on_the_terminal() {
        let text = wrapped("clean\u{1b}[1A\n5 of 5\u{202e} reps", "- ");
        assert_eq!(text, "- clean\\u{1b}[1A 5 of 5\\u{202e} reps");
    }
}
