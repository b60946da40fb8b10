//! In the place of the report on paper where the program is built without it.

use super::content::Content;
use super::leaflet::Leaflet;
use crate::error::{Error, Result};

const NONE: Error = Error::NotBuilt { what: "reports on paper", feature: "paper" };

/// Cannot be made.
///
/// # Errors
/// [`Error::NotBuilt`], always.
pub fn paper(_: &Content) -> Result<Vec<u8>> {
    Err(NONE)
}

/// Cannot be made.
///
/// # Errors
/// [`Error::NotBuilt`], always.
pub fn leaflet_paper(_: &Leaflet) -> Result<Vec<u8>> {
    Err(NONE)
}
