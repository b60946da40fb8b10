//! The only place that knows the order of the stages.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

mod arrivals;
mod batch;
mod clips;
mod note;
mod one;
mod report;
mod watch;

pub use arrivals::Arrivals;
pub use batch::{Existing, Outcome, Task, assess_files};
pub use clips::clips_in;
pub use note::Note;
pub use one::{Assessed, LazyNetworks, Settings, assess_file};
pub use report::{Judged, Wanted, write_session};
pub use watch::{look_at_clip, watch_clip};

/// Told about the progress of a long run, and asked whether to go on.
pub trait Watcher {
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
