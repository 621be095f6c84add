//! The files that readings are entered into.

use std::fs;
use std::path::Path;
use std::path::PathBuf;

use crate::bench::Bench;
use crate::cli::Failure;
use crate::cli::folder;
use crate::cli::folder::Folder;
use crate::cli::rewrite;
use crate::cli::rewrite::Unwritten;
use crate::cli::sets;
use crate::diagnose::Problems;
use crate::entry::from_comment;
use crate::entry::to_comment;
use crate::readings;
use crate::readings::Rows;
use crate::table::MAX_TABLE_BYTES;
use crate::table::Written;
use crate::table::edit;

/// One file.
pub struct Sheet {
    /// Its kind: the name of the kind's file.
    pub kind: &'static str,
    /// As the user would say it.
    pub name: String,
    path: PathBuf,
    /// What stands in it; `None` where it is not there yet.
    bytes: Option<Vec<u8>>,
}

/// A row that was begun and not finished: its line, and what was answered.
pub type Begun = (usize, Vec<(String, String)>);

impl Sheet {
    /// Whether its rows were laid out by a plan.
    pub fn is_planned(&self) -> bool {
        self.name.contains("-plan-")
    }

    /// Its rows.
    pub fn rows(&self, bench: &Bench) -> Rows {
        let mut problems = Problems::default();
        let bytes = self.bytes.as_deref().unwrap_or_default();
        readings::read(
            self.kind,
            &self.name,
            bytes,
            &bench.setting(),
            &mut problems,
        )
    }

    /// A row as it stands in the file.
    pub fn written(&self, line: usize, bench: &Bench) -> Option<Written> {
        let bytes = self.bytes.as_deref().unwrap_or_default();
        let rows = readings::written(self.kind, bytes, &bench.setting(), &[line]);
        rows.into_iter().next()
    }

    /// The names of its columns; none where it has no header yet.
    pub fn header(&self) -> Vec<String> {
        let bytes = self.bytes.as_deref().unwrap_or_default();
        edit::header(bytes).unwrap_or_default()
    }

    /// The last row that was begun and not finished.
    pub fn begun(&self) -> Option<Begun> {
        let bytes = self.bytes.as_deref().unwrap_or_default();
        let comments = edit::comments(bytes).into_iter().rev();
        comments
            .filter_map(|(line, text)| Some((line, from_comment(text)?)))
            .next()
    }

    /// Changes cells of a row, columns as in the header; those that the file lacks are added.
    pub fn set(&mut self, line: usize, changes: &[(&str, &str)]) -> Result<(), Failure> {
        let mut bytes = self.bytes.clone().unwrap_or_default();
        let changed = (|| {
            let columns: Vec<&str> = changes.iter().map(|(c, _)| *c).collect();
            bytes = self.with_columns(&bytes, &columns)?;
            let header = edit::header(&bytes)?;
            let at = |column: &str| header.iter().position(|h| h == column);
            let cells: Option<Vec<(usize, &str)>> = changes
                .iter()
                .map(|(column, text)| Some((at(column)?, *text)))
                .collect();
            edit::set_cells(&bytes, line, &cells?)
        })();
        self.save(changed)
    }

    /// Keeps what was answered of a new row: in the place of `line`, or at the end.
    pub fn begin(
        &mut self,
        line: Option<usize>,
        row: &Written,
        answers: &[(String, String)],
    ) -> Result<(), Failure> {
        let bytes = self.with_header(row);
        self.save(placed(&bytes, line, &to_comment(answers)))
    }

    /// Writes a new row in the place of `line`, or at the end.
    pub fn add(&mut self, line: Option<usize>, row: &Written) -> Result<(), Failure> {
        let bytes = self.with_header(row);
        let cells = row.header().iter().zip(row.cells());
        let answered: Vec<&str> = cells
            .filter(|(_, text)| !text.is_empty())
            .map(|(name, _)| name.as_str())
            .collect();
        let changed = self.with_columns(&bytes, &answered).and_then(|bytes| {
            let header = edit::header(&bytes)?;
            let line_text = edit::line_of(header.iter().map(|h| row.text(h)));
            placed(&bytes, line, &line_text)
        });
        self.save(changed)
    }

    /// Its bytes, with a header if it has none yet.
    fn with_header(&self, row: &Written) -> Vec<u8> {
        let bytes = self.bytes.clone().unwrap_or_default();
        if edit::header(&bytes).is_some() {
            return bytes;
        }
        let header = edit::line_of(row.header().iter().map(String::as_str));
        edit::append_line(&bytes, &header).unwrap_or(bytes)
    }

    fn with_columns(&self, bytes: &[u8], columns: &[&str]) -> Option<Vec<u8>> {
        let header = edit::header(bytes)?;
        let lacking: Vec<&str> = columns
            .iter()
            .filter(|c| !header.iter().any(|h| h == *c))
            .copied()
            .collect();
        match lacking.is_empty() {
            true => Some(bytes.to_vec()),
            false => edit::add_columns(bytes, &lacking),
        }
    }

    fn save(&mut self, changed: Option<Vec<u8>>) -> Result<(), Failure> {
        let Some(new) = changed else {
            return Err(Failure::Message(format!(
                "{}: the row to write is not where it was; the last answer was not written. Start \
                 `notchpin enter` again.",
                self.name
            )));
        };
        if self.bytes.as_ref() == Some(&new) {
            return Ok(());
        }
        match rewrite::replace(&self.path, self.bytes.as_deref(), &new) {
            Ok(()) => {
                self.bytes = Some(new);
                Ok(())
            }
            Err(Unwritten::Changed) => Err(Failure::Message(format!(
                "{} has changed since it was read: it was saved by somebody else, or taken away. The \
                 last answer was not written. Close the file elsewhere and start `notchpin enter` \
                 again.",
                self.name
            ))),
            Err(Unwritten::Io(e)) => Err(Failure::Message(format!(
                "{} cannot be written: {e}; the last answer was not written. Give the file and its \
                 folder write access.",
                self.name
            ))),
        }
    }
}

fn placed(bytes: &[u8], line: Option<usize>, text: &str) -> Option<Vec<u8>> {
    match line {
        Some(line) => edit::replace_line(bytes, line, text),
        None => edit::append_line(bytes, text),
    }
}

/// The files to enter into, and those that are only looked at.
pub struct Sheets {
    /// To enter into.
    pub list: Vec<Sheet>,
    /// Kind, name and bytes of the folder's other files of readings.
    others: Vec<(&'static str, String, Vec<u8>)>,
}

impl Sheets {
    /// A bench with all readings as they are now.
    pub fn bench(&self, folder: &Folder) -> Bench {
        let mut bench = Bench::new(folder.bench.cell.clone());
        let mut problems = Problems::default();
        for (kind, name, bytes) in &self.others {
            bench.read(kind, name, bytes.clone(), &mut problems);
        }
        for sheet in &self.list {
            if let Some(bytes) = &sheet.bytes {
                bench.read(sheet.kind, &sheet.name, bytes.clone(), &mut problems);
            }
        }
        bench
    }
}

impl Sheets {
    /// A bench with the readings that are entered into alone: after a move those in `readings` are of before.
    pub fn new_bench(&self, folder: &Folder) -> Bench {
        let mut bench = Bench::new(folder.bench.cell.clone());
        let mut problems = Problems::default();
        for sheet in &self.list {
            if let Some(bytes) = &sheet.bytes {
                bench.read(sheet.kind, &sheet.name, bytes.clone(), &mut problems);
            }
        }
        bench
    }
}

/// Finds the files: a folder of readings or one file; `kind` is that of new rows.
pub fn open(
    folder: &Folder,
    readings: Option<&Path>,
    kind: Option<&'static str>,
) -> Result<Sheets, Failure> {
    let asked = readings.unwrap_or(Path::new("readings"));
    let inside = folder.root.join(asked);
    let path = match readings.is_none() || inside.exists() {
        true => inside,
        false => asked.to_owned(),
    };
    if readings.is_some() && !path.exists() {
        return Err(Failure::Message(format!(
            "--readings: there is no {} in {} and none here; give a folder of readings or one file of \
             it",
            asked.display(),
            folder.root.display()
        )));
    }
    let (dir, only) = match readings.is_none() || path.is_dir() {
        true => (path, None),
        false => {
            let name = path
                .file_name()
                .and_then(|n| n.to_str())
                .unwrap_or_default();
            let name = name.to_owned();
            (
                path.parent().unwrap_or(Path::new("")).to_owned(),
                Some(name),
            )
        }
    };
    let shown = match &only {
        Some(_) => asked.parent().unwrap_or(Path::new("")).to_owned(),
        None => asked.to_owned(),
    };
    let own = folder.root.join("readings");
    let is_own = match (fs::canonicalize(&dir), fs::canonicalize(&own)) {
        (Ok(a), Ok(b)) => a == b,
        _ => readings.is_none(),
    };
    let mut sheets = Sheets {
        list: Vec::new(),
        others: Vec::new(),
    };
    let mut problems = Problems::default();
    if !is_own && only.is_none() {
        let known = |name: &str| sets::kind_of(name).is_some();
        folder::report_strangers(&dir, &shown.display().to_string(), known, &mut problems);
    }
    let files = match is_own {
        true => folder::files_of(&dir),
        false => folder::files_of_set(&dir),
    };
    for (of, file) in files {
        if only.as_ref().is_some_and(|o| *o != file) || kind.is_some_and(|k| k != of) {
            continue;
        }
        // New rows stand in the kind's own file, unless one was named.
        if kind.is_some() && only.is_none() && of != file {
            continue;
        }
        let name = match is_own {
            true => format!("readings/{file}"),
            false => shown.join(&file).display().to_string(),
        };
        let bytes = match folder
            .bench
            .sources
            .iter()
            .find(|s| is_own && *s.name == *name)
        {
            Some(source) => Some(source.bytes.to_vec()),
            None => folder::open_file(&dir, &file, false, MAX_TABLE_BYTES, &mut problems),
        };
        let sheet = Sheet {
            kind: of,
            path: dir.join(&file),
            name,
            bytes,
        };
        let setting = folder.bench.setting();
        if let (false, Some(bytes)) = (is_own, &sheet.bytes) {
            readings::read(of, &sheet.name, bytes, &setting, &mut problems);
        }
        sheets.list.push(sheet);
    }
    if sheets.list.is_empty() {
        let kinds = readings::FILES.join(", ");
        return Err(Failure::Message(match (&only, kind) {
            (Some(name), Some(kind)) => format!(
                "--readings: {name} is no file of the kind that --kind asks for; give {kind} or its \
                 folder"
            ),
            (Some(name), None) => format!(
                "--readings: {name} is no file of readings by its name; expected one of {kinds}, or \
                 such as holes-plan-0001.csv"
            ),
            _ => "no file of readings was found".to_owned(),
        }));
    }
    if problems.has_errors() {
        return Err(problems.into());
    }
    for source in &folder.bench.sources {
        if !sheets.list.iter().any(|s| s.name == *source.name) {
            let name = source.name.to_string();
            sheets
                .others
                .push((source.kind, name, source.bytes.to_vec()));
        }
    }
    Ok(sheets)
}
