//! CSV tables to typed rows: RFC 4180 in UTF-8, the header first, `#` for a comment line.
//!
//! A [`Table`] borrows the text and keeps no rows: [`Table::for_each`] walks through them. Cells
//! are reached by slot, a place in the list of [`Columns`] that a kind of table has, whatever the
//! order of the columns in the file.
//!
//! Beyond RFC 4180: a lone carriage return ends a line too; blanks around a quoted cell are
//! dropped; a quote inside a cell that is not quoted stands for itself; a row with nothing but
//! commas and blanks is skipped.

use crate::diagnose::Problem;
use crate::diagnose::Problems;
use crate::diagnose::Severity;

pub mod common;
pub mod edit;

mod columns;
mod header;
mod number;
mod row;
mod scan;
mod written;

pub use columns::Column;
pub use columns::Columns;
pub use columns::Unit;
pub use row::Row;
pub use written::Written;

use scan::Cells;
use scan::Misquoted;
use scan::Record;
use scan::Scanner;

/// Largest table that is read: 256 MiB, some four million rows.
pub const MAX_TABLE_BYTES: usize = 256 << 20;

/// After so many errors in one table the rest of it is not read.
pub const MAX_TABLE_ERRORS: usize = 200;

/// A table whose header was understood.
#[derive(Debug)]
pub struct Table<'t> {
    file: String,
    source: &'t str,
    /// First byte after the header, and its line.
    body: (usize, usize),
    /// Cells of a row.
    width: usize,
    /// For every slot.
    slots: Vec<Slot>,
    /// For every column of the file, its name as written.
    names: Vec<String>,
}

/// Where the cells of a slot stand.
#[derive(Debug, Clone)]
struct Slot {
    /// Column of the file; the width of the table if the file lacks it.
    index: usize,
    inches: bool,
    /// Name as written in the header, or as it usually is if the file lacks the column.
    written: String,
}

impl<'t> Table<'t> {
    /// Checks size, encoding and header. `file` is the name that problems bear.
    ///
    /// A file without a header (empty, or nothing but comments) is a table without rows.
    pub fn read(
        file: &str,
        bytes: &'t [u8],
        columns: &Columns,
        problems: &mut Problems,
    ) -> Option<Table<'t>> {
        let mut fail = |place: Option<(usize, usize)>, what: [String; 3]| {
            problems.push(error(file, place, None, what));
            None
        };
        if bytes.len() > MAX_TABLE_BYTES {
            let found = format!("{} bytes", bytes.len());
            let expected = format!("at most {MAX_TABLE_BYTES} bytes (256 MiB)");
            let advice = "remove rows that are not needed".to_owned();
            return fail(None, [found, expected, advice]);
        }
        let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
        let source = match std::str::from_utf8(bytes) {
            Ok(source) => source,
            Err(e) => {
                let good = std::str::from_utf8(&bytes[..e.valid_up_to()]).unwrap_or_default();
                let found = format!("the byte 0x{:02X}", bytes[good.len()]);
                let expected = "text in UTF-8".to_owned();
                let advice = "save the file as CSV in UTF-8".to_owned();
                let place = scan::place(good, 0, 1, good.len());
                return fail(Some(place), [found, expected, advice]);
            }
        };
        header::read(file, source, columns, problems)
    }

    /// Hands over the rows one by one. Rows with too many or too few cells are reported and left
    /// out, blank rows and comments are passed over. Stops after `MAX_TABLE_ERRORS` errors.
    pub fn for_each(&self, problems: &mut Problems, mut each: impl FnMut(&mut Row<'_>)) {
        let mut scanner = Scanner::new(self.source, self.body.0, self.body.1);
        let mut cells = Cells::new(self.width);
        let mut errors = 0;
        while let Some(record) = scanner.next_record(&mut cells) {
            if self.may_be_blank(cells.get(0).start())
                && record.misquoted.is_none()
                && cells.count() <= self.width
                && cells.all_blank(self.source)
            {
                continue;
            }
            if cells.count() != self.width || record.misquoted.is_some() {
                if self.is_only_commas(&record) {
                    continue;
                }
                problems.push(self.misshapen(&record, &cells));
                errors += 1;
            } else {
                let mut row = Row::new(self, &cells, &record, problems);
                each(&mut row);
                errors += row.errors();
            }
            if errors >= MAX_TABLE_ERRORS && scanner.position().0 < self.source.len() {
                let found = format!("{errors} errors up to here");
                let advice = "correct these first; the rest of the file was not read".to_owned();
                let place = Some((scanner.position().1, 1));
                let what = [found, String::new(), advice];
                problems.push(error(&self.file, place, None, what));
                return;
            }
        }
    }

    /// Whether a row whose first cell starts at `at` may hold blanks only; seldom, and quick to see.
    #[inline]
    fn may_be_blank(&self, at: usize) -> bool {
        let first = self.source.as_bytes().get(at);
        first.is_none_or(|b| *b <= b',' || !b.is_ascii())
    }

    /// Whether a row, of whatever width, holds nothing but commas and blanks.
    fn is_only_commas(&self, record: &Record) -> bool {
        let text = &self.source[record.start..record.end];
        text.split(',').all(|cell| cell.trim().is_empty())
    }

    /// What is wrong with a row that has not the cells of the header.
    fn misshapen(&self, record: &Record, cells: &Cells) -> Problem {
        let place = |at| Some(scan::place(self.source, record.start, record.line, at));
        if let Some(misquoted) = record.misquoted {
            return misquotation(&self.file, self.source, record, misquoted);
        }
        let found = format!("{} cells", cells.count());
        let expected = format!("{} cells, as many as the header has", self.width);
        match self.names.get(cells.count()) {
            Some(missing) => {
                let advice = "add the missing cells; an empty one needs its comma too".to_owned();
                let what = [found, expected, advice];
                error(&self.file, place(record.end), Some(missing), what)
            }
            None => {
                let advice = "put a text that holds a comma in double quotes; write decimals with \
                              a point";
                let what = [found, expected, advice.to_owned()];
                error(&self.file, place(cells.surplus_at()), None, what)
            }
        }
    }
}

/// An error; `what` is what was found, what was expected, and what to do.
fn error(
    file: &str,
    place: Option<(usize, usize)>,
    field: Option<&str>,
    what: [String; 3],
) -> Problem {
    let [found, expected, advice] = what;
    Problem {
        severity: Severity::Error,
        file: file.to_owned(),
        line: place.map(|p| p.0),
        column: place.map(|p| p.1),
        field: field.map(str::to_owned),
        found,
        expected,
        advice,
    }
}

/// The error for quotes that do not match.
fn misquotation(file: &str, source: &str, record: &Record, misquoted: Misquoted) -> Problem {
    let (at, expected, advice) = match misquoted {
        Misquoted::Unclosed(at) => (
            at,
            "a closing quote before the end of the file",
            "close the quote; a quote that belongs to the text is written twice",
        ),
        Misquoted::TextAfter(at) => (
            at,
            "a comma or the end of the line after a closing quote",
            "put the whole cell in quotes; a quote that belongs to the text is written twice",
        ),
    };
    let place = scan::place(source, record.start, record.line, at);
    let found = excerpt(source[at..record.end.max(at)].lines().next().unwrap_or(""));
    let what = [found, expected.to_owned(), advice.to_owned()];
    error(file, Some(place), None, what)
}

/// A text of the file as a message shows it: not too long, on one line, nothing invisible.
fn excerpt(text: &str) -> String {
    const LONGEST: usize = 60;
    let text = text.trim();
    if text.is_empty() {
        return "an empty cell".to_owned();
    }
    let mut shown = String::new();
    for (i, c) in text.chars().enumerate() {
        match c {
            _ if i == LONGEST => {
                shown.push('…');
                break;
            }
            c if c.is_control() => shown.extend(c.escape_default()),
            c => shown.push(c),
        }
    }
    shown
}
