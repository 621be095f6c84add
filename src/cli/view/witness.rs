//! Whether a cell folder is still as it was when the page was opened: what the page shows is of then.

use std::collections::BTreeMap;
use std::fs;
use std::fs::Metadata;
use std::path::Path;
use std::path::PathBuf;
use std::time::SystemTime;

use crate::view::SAVE_FILE;

/// Folders that commands read, the cell folder itself first.
const FOLDERS: [&str; 4] = ["", "readings", "tasks", "records"];
/// No more entries of a folder are looked at.
const MOST: usize = 20_000;

/// What a file is known by, without opening it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Mark {
    bytes: u64,
    changed: Option<SystemTime>,
    place: Option<(u64, u64)>,
}

/// How a cell folder was.
#[derive(Debug)]
pub struct Witness {
    root: PathBuf,
    own: Option<(u64, u64)>,
    files: BTreeMap<PathBuf, Mark>,
}

/// Device and number of a file, where there are such.
#[cfg(unix)]
fn place(meta: &Metadata) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt;
    Some((meta.dev(), meta.ino()))
}

#[cfg(not(unix))]
fn place(_: &Metadata) -> Option<(u64, u64)> {
    None
}

/// Whether a command would read a file by this name: what editors and this program lay down for a moment is not
/// meant, nor what the page itself writes.
fn is_read(name: &str) -> bool {
    let kind = name.ends_with(".csv") || name.ends_with(".toml") || name.ends_with(".json");
    kind && !name.starts_with(['.', '~', '#']) && name != SAVE_FILE
}

fn files(root: &Path) -> BTreeMap<PathBuf, Mark> {
    let mut found = BTreeMap::new();
    for folder in FOLDERS {
        let entries = fs::read_dir(root.join(folder)).into_iter().flatten();
        for entry in entries.flatten().take(MOST) {
            let name = entry.file_name();
            if !name.to_str().is_some_and(is_read) {
                continue;
            }
            let path = Path::new(folder).join(&name);
            if let Ok(meta) = fs::metadata(root.join(&path)) {
                let mark = Mark {
                    bytes: meta.len(),
                    changed: meta.modified().ok(),
                    place: place(&meta),
                };
                found.insert(path, mark);
            }
        }
    }
    found
}

impl Witness {
    /// Looks at a folder; to be done before it is read.
    pub fn of(root: &Path) -> Witness {
        Witness {
            root: root.to_owned(),
            own: fs::metadata(root).ok().as_ref().and_then(place),
            files: files(root),
        }
    }

    /// What is not any more as it was, in a sentence; `None` where all is.
    pub fn changed(&self) -> Option<String> {
        let meta = match fs::metadata(&self.root) {
            Ok(meta) if meta.is_dir() => meta,
            _ => return Some("the cell folder is not there any more".to_owned()),
        };
        if place(&meta) != self.own {
            return Some("another folder stands in the place of the cell folder".to_owned());
        }
        let now = files(&self.root);
        let gone = self.files.keys().find(|path| !now.contains_key(*path));
        let other = now.iter().find(|(path, mark)| self.files.get(*path) != Some(mark));
        let (path, how) = match (other, gone) {
            (Some((path, _)), _) if self.files.contains_key(path) => (path, "was changed"),
            (Some((path, _)), _) => (path, "was added"),
            (None, Some(path)) => (path, "was taken away"),
            (None, None) => return None,
        };
        // As it is written in every other message, whatever the system parts names with.
        let names = path.iter().map(|part| part.to_string_lossy());
        let name = names.collect::<Vec<_>>().join("/");
        Some(format!("{name} {how} since this page was opened"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder() -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("readings")).unwrap();
        fs::write(folder.path().join("cell.toml"), "[cell]\n").unwrap();
        fs::write(folder.path().join("readings/holes.csv"), "a\n").unwrap();
        folder
    }

    #[test]
    fn what_is_the_same_is_not_told() {
        let folder = folder();
        let witness = Witness::of(folder.path());
        assert_eq!(witness.changed(), None);
        fs::write(folder.path().join(SAVE_FILE), "name\n").unwrap();
        fs::write(folder.path().join("readings/.holes.csv.swp"), "").unwrap();
        fs::write(folder.path().join("notes.txt"), "").unwrap();
        assert_eq!(witness.changed(), None);
    }

    #[test]
    fn what_is_changed_added_or_gone_is_named() {
        let folder = folder();
        let at = |name: &str| folder.path().join(name);
        let witness = Witness::of(folder.path());
        fs::write(at("readings/holes.csv"), "a\nb\n").unwrap();
        let told = witness.changed();
        assert_eq!(
            told.as_deref(),
            Some("readings/holes.csv was changed since this page was opened")
        );
        let witness = Witness::of(folder.path());
        fs::create_dir(at("records")).unwrap();
        fs::write(at("records/registration-0001.json"), "{}").unwrap();
        let told = witness.changed();
        assert_eq!(
            told.as_deref(),
            Some("records/registration-0001.json was added since this page was opened")
        );
        let witness = Witness::of(folder.path());
        fs::remove_file(at("cell.toml")).unwrap();
        let told = witness.changed();
        assert_eq!(
            told.as_deref(),
            Some("cell.toml was taken away since this page was opened")
        );
    }

    #[test]
    fn another_folder_in_its_place_is_seen() {
        let outer = tempfile::tempdir().unwrap();
        let cell = outer.path().join("cell");
        fs::create_dir(&cell).unwrap();
        let witness = Witness::of(&cell);
        fs::rename(&cell, outer.path().join("kept")).unwrap();
        assert!(witness.changed().unwrap().contains("not there"));
        fs::create_dir(&cell).unwrap();
        assert!(witness.changed().unwrap().contains("another folder"));
    }
}
