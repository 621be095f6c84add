//! One row of a table: typed cells that know where they stand.

use crate::diagnose::Problem;
use crate::diagnose::Problems;
use crate::diagnose::Severity;
use crate::table::MAX_TABLE_ERRORS;
use crate::table::Slot;
use crate::table::Table;
use crate::table::excerpt;
use crate::table::header::first_byte;
use crate::table::number;
use crate::table::scan::Cells;
use crate::table::scan::Record;
use crate::table::scan::place;
use crate::units::Angle;
use crate::units::Length;

/// A row. Whatever is reported through it names file, line, column and header.
#[derive(Debug)]
pub struct Row<'r> {
    file: &'r str,
    source: &'r str,
    slots: &'r [Slot],
    cells: &'r Cells,
    /// Byte and physical line where the row starts.
    start: usize,
    line: usize,
    width: usize,
    errors: usize,
    /// Cells that are needed may be empty; how many were.
    unfinished: Option<usize>,
    problems: &'r mut Problems,
}

impl<'r> Row<'r> {
    #[inline]
    pub(super) fn new(
        table: &'r Table<'_>,
        cells: &'r Cells,
        record: &Record,
        problems: &'r mut Problems,
    ) -> Self {
        Row {
            file: &table.file,
            source: table.source,
            slots: &table.slots,
            cells,
            start: record.start,
            line: record.line,
            width: table.width,
            errors: 0,
            unfinished: None,
            problems,
        }
    }
    /// From now on an empty cell that is needed is no error: the row is laid out, to be filled in.
    pub fn may_be_unfinished(&mut self) {
        self.unfinished = Some(0);
    }
    /// Whether a needed cell was empty in a row that may be unfinished.
    pub fn is_unfinished(&self) -> bool {
        self.unfinished.is_some_and(|n| n > 0)
    }
    #[inline]
    pub(super) fn errors(&self) -> usize {
        self.errors
    }
    /// Physical line where the row starts, the first of the file being 1.
    #[inline]
    pub fn line(&self) -> usize {
        self.line
    }
    /// Whether an error was reported for this row.
    #[inline]
    pub fn is_bad(&self) -> bool {
        self.errors > 0
    }
    /// Name of the column as written in the header, or as it usually is if the file lacks it.
    pub fn column_name(&self, slot: usize) -> &'r str {
        &self.slots[slot].written
    }
    /// Whether the file has the column.
    pub fn has_column(&self, slot: usize) -> bool {
        self.slots[slot].index < self.width
    }

    /// The text of a cell without the blanks around it; empty if the file lacks the column.
    pub fn text(&self, slot: usize) -> &'r str {
        self.cells.text(self.source, self.slots[slot].index).trim()
    }
    /// A number without unit: a count, or what a controller shows. `None` if the cell is empty; if
    /// it holds no finite number that is reported, and `None` too.
    #[inline]
    pub fn number(&mut self, slot: usize) -> Option<f64> {
        let cell = self.cells.get(self.slots[slot].index);
        if cell.start() == cell.end() {
            return None;
        }
        match number::short(self.source.as_bytes(), cell.start(), cell.end()) {
            Some(value) => Some(value),
            None => self.long_number(slot),
        }
    }
    #[cold]
    #[inline(never)]
    fn long_number(&mut self, slot: usize) -> Option<f64> {
        let text = self.text(slot);
        if text.is_empty() {
            return None;
        }
        let value = number::decimal(text);
        if value.is_none() {
            self.reject(slot, "a number", &number::advice(text));
        }
        value
    }
    /// A length in millimetres, from millimetres or inches as the header says; else as `number`.
    #[inline]
    pub fn length_mm(&mut self, slot: usize) -> Option<f64> {
        let value = self.number(slot)?;
        if !self.slots[slot].inches {
            return Some(value);
        }
        let mm = Length::inches(value).as_mm();
        if mm.is_finite() {
            return Some(mm);
        }
        self.reject(slot, "a length", "write a smaller number");
        None
    }
    /// An angle in radians, from degrees; else as `number`.
    #[inline]
    pub fn angle_rad(&mut self, slot: usize) -> Option<f64> {
        self.number(slot).map(|deg| Angle::deg(deg).as_rad())
    }

    /// As `text`, but an empty cell is an error; `why` says what needs it.
    pub fn needed_text(&mut self, slot: usize, why: &str) -> Option<&'r str> {
        self.needed(slot, "a text", why).then(|| self.text(slot))
    }
    /// As `number`, but an empty cell is an error; `why` says what needs it.
    #[inline]
    pub fn needed_number(&mut self, slot: usize, why: &str) -> Option<f64> {
        let value = self.number(slot);
        if value.is_none() && !self.needed(slot, "a number", why) {
            return None;
        }
        value
    }
    /// As `length_mm`, but an empty cell is an error; `why` says what needs it.
    pub fn needed_length_mm(&mut self, slot: usize, why: &str) -> Option<f64> {
        let value = self.length_mm(slot);
        if value.is_none() && !self.needed(slot, "a length", why) {
            return None;
        }
        value
    }
    /// As `angle_rad`, but an empty cell is an error; `why` says what needs it.
    pub fn needed_angle_rad(&mut self, slot: usize, why: &str) -> Option<f64> {
        let value = self.angle_rad(slot);
        if value.is_none() && !self.needed(slot, "an angle", why) {
            return None;
        }
        value
    }
    /// Whether a cell holds anything; if not, that is reported.
    fn needed(&mut self, slot: usize, what: &str, why: &str) -> bool {
        if !self.text(slot).is_empty() {
            return true;
        }
        if let Some(count) = &mut self.unfinished {
            *count += 1;
            return false;
        }
        let expected = match why {
            "" => what.to_owned(),
            why => format!("{what}: {why}"),
        };
        let name = self.column_name(slot);
        match self.has_column(slot) {
            true => self.reject(slot, &expected, &format!("fill in {name}")),
            false => self.reject(slot, &expected, &format!("add the column {name}")),
        }
        false
    }

    /// Reports that a cell cannot be used. What was found is its text.
    #[cold]
    pub fn reject(&mut self, slot: usize, expected: &str, advice: &str) {
        self.errors += 1;
        self.report(Severity::Error, slot, expected, advice);
    }
    /// Reports that a person should look at a cell. What was found is its text.
    #[cold]
    pub fn warn(&mut self, slot: usize, expected: &str, advice: &str) {
        if self.problems.len() < 10 * MAX_TABLE_ERRORS {
            self.report(Severity::Warning, slot, expected, advice);
        }
    }
    fn report(&mut self, severity: Severity, slot: usize, expected: &str, advice: &str) {
        let (line, column, found) = match self.has_column(slot) {
            true => {
                let index = self.slots[slot].index;
                let at = first_byte(self.source, self.start, self.cells, index);
                let (line, column) = place(self.source, self.start, self.line, at);
                (line, column, excerpt(self.text(slot)))
            }
            false => (
                self.line,
                1,
                format!("no column {}", self.column_name(slot)),
            ),
        };
        self.problems.push(Problem {
            severity,
            file: self.file.to_owned(),
            line: Some(line),
            column: Some(column),
            field: Some(self.column_name(slot).to_owned()),
            found,
            expected: expected.to_owned(),
            advice: advice.to_owned(),
        });
    }
}
