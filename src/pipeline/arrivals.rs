//! Which clips of a watched folder are whole and still to be dealt with.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crate::files::{self, Stamp};

/// What is known of the clips of a folder, from look to look.
#[derive(Debug)]
pub struct Arrivals {
    settle: Duration,
    seen: HashMap<PathBuf, Seen>,
}

#[derive(Debug)]
struct Seen {
    stamp: Stamp,
    /// When it was first seen like this.
    since: Instant,
    state: State,
}

#[derive(Debug)]
enum State {
    /// Growing, or whole and to be dealt with.
    Waiting,
    /// Dealt with, as long as this file or folder tells so.
    Told(PathBuf),
    /// Not to be tried before.
    NotBefore(Instant),
}

impl Arrivals {
    /// A clip is whole once its size and time of change are the same for `settle`.
    pub fn new(settle: Duration) -> Self {
        Self { settle, seen: HashMap::new() }
    }

    /// Takes in what is in the folder now; gives those that are whole and to be dealt
    /// with, in the order of `found`.
    pub fn look(&mut self, now: Instant, found: &[(PathBuf, Stamp)]) -> Vec<PathBuf> {
        self.seen.retain(|path, _| found.iter().any(|(there, _)| there == path));
        let mut whole = Vec::new();
        for (path, stamp) in found {
            let fresh = || Seen { stamp: *stamp, since: now, state: State::Waiting };
            let seen = self.seen.entry(path.clone()).or_insert_with(fresh);
            if seen.stamp != *stamp {
                *seen = fresh();
            }
            let open = match &seen.state {
                State::Waiting => true,
                State::Told(by) => !files::exists(by),
                State::NotBefore(time) => now >= *time,
            };
            if open {
                seen.state = State::Waiting;
                if now.saturating_duration_since(seen.since) >= self.settle {
                    whole.push(path.clone());
                }
            }
        }
        whole
    }

    /// A clip is dealt with until it changes, or `by` is taken away.
    pub fn told(&mut self, clip: &Path, by: PathBuf) {
        self.set(clip, State::Told(by));
    }

    /// A clip is to be tried again, but not before `time`.
    pub fn later(&mut self, clip: &Path, time: Instant) {
        self.set(clip, State::NotBefore(time));
    }

    /// True if some clip is still on its way.
    pub fn waiting(&self) -> bool {
        self.seen.values().any(|seen| matches!(seen.state, State::Waiting))
    }

    /// The stamp a clip had at the last look.
    pub fn stamp(&self, clip: &Path) -> Option<Stamp> {
        self.seen.get(clip).map(|seen| seen.stamp)
    }

    fn set(&mut self, clip: &Path, state: State) {
        if let Some(seen) = self.seen.get_mut(clip) {
            seen.state = state;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clip_is_whole_when_it_has_been_the_same_for_a_while() {
        let start = Instant::now();
        let at = |s: u64| start + Duration::from_secs(s);
        let clip = PathBuf::from("a.mp4");
        let whole = std::slice::from_ref(&clip);
        let of = |bytes| {
            [(PathBuf::from("a.mp4"), Stamp { bytes, changed: jiff::Timestamp::UNIX_EPOCH })]
        };
        let mut arrivals = Arrivals::new(Duration::from_secs(10));
        assert!(arrivals.look(at(0), &of(1)).is_empty());
        // It grows just before the time is over: that begins anew.
        assert!(arrivals.look(at(9), &of(2)).is_empty());
        assert!(arrivals.look(at(18), &of(2)).is_empty() && arrivals.waiting());
        assert_eq!(arrivals.look(at(19), &of(2)), whole);

        let dir = tempfile::tempdir().unwrap();
        arrivals.told(&clip, dir.path().to_path_buf());
        assert!(arrivals.look(at(60), &of(2)).is_empty() && !arrivals.waiting());
        drop(dir);
        assert_eq!(arrivals.look(at(61), &of(2)), whole, "what told it is gone");

        arrivals.later(&clip, at(120));
        assert!(arrivals.look(at(119), &of(2)).is_empty() && !arrivals.waiting());
        assert_eq!(arrivals.look(at(120), &of(2)), whole);

        arrivals.look(at(121), &[]);
        assert!(!arrivals.waiting() && arrivals.look(at(122), &of(2)).is_empty(), "new again");
    }
}
