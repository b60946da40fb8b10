//! Sessions in the forms of open standards, for other programs and other houses.
//!
//! | Form | File | Standard |
//! |---|---|---|
//! | [`Format::Fhir`] | `SESSION.fhir.json` | HL7 FHIR R4 (4.0.1), a Bundle of type collection |
//! | [`Format::Dicom`] | `SESSION.dcm` | DICOM PS3.3 A.45.1, Encapsulated PDF |
//! | [`Format::Csv`] | `reps.csv`, `sessions.csv`, `columns.csv` | RFC 4180 |
//! | [`Format::Parquet`] | `reps/person=CODE/SESSION.parquet`, `sessions/…` | Apache Parquet, Hive partitions |
//! | [`Format::Trc`] | `SESSION.trc` | marker trajectories, no standard document |
//! | [`Format::C3d`] | `SESSION.c3d` | the C3D file format's user guide |
//! | [`Format::Bids`] | a data set | BIDS 1.10, Motion |
//!
//! A person is a code and nothing else; names of files and folders do not leave. What
//! carries the report is made from a session written again under a neutral name of its
//! clip ([`Session::neutral`](crate::session::Session::neutral)); the others hold no such name. Times are UTC.

mod bids;
mod c3d;
mod codes;
mod columns;
mod csv_tables;
#[cfg(feature = "dicom")]
mod dicom;
mod fhir;
mod identity;
#[cfg(feature = "parquet")]
mod parquet_tables;
mod stored;
mod trc;

use std::collections::BTreeSet;

use jiff::Timestamp;
use serde::Deserialize;

use crate::error::{Error, Remedy, Result};
use crate::files::FolderWriter;
use crate::session::SessionFiles;
use crate::session::person::Code;
use stored::Stored;

/// A form to export to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Format {
    /// HL7 FHIR R4: a bundle for a record system.
    Fhir,
    /// DICOM: the report for a picture archive.
    Dicom,
    /// Tables for a spreadsheet.
    Csv,
    /// Tables for statistics, one partition a person.
    Parquet,
    /// Points in three dimensions as text.
    Trc,
    /// Points and events for a motion laboratory.
    C3d,
    /// A motion data set for research.
    Bids,
}

/// A session to export. Of its files only those are read that the form needs, when its turn
/// comes.
pub struct Item<'a> {
    /// The session's files.
    pub session: Box<dyn SessionFiles + 'a>,
    /// Code of the person; `None` where none was given.
    pub person: Option<Code>,
    /// What the session is called outside: letters, digits and dashes.
    pub id: String,
    /// When the set was filmed, if it is known better than from the clip.
    pub recorded_at: Option<Timestamp>,
}

/// Only ASCII letters, digits and dashes, so that it may be a file's name anywhere.
fn is_plain(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-')
}

/// Writes sessions in a form into a folder under construction.
///
/// # Errors
/// [`Error::NotExported`] where a session lacks what the form needs,
/// those of reading the sessions and of writing.
pub fn write(format: Format, items: &[Item], into: &FolderWriter) -> Result<()> {
    check(items)?;
    match format {
        Format::Fhir => each(items, |session| fhir::write(session, into)),
        #[cfg(feature = "dicom")]
        Format::Dicom => each(items, |session| dicom::write(session, into)),
        Format::Csv => csv_tables::write(items, into),
        #[cfg(feature = "parquet")]
        Format::Parquet => each(items, |session| parquet_tables::write(session, into)),
        Format::Trc => each(items, |session| trc::write(session, into)),
        Format::C3d => each(items, |session| c3d::write(session, into)),
        Format::Bids => bids::write(items, into),
        #[cfg(not(feature = "dicom"))]
        Format::Dicom => Err(Error::NotBuilt { what: "DICOM", feature: "dicom" }),
        #[cfg(not(feature = "parquet"))]
        Format::Parquet => Err(Error::NotBuilt { what: "Parquet", feature: "parquet" }),
    }
}

fn each(items: &[Item], mut write: impl FnMut(&Stored) -> Result<()>) -> Result<()> {
    items.iter().try_for_each(|item| write(&Stored::read(item)?))
}

fn check(items: &[Item]) -> Result<()> {
    let mut ids = BTreeSet::new();
    for item in items {
        if !is_plain(&item.id) || !ids.insert(&item.id) {
            return Err(Error::NotExported {
                what: format!("'{}' would be in the export twice", item.session.shown().display()),
                remedy: Remedy::NameOnce,
            });
        }
    }
    Ok(())
}
