//! Records that are kept in a cell folder: found by number or name, read, and how two hang together.

use std::fs;
use std::path::Path;
use std::path::PathBuf;

use nalgebra::DMatrix;

use crate::bench::Bench;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::cli::Console;
use crate::cli::Failure;
use crate::cli::folder;
use crate::cli::folder::Folder;
use crate::cli::papers;
use crate::diagnose::Problems;
use crate::moves::Kin;
use crate::moves::cross;
use crate::moves::tie_again;
use crate::points::TaughtPoint;
use crate::points::tip_place;
use crate::readings;
use crate::records;
use crate::records::Body;
use crate::records::InForce;
use crate::records::Link;
use crate::records::chain;

/// A record of a registration, read.
pub struct Kept {
    /// Its name and digest.
    pub link: Link,
    /// What it says.
    pub body: Body,
    /// The geometry that it puts in force.
    pub force: InForce,
}

impl Kept {
    /// How it is called in a sentence: `registration-0002.json of 2026-05-04`.
    pub fn called(&self) -> String {
        format!("{} of {}", self.link.file, self.day())
    }

    /// The day of its readings.
    pub fn day(&self) -> &str {
        let date = self.body.date();
        date.get(..10).unwrap_or(date)
    }
}

/// Reads one record; it must fit the cell as it is now.
pub fn load(path: &Path, cell: &Cell) -> Result<Kept, Failure> {
    let refuse = |why: String| {
        Failure::Message(format!(
            "{}: {why}; `notchpin history` says what is there",
            path.display()
        ))
    };
    let text = fs::read_to_string(path).map_err(|e| refuse(format!("cannot be read: {e}")))?;
    let (body, sha256) = records::read_with_digest(&text).map_err(|e| refuse(e.to_string()))?;
    let force = records::in_force(cell, &body).map_err(|e| refuse(e.to_string()))?;
    let name = path
        .file_name()
        .and_then(|n| n.to_str())
        .unwrap_or_default();
    Ok(Kept {
        link: Link {
            file: name.to_owned(),
            sha256,
        },
        body,
        force,
    })
}

/// Paths of all registrations, oldest first; a folder without any is an error.
pub fn paths(root: &Path) -> Result<Vec<PathBuf>, Failure> {
    let found = papers::records_of(root).map_err(|e| {
        Failure::Message(format!(
            "{} cannot be read: {e}",
            root.join("records").display()
        ))
    })?;
    match found.is_empty() {
        true => Err(Failure::Message(format!(
            "{} holds no registration yet; make one with `notchpin register {}`",
            root.display(),
            root.display()
        ))),
        false => Ok(found.into_iter().map(|(_, path)| path).collect()),
    }
}

/// The record that an argument names: its number, its file's name, or a path.
pub fn named(root: &Path, text: &str) -> Result<PathBuf, Failure> {
    for path in [PathBuf::from(text), root.join(text)] {
        if path.is_file() {
            return Ok(path);
        }
    }
    let all = paths(root)?;
    let number = |path: &PathBuf| {
        let name = path.file_name()?.to_str()?.to_owned();
        let digits: String = name.chars().filter(char::is_ascii_digit).collect();
        digits.parse::<u64>().ok()
    };
    let wanted = text.parse::<u64>().ok();
    let fits = |path: &&PathBuf| {
        let name = path.file_name().and_then(|n| n.to_str());
        name == Some(text)
            || name == Some(format!("{text}.json").as_str())
            || (wanted.is_some() && number(path) == wanted)
    };
    all.iter().find(fits).cloned().ok_or_else(|| {
        let names: Vec<&str> = all
            .iter()
            .filter_map(|p| p.file_name()?.to_str())
            .collect();
        Failure::Message(format!(
            "found {text:?}, expected a record of this cell: its number, its name or a path; there are {}",
            names.join(", ")
        ))
    })
}

/// The newest record, or the one that is named (number, name, path); says where `cell.toml` has changed since,
/// or the chain of records is broken.
pub fn in_force(folder: &Folder, given: Option<&Path>, console: &Console) -> Result<Kept, Failure> {
    let (root, cell) = (&folder.root, &folder.bench.cell);
    let path = match given {
        Some(path) => named(root, &path.to_string_lossy())?,
        // Never empty.
        None => paths(root)?.pop().unwrap_or_default(),
    };
    let kept = load(&path, cell)?;
    notes(folder, &kept, console);
    Ok(kept)
}

/// Says where the chain of records is broken, or `cell.toml` has changed since a record.
pub fn notes(folder: &Folder, kept: &Kept, console: &Console) {
    let root = &folder.root;
    // The list first: another run may write a record and its line meanwhile.
    let list = papers::list_of(root);
    let found = papers::papers_of(root).unwrap_or_default();
    let chain = chain::check(&found, list.as_deref());
    if let Some(fault) = chain.faults.first() {
        console.note(&format!(
            "warning: the chain of records is broken: {}. See `notchpin history {}`.",
            fault.sentence.trim_end_matches('.'),
            quoted(root)
        ));
    }
    let now = folder.inputs.iter().find(|i| i.file == "cell.toml");
    let then = kept.body.inputs.iter().find(|i| i.file == "cell.toml");
    if now != then {
        console.note(&format!(
            "warning: cell.toml has changed since {}: what it holds as drawn (lengths, pitch, limits) is that of \
             now, what was registered that of then. Register everything anew to be sure.",
            kept.called()
        ));
    }
}

/// All records up to and with one of them, oldest first; those that cannot be read are left out.
pub fn up_to(root: &Path, cell: &Cell, last: &Kept) -> Vec<Kept> {
    let mut found = Vec::new();
    for path in paths(root).unwrap_or_default() {
        if let Ok(kept) = load(&path, cell) {
            let done = kept.link.file == last.link.file;
            found.push(kept);
            if done {
                break;
            }
        }
    }
    found
}

/// How the errors of two registrations hang together: Cov(e_b, e_a) for two places in a list of
/// records, oldest first; and how many readings they share where that is not taken into account.
pub fn between(cell: &Cell, all: &[Kept], a: usize, b: usize) -> (DMatrix<f64>, usize) {
    if a == b {
        return (all[a].force.covariance.clone(), 0);
    }
    if a > b {
        let (found, shared) = between(cell, all, b, a);
        return (found.transpose(), shared);
    }
    let (old, new) = (&all[a], &all[b]);
    // Each step goes to an earlier record, so this ends.
    if let Some(moved) = &new.body.moved
        && let Some(from) = all[..b]
            .iter()
            .position(|k| k.link.sha256 == moved.from.sha256)
    {
        let ways = moved.freed.iter();
        let ways = ways.map(|way| way.iter().map(|s| (s.name.clone(), s.share)).collect());
        if let Some(tie) = tie_again(cell, &all[from].force, &ways.collect::<Vec<_>>()) {
            let (before, shared) = between(cell, all, a, from);
            let kin = Kin::Tied(tie, before);
            return (cross(&old.force, &new.force, &kin), shared);
        }
    }
    let shared = |of: &Kept, among: &Kept| {
        let held: std::collections::HashSet<&str> =
            among.body.rows.iter().map(|r| r.sha256.as_str()).collect();
        of.body
            .rows
            .iter()
            .filter(|r| held.contains(r.sha256.as_str()))
            .count()
    };
    let (in_new, in_old) = (shared(old, new), shared(new, old));
    let plain = old.body.moved.is_none() && new.body.moved.is_none();
    // Only where they solve for the same, tied in the same way, does one contain the other's whole sum.
    let alike = plain && old.force.unknowns.list == new.force.unknowns.list;
    if alike && in_new > 0 && in_new == old.body.rows.len() {
        return (cross(&old.force, &new.force, &Kin::Contains), 0);
    }
    if alike && in_old > 0 && in_old == new.body.rows.len() {
        return (cross(&old.force, &new.force, &Kin::Within), 0);
    }
    // A few coarse readings come out the same by chance.
    let fewer = old.body.rows.len().min(new.body.rows.len());
    let left = if 4 * in_new > fewer && in_new >= 3 {
        in_new
    } else {
        0
    };
    if let Some(through) = through_tie(cell, all, a, new) {
        return (through, left);
    }
    (cross(&old.force, &new.force, &Kin::Apart), left)
}

/// Where the earlier one is tied to another one and the later one stands for itself: what the later one
/// has in common with that other one, carried through the tie: `Cov(e_b, e_a) = Cov(e_b, e_f) RᵀR C_a`.
fn through_tie(cell: &Cell, all: &[Kept], a: usize, new: &Kept) -> Option<DMatrix<f64>> {
    let old = &all[a];
    let moved = old.body.moved.as_ref()?;
    let from = all[..a]
        .iter()
        .position(|k| k.link.sha256 == moved.from.sha256)?;
    let b = all.iter().position(|k| k.link == new.link)?;
    let ways = moved.freed.iter();
    let ways = ways.map(|way| way.iter().map(|s| (s.name.clone(), s.share)).collect());
    let tie = tie_again(cell, &all[from].force, &ways.collect::<Vec<_>>())?;
    let (common, _) = between(cell, all, from, b);
    let (t, k) = (tie.at.len(), common.ncols());
    let gain =
        tie.rows.columns(0, k.min(t)).transpose() * &tie.rows * old.force.covariance.rows(0, t);
    Some(common.columns(0, k.min(t)) * gain + cross(&old.force, &new.force, &Kin::Apart))
}

/// The readings that a record rests on, by itself and through the records that it is tied to: those kept in
/// the records, else the files of the folder `readings` where they are still the same.
pub fn readings_of(folder: &Folder, kept: &Kept) -> Bench {
    let mut bench = folder.bench.without_readings();
    let earlier = up_to(&folder.root, &folder.bench.cell, kept);
    let mut from = Some(kept);
    // Bounded: each step goes to an earlier record.
    let mut steps = 0;
    while let Some(record) = from.filter(|_| steps <= earlier.len()) {
        // What cannot be read any more cannot be told about either; it counts nowhere.
        let mut problems = Problems::default();
        let mut read = |kind: &str, file: &str, bytes: Vec<u8>| {
            if let Some(kind) = readings::FILES.iter().find(|k| **k == kind) {
                bench.read(kind, file, bytes, &mut problems);
            }
        };
        for file in &record.body.evidence {
            read(&file.kind, &file.file, file.text.clone().into_bytes());
        }
        for input in &record.body.inputs {
            let Some(name) = input.file.strip_prefix("readings/") else {
                continue;
            };
            let bytes = fs::read(folder.root.join(&input.file)).unwrap_or_default();
            let kind = folder::planned_kind(name).unwrap_or(name);
            if records::digest(&bytes) == input.sha256 {
                read(kind, &input.file, bytes);
            }
        }
        from = record
            .body
            .moved
            .as_ref()
            .and_then(|moved| earlier.iter().find(|k| k.link.sha256 == moved.from.sha256));
        steps += 1;
    }
    bench
}

/// Readings that lead less far from where a point was taught lead there still: about what a rule shows.
const ELSEWHERE_MM: f64 = 0.5;

/// Taught points whose readings lead elsewhere by now, since something moved after they were taught, with the
/// geometry of then. Points without a record of their own are told by the first record that knows them.
pub fn stale_points(folder: &Folder, in_force: &Path) -> Vec<(String, Geometry)> {
    let cell = &folder.bench.cell;
    if folder.bench.taught.is_empty() {
        return Vec::new();
    }
    // The only record of a folder: nothing of it was moved later. Records may be megabytes long.
    if let Ok([only]) = paths(&folder.root).as_deref()
        && only == in_force
    {
        return Vec::new();
    }
    let Ok(in_force) = load(in_force, cell) else {
        return Vec::new();
    };
    let all = up_to(&folder.root, cell, &in_force);
    let Some(last) = all.iter().rposition(|k| k.body.moved.is_some()) else {
        return Vec::new();
    };
    let stale = folder.bench.taught.iter().filter_map(|point| {
        let named = point.record.as_ref().and_then(|text| {
            let path = named(&folder.root, text).ok()?;
            let name = path.file_name()?.to_str()?.to_owned();
            all.iter().position(|k| k.link.file == name)
        });
        let taught = named.or_else(|| taught_under(&all, point))?;
        let then = &all[taught].force.geometry;
        let before = tip_place(then, &point.stand, point.frame)?;
        let now = tip_place(&in_force.force.geometry, &point.stand, point.frame)?;
        let elsewhere = (now.at_mm - before.at_mm).norm() > ELSEWHERE_MM;
        (taught < last && elsewhere).then(|| (point.name.clone(), then.clone()))
    });
    stale.collect()
}

/// Under which record a point was taught, as far as the records know: the first one that has it with these
/// very readings; for one made after a move, the record before the move.
pub fn taught_under(all: &[Kept], point: &TaughtPoint) -> Option<usize> {
    let knows = |k: &Kept| {
        let n = k.force.geometry.joints.len();
        k.body.taught.iter().any(|t| {
            t.name == point.name
                && t.frame == point.frame.as_str()
                && t.track == point.stand.track
                && t.table == point.stand.table
                && t.joints == point.stand.joints[..n]
        })
    };
    let first = all.iter().position(knows)?;
    let before = all[first]
        .body
        .moved
        .as_ref()
        .and_then(|moved| all.iter().position(|k| k.link.sha256 == moved.from.sha256));
    Some(before.unwrap_or(first))
}

/// A path as it can be typed again.
pub fn quoted(path: &Path) -> String {
    let text = path.display().to_string();
    let plain = |c: char| c.is_alphanumeric() || "/._-+,:@%".contains(c);
    match text.chars().all(plain) {
        true => text,
        false => format!("'{}'", text.replace('\'', "'\\''")),
    }
}
