//! The one file that the page can have written: rows are added to it, and nothing is ever changed or
//! taken away.

use std::fs;
use std::fs::File;
use std::fs::Metadata;
use std::fs::OpenOptions;
use std::fs::TryLockError;
use std::io;
use std::io::Read;
use std::io::Write;
use std::path::Path;
use std::thread;
use std::time::Duration;
use std::time::Instant;

use crate::cell::Cell;
use crate::cli::folder;
use crate::diagnose::Problems;
use crate::diagnose::Severity;
use crate::points;
use crate::view::Refused;
use crate::view::Row;
use crate::view::SAVE_FILE;

/// No file of the page is larger, bytes.
const LARGEST: u64 = 1 << 20;
/// How long another program is waited for.
const LONGEST_WAIT: Duration = Duration::from_secs(2);
/// And how often it is looked whether it is done.
const BETWEEN: Duration = Duration::from_millis(20);
/// What stands over the rows.
const OVER: &str = "# Positions of the page of `notchpin view`, calculated: prove each one slowly first. \
                    No command reads this file; rows can be moved into taught.csv.";

/// Adds a row, whole or not at all. Two programs that do so at once wait for each other.
pub fn append(root: &Path, cell: &Cell, row: &Row) -> Result<(), Refused> {
    // Before anything is made.
    look(root, cell, row)?;
    let path = root.join(SAVE_FILE);
    let mut file = opened(&path)?;
    let failed = |e: io::Error| Refused::failed(format!("{SAVE_FILE} cannot be written: {e}"));
    lock(&file)?;
    let size = file.metadata().map_err(failed)?.len();
    if size > LARGEST {
        return Err(Refused::taken(format!(
            "{SAVE_FILE} has {size} bytes, and no more than {LARGEST} are expected; move it away"
        )));
    }
    let mut there = Vec::new();
    file.read_to_end(&mut there).map_err(failed)?;
    free(root, cell, row, &there)?;
    let mut text = String::new();
    if header(&there).is_none() {
        text.push_str(&format!("{OVER}\n{}\n", row.header));
    }
    // A line that has no end yet must not swallow this one.
    if there.last().is_some_and(|b| *b != b'\n') {
        text.insert(0, '\n');
    }
    text.push_str(&row.row);
    text.push('\n');
    // As the lines that are there end.
    if there.windows(2).any(|two| two == b"\r\n") {
        text = text.replace('\n', "\r\n");
    }
    let done = file
        .write_all(text.as_bytes())
        .and_then(|()| file.sync_all());
    if let Err(e) = done {
        // Not half a row.
        let _ = file.set_len(size);
        return Err(failed(e));
    }
    Ok(())
}

/// Locks the file, but waits for another program no longer than a person would: the page shall not stand still.
fn lock(file: &File) -> Result<(), Refused> {
    let begun = Instant::now();
    loop {
        match file.try_lock() {
            Ok(()) => return Ok(()),
            Err(TryLockError::WouldBlock) if begun.elapsed() < LONGEST_WAIT => {
                thread::sleep(BETWEEN);
            }
            Err(TryLockError::WouldBlock) => {
                return Err(Refused::taken(format!(
                    "{SAVE_FILE} is in use by another program; close it there and save again"
                )));
            }
            Err(TryLockError::Error(e)) => {
                return Err(Refused::failed(format!(
                    "{SAVE_FILE} cannot be locked: {e}"
                )));
            }
        }
    }
}

/// The file, made where it is not there; what is no plain file of its own is refused.
fn opened(path: &Path) -> Result<File, Refused> {
    let failed = |e: io::Error| Refused::failed(format!("{SAVE_FILE} cannot be opened: {e}"));
    let mut options = OpenOptions::new();
    options.read(true).append(true);
    // Made or taken away meanwhile: once more.
    for _ in 0..8 {
        match fs::symlink_metadata(path) {
            Err(e) if e.kind() == io::ErrorKind::NotFound => {
                // Follows no link.
                match options.clone().create_new(true).open(path) {
                    Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {}
                    opened => return opened.map_err(failed),
                }
            }
            Err(e) => return Err(failed(e)),
            Ok(before) if !is_plain(&before) => {
                return Err(Refused::taken(format!(
                    "{SAVE_FILE} is a link or something else that is no plain file; move it away"
                )));
            }
            Ok(before) => match options.open(path) {
                Err(e) if e.kind() == io::ErrorKind::NotFound => {}
                Err(e) => return Err(failed(e)),
                Ok(file) => {
                    let now = file.metadata().map_err(failed)?;
                    if is_same(&before, &now) {
                        return Ok(file);
                    }
                }
            },
        }
    }
    Err(Refused::failed(format!(
        "{SAVE_FILE} is changed by something else all the time; try again"
    )))
}

/// Whether what was opened is what was looked at.
#[cfg(unix)]
fn is_same(before: &Metadata, now: &Metadata) -> bool {
    use std::os::unix::fs::MetadataExt;
    is_plain(now) && (before.dev(), before.ino()) == (now.dev(), now.ino())
}

#[cfg(not(unix))]
fn is_same(_: &Metadata, now: &Metadata) -> bool {
    is_plain(now)
}

/// A file with this name alone: what is written to it changes nothing else.
fn is_plain(meta: &Metadata) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        meta.is_file() && meta.nlink() == 1
    }
    #[cfg(not(unix))]
    {
        meta.is_file()
    }
}

/// The line that names the columns: the first one that is neither blank nor a comment.
fn header(bytes: &[u8]) -> Option<String> {
    let text = String::from_utf8_lossy(bytes);
    let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
    let mut lines = text.lines().map(str::trim);
    let first = lines.find(|line| !line.is_empty() && !line.starts_with('#'));
    first.map(str::to_owned)
}

/// The columns must be those of the row, and the name must stand in none of the three files, as they are now.
fn free(root: &Path, cell: &Cell, row: &Row, kept: &[u8]) -> Result<(), Refused> {
    if header(kept).is_some_and(|header| header != row.header) {
        return Err(Refused::taken(format!(
            "{SAVE_FILE} has other columns than {}; move it away",
            row.header
        )));
    }
    let limit = crate::table::MAX_TABLE_BYTES;
    let open =
        |name: &str, problems: &mut Problems| folder::open_file(root, name, false, limit, problems);
    let mut problems = Problems::default();
    let given = open("points.csv", &mut problems)
        .map(|bytes| points::read_points("points.csv", &bytes, cell, &mut problems))
        .unwrap_or_default();
    let taught = open("taught.csv", &mut problems)
        .map(|bytes| points::read_taught("taught.csv", &bytes, cell, &mut problems))
        .unwrap_or_default();
    let saved = match header(kept) {
        Some(_) => points::read_taught(SAVE_FILE, kept, cell, &mut problems),
        None => Vec::new(),
    };
    // A name that cannot be read may be this one.
    if let Some(fault) = problems.iter().find(|p| p.severity == Severity::Error) {
        let line = fault
            .line
            .map_or(String::new(), |line| format!(" (line {line})"));
        return Err(Refused::taken(format!(
            "{} has something in it that cannot be read{line}: found {}; mend it, or move it away",
            fault.file, fault.found
        )));
    }
    let mut names = given
        .iter()
        .map(|p| p.name.as_str())
        .zip(std::iter::repeat("points.csv"))
        .chain(taught.iter().map(|p| (p.name.as_str(), "taught.csv")))
        .chain(saved.iter().map(|p| (p.name.as_str(), SAVE_FILE)));
    // What differs by capitals alone is one name to a person, and to some controllers.
    if let Some((name, file)) = names.find(|(name, _)| name.eq_ignore_ascii_case(&row.name)) {
        let as_written = match name == row.name {
            true => String::new(),
            false => format!(" as {name}"),
        };
        return Err(Refused::taken(format!(
            "the name {} is taken: it stands in {file}{as_written}; give another one",
            row.name
        )));
    }
    Ok(())
}

/// Whether a row could be added: the name is free, and what stands in the file's place is fit for it.
pub fn look(root: &Path, cell: &Cell, row: &Row) -> Result<(), Refused> {
    let path = root.join(SAVE_FILE);
    let there = match fs::symlink_metadata(&path) {
        Err(_) => Vec::new(),
        Ok(meta) if !is_plain(&meta) || meta.len() > LARGEST => {
            return Err(Refused::taken(format!(
                "{SAVE_FILE} is no plain file of at most {LARGEST} bytes; move it away"
            )));
        }
        Ok(_) => fs::read(&path)
            .map_err(|e| Refused::failed(format!("{SAVE_FILE} cannot be read: {e}")))?,
    };
    free(root, cell, row, &there)
}
