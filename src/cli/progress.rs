//! A bar in frames on a terminal; silent elsewhere.

use std::io::IsTerminal;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use indicatif::{ProgressBar, ProgressStyle};

use crate::pipeline::Watcher;

/// Shows progress on standard error and knows of Ctrl-C.
pub(super) struct Progress {
    bar: ProgressBar,
    stopped: Arc<AtomicBool>,
}

impl Progress {
    pub fn new(stopped: Arc<AtomicBool>) -> Self {
        let bar = if std::io::stderr().is_terminal() {
            ProgressBar::new(0)
        } else {
            ProgressBar::hidden()
        };
        // The template is a constant; a fault in it only costs the look.
        if let Ok(style) =
            ProgressStyle::with_template("{msg:>10} {wide_bar} {pos}/{len} frames, {eta} left")
        {
            bar.set_style(style);
        }
        bar.set_message("looking");
        Self { bar, stopped }
    }
}

impl Progress {
    fn show(&self, what: &'static str, done: u64, of: Option<u64>) {
        if let Some(of) = of {
            self.bar.set_length(of.max(done));
        }
        self.bar.set_message(what);
        self.bar.set_position(done);
    }
}

impl Watcher for Progress {
    fn frames(&mut self, done: u64, of: Option<u64>) {
        self.show("measuring", done, of);
    }

    fn drawn(&mut self, done: u64, of: Option<u64>) {
        self.show("drawing", done, of);
    }

    fn stopped(&self) -> bool {
        self.stopped.load(Ordering::Relaxed)
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
