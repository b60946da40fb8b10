//! The report as one page for a browser, which loads nothing from anywhere; only the
//! annotated film stands beside it.

mod leaflet;

pub use leaflet::leaflet_page;

use std::fmt;

use askama::Template;
use askama::filters::{Escaper, Html};
use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use sha2::{Digest, Sha256};

use super::content::Content;
use super::sheet::{RepSheet, Sheet};
use super::wording::headings::{self, PAGE, PageWords};
use crate::error::{Error, Result};
use crate::session::KeyPicture;
use crate::shown;

const STYLE: &str = include_str!("page.css");
const SCRIPT: &str = include_str!("page.js");

/// A rep is played from this long before it begins to this long after it ends, seconds
/// of movement (design choice).
const AROUND_S: f64 = 0.7;

#[derive(Template)]
#[template(path = "page/page.html", config = "src/report/askama.toml")]
struct Page<'a> {
    sheet: &'a Sheet,
    words: &'static PageWords,
    /// Name of the annotated film, if it was written.
    film: Option<&'static str>,
    reps: Vec<RepOnPage<'a>>,
    style: &'static str,
    style_sha256: String,
    script: &'static str,
    script_sha256: String,
}

struct RepOnPage<'a> {
    sheet: &'a RepSheet,
    /// From when to when the film shows it, seconds of the film.
    film_s: Option<(String, String)>,
    pictures: Vec<PictureOnPage>,
}

struct PictureOnPage {
    shows: String,
    alternative: String,
    width_px: u32,
    height_px: u32,
    base64: String,
}

/// How templates put text into a page.
#[derive(Clone, Copy)]
pub(super) struct Shown;

impl Escaper for Shown {
    fn write_escaped_str<W: fmt::Write>(&self, page: W, text: &str) -> fmt::Result {
        Html.write_escaped_str(page, &shown::line(text))
    }
}

/// The report as a self-contained HTML page, for phone, screen and A4 print. `film_name`
/// is that of the annotated film beside it.
///
/// # Errors
/// [`Error::Page`].
pub fn page(content: &Content, film_name: &'static str) -> Result<String> {
    let sheet = Sheet::of(content);
    let reps = content.session.machine.reps.iter().zip(&sheet.reps).map(|(rep, sheet)| {
        let film_s = content.figures.film.as_ref().zip(rep.span_s()).map(|(clock, (from, to))| {
            let at = |movement_s: f64| format!("{:.2}", clock.at_s(movement_s));
            (at((from - AROUND_S).max(0.0)), at(to + AROUND_S))
        });
        let pictures = content.figures.pictures.iter().filter(|p| p.rep == rep.number);
        RepOnPage { sheet, film_s, pictures: pictures.map(on_page).collect() }
    });
    let page = Page {
        reps: reps.collect(),
        sheet: &sheet,
        words: &PAGE,
        film: content.figures.film.as_ref().map(|_| film_name),
        style: STYLE,
        style_sha256: checksum(STYLE),
        script: SCRIPT,
        script_sha256: checksum(SCRIPT),
    };
    page.render().map_err(|e| Error::Page(e.to_string()))
}

/// As a page's policy names what it allows.
fn checksum(text: &str) -> String {
    BASE64_STANDARD.encode(Sha256::digest(text))
}

fn on_page(picture: &KeyPicture) -> PictureOnPage {
    let shows = headings::moment(picture.moment);
    PictureOnPage {
        shows: format!("{shows}, {:.1} s", picture.time_s),
        alternative: headings::picture(picture.rep, shows),
        width_px: picture.width_px,
        height_px: picture.height_px,
        base64: BASE64_STANDARD.encode(&picture.jpeg),
    }
}
