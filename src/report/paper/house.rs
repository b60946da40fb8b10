//! What every paper has in common: A4, the typeface, and a few shapes. Nothing is said by
//! colour alone: the paper may be printed in black.

use std::num::NonZeroU16;
use std::rc::Rc;
use std::sync::Arc;

use krilla::image::Image;
use krilla::tagging::{ListNumbering, TableHeaderScope, Tag, TagKind};
use resvg::usvg;

use super::layout::{Area, Piece, What};
use super::typeface::{Style, Text, Typeface};
use crate::report::font;

/// Points in a millimetre (an inch is 25.4 mm and 72 points).
pub(super) const MM: f32 = 72.0 / 25.4;
/// A4 (ISO 216).
pub(super) const PAGE_PT: (f32, f32) = (210.0 * MM, 297.0 * MM);
/// Margins and all distances and sizes of these shapes: design choice.
pub(super) const MARGIN_PT: f32 = 16.0 * MM;
pub(super) const TOP_PT: f32 = 14.0 * MM;
pub(super) const BOTTOM_PT: f32 = 17.0 * MM;
const WIDTH_PT: f32 = PAGE_PT.0 - 2.0 * MARGIN_PT;

/// Running text, and the same smaller.
pub(super) const BODY: Style = Style::of(9.5);
pub(super) const SMALL: Style = Style::of(8.5);
/// What stands above plots and below tables.
pub(super) const CAPTION: Style = Style::of(8.0).quiet();
/// The result in a sentence.
pub(super) const HEADLINE: Style = Style::of(13.0).heavy();
const LABEL: Style = Style::of(7.5).quiet();
const UNDER_PICTURE: Style = Style::of(7.0).quiet();
/// From a line to the next, of the size: in running text, and where lines belong together.
const LEADING: f32 = 0.5;
const TIGHT: f32 = 0.35;
const CELL_PT: (f32, f32) = (1.5 * MM, 0.95 * MM);

/// An element of the document, for those who hear it read.
pub(super) struct Element {
    pub tag: TagKind,
    pub parent: Option<usize>,
}

/// A paper while it is written: pieces from top to bottom, elements in the order of reading.
pub(super) struct House<'a> {
    typeface: &'a Typeface,
    drawn: usvg::Options<'static>,
    pub pieces: Vec<Piece>,
    pub elements: Vec<Element>,
    inside: Option<usize>,
}

/// Where text stands in its column.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Align {
    Left,
    Middle,
    Right,
}

/// A table of texts; its first column says what a row is about.
pub(super) struct Table<'t> {
    /// What it holds, for those who hear it read.
    pub name: Option<&'t str>,
    /// Headings, each of one or more lines; none for a table that needs none.
    pub head: Vec<Vec<Text>>,
    pub rows: Vec<Vec<Text>>,
    pub align: Vec<Align>,
    /// The last column takes the room that is left.
    pub last_is_wide: bool,
}

/// A drawing and what it shows.
pub(super) struct Drawn<'t> {
    pub title: &'t str,
    pub alternative: &'t str,
    pub svg: &'t str,
}

/// A picture and what it shows.
pub(super) struct Pictured<'t> {
    pub jpeg: &'t [u8],
    pub shows: &'t str,
}

impl<'a> House<'a> {
    pub fn new(typeface: &'a Typeface) -> Self {
        let mut fonts = usvg::fontdb::Database::new();
        for font in font::FONTS {
            fonts.load_font_source(usvg::fontdb::Source::Binary(Arc::new(font)));
        }
        let drawn = usvg::Options {
            font_family: font::FAMILY.into(),
            fontdb: Arc::new(fonts),
            // A drawing is kept in a file: it may not bring in others.
            image_href_resolver: usvg::ImageHrefResolver {
                resolve_data: Box::new(|_, _, _| None),
                resolve_string: Box::new(|_, _| None),
            },
            ..usvg::Options::default()
        };
        Self { typeface, drawn, pieces: Vec::new(), elements: Vec::new(), inside: None }
    }

    /// A heading, which stays with what it stands above.
    pub fn heading(&mut self, level: u16, text: &str) {
        let (size_pt, above_pt, below_pt) = match level {
            1 => (17.0, 0.0, 9.5),
            2 => (12.0, 13.0, 6.5),
            _ => (10.0, 0.0, 5.0),
        };
        let level = NonZeroU16::new(level).unwrap_or(NonZeroU16::MIN);
        let element = self.element(Tag::Hn(level, Some(self.typeface.shown(text))));
        let text = Style::of(size_pt).heavy().says(text);
        let area = self.set(&text, WIDTH_PT, LEADING, Align::Left, element);
        self.add(Piece { area, above_pt, below_pt, sticks: true, ..Piece::default() });
    }

    /// A paragraph with its distances.
    pub fn paragraph(&mut self, text: &Text, above_pt: f32, below_pt: f32) {
        let element = self.element(Tag::P);
        let lines = self.lines(text, WIDTH_PT, 0.0, element);
        self.add_lines(lines, above_pt, below_pt);
    }

    /// Points one below the other; without any there is no list.
    pub fn list(&mut self, texts: &[String]) {
        if texts.is_empty() {
            return;
        }
        let indent_pt = BODY.size_pt;
        self.within(Tag::L(ListNumbering::Circle), |house| {
            for (at, text) in texts.iter().enumerate() {
                house.within(Tag::LI, |house| {
                    let (label, body) = (house.element(Tag::Lbl), house.element(Tag::LBody));
                    let text = BODY.says(text);
                    let mut lines = house.lines(&text, WIDTH_PT - indent_pt, indent_pt, body);
                    let dash = house.lines(&BODY.says("–"), indent_pt, 0.0, label);
                    if let (Some(first), Some(dash)) = (lines.first_mut(), dash.first()) {
                        first.marks.splice(0..0, dash.marks.iter().cloned());
                    }
                    let gap_pt = LEADING * BODY.size_pt;
                    let above_pt = if at == 0 { 7.0 } else { gap_pt };
                    let below_pt = if at + 1 == texts.len() { 7.0 } else { gap_pt };
                    house.add_lines(lines, above_pt, below_pt);
                });
            }
        });
    }

    /// Points under a heading, if there are any, on one page.
    pub fn points(&mut self, heading: &str, texts: &[String]) {
        if !texts.is_empty() {
            self.together(|house| {
                house.heading(2, heading);
                house.list(texts);
            });
        }
    }

    /// Labels above what is said to them, side by side in columns of these shares.
    pub fn facts<L: AsRef<str>>(&mut self, facts: &[(L, String)], shares: &[f32], value: Style) {
        let (widths, gutter_pt) = columns(shares, 4.0 * MM);
        let rows = facts.chunks(shares.len()).count();
        for (at, row) in facts.chunks(shares.len()).enumerate() {
            let mut area = Area::default();
            let mut x_pt = 0.0;
            for ((label, said), width_pt) in row.iter().zip(&widths) {
                let element = self.element(Tag::P);
                let label = LABEL.says(label.as_ref()).then(LABEL, " ");
                let mut cell = self.set(&label, *width_pt, TIGHT, Align::Left, element);
                let said = self.set(&value.says(said), *width_pt, TIGHT, Align::Left, element);
                cell.append(TIGHT * value.size_pt, said);
                area.put(cell, x_pt, 0.0);
                x_pt += width_pt + gutter_pt;
            }
            let above_pt = if at == 0 { 10.0 } else { 2.2 * MM };
            let below_pt = if at + 1 == rows { 10.0 } else { 0.0 };
            self.add(Piece { area, above_pt, below_pt, ..Piece::default() });
        }
    }

    /// A thin line across the page, which stays with what follows.
    pub fn rule(&mut self, above_pt: f32, below_pt: f32) {
        let mut area = Area::default();
        area.mark(0.0, 0.0, What::Rule(WIDTH_PT), None);
        self.add(Piece { area, above_pt, below_pt, sticks: true, ..Piece::default() });
    }

    /// What follows begins a page.
    pub fn new_page(&mut self) {
        self.add(Piece { on_new_page: true, sticks: true, ..Piece::default() });
    }

    /// Keeps what is written on one page, if one can hold it.
    pub fn together<T>(&mut self, write: impl FnOnce(&mut Self) -> T) -> T {
        let from = self.pieces.len();
        let result = write(self);
        if let [stuck @ .., _] = &mut self.pieces[from..] {
            stuck.iter_mut().for_each(|piece| piece.sticks = true);
        }
        result
    }

    /// A table, whose head is repeated on each page.
    pub fn table(&mut self, table: &Table) {
        let widths = self.column_widths(table);
        let tag = Tag::Table.with_summary(table.name.map(|name| self.typeface.shown(name)));
        self.within(tag, |house| {
            let mut head = None;
            if !table.head.is_empty() {
                let area = house.within(Tag::THead, |house| {
                    let column = Tag::TH(TableHeaderScope::Column);
                    house.row(&table.head, &widths, &table.align, [column.clone(), column])
                });
                head = Some(Rc::new(area.clone()));
                house.add(Piece { area, above_pt: 8.0, sticks: true, ..Piece::default() });
            }
            house.within(Tag::TBody, |house| {
                for (at, row) in table.rows.iter().enumerate() {
                    let row: Vec<Vec<Text>> = row.iter().map(|cell| vec![cell.clone()]).collect();
                    let tags = [Tag::TH(TableHeaderScope::Row).into(), TagKind::from(Tag::TD)];
                    let area = house.row(&row, &widths, &table.align, tags);
                    let above_pt = if at == 0 && head.is_none() { 6.0 } else { 0.0 };
                    let below_pt = if at + 1 == table.rows.len() { 8.0 } else { 0.0 };
                    let head = head.clone();
                    house.add(Piece { area, above_pt, below_pt, head, ..Piece::default() });
                }
            });
        });
    }

    /// A row of cells, each of lines one below the other, over a thin line.
    fn row(
        &mut self,
        cells: &[Vec<Text>],
        widths: &[f32],
        align: &[Align],
        tags: [impl Into<TagKind>; 2],
    ) -> Area {
        let [first, other] = tags.map(Into::into);
        let (inset_x_pt, inset_y_pt) = CELL_PT;
        self.within(Tag::TR, |house| {
            let mut row = Area::default();
            let mut x_pt = 0.0;
            for (at, ((texts, width_pt), align)) in cells.iter().zip(widths).zip(align).enumerate()
            {
                let element = house.element(if at == 0 { first.clone() } else { other.clone() });
                let inner_pt = width_pt - 2.0 * inset_x_pt;
                let mut cell = Area::default();
                for (line, text) in texts.iter().enumerate() {
                    let gap_pt = if line == 0 { 0.0 } else { TIGHT * BODY.size_pt };
                    cell.append(gap_pt, house.set(text, inner_pt, LEADING, *align, element));
                }
                row.put(cell, x_pt + inset_x_pt, inset_y_pt);
                x_pt += width_pt;
            }
            // Letters reach below their line, so there is a little more room than above.
            row.height_pt += inset_y_pt + 0.5;
            row.mark(0.0, row.height_pt, What::Rule(widths.iter().sum()), None);
            row
        })
    }

    /// Columns as wide as what is in them; where that is too wide, the widest share what the
    /// narrow ones leave.
    fn column_widths(&self, table: &Table) -> Vec<f32> {
        let count = table.align.len();
        let mut widths = vec![0.0_f32; count];
        let rows = table.rows.iter().map(|row| row.iter().map(std::slice::from_ref).collect());
        let head = table.head.iter().map(Vec::as_slice).collect();
        for row in std::iter::once::<Vec<&[Text]>>(head).chain(rows) {
            for (width, texts) in widths.iter_mut().zip(row) {
                let texts = texts.iter().map(|text| self.typeface.width_pt(text));
                *width = texts.map(|text| text + 2.0 * CELL_PT.0 + 0.1).fold(*width, f32::max);
            }
        }
        let mut open: Vec<usize> = (0..count).collect();
        let mut left_pt = WIDTH_PT;
        while !open.is_empty() {
            let share_pt = left_pt / open.len() as f32;
            let (narrow, wide): (Vec<usize>, Vec<usize>) =
                open.iter().copied().partition(|at| widths[*at] <= share_pt);
            if narrow.is_empty() {
                wide.iter().for_each(|at| widths[*at] = share_pt);
                break;
            }
            left_pt -= narrow.iter().map(|at| widths[*at]).sum::<f32>();
            open = wide;
        }
        if table.last_is_wide
            && let Some((last, others)) = widths.split_last_mut()
        {
            *last = WIDTH_PT - others.iter().sum::<f32>();
        }
        widths
    }

    /// Drawings and, beside them, pictures, in columns of equal width, at least so many.
    ///
    /// # Errors
    /// What is wrong with a drawing or picture.
    pub fn figures(
        &mut self,
        drawings: &[Drawn],
        pictures: &[Pictured],
        at_least: usize,
        gutter_pt: f32,
    ) -> Result<(), String> {
        let cells = drawings.len() + usize::from(!pictures.is_empty());
        if cells == 0 {
            return Ok(());
        }
        let count = if pictures.is_empty() { at_least } else { cells.max(at_least) };
        let (widths, gutter_pt) = columns(&vec![1.0; count], gutter_pt);
        let width_pt = widths[0];
        let mut areas = Vec::new();
        for drawing in drawings {
            areas.push(self.drawing(drawing, width_pt)?);
        }
        if !pictures.is_empty() {
            areas.push(self.pictures(pictures, width_pt)?);
        }
        let rows = areas.len().div_ceil(count);
        let mut areas = areas.into_iter();
        for at in 0..rows {
            let mut area = Area::default();
            for (column, cell) in areas.by_ref().take(count).enumerate() {
                area.put(cell, column as f32 * (width_pt + gutter_pt), 0.0);
            }
            let above_pt = if at == 0 { 0.0 } else { 2.5 * MM };
            let below_pt = if at + 1 == rows { 3.0 * MM } else { 0.0 };
            self.add(Piece { area, above_pt, below_pt, ..Piece::default() });
        }
        Ok(())
    }

    /// A drawing under its title, as wide as there is room.
    fn drawing(&mut self, drawing: &Drawn, width_pt: f32) -> Result<Area, String> {
        let title = self.element(Tag::P);
        let mut area = self.set(&CAPTION.says(drawing.title), width_pt, TIGHT, Align::Left, title);
        let element = self.element(Tag::Figure(Some(self.typeface.shown(drawing.alternative))));
        let tree = usvg::Tree::from_str(&self.typeface.drawable(drawing.svg), &self.drawn)
            .map_err(|error| format!("the drawing «{}»: {error}", drawing.title))?;
        let height_pt = width_pt * tree.size().height() / tree.size().width();
        let mut figure = Area::space(height_pt);
        figure.mark(0.0, 0.0, What::Drawing(Rc::new(tree), width_pt, height_pt), Some(element));
        area.append(1.0 * MM, figure);
        Ok(area)
    }

    /// Pictures side by side, each above what it shows.
    fn pictures(&mut self, pictures: &[Pictured], width_pt: f32) -> Result<Area, String> {
        /// As high as the drawings beside them (design choice).
        const HEIGHT_PT: f32 = 30.0 * MM;
        let gutter_pt = 1.5 * MM;
        let cell_pt = (width_pt + gutter_pt) / pictures.len().max(3) as f32 - gutter_pt;
        let mut row = Area::default();
        for (at, Pictured { jpeg, shows }) in pictures.iter().enumerate() {
            let image = Image::from_jpeg(jpeg.to_vec().into(), false)
                .map_err(|error| format!("the picture «{shows}»: {error}"))?;
            let (columns, rows) = image.size();
            let scale = (cell_pt / columns as f32).min(HEIGHT_PT / rows as f32);
            let (wide_pt, high_pt) = (scale * columns as f32, scale * rows as f32);
            let figure = self.element(Tag::Figure(Some(self.typeface.shown(shows))));
            let mut cell = Area::space(high_pt);
            let x_pt = (cell_pt - wide_pt) / 2.0;
            cell.mark(x_pt, 0.0, What::Picture(image, wide_pt, high_pt), Some(figure));
            let words = self.element(Tag::P);
            let shows = UNDER_PICTURE.says(shows);
            cell.append(1.2 * MM, self.set(&shows, cell_pt, TIGHT, Align::Middle, words));
            row.put(cell, at as f32 * (cell_pt + gutter_pt), 0.0);
        }
        Ok(row)
    }

    /// Publications under a heading, by key.
    pub fn sources(&mut self, heading: &str, sources: &[(&str, &str)]) {
        if !sources.is_empty() {
            self.heading(2, heading);
            for (key, text) in sources {
                let text = SMALL.says(&format!("[{key}] {text}"));
                self.paragraph(&text, LEADING * SMALL.size_pt, 0.0);
            }
        }
    }

    /// Sets text as an area of its own.
    fn set(&self, text: &Text, width_pt: f32, leading: f32, align: Align, element: usize) -> Area {
        let mut area = Area::default();
        for line in self.typeface.lines(text, width_pt) {
            let x_pt = match align {
                Align::Left => 0.0,
                Align::Middle => (width_pt - line.width_pt()) / 2.0,
                Align::Right => width_pt - line.width_pt(),
            };
            let size_pt = line.runs.first().map_or(0.0, |run| run.style.size_pt);
            let gap_pt = if area.marks.is_empty() { 0.0 } else { leading * size_pt };
            let mut set = Area::space(line.height_pt());
            set.mark(x_pt, 0.0, What::Line(line), Some(element));
            area.append(gap_pt, set);
        }
        area
    }

    /// Sets text in lines that pages may come between.
    fn lines(&self, text: &Text, width_pt: f32, x_pt: f32, element: usize) -> Vec<Area> {
        let lines = self.typeface.lines(text, width_pt).into_iter();
        lines
            .map(|line| {
                let mut area = Area::space(line.height_pt());
                area.mark(x_pt, 0.0, What::Line(line), Some(element));
                area
            })
            .collect()
    }

    /// Lines one below the other; neither the first nor the last stands alone on a page.
    fn add_lines(&mut self, lines: Vec<Area>, above_pt: f32, below_pt: f32) {
        let count = lines.len();
        for (at, area) in lines.into_iter().enumerate() {
            let last = at + 1 == count;
            let size_pt = match area.marks.last() {
                Some(super::layout::Mark { what: What::Line(line), .. }) => {
                    line.runs.first().map_or(0.0, |run| run.style.size_pt)
                }
                _ => 0.0,
            };
            self.add(Piece {
                area,
                above_pt: if at == 0 { above_pt } else { LEADING * size_pt },
                below_pt: if last { below_pt } else { 0.0 },
                sticks: !last && (at == 0 || at + 2 == count),
                ..Piece::default()
            });
        }
    }

    fn add(&mut self, piece: Piece) {
        self.pieces.push(piece);
    }

    fn element(&mut self, tag: impl Into<TagKind>) -> usize {
        self.elements.push(Element { tag: tag.into(), parent: self.inside });
        self.elements.len() - 1
    }

    /// Writes inside an element.
    fn within<T>(&mut self, tag: impl Into<TagKind>, write: impl FnOnce(&mut Self) -> T) -> T {
        let before = self.inside;
        self.inside = Some(self.element(tag));
        let result = write(self);
        self.inside = before;
        result
    }
}

/// Widths of columns across the page, and what is between them.
fn columns(shares: &[f32], gutter_pt: f32) -> (Vec<f32>, f32) {
    let room_pt = WIDTH_PT - gutter_pt * (shares.len() as f32 - 1.0);
    let all: f32 = shares.iter().sum();
    (shares.iter().map(|share| room_pt * share / all).collect(), gutter_pt)
}
