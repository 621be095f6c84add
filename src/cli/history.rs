//! `notchpin history`.

use std::path::Path;
use std::time::SystemTime;
use std::time::UNIX_EPOCH;

use crate::bench::Bench;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::folder;
use crate::cli::json;
use crate::cli::papers;
use crate::history;
use crate::history::Kept;
use crate::report;

const SECONDS_A_DAY: u64 = 86_400;

/// What the records of a folder say together.
pub fn of(root: &Path, bench: &Bench) -> Result<history::History, Failure> {
    let unread = |e: std::io::Error| {
        Failure::Message(format!(
            "{} cannot be read: {e}",
            root.join("records").display()
        ))
    };
    let found = papers::records_of(root).map_err(unread)?;
    if found.is_empty() {
        return Err(Failure::Message(format!(
            "{} holds no registration yet; make one with `notchpin register {}`",
            root.display(),
            root.display()
        )));
    }
    let papers = papers::papers_of(root).map_err(unread)?;
    let list = papers::list_of(root);
    let left_behind = papers::left_behind(root);
    let now = SystemTime::now().duration_since(UNIX_EPOCH);
    let today = now.map_or(0, |d| (d.as_secs() / SECONDS_A_DAY) as i64);
    let kept = Kept {
        papers: &papers,
        list: list.as_deref(),
        left_behind: &left_behind,
    };
    Ok(history::history(bench, kept, today))
}

pub fn run(args: &args::History, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let folder = folder::read(&root, folder::Need::Points)?;
    console.warnings(&folder.problems);
    let history = of(&root, &folder.bench)?;
    let text = match (args.json, args.csv) {
        (true, _) => json(&history)?,
        (_, true) => report::history::csv(&history),
        _ => report::history::history(&folder.bench.cell, &history),
    };
    console.answer(&text)?;
    Ok(match history.look.is_empty() {
        true => Status::Good,
        false => Status::Look,
    })
}
