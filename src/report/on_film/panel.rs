//! The words on the film: a bar along its top, where they hide neither leg nor chair.

use std::fmt::Write;
use std::sync::Arc;

use resvg::usvg;
use tiny_skia::{Pixmap, PixmapPaint, Transform};

use super::story::Said;
use super::unit_px;
use crate::report::font;
use crate::report::wording;

/// Height of the bar and distance of the reps' marks, in units (design choice).
const HEIGHT: f32 = 128.0;
const MARK_STEP: f32 = 30.0;

/// Draws the bar; keeps the last one, as it changes seldom.
#[derive(Default)]
pub(super) struct Panel {
    options: Option<usvg::Options<'static>>,
    last: Option<(Said, bool, Pixmap)>,
}

impl Panel {
    pub fn draw(&mut self, picture: &mut Pixmap, said: &Said, slow: bool) {
        if self.last.as_ref().is_none_or(|(before, slowed, _)| before != said || *slowed != slow) {
            self.last = self.bar(picture, said, slow).map(|bar| (said.clone(), slow, bar));
        }
        if let Some((.., bar)) = &self.last {
            let paint = PixmapPaint::default();
            picture.draw_pixmap(0, 0, bar.as_ref(), &paint, Transform::identity(), None);
        }
    }

    fn bar(&mut self, picture: &Pixmap, said: &Said, slow: bool) -> Option<Pixmap> {
        let options = self.options.get_or_insert_with(typeface);
        let scale = unit_px(picture);
        let width = picture.width() as f32 / scale;
        let tree = usvg::Tree::from_str(&svg(said, slow, width), options).ok()?;
        let mut bar = Pixmap::new(picture.width(), (HEIGHT * scale).ceil() as u32)?;
        resvg::render(&tree, Transform::from_scale(scale, scale), &mut bar.as_mut());
        Some(bar)
    }
}

fn typeface() -> usvg::Options<'static> {
    let mut fonts = usvg::fontdb::Database::new();
    for font in font::FONTS {
        fonts.load_font_data(font.to_vec());
    }
    usvg::Options {
        font_family: font::FAMILY.into(),
        fontdb: Arc::new(fonts),
        ..usvg::Options::default()
    }
}

fn svg(said: &Said, slow: bool, width: f32) -> String {
    let mut out = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='{width}' height='{HEIGHT}'>\
         <rect width='{width}' height='{HEIGHT}' fill='#101418' fill-opacity='.82'/>\
         <g font-family='{}' fill='white'>\
         <text x='20' y='42' font-size='36' font-weight='600'>{}</text>\
         <text x='20' y='80' font-size='31'>{}</text>",
        font::FAMILY,
        said.title,
        said.detail
    );
    let step = ((width - 40.0) / said.reps.max(1) as f32).min(MARK_STEP);
    for rep in 0..said.reps {
        let x = 20.0 + step * (rep as f32 + 0.5);
        let mark = said.marks.get(rep).copied().unwrap_or('·');
        let _ = write!(
            out,
            "<text x='{x}' y='114' font-size='{}' font-weight='600' text-anchor='middle'>{mark}</text>",
            (0.9 * step).min(26.0)
        );
    }
    if slow {
        let x = width - 20.0;
        let word = wording::SLOWED;
        let _ = write!(out, "<text x='{x}' y='114' font-size='26' text-anchor='end'>{word}</text>");
    }
    out.push_str("</g></svg>");
    out
}
