//! Words about the archive.

use std::path::Path;

use crate::judgement::document::Rung;
use crate::session::review::ReviewState;
use crate::shown;

/// A rung in a table cell.
pub fn rung(rung: Rung) -> &'static str {
    match rung {
        Rung::SingleLeg => "single leg",
        Rung::Lowering => "lowering",
        Rung::SplitStance => "split stance",
        Rung::TwoLeg => "two legs",
    }
}

/// How far a session is reviewed, in a table cell.
pub fn review(state: &ReviewState) -> &'static str {
    match state {
        ReviewState::NotReviewed => "no",
        ReviewState::Begun => "begun",
        ReviewState::SignedOff { .. } => "signed",
    }
}

/// Under a table of sessions.
pub const RUN: &str = "Run: most clean reps in one go. Review: by a clinician.";

/// A session was put under another code.
pub fn moved(session: &str, person: &str) -> String {
    format!("Session {session} is now of {person}.")
}

/// A back-up was restored into a folder.
pub fn restored(folder: &Path) -> String {
    format!("Restored and checked: {}", shown::path(folder))
}

/// A number with what it counts.
pub fn count(n: usize, one: &str, more: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { more })
}

/// A size for people: bytes as they are, then KB and MB (powers of ten).
pub fn size(bytes: u64) -> String {
    let b = bytes as f64;
    match bytes {
        0..1_000 => format!("{bytes} B"),
        1_000..1_000_000 => format!("{:.1} KB", b / 1e3),
        _ => format!("{:.1} MB", b / 1e6),
    }
}

/// A code that was just drawn.
pub fn drawn(code: &str) -> String {
    format!(
        "New code: {code}. Write it where you keep your patients' names, and use it for this \
         person's next sessions (--person {code}). The archive knows no name."
    )
}

/// Files that may show faces were not taken along.
pub fn left_out(files: &[String]) -> String {
    format!(
        "Left out, as faces in it may be seen: {}. Assess again with faces hidden, or give \
         --faces-shown-with-consent if everybody in the picture has agreed that it is kept.",
        files.join(", ")
    )
}

/// The clip itself was kept.
pub const CLIP_KEPT: &str = "The clip is kept as the phone made it: faces and voices, and \
     perhaps the place where it was filmed, are in it.";

/// Filmed on a day nobody has told.
pub const DAY_UNKNOWN: &str = "When it was filmed is not known: it counts from today. If you \
     know the day, add it again with --recorded DAY.";

/// Nothing is in an archive.
pub const EMPTY: &str = "Nobody is in this archive yet.";

/// The text for people that lies in an archive is another.
pub const READ_ME_CHANGED: &str = "Changed: READ-ME.txt. Remove it, and the next command that \
     writes puts it back.";

/// What a run that was ended has left.
pub fn left_over(files: &[String]) -> String {
    format!(
        "Left over from a run that was ended, and tidied away: {}.",
        count(files.len(), "file", "files")
    )
}

/// Nobody could be kept out while an archive was looked through.
pub const UNGUARDED: &str = "Nothing can be written here: nobody could be kept from changing the \
     archive meanwhile, and nothing was tidied away.";

/// After work that is done, where its messages could not be printed.
pub const DONE_UNTOLD: &str = "That is about the messages only: what they are about is done.";

/// Nobody is due for erasure.
pub const NOBODY_DUE: &str = "Nobody is due.";

/// Under a table in which days of adding stand.
pub const FILMED_MARK: &str = "* day of adding; when it was filmed is not known";

/// Before something is erased.
pub const NOT_YET: &str = "Nothing was erased. It cannot be undone: say --yes if it is to be.";

/// What erasing does not reach.
pub const NOT_REACHED: &str = "Not reached: back-ups, exports, session folders and clips outside \
     the archive. Erase those yourself. A drive may keep removed files for a while where only \
     special tools find them.";

/// After something was erased, where the code stands nowhere.
pub const PROVED: &str = "Looked at afterwards: no session and no file of the person is left, and \
     the code stands in no file of the archive.";

/// After something was erased, where the code still stands somewhere.
pub fn still_in(files: &[String]) -> String {
    format!(
        "Looked at afterwards: no session and no file of the person is left. The letters of the \
         code still stand in {}, which belong to others or to the archive itself: a note about \
         this person, or chance with a short code. Look yourself.",
        files.join(", ")
    )
}

/// What stays of an erased person.
pub const TOMBSTONE: &str = "The archive keeps only that this code was erased and when, so that \
     it is not taken again by mistake, in a form from which a code is found only by trying all \
     of them: slow, but not impossible for somebody who has the archive.";

/// How long sessions are kept is for others to say.
pub const RETENTION_RULES: &str = "How long records must and may be kept is for the rules of your \
     clinic and country to say; they come first. Nothing is erased by itself: 'plumbrise archive \
     list --due' shows who is due, 'plumbrise archive erase --due --yes' erases them.";

/// How long sessions are to be kept.
pub fn retention(years: Option<u32>) -> String {
    match years {
        None => "Nobody has said how long sessions are to be kept.".into(),
        Some(years) => format!(
            "Sessions are to be kept for {} after a person's last one.",
            count(years as usize, "year", "years")
        ),
    }
}

/// After a back-up.
pub const BACKED_UP: &str = "Keep it as safe as the archive itself. Who is erased later is still \
     in it.";

/// After restoring, where nothing could be said of who was erased since.
pub const ERASED_SINCE: &str = "Who was erased after this back-up was made is here again: erase \
     them once more, or restore with --erased-in if the archive that was in use is still there.";
