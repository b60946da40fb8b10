//! The points in three dimensions as text, as they stand in the session.

use super::stored::Stored;
use crate::error::Result;
use crate::files::FolderWriter;

pub(super) fn write(session: &Stored, into: &FolderWriter) -> Result<()> {
    // Nothing that other programs could not read leaves.
    session.points()?;
    let motion = session.motion()?;
    into.write(&format!("{}.trc", session.id()), |out| out.write_all(&motion))
}
