//! The guide as one page for a browser, which loads nothing from anywhere.

use askama::Template;
use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use sha2::{Digest, Sha256};

use crate::error::{Error, Result};

use super::{Guide, NumberedPart, numbered, publications, sources, words};

const STYLE: &str = include_str!("page.css");

#[derive(Template)]
#[template(path = "guide/page.html", config = "src/report/askama.toml")]
struct Page<'a> {
    guide: &'a Guide,
    style: &'static str,
    style_sha256: String,
    parts: Vec<NumberedPart>,
    sources: Vec<(&'static str, String)>,
    publications: Vec<(&'static str, &'static str)>,
}

/// The guide as a self-contained HTML page, for phone, screen and A4 print.
///
/// # Errors
/// [`Error::Page`].
pub fn guide_page() -> Result<String> {
    let page = Page {
        guide: &words::GUIDE,
        style: STYLE,
        style_sha256: BASE64_STANDARD.encode(Sha256::digest(STYLE)),
        parts: numbered(),
        sources: sources(),
        publications: publications(),
    };
    page.render().map_err(|e| Error::Page(e.to_string()))
}
