//! From a file to its session, and what else is done with sessions in folders.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

mod amend;
mod arrivals;
mod batch;
mod clips;
mod note;
mod observe;
mod one;
mod report;

pub use amend::add_to_review;
pub use arrivals::Arrivals;
pub use batch::{Done, Existing, Task, assess_files};
pub use clips::clips_in;
pub use note::Note;
pub use observe::{look_at_clip, observe_clip};
pub use one::{AssessOptions, Assessed, LazyNetworks, assess_file};
pub use report::{Judged, Wanted, write_session};

/// Told about the progress of a long run, and asked whether to go on.
pub trait Progress {
    /// Frames done so far, and of how many if that is known.
    fn frames(&mut self, done: u64, of: Option<u64>);
    /// Frames of the annotated film done so far, and of how many if that is known.
    fn drawn(&mut self, done: u64, of: Option<u64>);
    /// Raised when the user wants to stop.
    fn stop(&self) -> &Arc<AtomicBool>;
    /// True if the user wants to stop.
    fn stopped(&self) -> bool {
        self.stop().load(Ordering::Relaxed)
    }
}
