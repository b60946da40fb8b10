//! How to film, when not to, and when to stop: for a terminal and as a page.
//!
//! Both are made from the same words ([`words`]), so that neither says what the
//! other does not.

mod page;
mod words;

use std::fmt::Write;

use super::lines::{strong, wrapped};
use crate::references;

pub use page::guide_page;

/// The whole guide.
struct Guide {
    title: &'static str,
    opening: &'static [&'static str],
    drawings: [Drawing; 2],
    parts: &'static [Part],
    /// Heading of the sources.
    sources: &'static str,
    /// Heading of the publications.
    publications: &'static str,
}

/// A drawing of the place, made of characters and of lines.
struct Drawing {
    title: &'static str,
    /// What it shows, in words.
    alternative: &'static str,
    /// No wider than 78 characters.
    characters: &'static str,
    /// The inside of an SVG of 400 by 232.
    picture: &'static str,
}

/// Statements that belong together.
struct Part {
    title: &'static str,
    points: &'static [Point],
}

/// One statement.
struct Point {
    text: &'static str,
    /// Publications by key with what was read, or «common practice, no source».
    source: &'static str,
}

/// The guide as text for a terminal, 78 columns wide; `colour` adds ANSI
/// emphasis that carries no meaning of its own.
pub fn guide(colour: bool) -> String {
    let guide = &words::GUIDE;
    let strong = |text: &str| strong(text, colour);
    let mut out = format!("{}\n", strong(guide.title));
    for text in guide.opening {
        let _ = writeln!(out, "\n{}", wrapped(text, ""));
    }
    for drawing in &guide.drawings {
        let _ = writeln!(out, "\n{}\n{}\n", strong(drawing.title), drawing.characters);
        let _ = writeln!(out, "{}", wrapped(drawing.alternative, ""));
    }
    for part in numbered() {
        let _ = writeln!(out, "\n{}", strong(part.title));
        for (number, point) in &part.points {
            let _ = writeln!(out, "{}", wrapped(point.text, &format!("{number:>2}. ")));
        }
    }
    let _ = writeln!(out, "\n{}", strong(guide.sources));
    for (source, numbers) in sources() {
        let _ = writeln!(out, "{}", wrapped(&format!("{numbers}: {source}"), "- "));
    }
    let _ = writeln!(out, "\n{}", strong(guide.publications));
    for (key, text) in publications() {
        let _ = writeln!(out, "{}", wrapped(&format!("[{key}] {text}"), "- "));
    }
    out
}

/// A part whose statements are numbered through the guide.
struct NumberedPart {
    title: &'static str,
    points: Vec<(usize, &'static Point)>,
}

fn numbered() -> Vec<NumberedPart> {
    let mut number = 0;
    let mut count = |point| {
        number += 1;
        (number, point)
    };
    words::GUIDE
        .parts
        .iter()
        .map(|part| NumberedPart {
            title: part.title,
            points: part.points.iter().map(&mut count).collect(),
        })
        .collect()
}

/// Each source with the numbers of the statements it stands behind, in words.
fn sources() -> Vec<(&'static str, String)> {
    let mut found: Vec<(&str, Vec<usize>)> = Vec::new();
    for (number, point) in numbered().into_iter().flat_map(|part| part.points) {
        match found.iter_mut().find(|(source, _)| *source == point.source) {
            Some((_, numbers)) => numbers.push(number),
            None => found.push((point.source, vec![number])),
        }
    }
    found.into_iter().map(|(source, numbers)| (source, runs(&numbers))).collect()
}

/// «1–3, 5».
fn runs(numbers: &[usize]) -> String {
    let of = |run: &[usize]| match run {
        [first, .., last] => format!("{first}–{last}"),
        single => single.iter().map(ToString::to_string).collect(),
    };
    let words: Vec<String> = numbers.chunk_by(|a, b| a + 1 == *b).map(of).collect();
    words.join(", ")
}

/// The publications the statements rest on.
fn publications() -> Vec<(&'static str, &'static str)> {
    let points = || words::GUIDE.parts.iter().flat_map(|part| part.points);
    references::cited(|key| points().any(|p| p.source.contains(key)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Without line ends and marks, so that only the words count.
    fn words_of(text: &str) -> String {
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// What a browser shows of a page.
    fn shown(page: &str) -> String {
        let mut text = String::new();
        for part in page.split('<').skip(1) {
            let (_, after) = part.split_once('>').expect("a closed tag");
            text.push(' ');
            text.push_str(after);
        }
        words_of(&html_escape_undone(&text))
    }

    fn html_escape_undone(text: &str) -> String {
        [("&#60;", "<"), ("&#62;", ">"), ("&#39;", "'"), ("&#34;", "\""), ("&#38;", "&")]
            .iter()
            .fold(text.to_owned(), |text, (from, to)| text.replace(from, to))
    }

    #[test]
    fn terminal_and_page_say_the_same() {
        let guide_words = &words::GUIDE;
        let terminal = words_of(&guide(false));
        let page = shown(&guide_page().unwrap());
        let mut said: Vec<&str> = vec![guide_words.title, guide_words.sources];
        said.extend(guide_words.opening);
        for drawing in &guide_words.drawings {
            said.extend([drawing.title, drawing.alternative]);
        }
        for part in guide_words.parts {
            said.push(part.title);
            said.extend(part.points.iter().flat_map(|p| [p.text, p.source]));
        }
        said.extend(publications().iter().map(|(_, text)| *text));
        assert!(said.len() > 100);
        for text in said {
            let text = words_of(text);
            assert!(terminal.contains(&text), "the terminal does not say «{text}»");
            assert!(page.contains(&text), "the page does not say «{text}»");
        }
        // Nothing beyond it: the same number of statements, each with its number.
        let points: usize = guide_words.parts.iter().map(|p| p.points.len()).sum();
        assert_eq!(guide_page().unwrap().matches("<li value=").count(), points);
    }

    #[test]
    fn drawings_carry_the_same_labels_and_fit() {
        for drawing in &words::GUIDE.drawings {
            let labels: Vec<&str> = drawing
                .picture
                .split("</text>")
                .filter_map(|part| Some(part.split_once("<text")?.1.split_once('>')?.1))
                .collect();
            assert!(labels.len() >= 6);
            for label in &labels {
                assert!(drawing.characters.contains(label), "{label}");
            }
            let words = drawing.characters.split(|c: char| !c.is_alphanumeric());
            for word in words.filter(|w| w.len() > 1) {
                assert!(labels.join(" ").contains(word), "{word}");
            }
        }
        for line in guide(false).lines() {
            assert!(line.chars().count() <= 78, "{line}");
        }
    }

    #[test]
    fn every_statement_has_a_source_that_is_listed() {
        for point in words::GUIDE.parts.iter().flat_map(|p| p.points) {
            assert!(!point.source.is_empty());
            for part in point.source.split('[').skip(1) {
                let key = part.split(']').next().expect("a key");
                assert!(references::find(key).is_some(), "[{key}]");
            }
        }
        assert_eq!(runs(&[1, 2, 3, 5, 8, 9]), "1–3, 5, 8–9");
    }

    #[test]
    fn the_page_reaches_for_nothing() {
        let page = guide_page().unwrap();
        for reach in ["http:", "https:", "src=", "url(", "@import", "<script", " style=", "on="] {
            assert!(!page.contains(reach), "{reach}");
        }
        assert!(page.contains("default-src 'none'"));
    }
}
