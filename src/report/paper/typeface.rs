//! The typeface at work: which characters it has, how wide words are, and where lines end.

use krilla::text::{Font, GlyphId, KrillaGlyph};
use rustybuzz::{Face, UnicodeBuffer, shape};
use unicode_linebreak::linebreaks;

use crate::report::font;
use crate::shown;

/// Height of capitals, of the size; asked of the typeface by a test.
const CAPITALS: f32 = 0.66;
/// What sums of widths may be off by, in points, far below what is seen (design choice).
const ROUNDING_PT: f32 = 0.01;

/// How text looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Style {
    pub size_pt: f32,
    pub heavy: bool,
    /// Grey, for labels.
    pub quiet: bool,
}

impl Style {
    pub const fn of(size_pt: f32) -> Self {
        Self { size_pt, heavy: false, quiet: false }
    }

    pub const fn heavy(self) -> Self {
        Self { heavy: true, ..self }
    }

    pub const fn quiet(self) -> Self {
        Self { quiet: true, ..self }
    }

    /// Some text that looks like this.
    pub fn says(self, text: &str) -> Text {
        Text(vec![(self, text.to_owned())])
    }
}

/// Text in one or more styles.
#[derive(Debug, Clone, Default)]
pub(super) struct Text(Vec<(Style, String)>);

impl Text {
    /// The same with more after it.
    pub fn then(mut self, style: Style, text: &str) -> Self {
        self.0.push((style, text.to_owned()));
        self
    }
}

/// A line of glyphs.
#[derive(Debug, Clone, Default)]
pub(super) struct Line {
    pub runs: Vec<Run>,
    /// With the space at its end.
    full_pt: f32,
    /// The space at its end.
    blank_pt: f32,
}

/// Glyphs of one style, and the text they stand for.
#[derive(Debug, Clone)]
pub(super) struct Run {
    pub style: Style,
    pub text: String,
    pub glyphs: Vec<KrillaGlyph>,
    pub width_pt: f32,
}

impl Line {
    /// What of it is seen.
    pub fn width_pt(&self) -> f32 {
        self.full_pt - self.blank_pt
    }

    /// Height of its capitals.
    pub fn height_pt(&self) -> f32 {
        let sizes = self.runs.iter().map(|run| run.style.size_pt);
        sizes.fold(0.0, f32::max) * CAPITALS
    }

    fn fits(&self, word: &Line, width_pt: f32) -> bool {
        self.full_pt + word.width_pt() <= width_pt + ROUNDING_PT
    }

    fn push(&mut self, word: Line) {
        self.full_pt += word.full_pt;
        self.blank_pt = word.blank_pt;
        for run in word.runs {
            match self.runs.last_mut() {
                Some(last) if last.style == run.style => last.extend(run),
                _ => self.runs.push(run),
            }
        }
    }
}

impl Run {
    fn extend(&mut self, more: Run) {
        let before = self.text.len();
        self.text += &more.text;
        self.width_pt += more.width_pt;
        self.glyphs.extend(more.glyphs.into_iter().map(|mut glyph| {
            glyph.text_range = glyph.text_range.start + before..glyph.text_range.end + before;
            glyph
        }));
    }
}

/// Both cuts of the typeface.
pub(super) struct Typeface {
    regular: Cut,
    heavy: Cut,
}

struct Cut {
    face: Face<'static>,
    font: Font,
}

impl Cut {
    fn read(file: &'static [u8]) -> Option<Self> {
        Some(Self { face: Face::from_slice(file, 0)?, font: Font::new(file.into(), 0)? })
    }
}

impl Typeface {
    /// Reads it from the program; none where its files are damaged.
    pub fn read() -> Option<Self> {
        let [regular, heavy] = font::FONTS;
        Some(Self { regular: Cut::read(regular)?, heavy: Cut::read(heavy)? })
    }

    pub fn font(&self, style: Style) -> Font {
        self.cut(style).font.clone()
    }

    fn cut(&self, style: Style) -> &Cut {
        if style.heavy { &self.heavy } else { &self.regular }
    }

    /// Whether it draws a character, and that has a meaning of its own.
    fn has(&self, character: char) -> bool {
        let private = matches!(character, '\u{e000}'..='\u{f8ff}' | '\u{f0000}'..);
        let drawn = |cut: &Cut| cut.face.glyph_index(character).is_some_and(|glyph| glyph.0 != 0);
        !private && drawn(&self.regular) && drawn(&self.heavy)
    }

    /// The text with a question mark in place of what the typeface lacks: a file may be named
    /// in any script, and an archive must not hold empty boxes.
    pub fn drawable(&self, text: &str) -> String {
        let kept = |c: char| if c == '\n' || self.has(c) { c } else { '?' };
        text.chars().map(kept).collect()
    }

    /// Text of people or files as it may be shown on paper.
    pub fn shown(&self, text: &str) -> String {
        self.drawable(&shown::line(text))
    }

    /// Sets text in lines that are no wider. A word that is too wide is broken anywhere.
    pub fn lines(&self, text: &Text, width_pt: f32) -> Vec<Line> {
        let mut lines = Vec::new();
        let mut line = Line::default();
        for word in self.words(text) {
            let parts = if word.width_pt() > width_pt { self.letters(&word) } else { vec![word] };
            for part in parts {
                if !line.runs.is_empty() && !line.fits(&part, width_pt) {
                    lines.push(std::mem::take(&mut line));
                }
                line.push(part);
            }
        }
        if !line.runs.is_empty() {
            lines.push(line);
        }
        lines
    }

    /// The width that text takes in one line.
    pub fn width_pt(&self, text: &Text) -> f32 {
        self.lines(text, f32::INFINITY).first().map_or(0.0, Line::width_pt)
    }

    /// The text in pieces after each of which a line may end.
    fn words(&self, text: &Text) -> Vec<Line> {
        let runs: Vec<(Style, String)> =
            text.0.iter().map(|(style, said)| (*style, self.shown(said))).collect();
        let whole: String = runs.iter().map(|(_, said)| said.as_str()).collect();
        let mut words = Vec::new();
        let mut from = 0;
        for (to, _) in linebreaks(&whole) {
            let mut word = Line::default();
            let mut start = 0;
            for (style, said) in &runs {
                let end = start + said.len();
                let (first, last) = (from.max(start), to.min(end));
                if first < last {
                    word.push(self.shaped(*style, &whole[first..last]));
                }
                start = end;
            }
            words.push(word);
            from = to;
        }
        words
    }

    fn letters(&self, word: &Line) -> Vec<Line> {
        let letters = word.runs.iter().flat_map(|run| run.text.chars().map(|c| (run.style, c)));
        letters.map(|(style, c)| self.shaped(style, c.encode_utf8(&mut [0; 4]))).collect()
    }

    fn shaped(&self, style: Style, text: &str) -> Line {
        let (run, blank_pt) = (self.run(style, text), text.len() - text.trim_end().len());
        let blank_pt = match blank_pt {
            0 => 0.0,
            bytes => self.run(style, &text[text.len() - bytes..]).width_pt,
        };
        Line { full_pt: run.width_pt, blank_pt, runs: vec![run] }
    }

    fn run(&self, style: Style, text: &str) -> Run {
        let face = &self.cut(style).face;
        let units = face.units_per_em() as f32;
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.guess_segment_properties();
        // The typeface has no script that is read from the right; a sign may ask for it.
        buffer.set_direction(rustybuzz::Direction::LeftToRight);
        let shaped = shape(face, &[], buffer);
        let (infos, positions) = (shaped.glyph_infos(), shaped.glyph_positions());
        let glyphs: Vec<KrillaGlyph> = infos
            .iter()
            .zip(positions)
            .map(|(info, position)| {
                let from = info.cluster as usize;
                let next = infos.iter().map(|i| i.cluster as usize).find(|next| *next > from);
                KrillaGlyph::new(
                    GlyphId::new(info.glyph_id),
                    position.x_advance as f32 / units,
                    position.x_offset as f32 / units,
                    position.y_offset as f32 / units,
                    position.y_advance as f32 / units,
                    from..next.unwrap_or(text.len()),
                    None,
                )
            })
            .collect();
        let width_pt = glyphs.iter().map(|glyph| glyph.x_advance).sum::<f32>() * style.size_pt;
        Run { style, text: text.to_owned(), glyphs, width_pt }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typeface() -> Typeface {
        Typeface::read().expect("the program's own typeface")
    }

    fn said(lines: &[Line]) -> Vec<String> {
        lines.iter().map(|l| l.runs.iter().map(|r| r.text.as_str()).collect()).collect()
    }

    /// The tables of the font file: OS/2 tells the height of capitals, hmtx the width of a
    /// digit (all digits are as wide in this typeface).
    #[test]
    fn sizes_are_those_of_the_font_file() {
        let typeface = typeface();
        for cut in [&typeface.regular, &typeface.heavy] {
            let units = cut.face.units_per_em() as f32;
            let capitals = f32::from(cut.face.capital_height().expect("told"));
            assert!((capitals / units - CAPITALS).abs() < 1e-3);
            let digit = cut.face.glyph_index('0').expect("a digit");
            let width = f32::from(cut.face.glyph_hor_advance(digit).expect("told")) / units;
            let heavy = std::ptr::eq(cut, &typeface.heavy);
            let style = Style { heavy, ..Style::of(10.0) };
            assert!((typeface.width_pt(&style.says("0000")) - 40.0 * width).abs() < 1e-3);
        }
    }

    /// UAX #14: a line ends after spaces and hyphens, not within words; none is too wide.
    #[test]
    fn lines_end_between_words_and_are_not_too_wide() {
        let typeface = typeface();
        let style = Style::of(10.0);
        let text = style.says("one two ").then(style.heavy(), "three-four five");
        let width_pt = typeface.width_pt(&style.says("one two thr"));
        let lines = typeface.lines(&text, width_pt);
        assert_eq!(said(&lines), ["one two ", "three-four ", "five"]);
        assert!(lines.iter().all(|line| line.width_pt() <= width_pt));
        assert_eq!(lines[0].runs.len(), 1);
        let long = style.says(&"m".repeat(100));
        let lines = typeface.lines(&long, width_pt);
        assert_eq!(said(&lines).concat(), "m".repeat(100));
        assert!(lines.len() > 5 && lines.iter().all(|line| line.width_pt() <= width_pt + 0.01));
    }

    #[test]
    fn what_it_lacks_becomes_a_question_mark() {
        assert_eq!(typeface().shown("Γόνατο Ж é 膝\u{e000}\u{1f9b5}"), "Γόνατο Ж é ???");
    }

    /// Every byte of the text belongs to a glyph, so that it can be copied from the paper.
    #[test]
    fn glyphs_cover_the_text() {
        let line = &typeface().lines(&Style::of(9.0).says("first office, ± 0.5 °"), 500.0)[0];
        let run = &line.runs[0];
        let mut at = 0;
        for glyph in &run.glyphs {
            assert_eq!(glyph.text_range.start, at);
            at = glyph.text_range.end;
        }
        assert_eq!(at, run.text.len());
    }
}
