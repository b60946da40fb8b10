//! A short report as a page, in the dress of the session's page and without a script.

use askama::Template;

use super::{STYLE, checksum};
use crate::error::{Error, Result};
use crate::report::leaflet::{Leaflet, Part};
use crate::report::wording::headings::{LEAFLET, LeafletWords, WORDS, Words};

#[derive(Template)]
#[template(path = "page/leaflet.html", config = "src/report/askama.toml")]
struct Page<'a> {
    it: &'a Leaflet,
    date: String,
    words: &'static Words,
    own: &'static LeafletWords,
    style: &'static str,
    style_sha256: String,
}

/// The report as a self-contained HTML page, for phone, screen and A4 print.
///
/// # Errors
/// [`Error::Page`].
pub fn leaflet_page(it: &Leaflet) -> Result<String> {
    let page = Page {
        it,
        date: it.date.strftime("%-d %B %Y").to_string(),
        words: &WORDS,
        own: &LEAFLET,
        style: STYLE,
        style_sha256: checksum(STYLE),
    };
    page.render().map_err(|e| Error::Page(e.to_string()))
}
