//! `notchpin transfer`.

use std::fs;
use std::path::Path;
use std::time::SystemTime;

use crate::answers::force::as_it_was;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::folder;
use crate::cli::folder::Folder;
use crate::cli::json;
use crate::cli::kept;
use crate::cli::kept::Kept;
use crate::cli::standing;
use crate::cli::whole::write_new;
use crate::points::TaughtPoint;
use crate::report::moves;
use crate::report::moves::TransferFacts;
use crate::report::moves::TransferRow;
use crate::transfer::Epoch;
use crate::transfer::Where;
use crate::transfer::carry;

pub fn run(args: &args::Transfer, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let folder = folder::read(&root, folder::Need::Points)?;
    console.warnings(&folder.problems);
    let bench = &folder.bench;
    if bench.taught.is_empty() {
        return Err(Failure::Message(
            "this cell has no taught points: taught.csv (name, frame, track, table, j1 …) is not there, or \
             empty; points of points.csv are coordinates and need no transfer"
                .to_owned(),
        ));
    }
    let now = kept::in_force(&folder, args.record.as_deref(), console)?;
    let mut all = kept::up_to(&root, &bench.cell, &now);
    let at = match all.iter().position(|k| k.link.sha256 == now.link.sha256) {
        Some(at) => at,
        // A record given by its path may lie elsewhere.
        None => {
            all.push(now);
            all.len() - 1
        }
    };
    let from = match &args.from {
        Some(text) => Some(place_of(&all, &root, &bench.cell, text)?),
        None => None,
    };
    let to = match (args.best, &args.track, &args.table) {
        (true, _, _) => Where::Best,
        (false, None, None) => Where::AsTaught,
        (false, track, table) => Where::At {
            track: *track,
            table: *table,
        },
    };
    if args.track.is_some() && bench.cell.track.is_none() {
        return Err(Failure::Message(
            "this cell has no track: leave --track out".to_owned(),
        ));
    }
    if args.table.is_some() && bench.cell.turntable.is_none() {
        return Err(Failure::Message(
            "this cell has no turntable: leave --table out".to_owned(),
        ));
    }
    let mut rows = Vec::new();
    for point in chosen(&folder, args.point.as_deref())? {
        let (when, why) = match (&point.record, from) {
            (Some(text), _) => (
                place_of(&all, &root, &bench.cell, text).map_err(|e| in_line(e, point))?,
                "as taught.csv says",
            ),
            (None, Some(from)) => (from, "as --from says"),
            (None, None) => assumed(&all, &root, point),
        };
        let (between, shared) = kept::between(&bench.cell, &all, when, at);
        let epoch = Epoch {
            old: &all[when].force,
            new: &all[at].force,
            between: &between,
        };
        let Some(carried) = carry(bench, point, &epoch, &to) else {
            return Err(Failure::Message(format!(
                "taught.csv, line {}: {} cannot be worked out in the geometry of {}",
                point.line, point.name, all[when].link.file
            )));
        };
        rows.push(TransferRow {
            carried,
            record: all[when].called(),
            assumed: why.to_owned(),
            shared,
        });
    }
    let facts = TransferFacts {
        bench,
        rows: &rows,
        record: &all[at].called(),
        record_file: &all[at].link.file,
        to: &to,
    };
    let doubt = standing::doubted(&root, &root.join("records").join(&all[at].link.file));
    if let (Some(doubt), Some(path)) = (&doubt, &args.out) {
        return Err(Failure::Message(format!(
            "{doubt}: readings that were carried to it would not lead to the points. Register what moved first. {} \
             was not written",
            path.display()
        )));
    }
    let csv = moves::transfer_csv(&facts);
    let written = match &args.out {
        Some(path) => {
            write_new(&root, path, &csv)?;
            Some(path.display().to_string())
        }
        None => None,
    };
    let mut document = moves::transfer_document(&facts);
    if let Some(doubt) = &doubt {
        document.look.insert(0, as_it_was(doubt));
    }
    let text = match (args.json, args.csv) {
        (true, _) => json(&document)?,
        (false, true) => csv,
        (false, false) => moves::transfer(&document, written.as_deref()),
    };
    if let (true, Some(path)) = (args.json || args.csv, &written) {
        console.note(&format!("written: {path}"));
    }
    if args.csv {
        for look in &document.look {
            console.note(&format!("look: {look}"));
        }
    }
    console.answer(&text)?;
    Ok(match document.look.is_empty() {
        true => Status::Good,
        false => Status::Look,
    })
}

fn chosen<'a>(folder: &'a Folder, name: Option<&str>) -> Result<Vec<&'a TaughtPoint>, Failure> {
    let all = &folder.bench.taught;
    let Some(name) = name else {
        return Ok(all.iter().collect());
    };
    let found: Vec<&TaughtPoint> = all.iter().filter(|p| p.name == name).collect();
    if found.is_empty() {
        let near = crate::diagnose::nearest(name, all.iter().map(|p| p.name.as_str()));
        let advice = near.map_or(String::new(), |n| format!("; write {n}, if that is meant"));
        return Err(Failure::Message(format!(
            "--point: found {name:?}, expected the name of a point of taught.csv{advice}"
        )));
    }
    Ok(found)
}

fn in_line(e: Failure, point: &TaughtPoint) -> Failure {
    match e {
        Failure::Message(text) => {
            Failure::Message(format!("taught.csv, line {} (record): {text}", point.line))
        }
        other => other,
    }
}

/// The place in the list of the record that a text names; only those up to the one in force count.
fn place_of(
    all: &[Kept],
    root: &Path,
    cell: &crate::cell::Cell,
    text: &str,
) -> Result<usize, Failure> {
    let kept = kept::load(&kept::named(root, text)?, cell)?;
    all.iter().position(|k| k.link.sha256 == kept.link.sha256).ok_or_else(|| {
        Failure::Message(format!(
            "{} is later than the record in force ({}): a point cannot have been taught under it",
            kept.link.file,
            all.last().map_or("", |k| k.link.file.as_str())
        ))
    })
}

/// Under which record a point was taught, where nobody says: as the records know it, else by the day of
/// the file.
fn assumed(all: &[Kept], root: &Path, point: &TaughtPoint) -> (usize, &'static str) {
    if let Some(at) = kept::taught_under(all, point) {
        return (at, "assumed: by the first record that knows it");
    }
    let changed = fs::metadata(root.join("taught.csv")).and_then(|m| m.modified());
    let changed = changed.unwrap_or(SystemTime::UNIX_EPOCH);
    let since = |k: &Kept| humantime::parse_rfc3339(&k.body.time).is_ok_and(|t| t <= changed);
    match all.iter().rposition(since) {
        Some(at) => (
            at,
            "assumed by the day on which taught.csv was last changed",
        ),
        None => (0, "assumed: taught.csv is older than all records"),
    }
}
