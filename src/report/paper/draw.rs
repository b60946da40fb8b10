//! Pages as a PDF file: what is drawn, how it is read aloud, and what it is bound to
//! (PDF/A-2a and PDF/UA-1, against which it is checked as it is written).

use std::collections::HashMap;

use jiff::civil::Date;
use krilla::color::luma;
use krilla::configure::{Accessibility, Archival, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::error::KrillaError;
use krilla::geom::{PathBuilder, Point, Size, Transform};
use krilla::metadata::{DateTime, Metadata};
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, Identifier, Node, SpanTag, TagGroup, TagKind, TagTree,
};
use krilla::{Document, SerializeSettings};
use krilla_svg::{SurfaceExt, SvgSettings};

use super::house::{BOTTOM_PT, CAPTION, Element, House, MARGIN_PT, MM, PAGE_PT, TOP_PT};
use super::layout::{Mark, What, pages};
use super::typeface::{Line, Typeface};
use crate::report::wording::headings::{KEYWORDS, WORDS};

const LANGUAGE: &str = "en-GB";
/// Lightness of text, labels and rules, and width of a rule (design choice).
const INK: u8 = 10;
const QUIET: u8 = 75;
const RULE: u8 = 150;
const RULE_PT: f32 = 0.4;

/// What is told of the paper as a whole.
pub(super) struct About<'a> {
    pub title: &'a str,
    /// Whom or what it is about, on every page.
    pub about: &'a str,
    pub headline: &'a str,
    /// Day of the content, never that of printing.
    pub date: Date,
}

/// Draws a paper as a PDF file.
///
/// # Errors
/// What keeps it from being one that conforms.
pub(super) fn draw(house: House, typeface: &Typeface, about: &About) -> Result<Vec<u8>, String> {
    let configuration = ConfigurationBuilder::new()
        .with_archival_validator(Archival::A2_A)
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .map_err(|error| format!("{error:?}"))?;
    let settings = SerializeSettings { configuration, ..SerializeSettings::default() };
    let mut document = Document::new_with(settings);
    document.set_metadata(metadata(about, typeface));
    let House { pieces, elements, .. } = house;
    let pages = pages(pieces, PAGE_PT.1 - TOP_PT - BOTTOM_PT);
    let size = PageSettings::from_wh(PAGE_PT.0, PAGE_PT.1).ok_or("no page")?;
    let mut drawn = Drawn { typeface, of: HashMap::new(), places: HashMap::new() };
    for (at, area) in pages.iter().enumerate() {
        let mut page = document.start_page_with(size.clone());
        let mut surface = page.surface();
        for mark in &area.marks {
            drawn.mark(&mut surface, mark, at)?;
        }
        drawn.footer(&mut surface, about, at + 1, pages.len());
        surface.finish();
        page.finish();
    }
    document.set_outline(drawn.outline(&elements));
    document.set_tag_tree(drawn.tree(elements));
    document.finish().map_err(|error| complaint(&error))
}

fn metadata(about: &About, typeface: &Typeface) -> Metadata {
    let date = about.date;
    let day = DateTime::new(date.year().unsigned_abs())
        .month(date.month().unsigned_abs())
        .day(date.day().unsigned_abs());
    Metadata::new()
        .title(typeface.shown(&format!("{} – {}", about.title, about.about)))
        .description(typeface.shown(about.headline))
        .keywords(KEYWORDS.map(String::from).to_vec())
        .language(LANGUAGE.into())
        .creator(concat!("plumbrise ", env!("CARGO_PKG_VERSION")).into())
        .creation_date(day)
}

fn complaint(error: &KrillaError) -> String {
    match error {
        KrillaError::Validation(errors) => {
            let first = errors.first().map(|(what, _)| format!(": {what:?}"));
            format!("it would not be PDF/A-2a and PDF/UA-1{}", first.unwrap_or_default())
        }
        other => other.to_string(),
    }
}

/// What has been drawn of each element.
struct Drawn<'a> {
    typeface: &'a Typeface,
    of: HashMap<usize, Vec<Identifier>>,
    /// Page and point where an element begins.
    places: HashMap<usize, (usize, Point)>,
}

impl Drawn<'_> {
    fn mark(&mut self, surface: &mut Surface, mark: &Mark, page: usize) -> Result<(), String> {
        let (x_pt, y_pt) = (MARGIN_PT + mark.x_pt, TOP_PT + mark.y_pt);
        let tag = match (&mark.what, mark.element) {
            (_, None) => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)),
            (What::Line(_), _) => ContentTag::Span(SpanTag::empty()),
            _ => ContentTag::Other,
        };
        let identifier = surface.start_tagged(tag);
        if let Some(element) = mark.element {
            self.of.entry(element).or_default().push(identifier);
            self.places.entry(element).or_insert((page, Point::from_xy(x_pt, y_pt)));
        }
        match &mark.what {
            What::Line(line) => self.line(surface, line, x_pt, y_pt),
            What::Rule(length_pt) => rule(surface, x_pt, y_pt, *length_pt)?,
            What::Picture(image, width_pt, height_pt) => {
                let size = Size::from_wh(*width_pt, *height_pt).ok_or("an empty picture")?;
                surface.push_transform(&Transform::from_translate(x_pt, y_pt));
                surface.draw_image(image.clone(), size);
                surface.pop();
            }
            What::Drawing(tree, width_pt, height_pt) => {
                let size = Size::from_wh(*width_pt, *height_pt).ok_or("an empty drawing")?;
                surface.push_transform(&Transform::from_translate(x_pt, y_pt));
                surface.draw_svg(tree, size, SvgSettings::default());
                surface.pop();
            }
        }
        surface.end_tagged();
        Ok(())
    }

    fn line(&self, surface: &mut Surface, line: &Line, x_pt: f32, y_pt: f32) {
        let mut start = Point::from_xy(x_pt, y_pt + line.height_pt());
        surface.set_stroke(None);
        for run in &line.runs {
            let ink = if run.style.quiet { QUIET } else { INK };
            surface.set_fill(Some(Fill { paint: luma::Color::new(ink).into(), ..Fill::default() }));
            let font = self.typeface.font(run.style);
            surface.draw_glyphs(start, &run.glyphs, font, &run.text, run.style.size_pt, false);
            start.x += run.width_pt;
        }
    }

    /// Whom it is about on the left, which page it is on the right.
    fn footer(&self, surface: &mut Surface, about: &About, page: usize, pages: usize) {
        let top_pt = PAGE_PT.1 - 0.7 * BOTTOM_PT;
        let artifact = Artifact::with_kind(ArtifactType::Footer);
        surface.start_tagged(ContentTag::Artifact(artifact));
        let number = format!("{} {page} {} {pages}", WORDS.page, WORDS.of);
        let room_pt = PAGE_PT.0 - 2.0 * MARGIN_PT;
        let numbers = self.typeface.lines(&CAPTION.says(&number), room_pt);
        let number_pt = numbers.first().map_or(0.0, Line::width_pt);
        let about = self.typeface.lines(&CAPTION.says(about.about), room_pt - number_pt - 8.0 * MM);
        for (at, line) in about.iter().enumerate() {
            let y_pt = top_pt + at as f32 * 1.16 * CAPTION.size_pt;
            self.line(surface, line, MARGIN_PT, y_pt);
        }
        for line in &numbers {
            self.line(surface, line, PAGE_PT.0 - MARGIN_PT - number_pt, top_pt);
        }
        surface.end_tagged();
    }

    /// The elements with what has been drawn of them, inside one another.
    fn tree(mut self, elements: Vec<Element>) -> TagTree {
        let parents: Vec<Option<usize>> = elements.iter().map(|element| element.parent).collect();
        let mut groups: Vec<TagGroup> = elements
            .into_iter()
            .enumerate()
            .map(|(at, element)| {
                let drawn = self.of.remove(&at).unwrap_or_default();
                TagGroup::with_children(element.tag, drawn.into_iter().map(Node::from).collect())
            })
            .collect();
        // Children come after their parents: from the last on, each is whole when it goes
        // into its own, before those that are there already.
        let mut tree = TagTree::new().with_lang(Some(LANGUAGE.into()));
        while let Some(group) = groups.pop() {
            let parent = parents[groups.len()].and_then(|parent| groups.get_mut(parent));
            parent
                .map_or(&mut tree.children, |parent| &mut parent.children)
                .insert(0, group.into());
        }
        tree
    }

    /// The headings, to go to.
    fn outline(&self, elements: &[Element]) -> Outline {
        let mut outline = Outline::new();
        let headings = elements.iter().enumerate().filter_map(|(at, element)| {
            let TagKind::Hn(tag) = &element.tag else { return None };
            let (page, point) = *self.places.get(&at)?;
            let node = OutlineNode::new(tag.title()?.to_owned(), XyzDestination::new(page, point));
            Some((tag.level().get(), node))
        });
        // The open headings, outermost first.
        let mut open: Vec<(u16, OutlineNode)> = Vec::new();
        let close = |open: &mut Vec<(u16, OutlineNode)>, outline: &mut Outline, level: u16| {
            while open.last().is_some_and(|(own, _)| *own >= level) {
                let Some((_, node)) = open.pop() else { break };
                match open.last_mut() {
                    Some((_, parent)) => parent.push_child(node),
                    None => outline.push_child(node),
                }
            }
        };
        for (level, node) in headings {
            close(&mut open, &mut outline, level);
            open.push((level, node));
        }
        close(&mut open, &mut outline, 0);
        outline
    }
}

fn rule(surface: &mut Surface, x_pt: f32, y_pt: f32, length_pt: f32) -> Result<(), String> {
    let mut path = PathBuilder::new();
    path.move_to(x_pt, y_pt);
    path.line_to(x_pt + length_pt, y_pt);
    let path = path.finish().ok_or("an empty rule")?;
    let paint = luma::Color::new(RULE).into();
    surface.set_fill(None);
    surface.set_stroke(Some(Stroke { paint, width: RULE_PT, ..Stroke::default() }));
    surface.draw_path(&path);
    Ok(())
}
