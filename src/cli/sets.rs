//! Sets of readings that stand outside the folder `readings`.

use std::fs;
use std::path::Path;
use std::path::PathBuf;

use crate::bench::Bench;
use crate::cli::folder::Folder;
use crate::cli::folder::open_file;
use crate::cli::folder::plain;
use crate::diagnose::Problems;
use crate::readings;
use crate::records;
use crate::registration::check_headings;

/// The folder of a cell where new readings are looked for after its registration.
pub const RECHECK: &str = "recheck";

/// The kind of a file of readings by its name: `holes.csv`, or `holes-` and anything.
pub fn kind_of(name: &str) -> Option<&'static str> {
    let stem = name.strip_suffix(".csv")?;
    let of = |kind: &&&str| {
        let own = kind.trim_end_matches(".csv");
        stem.strip_prefix(own)
            .is_some_and(|rest| rest.is_empty() || rest.starts_with('-'))
    };
    readings::FILES.iter().find(of).copied()
}

/// A set of readings that stands outside the folder `readings`: a folder with files named as there, or
/// one such file.
pub struct Set {
    /// The cell with these readings alone.
    pub bench: Bench,
    /// Digests of the files.
    pub inputs: Vec<records::Input>,
    /// The files as they are.
    pub evidence: Vec<records::Evidence>,
    /// Warnings.
    pub problems: Problems,
}

/// Reads such a set; `path` is looked for as it is given, then in the cell folder. One without a single
/// reading that is filled in is an error.
pub fn read_set(folder: &Folder, path: Option<&Path>) -> Result<Set, Problems> {
    read_set_with(folder, path, true)
}

/// The same; with `filled` false rows that are laid out only will do.
pub fn read_set_with(folder: &Folder, path: Option<&Path>, filled: bool) -> Result<Set, Problems> {
    let mut problems = Problems::default();
    let given = path.unwrap_or(Path::new(RECHECK));
    let place = match path {
        Some(path) if path.exists() => path.to_owned(),
        _ => folder.root.join(given),
    };
    // What lies in the cell folder is named from there.
    let shown = place.strip_prefix(&folder.root).unwrap_or(&place);
    let shown = match shown.to_string_lossy().trim_end_matches('/') {
        "" => ".".to_owned(),
        shown => shown.to_owned(),
    };
    let bench = folder.bench.without_readings();
    let mut set = Set {
        bench,
        inputs: Vec::new(),
        evidence: Vec::new(),
        problems: Problems::default(),
    };
    let missing = |found: String| {
        plain(
            &shown,
            found,
            "a folder with holes.csv, notch.csv, touch.csv, attitude.csv or height.csv in it, or one such file",
            "write the new readings there, with the columns of those in readings/, or give --readings",
        )
    };
    let mut files: Vec<(PathBuf, String)> = Vec::new();
    if place.is_file() {
        files.push((place.clone(), shown.clone()));
    } else {
        let mut names: Vec<String> = match fs::read_dir(&place) {
            Ok(entries) => entries
                .filter_map(|e| e.ok()?.file_name().into_string().ok())
                .filter(|n| n.to_lowercase().ends_with(".csv"))
                .collect(),
            Err(e) => {
                problems.push(missing(format!(
                    "{} cannot be opened: {e}",
                    place.display()
                )));
                return Err(problems);
            }
        };
        let rank = |name: &String| {
            let kind = kind_of(name);
            readings::FILES.iter().position(|f| Some(*f) == kind)
        };
        names.sort_by_key(|n| (rank(n), n.clone()));
        files.extend(
            names
                .into_iter()
                .map(|n| (place.join(&n), format!("{shown}/{n}"))),
        );
    }
    for (path, name) in files {
        let own = path
            .file_name()
            .and_then(|n| n.to_str())
            .unwrap_or_default();
        let Some(kind) = kind_of(own) else {
            problems.push(plain(
                &name,
                "a file whose readings would not be used".to_owned(),
                &format!(
                    "a name that begins with that of a kind: {}",
                    readings::FILES.join(", ")
                ),
                "rename it, as holes-after.csv, or move it out of the folder",
            ));
            continue;
        };
        let Some(bytes) = open_file(
            Path::new(""),
            &path.to_string_lossy(),
            true,
            crate::table::MAX_TABLE_BYTES,
            &mut problems,
        ) else {
            continue;
        };
        set.inputs.push(records::Input {
            file: name.clone(),
            sha256: records::digest(&bytes),
            bytes: bytes.len() as u64,
        });
        set.evidence.push(records::Evidence {
            file: name.clone(),
            kind: kind.to_owned(),
            text: String::from_utf8_lossy(&bytes).into_owned(),
        });
        set.bench.read(kind, &name, bytes, &mut problems);
    }
    check_headings(&set.bench, &mut problems);
    if filled && set.bench.taken.is_empty() && !problems.has_errors() {
        problems.push(missing("no readings that are filled in".to_owned()));
    }
    match problems.has_errors() {
        true => Err(problems),
        false => {
            set.problems = problems;
            Ok(set)
        }
    }
}
