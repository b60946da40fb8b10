//! Boxes one below the other, and where a new page begins.

use std::rc::Rc;

use krilla::image::Image;
use resvg::usvg;

use super::typeface::Line;

/// What stands on a page or a part of it. Lengths are points, from the upper left corner.
#[derive(Clone, Default)]
pub(super) struct Area {
    pub height_pt: f32,
    pub marks: Vec<Mark>,
}

/// A piece of an area.
#[derive(Clone)]
pub(super) struct Mark {
    pub x_pt: f32,
    /// Upper edge; of a line that of its capitals.
    pub y_pt: f32,
    pub what: What,
    /// The element of the document that it is part of; none for what only decorates.
    pub element: Option<usize>,
}

#[derive(Clone)]
pub(super) enum What {
    Line(Line),
    /// A thin line, as long as this.
    Rule(f32),
    Picture(Image, f32, f32),
    Drawing(Rc<usvg::Tree>, f32, f32),
}

impl Area {
    /// Nothing, so high.
    pub fn space(height_pt: f32) -> Self {
        Self { height_pt, marks: Vec::new() }
    }

    pub fn mark(&mut self, x_pt: f32, y_pt: f32, what: What, element: Option<usize>) {
        self.marks.push(Mark { x_pt, y_pt, what, element });
    }

    /// Puts an area into this one, which grows if it must.
    pub fn put(&mut self, area: Area, x_pt: f32, y_pt: f32) {
        self.height_pt = self.height_pt.max(y_pt + area.height_pt);
        self.marks.extend(area.marks.into_iter().map(|mut mark| {
            mark.x_pt += x_pt;
            mark.y_pt += y_pt;
            mark
        }));
    }

    /// Puts an area below all that is in this one.
    pub fn append(&mut self, gap_pt: f32, area: Area) {
        self.put(area, 0.0, self.height_pt + gap_pt);
    }

    /// The same as a decoration, where it stands for the eye a second time.
    fn repeated(&self) -> Self {
        let mut area = self.clone();
        area.marks.iter_mut().for_each(|mark| mark.element = None);
        area
    }
}

/// What is never divided between pages.
#[derive(Default)]
pub(super) struct Piece {
    pub area: Area,
    /// Least distance to what stands above it; nothing at the top of a page.
    pub above_pt: f32,
    /// Least distance to what follows.
    pub below_pt: f32,
    /// Stays on one page with what follows.
    pub sticks: bool,
    /// What stands above it again where it begins a page.
    pub head: Option<Rc<Area>>,
    /// Begins a page in any case.
    pub on_new_page: bool,
}

/// How much of a page must be free for what is longer than a page to begin on it
/// (design choice).
const WORTH_BEGINNING: f32 = 1.0 / 3.0;

/// Deals the pieces out to pages of a height. What sticks together stays together if a page
/// can hold it.
pub(super) fn pages(pieces: Vec<Piece>, height_pt: f32) -> Vec<Area> {
    let mut book = Book { pages: vec![Area::default()], height_pt, below_pt: 0.0 };
    let mut group = Vec::new();
    for piece in pieces {
        let last = !piece.sticks;
        group.push(piece);
        if last {
            book.place(std::mem::take(&mut group));
        }
    }
    book.place(group);
    book.pages
}

struct Book {
    pages: Vec<Area>,
    height_pt: f32,
    /// Distance that the last piece wants below it.
    below_pt: f32,
}

impl Book {
    fn place(&mut self, group: Vec<Piece>) {
        let Some(first) = group.first() else { return };
        let free_pt = self.height_pt - self.used_pt() - self.gap_pt(first);
        let mut needed_pt = stacked_pt(&group);
        if needed_pt > self.height_pt {
            needed_pt = WORTH_BEGINNING * self.height_pt;
        }
        if first.on_new_page || free_pt < needed_pt {
            self.turn();
        }
        group.into_iter().for_each(|piece| self.add(piece));
    }

    fn add(&mut self, piece: Piece) {
        if self.used_pt() + self.gap_pt(&piece) + piece.area.height_pt > self.height_pt {
            self.turn();
        }
        let gap_pt = self.gap_pt(&piece);
        let fresh = self.is_fresh();
        let Some(page) = self.pages.last_mut() else { return };
        if let Some(head) = piece.head.filter(|_| fresh) {
            page.append(0.0, head.repeated());
        }
        page.append(gap_pt, piece.area);
        self.below_pt = piece.below_pt;
    }

    /// Begins a page, unless one has just begun.
    fn turn(&mut self) {
        if !self.is_fresh() {
            self.pages.push(Area::default());
            self.below_pt = 0.0;
        }
    }

    /// Nothing stands on the page yet, not even a thin line, which has no height.
    fn is_fresh(&self) -> bool {
        self.pages.last().is_none_or(|page| page.marks.is_empty())
    }

    fn used_pt(&self) -> f32 {
        self.pages.last().map_or(0.0, |page| page.height_pt)
    }

    fn gap_pt(&self, piece: &Piece) -> f32 {
        if self.is_fresh() { 0.0 } else { self.below_pt.max(piece.above_pt) }
    }
}

/// Height of pieces that stand on one page.
fn stacked_pt(pieces: &[Piece]) -> f32 {
    let heights: f32 = pieces.iter().map(|piece| piece.area.height_pt).sum();
    let gaps = pieces.windows(2).map(|pair| pair[0].below_pt.max(pair[1].above_pt));
    heights + gaps.sum::<f32>()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(height_pt: f32, sticks: bool) -> Piece {
        let mut area = Area::space(height_pt);
        area.mark(0.0, 0.0, What::Rule(height_pt), Some(0));
        Piece { area, sticks, ..Piece::default() }
    }

    /// Lengths of the marks of each page.
    fn dealt(pieces: Vec<Piece>) -> Vec<Vec<f32>> {
        let length = |mark: &Mark| if let What::Rule(length) = mark.what { length } else { 0.0 };
        pages(pieces, 100.0).iter().map(|page| page.marks.iter().map(length).collect()).collect()
    }

    /// Counted by hand, on pages of 100.
    #[test]
    fn what_sticks_together_stays_together() {
        let free = vec![piece(60.0, false), piece(30.0, false), piece(20.0, false)];
        assert_eq!(dealt(free), [vec![60.0, 30.0], vec![20.0]]);
        let stuck = vec![piece(60.0, false), piece(30.0, true), piece(20.0, false)];
        assert_eq!(dealt(stuck), [vec![60.0], vec![30.0, 20.0]]);
        let long = (0..5).map(|i| piece(30.0, i < 4)).collect();
        assert_eq!(dealt(long), [vec![30.0; 3], vec![30.0; 2]]);
    }

    #[test]
    fn distances_count_but_not_at_the_top() {
        let spaced = |height_pt| Piece { above_pt: 5.0, below_pt: 15.0, ..piece(height_pt, false) };
        let laid = pages([40.0, 45.0, 0.0, 70.0].map(spaced).into(), 100.0);
        let tops: Vec<Vec<f32>> =
            laid.iter().map(|page| page.marks.iter().map(|mark| mark.y_pt).collect()).collect();
        assert_eq!(tops, [vec![0.0, 55.0], vec![0.0, 15.0]]);
    }

    #[test]
    fn a_head_is_repeated_as_a_decoration() {
        let head = Rc::new(piece(10.0, true).area);
        let row = || Piece { head: Some(Rc::clone(&head)), ..piece(30.0, false) };
        let laid = pages(vec![piece(10.0, true), row(), row(), row(), row()], 100.0);
        let elements = |page: &Area| page.marks.iter().map(|m| m.element).collect::<Vec<_>>();
        assert_eq!(elements(&laid[0]), [Some(0); 4]);
        assert_eq!(elements(&laid[1]), [None, Some(0)]);
    }
}
