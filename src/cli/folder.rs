//! The files of a cell folder: opening and understanding them.

use std::fs;
use std::io;
use std::path::Path;
use std::path::PathBuf;

use crate::cell;
use crate::cli::sets;
use crate::diagnose::Problem;
use crate::diagnose::Problems;
use crate::diagnose::Severity;
use crate::parameters::Unknowns;
use crate::points;
use crate::readings;
use crate::records;
use crate::registration::Bench;
use crate::registration::check_headings;
use crate::registration::resolve_unknowns;

/// A cell folder, read and understood.
pub struct Folder {
    /// Its path.
    pub root: PathBuf,
    /// What it says.
    pub bench: Bench,
    /// The unknowns that `[solve]` names.
    pub unknowns: Unknowns,
    /// Digests of the files that were read.
    pub inputs: Vec<records::Input>,
    /// Warnings.
    pub problems: Problems,
}

/// How much of a folder a command needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    /// `cell.toml` alone.
    Cell,
    /// `cell.toml`, `points.csv` and `taught.csv`.
    Points,
    /// Everything.
    Readings,
}

/// The folder that an argument names: the folder itself, its `cell.toml`, or the current folder.
pub fn root_of(argument: Option<&Path>) -> PathBuf {
    match argument {
        None => PathBuf::from("."),
        Some(path) if path.file_name().is_some_and(|n| n == "cell.toml") && !path.is_dir() => {
            match path.parent() {
                Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
                _ => PathBuf::from("."),
            }
        }
        Some(path) => path.to_owned(),
    }
}

/// Reads a folder; all problems are returned where any stops the work.
pub fn read(root: &Path, need: Need) -> Result<Folder, Problems> {
    let mut problems = Problems::default();
    let mut inputs = Vec::new();
    let mut open = |name: &str, required: bool, problems: &mut Problems| -> Option<Vec<u8>> {
        let limit = match name {
            "cell.toml" => cell::MAX_CELL_BYTES,
            _ => crate::table::MAX_TABLE_BYTES,
        };
        let bytes = open_file(root, name, required, limit, problems)?;
        inputs.push(records::Input {
            file: name.to_owned(),
            sha256: records::digest(&bytes),
            bytes: bytes.len() as u64,
        });
        Some(bytes)
    };
    let Some(bytes) = open("cell.toml", true, &mut problems) else {
        return Err(problems);
    };
    let text = match String::from_utf8(bytes) {
        Ok(text) => text,
        Err(e) => {
            let before = &e.as_bytes()[..e.utf8_error().valid_up_to()];
            let line = before.iter().filter(|b| **b == b'\n').count() + 1;
            problems.push(Problem {
                severity: Severity::Error,
                file: "cell.toml".to_owned(),
                line: Some(line),
                column: None,
                field: None,
                found: "bytes that are not UTF-8 text".to_owned(),
                expected: "a text file in UTF-8".to_owned(),
                advice: "save the file as UTF-8 in the editor".to_owned(),
            });
            return Err(problems);
        }
    };
    let Some(cell) = cell::parse("cell.toml", &text, &mut problems) else {
        return Err(problems);
    };
    let unknowns = resolve_unknowns(&cell, "cell.toml", &mut problems);
    let mut bench = Bench::new(cell);
    if need != Need::Cell {
        if let Some(bytes) = open("points.csv", false, &mut problems) {
            bench.points = points::read_points("points.csv", &bytes, &bench.cell, &mut problems);
        }
        if let Some(bytes) = open("taught.csv", false, &mut problems) {
            bench.taught = points::read_taught("taught.csv", &bytes, &bench.cell, &mut problems);
        }
        report_near_names(root, &mut problems);
        points::check_names(&bench.points, &bench.taught, &mut problems);
    }
    if need == Need::Readings {
        for (kind, name) in files_of_readings(root) {
            if let Some(bytes) = open(&name, false, &mut problems) {
                bench.read(kind, &name, bytes, &mut problems);
            }
        }
        report_strangers(
            &root.join("readings"),
            "readings",
            is_of_readings,
            &mut problems,
        );
        check_headings(&bench, &mut problems);
    }
    match unknowns {
        Some(unknowns) if !problems.has_errors() => Ok(Folder {
            root: root.to_owned(),
            bench,
            unknowns,
            inputs,
            problems,
        }),
        _ => Err(problems),
    }
}

/// Names of the tasks of a folder, in order.
pub fn tasks_of(root: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(root.join("tasks"))
        .into_iter()
        .flatten()
        .filter_map(|e| e.ok()?.file_name().into_string().ok())
        .filter_map(|name| name.strip_suffix(".csv").map(str::to_owned))
        .collect();
    names.sort();
    names
}

/// The bytes of a task's file.
pub fn task(root: &Path, file: &str, problems: &mut Problems) -> Option<Vec<u8>> {
    let path = root.join(file);
    let refused = match fs::metadata(&path) {
        Ok(meta) if meta.is_file() => None,
        Ok(_) => Some("something that is not a file".to_owned()),
        Err(e) => Some(format!("a file that cannot be opened: {e}")),
    };
    if let Some(found) = refused {
        let advice = "write the task as a CSV file there, or take away what stands in its place";
        problems.push(plain(
            file,
            found,
            "a CSV file, one line for each step",
            advice,
        ));
        return None;
    }
    open_file(root, file, true, crate::table::MAX_TABLE_BYTES, problems)
}

/// A problem of one line of a file.
pub fn at_line(
    file: &str,
    line: Option<usize>,
    field: Option<&str>,
    found: String,
    expected: &str,
    advice: &str,
) -> Problem {
    Problem {
        line,
        field: field.map(str::to_owned),
        ..plain(file, found, expected, advice)
    }
}

/// A problem of a whole file.
pub fn plain(file: &str, found: String, expected: &str, advice: &str) -> Problem {
    Problem {
        severity: Severity::Error,
        file: file.to_owned(),
        line: None,
        column: None,
        field: None,
        found,
        expected: expected.to_owned(),
        advice: advice.to_owned(),
    }
}

/// The bytes of a file, if it is there; what is wrong with it is reported under `name`.
pub fn open_file(
    root: &Path,
    name: &str,
    required: bool,
    limit: usize,
    problems: &mut Problems,
) -> Option<Vec<u8>> {
    let path = root.join(name);
    let size = match fs::metadata(&path) {
        Ok(meta) if meta.is_file() => meta.len(),
        Ok(_) => {
            problems.push(plain(
                name,
                format!("{} is not a file", path.display()),
                "a text file",
                "give the cell folder, or its cell.toml",
            ));
            return None;
        }
        Err(e) if e.kind() == io::ErrorKind::NotFound && !required => return None,
        Err(e) => {
            problems.push(plain(
                name,
                format!("{} cannot be opened: {e}", path.display()),
                "a cell folder with a cell.toml in it",
                "give the folder of the cell, or lay one out with: notchpin new FOLDER",
            ));
            return None;
        }
    };
    if size > limit as u64 {
        problems.push(plain(
            name,
            format!("a file of {size} bytes"),
            &format!("at most {limit} bytes"),
            "check that this is the right file",
        ));
        return None;
    }
    match fs::read(&path) {
        Ok(bytes) => Some(bytes),
        Err(e) => {
            problems.push(plain(
                name,
                format!("{} cannot be read: {e}", path.display()),
                "a file that may be read",
                "check the rights of the file",
            ));
            None
        }
    }
}

/// CSV files beside `cell.toml` whose names are one slip away from those that are read.
fn report_near_names(root: &Path, problems: &mut Problems) {
    const KNOWN: [&str; 2] = ["points.csv", "taught.csv"];
    let Ok(entries) = fs::read_dir(root) else {
        return;
    };
    let mut names: Vec<String> = entries
        .filter_map(|e| e.ok()?.file_name().into_string().ok())
        .filter(|n| !KNOWN.contains(&n.as_str()))
        .collect();
    names.sort();
    for name in names {
        let near = KNOWN
            .iter()
            .find(|k| strsim::damerau_levenshtein(k, &name.to_lowercase()) <= 1);
        if let Some(near) = near {
            problems.push(Problem {
                severity: Severity::Warning,
                ..plain(
                    &name,
                    "a file that is not read".to_owned(),
                    near,
                    &format!("rename it to {near}, if that is meant"),
                )
            });
        }
    }
}

/// The kind whose rows a file laid out by `plan` holds: `holes.csv` for `holes-plan-0001.csv`.
pub fn planned_kind(name: &str) -> Option<&'static str> {
    let (stem, number) = name.strip_suffix(".csv")?.split_once("-plan-")?;
    let numbered = number.len() >= 4 && number.bytes().all(|b| b.is_ascii_digit());
    let kind = readings::FILES
        .iter()
        .find(|f| f.strip_suffix(".csv") == Some(stem))?;
    numbered.then_some(*kind)
}

/// Whether a file of this name is read in the folder `readings`.
fn is_of_readings(name: &str) -> bool {
    readings::FILES.contains(&name) || planned_kind(name).is_some()
}

/// Kinds and names of the files of readings: each kind's own file, then those laid out by `plan`.
fn files_of_readings(root: &Path) -> Vec<(&'static str, String)> {
    let files = files_of(&root.join("readings")).into_iter();
    files
        .map(|(kind, name)| (kind, format!("readings/{name}")))
        .collect()
}

/// The same of any folder, names without it; each kind's own file whether it is there or not.
pub fn files_of(folder: &Path) -> Vec<(&'static str, String)> {
    named_by(folder, planned_kind)
}

/// The same of a set of readings elsewhere, where a name may go on after a hyphen.
pub fn files_of_set(folder: &Path) -> Vec<(&'static str, String)> {
    let longer = |name: &str| sets::kind_of(name).filter(|kind| *kind != name);
    named_by(folder, longer)
}

fn named_by(
    folder: &Path,
    kind_of: impl Fn(&str) -> Option<&'static str>,
) -> Vec<(&'static str, String)> {
    let mut planned: Vec<(String, &'static str)> = fs::read_dir(folder)
        .into_iter()
        .flatten()
        .filter_map(|e| e.ok()?.file_name().into_string().ok())
        .filter_map(|name| kind_of(&name).map(|kind| (name, kind)))
        .collect();
    planned.sort();
    let mut files = Vec::new();
    for kind in readings::FILES {
        files.push((*kind, (*kind).to_owned()));
        let own = planned.iter().filter(|(_, k)| k == kind);
        files.extend(own.map(|(name, _)| (*kind, name.clone())));
    }
    files
}

/// CSV files in a folder of readings that no kind has: a misspelt name must not lose readings silently.
pub fn report_strangers(
    folder: &Path,
    shown: &str,
    known: impl Fn(&str) -> bool,
    problems: &mut Problems,
) {
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    let mut names: Vec<String> = entries
        .filter_map(|e| e.ok()?.file_name().into_string().ok())
        .filter(|n| n.to_lowercase().ends_with(".csv"))
        .filter(|n| !known(n))
        .collect();
    names.sort();
    for name in names {
        let near = crate::diagnose::nearest(&name, readings::FILES.iter().copied());
        problems.push(plain(
            &format!("{shown}/{name}"),
            "a file whose readings would not be used".to_owned(),
            &format!("one of {}", readings::FILES.join(", ")),
            &match near {
                Some(near) => format!("rename it to {near}, or move it out of the folder"),
                None => "rename it, or move it out of the folder".to_owned(),
            },
        ));
    }
}
