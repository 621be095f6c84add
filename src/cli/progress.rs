//! A progress bar on standard error, where a person watches.

use std::io::IsTerminal;
use std::time::Duration;

use indicatif::ProgressBar;
use indicatif::ProgressStyle;

use crate::cli::Console;

/// A line that says what is being done, for work whose length is not known beforehand; hidden as a bar is.
pub(crate) fn line(console: &Console, what: &'static str) -> ProgressBar {
    if console.quiet() || !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let line = ProgressBar::new_spinner().with_message(what);
    if let Ok(style) = ProgressStyle::with_template("{msg} [{elapsed}]") {
        line.set_style(style);
    }
    line.enable_steady_tick(Duration::from_millis(200));
    line
}

/// A bar over `length` steps; hidden where nobody watches or notes are not wanted.
pub(crate) fn bar(console: &Console, length: u64, what: &'static str) -> ProgressBar {
    if console.quiet() || !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(length).with_message(what);
    if let Ok(style) = ProgressStyle::with_template("{msg} {pos}/{len} [{elapsed}] {bar:30}") {
        bar.set_style(style.progress_chars("=> "));
    }
    bar.enable_steady_tick(Duration::from_millis(200));
    bar
}
