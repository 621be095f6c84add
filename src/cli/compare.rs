//! `notchpin compare`.

use std::path::Path;
use std::path::PathBuf;

use crate::cell::Cell;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::as_found::as_found;
use crate::cli::folder;
use crate::cli::folder::Folder;
use crate::cli::json;
use crate::cli::kept;
use crate::cli::kept::Kept;
use crate::cli::papers;
use crate::moves::change;
use crate::moves::movement;
use crate::parts::Part;
use crate::registration::points_at;
use crate::report::moves;
use crate::report::moves::CompareFacts;
use crate::report::moves::ShiftRow;
use crate::transfer::Epoch;
use crate::transfer::over_range;
use crate::transfer::shift_at;

pub fn run(args: &args::Compare, console: &Console) -> Done {
    let (cell, named) = split(&args.what)?;
    let root = folder::root_of(cell.as_deref());
    let folder = folder::read(&root, folder::Need::Points)?;
    console.warnings(&folder.problems);
    let cell = &folder.bench.cell;
    let (all, a, b) = both(&folder, &root, &named)?;
    kept::notes(&folder, &all[a.max(b)], console);
    // Worked out from the earlier to the later one, told as asked for.
    let (between, shared) = kept::between(cell, &all, a, b);
    let (old, new) = (&all[a], &all[b]);
    let change = change(cell, &old.force, &new.force, &between);
    let epoch = Epoch {
        old: &old.force,
        new: &new.force,
        between: &between,
    };
    let points = points_at(
        &folder.bench,
        &new.force.geometry,
        &new.force.unknowns,
        &new.force.covariance,
    );
    let mut rows = Vec::new();
    for p in &points {
        let shift = p.stand.and_then(|stand| shift_at(&epoch, &stand, p.frame));
        rows.push(ShiftRow {
            name: p.name.clone(),
            frame: p.frame,
            taught: p.taught,
            shift,
        });
    }
    let movements = Part::all(cell)
        .into_iter()
        .map(|p| movement(p, cell, &old.force.geometry, &new.force.geometry, &change))
        .collect();
    let document = moves::compare_document(&CompareFacts {
        cell,
        from: &old.called(),
        to: &new.called(),
        shared,
        change: &change,
        movements,
        points: &rows,
        range: over_range(&folder.bench, &epoch),
    });
    let text = match args.json {
        true => json(&document)?,
        false => moves::compare(&document),
    };
    console.answer(&text)?;
    Ok(match document.changed {
        true => Status::Look,
        false => Status::Good,
    })
}

/// The cell and the records among the arguments: `CELL A B`, `A B` in the cell's folder, `CELL` alone for
/// the two newest.
fn split(what: &[String]) -> Result<(Option<PathBuf>, Vec<String>), Failure> {
    let is_cell = |text: &String| {
        let path = Path::new(text);
        path.is_dir() || (path.file_name().is_some_and(|n| n == "cell.toml"))
    };
    let (cell, rest) = match what.split_first() {
        Some((first, rest)) if is_cell(first) => (Some(PathBuf::from(first)), rest),
        _ => (None, what),
    };
    match rest.len() {
        0 | 2 => Ok((cell, rest.to_vec())),
        n => Err(Failure::Message(format!(
            "found {n} record{}, expected two of them or none: notchpin compare CELL A B, where A and B are numbers, \
             names or paths of records (registration-0002.json, recheck-0001.json)",
            if n == 1 { "" } else { "s" }
        ))),
    }
}

/// All records with the places of the two that are compared; what was found by a recheck stands at the end.
fn both(
    folder: &Folder,
    root: &Path,
    named: &[String],
) -> Result<(Vec<Kept>, usize, usize), Failure> {
    let cell = &folder.bench.cell;
    let mut all: Vec<Kept> = Vec::new();
    for path in kept::paths(root)? {
        if let Ok(kept) = kept::load(&path, cell) {
            all.push(kept);
        }
    }
    let [a, b] = match named {
        [a, b] => [
            place(&mut all, folder, root, cell, a)?,
            place(&mut all, folder, root, cell, b)?,
        ],
        _ if all.len() >= 2 => [all.len() - 2, all.len() - 1],
        _ => {
            return Err(Failure::Message(
                "there is only one record that can be read, and nothing to compare it with; after a move \
                 `notchpin recheck` holds new readings against it"
                    .to_owned(),
            ));
        }
    };
    Ok((all, a, b))
}

fn place(
    all: &mut Vec<Kept>,
    folder: &Folder,
    root: &Path,
    cell: &Cell,
    text: &str,
) -> Result<usize, Failure> {
    let name = Path::new(text)
        .file_name()
        .and_then(|n| n.to_str())
        .unwrap_or(text);
    let kept = match name.starts_with(papers::Sort::Recheck.prefix()) {
        true => as_found(folder, root, all, text)?,
        false => kept::load(&kept::named(root, text)?, cell)?,
    };
    if let Some(at) = all.iter().position(|k| k.link.sha256 == kept.link.sha256) {
        return Ok(at);
    }
    all.push(kept);
    Ok(all.len() - 1)
}
