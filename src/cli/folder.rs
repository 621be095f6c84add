//! The files of a cell folder: opening them, and writing records.

use std::fs;
use std::io;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;
use std::time::Duration;

use crate::cell;
use crate::diagnose::Problem;
use crate::diagnose::Problems;
use crate::diagnose::Severity;
use crate::parameters::Unknowns;
use crate::points;
use crate::readings;
use crate::records;
use crate::records::chain;
use crate::records::chain::Paper;
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
        report_strangers(&root.join("readings"), "readings", &mut problems);
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

/// The folder of a cell where new readings are looked for after its registration.
pub const RECHECK: &str = "recheck";

/// The kind of a file of readings by its name: `holes.csv`, or `holes-` and anything.
fn kind_of(name: &str) -> Option<&'static str> {
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
    let shown = shown.to_string_lossy().trim_end_matches('/').to_owned();
    let mut bench = folder.bench.clone();
    bench.taken.clear();
    bench.unfinished.clear();
    bench.sources.clear();
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

/// Kinds and names of the files of readings: each kind's own file, then those laid out by `plan`.
fn files_of_readings(root: &Path) -> Vec<(&'static str, String)> {
    let files = files_of(&root.join("readings")).into_iter();
    files
        .map(|(kind, name)| (kind, format!("readings/{name}")))
        .collect()
}

/// The same of any folder, names without it; each kind's own file whether it is there or not.
pub fn files_of(folder: &Path) -> Vec<(&'static str, String)> {
    let mut planned: Vec<(String, &'static str)> = fs::read_dir(folder)
        .into_iter()
        .flatten()
        .filter_map(|e| e.ok()?.file_name().into_string().ok())
        .filter_map(|name| planned_kind(&name).map(|kind| (name, kind)))
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
pub fn report_strangers(folder: &Path, shown: &str, problems: &mut Problems) {
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    let mut names: Vec<String> = entries
        .filter_map(|e| e.ok()?.file_name().into_string().ok())
        .filter(|n| n.to_lowercase().ends_with(".csv"))
        .filter(|n| !readings::FILES.contains(&n.as_str()) && planned_kind(n).is_none())
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

/// What a file in `records` holds; each sort is numbered and chained by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sort {
    /// A registration.
    Registration,
    /// A recheck: readings held against a registration.
    Recheck,
}

impl Sort {
    /// How its files' names begin.
    pub fn prefix(self) -> &'static str {
        match self {
            Sort::Registration => "registration-",
            Sort::Recheck => "recheck-",
        }
    }
}

/// Numbers and paths of the registrations of a folder, oldest first.
pub fn records_of(root: &Path) -> io::Result<Vec<(u64, PathBuf)>> {
    kept_of(root, Sort::Registration)
}

/// Numbers and paths of the records of one sort, oldest first.
pub fn kept_of(root: &Path, sort: Sort) -> io::Result<Vec<(u64, PathBuf)>> {
    let mut found = Vec::new();
    let entries = match fs::read_dir(root.join("records")) {
        Ok(entries) => entries,
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(found),
        Err(e) => return Err(e),
    };
    for entry in entries {
        let path = entry?.path();
        let name = path
            .file_name()
            .and_then(|n| n.to_str())
            .unwrap_or_default();
        if let Some(number) = chain::number_in(name, sort.prefix()) {
            found.push((number, path));
        }
    }
    found.sort();
    Ok(found)
}

/// Why no record was written.
pub enum Unwritten {
    /// A file could not be written.
    Io(io::Error),
    /// There is something else of the name `records`.
    NoFolder,
    /// The record before it cannot be read: nothing is chained to it.
    Before(String),
    /// The record itself could not be made.
    Made(serde_json::Error),
}

impl From<io::Error> for Unwritten {
    fn from(e: io::Error) -> Self {
        Unwritten::Io(e)
    }
}

impl std::fmt::Display for Unwritten {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Unwritten::Io(e) => write!(f, "{e}"),
            Unwritten::NoFolder => f.write_str(
                "it is not a folder, or a link to one that is not there; move it out of the way",
            ),
            Unwritten::Before(why) => f.write_str(why),
            Unwritten::Made(e) => write!(f, "{e}"),
        }
    }
}

/// A record by name and digest.
pub fn link_to(path: &Path) -> Result<records::Link, String> {
    let told = |why: String| format!("{}: {why}", path.display());
    let text = fs::read_to_string(path).map_err(|e| told(format!("cannot be read: {e}")))?;
    let sha256 = records::digest_in(&text).map_err(|e| told(e.to_string()))?;
    let name = path.file_name().and_then(|n| n.to_str());
    Ok(records::Link {
        file: name.unwrap_or_default().to_owned(),
        sha256,
    })
}

/// Names of files that are being written.
const WRITING: &str = ".writing-";
const TMP: &str = ".tmp";

/// Writes a record under the next free number: into a file of its own first, synced, then given its
/// name in one step that fails where the name is taken. Two runs at once get two numbers, and the later
/// one is made again so that it names the earlier as the record before it. `make` gets that one.
pub fn write_record(
    root: &Path,
    sort: Sort,
    make: &dyn Fn(Option<records::Link>) -> Result<String, serde_json::Error>,
) -> Result<PathBuf, Unwritten> {
    let folder = root.join("records");
    fs::create_dir_all(&folder).map_err(|e| match fs::symlink_metadata(&folder) {
        Ok(there) if !there.is_dir() => Unwritten::NoFolder,
        _ => Unwritten::Io(e),
    })?;
    // Others can only have taken so many numbers meanwhile.
    for _ in 0..1000 {
        let (number, before) = match kept_of(root, sort)?.last() {
            Some((number, path)) => {
                let next = number.checked_add(1);
                let next = next.ok_or_else(|| {
                    Unwritten::Before(format!("{}: there is no number after it", path.display()))
                })?;
                (next, Some(link_to(path).map_err(Unwritten::Before)?))
            }
            None => (1, None),
        };
        // A run that was cut off may have kept the one before out of the list.
        if let Some(before) = &before {
            list(&folder, before);
        }
        let text = make(before).map_err(Unwritten::Made)?;
        let mut file = tempfile::Builder::new()
            .prefix(WRITING)
            .suffix(TMP)
            .tempfile_in(&folder)?;
        file.write_all(text.as_bytes())?;
        file.as_file().sync_all()?;
        let path = folder.join(format!("{}{number:04}.json", sort.prefix()));
        match file.persist_noclobber(&path) {
            Ok(_) => {
                sync(&folder);
                if let Ok(link) = link_to(&path) {
                    list(&folder, &link);
                }
                return Ok(path);
            }
            Err(e) if e.error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(e) => return Err(e.error.into()),
        }
    }
    Err(io::Error::other("no free record number was found").into())
}

/// A name must survive a power cut too; not every system can do this.
pub fn sync(folder: &Path) {
    if let Ok(folder) = fs::File::open(folder) {
        let _ = folder.sync_all();
    }
}

/// The list of all records ever written, so that one that is missing at the end is noticed too. Lines
/// are only ever added; one that a power cut or a full disk kept out is no harm, since the record itself is
/// there, and the next run adds it.
pub const LIST: &str = "list.txt";

/// The text of that list, if there is one.
pub fn list_of(root: &Path) -> Option<String> {
    let bytes = fs::read(root.join("records").join(LIST)).ok()?;
    Some(String::from_utf8_lossy(&bytes).into_owned())
}

/// Adds a record to the list, unless it stands there. The record is safe without it: what fails here is tried
/// again by the next run.
fn list(folder: &Path, link: &records::Link) {
    let path = folder.join(LIST);
    let there = fs::read(&path).unwrap_or_default();
    let text = String::from_utf8_lossy(&there);
    if chain::is_listed(&text, link) {
        return;
    }
    // A line that was cut short must not swallow this one.
    let apart = if text.is_empty() || text.ends_with('\n') {
        ""
    } else {
        "\n"
    };
    let line = format!("{apart}{} {}\n", link.file, link.sha256);
    let file = fs::OpenOptions::new().create(true).append(true).open(&path);
    let _ = file.and_then(|mut file| {
        file.write_all(line.as_bytes())?;
        file.sync_all()
    });
}

/// What the list says against the newest registration, whose text this is; no other record is looked at.
pub fn newest_fault(root: &Path, newest: &Path, text: &str) -> Option<String> {
    let newest = records::Link {
        file: newest.file_name()?.to_str()?.to_owned(),
        sha256: records::digest_in(text).ok()?,
    };
    chain::newest_fault(&list_of(root)?, &newest)
}

/// The records of both sorts, as they stand in the folder.
pub fn papers_of(root: &Path) -> io::Result<Vec<Paper>> {
    let mut papers = Vec::new();
    for sort in [Sort::Registration, Sort::Recheck] {
        papers.extend(kept_of(root, sort)?.into_iter().map(|(_, path)| {
            Paper {
                name: path
                    .file_name()
                    .and_then(|n| n.to_str())
                    .unwrap_or_default()
                    .to_owned(),
                text: fs::read_to_string(&path).map_err(|e| e.to_string()),
            }
        }));
    }
    Ok(papers)
}

/// Half-written files of runs that were cut off: older than an hour, so that no run is at them any more.
pub fn left_behind(root: &Path) -> Vec<String> {
    const LONG: Duration = Duration::from_secs(3600);
    let entries = fs::read_dir(root.join("records"))
        .into_iter()
        .flatten()
        .flatten();
    let mut names: Vec<String> = entries
        .filter_map(|entry| {
            let name = entry.file_name().into_string().ok()?;
            let ours = name.starts_with(WRITING) && name.ends_with(TMP);
            let age = entry.metadata().ok()?.modified().ok()?.elapsed().ok()?;
            (ours && age > LONG).then_some(name)
        })
        .collect();
    names.sort();
    names
}
