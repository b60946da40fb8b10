//! What became of many clips: a table for a terminal, a line of JSON for programs.

use std::path::{Path, PathBuf};

use serde::{Serialize, Serializer};

use super::lines::{Stands, strong, table};
use super::wording;
use crate::error::Error;
use crate::session::Session;
use crate::session::summary::SessionSummary;
use crate::shown;

/// Version of the line.
const SCHEMA: &str = "plumbrise.clip/1";

/// What became of a clip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ClipState {
    /// Assessed now.
    Done,
    /// Assessed before.
    DoneBefore,
    /// Not assessed.
    Failed,
    /// Given up or not begun when the run was interrupted.
    Interrupted,
}

impl ClipState {
    const ALL: [ClipState; 4] =
        [ClipState::Done, ClipState::DoneBefore, ClipState::Failed, ClipState::Interrupted];

    fn word(self) -> &'static str {
        match self {
            ClipState::Done => "done",
            ClipState::DoneBefore => "done before",
            ClipState::Failed => "failed",
            ClipState::Interrupted => "interrupted",
        }
    }
}

/// One of many clips, and what became of it.
#[derive(Debug, Serialize)]
pub struct ClipLine {
    schema: &'static str,
    #[serde(serialize_with = "lossy")]
    clip: PathBuf,
    session: Option<String>,
    state: ClipState,
    summary: Option<SessionSummary>,
    why: Option<String>,
    hint: Option<String>,
    #[serde(skip)]
    seen: String,
}

impl ClipLine {
    /// A clip that is assessed, now or before, its results in `session`.
    pub fn assessed(clip: &Path, session: &Path, state: ClipState, it: &Session) -> Self {
        Self {
            schema: SCHEMA,
            clip: clip.into(),
            session: Some(session.to_string_lossy().into_owned()),
            state,
            summary: Some(it.summary()),
            why: None,
            hint: None,
            seen: wording::clips::seen(&it.in_force),
        }
    }

    /// A clip that is not assessed, and what to do about it.
    pub fn failed(clip: &Path, error: &Error, hint: Option<String>) -> Self {
        let interrupted = matches!(error, Error::Interrupted);
        let why = (!interrupted).then(|| wording::clips::why(clip, error));
        Self {
            schema: SCHEMA,
            clip: clip.into(),
            session: None,
            state: if interrupted { ClipState::Interrupted } else { ClipState::Failed },
            summary: None,
            seen: why.clone().unwrap_or_default(),
            why,
            hint,
        }
    }

    fn cells(&self, name: String) -> [String; 7] {
        let s = self.summary.as_ref();
        let or_dash = |text: Option<String>| text.unwrap_or_else(|| "–".into());
        [
            name,
            or_dash(s.and_then(|s| s.leg).map(|leg| leg.word().into())),
            or_dash(s.map(|s| s.rung.words().into())),
            or_dash(s.map(|s| s.reps.to_string())),
            or_dash(s.map(|s| s.clean.to_string())),
            self.state.word().into(),
            self.seen.clone(),
        ]
    }
}

/// A name that is not Unicode must not cost the line.
fn lossy<S: Serializer>(path: &Path, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str(&path.to_string_lossy())
}

/// The table of many clips, one line a clip, and the totals; `colour` adds emphasis without
/// a meaning of its own.
pub fn clips(lines: &[ClipLine], colour: bool) -> String {
    let mut folders: Vec<_> = lines.iter().map(|line| line.clip.parent()).collect();
    folders.dedup();
    // The folder is named only where there are several.
    let name = |line: &ClipLine| match line.clip.file_name() {
        Some(_) if folders.len() == 1 => shown::name(&line.clip),
        _ => shown::path(&line.clip),
    };
    let heads = wording::clips::HEADINGS.map(String::from).to_vec();
    let cells = lines.iter().map(|line| line.cells(name(line)).to_vec());
    let rows: Vec<Vec<String>> = std::iter::once(heads).chain(cells).collect();
    use Stands::{Left, Right};
    let stands = [Left, Left, Left, Right, Right, Left, Left];
    let mut out = String::new();
    for (at, line) in table(&rows, &stands).iter().enumerate() {
        out.push_str(&strong(line, colour && at == 0));
        out.push('\n');
    }
    let states = ClipState::ALL
        .map(|state| (state.word(), lines.iter().filter(|line| line.state == state).count()));
    let sum = |of: fn(&SessionSummary) -> usize| -> usize {
        lines.iter().filter_map(|line| line.summary.as_ref()).map(of).sum()
    };
    let totals = wording::clips::totals(lines.len(), &states, sum(|s| s.reps), sum(|s| s.clean));
    out.push_str(&format!("\n{totals}\n"));
    out
}
