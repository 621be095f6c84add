//! Whether a record may still be gone by: what later records and rechecks say of it.

use std::fs;
use std::path::Path;

use crate::bench::Bench;
use crate::cell::Cell;
use crate::cli::Failure;
use crate::cli::history;
use crate::cli::kept;
use crate::cli::papers;
use crate::cli::papers::Sort;
use crate::history::History;
use crate::history::Recheck;
use crate::records;
use crate::report;
use crate::report::Lapsed;

/// What is known of a record beside what stands in it.
#[derive(Debug, Default)]
pub struct Standing {
    /// Why it is not to be gone by any more.
    pub lapsed: Option<Lapsed>,
    /// What else a person must look at.
    pub looks: Vec<String>,
    /// Parameters that drift, and how.
    pub drifts: Vec<(String, String)>,
}

/// What later records and rechecks say of a record of a folder.
pub fn standing(root: &Path, path: &Path, bench: &Bench) -> Result<Standing, Failure> {
    if let Some(by) = superseded(root, path, &bench.cell)? {
        return Ok(Standing {
            lapsed: Some(Lapsed::Superseded(by)),
            ..Standing::default()
        });
    }
    let doubted = doubted(root, path).map(Lapsed::Doubted);
    let mut standing = Standing::default();
    // A single record drifts from nothing.
    if kept::paths(root)?.len() > 1 || bench.cell.accept.due_days.is_some() {
        let history = history::of(root, bench)?;
        // Of a single record they say what its own verdict says.
        if history.records.len() > 1 {
            standing.looks = beside(&history);
        }
        let due = history.due.past().then(|| report::history::due(&history));
        standing.lapsed = due.map(Lapsed::Due);
        standing.drifts = report::history::drifting(&history);
    }
    // What was seen counts more than what is predicted.
    standing.lapsed = doubted.or(standing.lapsed);
    Ok(standing)
}

/// What is to be looked at of the records together, but for what [`Lapsed`] says.
fn beside(history: &History) -> Vec<String> {
    let told = |look: &&String| {
        look.ends_with("does not hold any more.") || look.starts_with("A registration has been due")
    };
    history.look.iter().filter(|l| !told(l)).cloned().collect()
}

/// That the newest recheck of a record found that it does not hold any more, in a sentence.
pub fn doubted(root: &Path, path: &Path) -> Option<String> {
    let record = path.file_name()?.to_str()?;
    let all = papers::kept_of(root, Sort::Recheck).ok()?;
    let mut of_it = all.iter().rev().filter_map(|(_, path)| {
        let text = fs::read_to_string(path).ok()?;
        let read: Recheck = records::read_as(&text).ok()?;
        (read.against.file == record).then_some((path, read))
    });
    let (path, newest) = of_it.next()?;
    let day = newest.date();
    let name = path.file_name()?.to_string_lossy().into_owned();
    let found = format!(
        "the recheck of {} ({name}) found that {record} does not hold any more",
        day.get(..10).unwrap_or(day)
    );
    (!newest.holds).then_some(found)
}

/// The record that a later one took the place of: what may not be keyed in any more, in a sentence.
fn superseded(root: &Path, path: &Path, cell: &Cell) -> Result<Option<String>, Failure> {
    let all = kept::paths(root)?;
    let this = fs::canonicalize(path).ok();
    let place = all.iter().position(|p| fs::canonicalize(p).ok() == this);
    let (Some(place), Some(newest)) = (place, all.last()) else {
        return Ok(None);
    };
    if place + 1 == all.len() {
        return Ok(None);
    }
    let later = &all[place + 1..];
    let moved = later.iter().filter_map(|p| kept::load(p, cell).ok());
    let parts: Vec<String> = moved
        .filter_map(|k| k.body.moved)
        .flat_map(|m| m.parts)
        .collect();
    let newest = match kept::load(newest, cell) {
        Ok(newest) => newest.called(),
        Err(_) => newest.display().to_string(),
    };
    let moved = match parts.is_empty() {
        true => String::new(),
        false => format!("; since then was moved: {}", parts.join(", ")),
    };
    Ok(Some(format!("superseded by {newest}{moved}")))
}
