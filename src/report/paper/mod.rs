//! The report on paper: A4, for print, reading aloud and archive
//! (PDF/A-2a, ISO 19005-2; PDF/UA-1, ISO 14289-1).
//!
//! `report` and `leaflet` say what stands in the two papers, in shapes that `house` has for
//! both; `layout` deals it out to pages, `draw` writes them. Nothing is read for it: no file,
//! no font of the computer, no clock.

mod draw;
mod house;
mod layout;
mod leaflet;
mod report;
mod typeface;

use self::draw::{About, draw};
use self::house::House;
use self::typeface::Typeface;
use super::content::Content;
use super::leaflet::Leaflet;
use super::sheet::Sheet;
use crate::error::{Error, Result};

/// Sets the content as a PDF file.
///
/// # Errors
/// [`Error::Paper`] with what keeps it from being made.
pub fn paper(content: &Content) -> Result<Vec<u8>> {
    let sheet = Sheet::of(content);
    let about = About {
        title: sheet.title,
        about: &sheet.clip,
        headline: &sheet.headline,
        date: content.date,
    };
    set(&about, |house| report::write(&sheet, house))
}

/// Sets a short report as a PDF file.
///
/// # Errors
/// [`Error::Paper`] with what keeps it from being made.
pub fn leaflet_paper(it: &Leaflet) -> Result<Vec<u8>> {
    let about = About { title: &it.title, about: &it.about, headline: &it.headline, date: it.date };
    set(&about, |house| leaflet::write(it, house))
}

fn set(
    about: &About,
    write: impl FnOnce(&mut House) -> std::result::Result<(), String>,
) -> Result<Vec<u8>> {
    let typeface = Typeface::read().ok_or_else(|| Error::Paper("no typeface".into()))?;
    let mut house = House::new(&typeface);
    write(&mut house).and_then(|()| draw(house, &typeface, about)).map_err(Error::Paper)
}
