//! The files of the folder `records`: listing them, and writing one more.

use std::fs;
use std::io;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;
use std::time::Duration;

use crate::cli::whole;
use crate::records;
use crate::records::chain;
use crate::records::chain::Paper;

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
    /// The record itself could not be made, or must not be.
    Made(String),
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
            Unwritten::Made(why) => f.write_str(why),
        }
    }
}

impl Unwritten {
    /// What to do about it.
    pub fn advice(&self) -> &'static str {
        match self {
            Unwritten::Io(_) => "give the folder write access, or use --no-record",
            Unwritten::NoFolder => "or use --no-record",
            Unwritten::Before(_) => {
                "put it back from a copy of the folder, or move it out of records (`notchpin history` says what is \
                 broken then); or use --no-record"
            }
            Unwritten::Made(_) => "run it again, if it is still wanted",
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
    make: &dyn Fn(Option<records::Link>) -> Result<String, String>,
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
        let file = whole::begun(&folder, &text)?;
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
pub fn newest_fault(root: &Path, newest: &Path, sha256: String) -> Option<String> {
    let newest = records::Link {
        file: newest.file_name()?.to_str()?.to_owned(),
        sha256,
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
