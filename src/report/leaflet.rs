//! What a short report says, before it becomes text, a page or a paper: of two sides, of
//! weeks. Rendered by [`super::terminal`], [`super::page`] and [`super::paper`].

use crate::references;
use crate::session::Plot;
use jiff::civil::Date;

/// A label and what is said to it.
pub type Fact = (String, String);

/// A short report.
#[derive(Debug, Clone, PartialEq)]
pub struct Leaflet {
    /// What it is.
    pub title: String,
    /// Whom or what it is about, on every sheet.
    pub about: String,
    /// Day of the report.
    pub date: Date,
    /// The result in a sentence or two.
    pub headline: String,
    /// What was compared.
    pub facts: Vec<Fact>,
    /// How far a person has looked at it.
    pub reviewed: String,
    /// The body.
    pub sections: Vec<Section>,
    /// What to bear in mind of this one.
    pub notes: Vec<String>,
    /// What always holds.
    pub cautions: Vec<String>,
    /// Publications: key and text.
    pub sources: Vec<(&'static str, &'static str)>,
}

/// A part under a heading.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// The heading.
    pub title: String,
    /// What stands below it.
    pub parts: Vec<Part>,
}

/// A piece of a section.
#[derive(Debug, Clone, PartialEq)]
pub enum Part {
    /// Running text.
    Paragraph(String),
    /// Points one below the other.
    Points(Vec<String>),
    /// A table.
    Table(Table),
    /// Drawings side by side.
    Figures(Vec<Figure>),
}

/// Rows under a heading each; the first column says what a row is about.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// What it holds, for those who hear it read.
    pub name: String,
    /// Headings of the columns.
    pub head: Vec<String>,
    /// As many cells a row as there are headings.
    pub rows: Vec<Vec<String>>,
    /// The last column holds words, not numbers: it stands left and takes the room there is.
    pub ends_in_words: bool,
}

/// A drawing for page and paper, and the same in plain characters for a terminal.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// The drawing.
    pub plot: Plot,
    /// Lines of at most 78 characters; none where tables say it all.
    pub plain: Vec<String>,
}

/// Publications whose key is said in the sections.
pub(super) fn sources(sections: &[Section]) -> Vec<(&'static str, &'static str)> {
    references::cited(|key| sections.iter().any(|section| section.says(key)))
}

impl Section {
    /// A word stands somewhere in its text.
    fn says(&self, word: &str) -> bool {
        let mut parts = self.parts.iter();
        parts.any(|part| match part {
            Part::Paragraph(text) => text.contains(word),
            Part::Points(texts) => texts.iter().any(|text| text.contains(word)),
            Part::Table(table) => table.rows.iter().flatten().any(|cell| cell.contains(word)),
            Part::Figures(_) => false,
        })
    }

    /// Something is drawn in plain characters, which a terminal needs to say so.
    pub fn is_drawn_in_plain(&self) -> bool {
        let drawn = |part: &Part| match part {
            Part::Figures(figures) => figures.iter().any(|f| !f.plain.is_empty()),
            _ => true,
        };
        self.parts.iter().any(drawn)
    }
}
