//! The points in three dimensions as text, as they stand in the session.

use super::stored::Stored;
use crate::error::Result;
use crate::files::FolderWriter;
use crate::session;

pub(super) fn write(session: &Stored, into: &FolderWriter) -> Result<()> {
    // Nothing that other programs could not read leaves.
    session.points()?;
    into.copy(&format!("{}.trc", session.id()), &session.item.folder.join(session::MOTION))
}
