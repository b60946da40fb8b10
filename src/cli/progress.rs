//! A bar in frames on a terminal; silent elsewhere.

use std::io::IsTerminal;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use indicatif::{MultiProgress, ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::pipeline::Progress;
use crate::shown;

/// Shows progress on standard error and knows of Ctrl-C.
pub(super) struct Bar {
    bar: ProgressBar,
    stopped: Arc<AtomicBool>,
}

impl Bar {
    pub fn new(stopped: Arc<AtomicBool>) -> Self {
        Self::of(ProgressBar::with_draw_target(Some(0), target()), "", stopped)
    }

    /// `prefix` stands before the bar.
    fn of(bar: ProgressBar, prefix: &str, stopped: Arc<AtomicBool>) -> Self {
        let template =
            format!("{prefix}{{msg:>10}} {{wide_bar}} {{pos}}/{{len}} frames, {{eta}} left");
        // A fault in the template only costs the look.
        if let Ok(style) = ProgressStyle::with_template(&template) {
            bar.set_style(style);
        }
        bar.set_message("looking");
        Self { bar, stopped }
    }

    /// Takes the bar away.
    pub fn finish(&self) {
        self.bar.finish_and_clear();
    }

    fn show(&self, what: &'static str, done: u64, of: Option<u64>) {
        if let Some(of) = of {
            self.bar.set_length(of.max(done));
        }
        self.bar.set_message(what);
        self.bar.set_position(done);
    }
}

fn target() -> ProgressDrawTarget {
    if std::io::stderr().is_terminal() {
        ProgressDrawTarget::stderr()
    } else {
        ProgressDrawTarget::hidden()
    }
}

impl Progress for Bar {
    fn frames(&mut self, done: u64, of: Option<u64>) {
        self.show("measuring", done, of);
    }

    fn drawn(&mut self, done: u64, of: Option<u64>) {
        self.show("drawing", done, of);
    }

    fn stop(&self) -> &Arc<AtomicBool> {
        &self.stopped
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.finish();
    }
}

/// Bars of clips at work side by side, one below the other.
pub(super) struct Board {
    bars: MultiProgress,
    stopped: Arc<AtomicBool>,
}

impl Board {
    pub fn new(stopped: Arc<AtomicBool>) -> Self {
        Self { bars: MultiProgress::with_draw_target(target()), stopped }
    }

    /// A bar for a clip.
    pub fn bar(&self, clip: &Path) -> Bar {
        let bar = self.bars.add(ProgressBar::new(0));
        bar.set_prefix(shown::name(clip));
        Bar::of(bar, "{prefix:20!} ", self.stopped.clone())
    }

    /// Does something that writes lines, with no bar in the way.
    pub fn aside<T>(&self, work: impl FnOnce() -> T) -> T {
        self.bars.suspend(work)
    }
}
