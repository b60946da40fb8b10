//! What is counted of a set.

use serde::Serialize;

use crate::session::summary::SessionSummary;

/// A count of a set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Count {
    /// Reps in good form.
    Clean,
    /// Longest run of them.
    LongestCleanRun,
    /// All complete reps.
    Reps,
}

impl Count {
    /// All, the telling first.
    pub const ALL: [Count; 3] = [Count::Clean, Count::LongestCleanRun, Count::Reps];

    /// Its name in documents.
    pub fn key(self) -> &'static str {
        match self {
            Count::Clean => "clean",
            Count::LongestCleanRun => "longest_clean_run",
            Count::Reps => "reps",
        }
    }

    /// Of a session.
    pub fn of(self, summary: &SessionSummary) -> usize {
        match self {
            Count::Clean => summary.clean,
            Count::LongestCleanRun => summary.longest_clean_run,
            Count::Reps => summary.reps,
        }
    }
}
