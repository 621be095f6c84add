//! One row as a person wrote it, to be written again with a cell changed.

use crate::table::Column;
use crate::table::Columns;
use crate::table::Table;
use crate::table::scan::Cells;
use crate::table::scan::Scanner;

/// Header and cells of one row, blanks around them taken off.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// Physical line of the row.
    pub line: usize,
    header: Vec<String>,
    cells: Vec<String>,
}

impl Table<'_> {
    /// The rows of the given physical lines, ascending, as they were written; rows of a wrong shape
    /// are passed over.
    pub fn written(&self, lines: &[usize]) -> Vec<Written> {
        let mut scanner = Scanner::new(self.source, self.body.0, self.body.1);
        let mut cells = Cells::new(self.width);
        let mut found = Vec::new();
        while found.len() < lines.len()
            && let Some(record) = scanner.next_record(&mut cells)
        {
            if lines.binary_search(&record.line).is_err()
                || cells.count() != self.width
                || record.misquoted.is_some()
            {
                continue;
            }
            found.push(Written {
                line: record.line,
                header: self.names.clone(),
                cells: (0..self.width)
                    .map(|i| cells.text(self.source, i).trim().to_owned())
                    .collect(),
            });
        }
        found
    }
}

impl Written {
    /// A row in the making: the columns of a kind, all cells empty.
    pub fn empty(columns: &Columns) -> Self {
        let header: Vec<String> = columns.list().iter().map(Column::usual_name).collect();
        Written {
            line: 1,
            cells: vec![String::new(); header.len()],
            header,
        }
    }

    /// A row in the making under a header, all cells empty.
    pub fn blank(header: Vec<String>) -> Self {
        Written {
            line: 1,
            cells: vec![String::new(); header.len()],
            header,
        }
    }

    /// The names of its columns.
    pub fn header(&self) -> &[String] {
        &self.header
    }

    /// The texts of its cells.
    pub fn cells(&self) -> &[String] {
        &self.cells
    }

    /// Where a column stands, by its name without the suffix of a unit.
    fn place(&self, column: &str) -> Option<usize> {
        self.header.iter().position(|h| {
            h.strip_prefix(column)
                .is_some_and(|rest| matches!(rest, "" | "_mm" | "_in" | "_deg"))
        })
    }

    /// The column's name as the header has it; the given one where it has no such column.
    pub fn name<'a>(&'a self, column: &'a str) -> &'a str {
        self.place(column).map_or(column, |i| &self.header[i])
    }

    /// Whether the column's values are inches.
    pub fn in_inches(&self, column: &str) -> bool {
        self.name(column).ends_with("_in")
    }

    /// The cell of a column, empty where there is none.
    pub fn text(&self, column: &str) -> &str {
        self.place(column).map_or("", |i| &self.cells[i])
    }

    /// The number in a cell; `None` where there is none.
    pub fn number(&self, column: &str) -> Option<f64> {
        self.text(column)
            .parse()
            .ok()
            .filter(|v: &f64| v.is_finite())
    }

    /// Writes a cell; a column that the file lacks is added.
    pub fn set(&mut self, column: &str, text: &str) {
        match self.place(column) {
            Some(i) => text.clone_into(&mut self.cells[i]),
            None => {
                self.header.push(column.to_owned());
                self.cells.push(text.to_owned());
            }
        }
    }

    /// A table of this row alone, under its header.
    pub fn csv(&self) -> String {
        let line = |cells: &[String]| -> String {
            let quoted: Vec<String> = cells
                .iter()
                .map(|c| match c.contains([',', '"', '\n', '\r', '#']) {
                    true => format!("\"{}\"", c.replace('"', "\"\"")),
                    false => c.clone(),
                })
                .collect();
            quoted.join(",")
        };
        format!("{}\n{}\n", line(&self.header), line(&self.cells))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnose::Problems;

    #[test]
    fn a_row_is_written_again_as_it_stood_but_for_the_change() {
        let text = "# bench\nfeature, gap_in,note\nleft,1.5,\"a, b\"\nright,2,\n";
        let columns = Columns::new()
            .text("feature")
            .length("gap")
            .text("note")
            .number("track")
            .optional();
        let mut problems = Problems::default();
        let table = Table::read("t.csv", text.as_bytes(), &columns, &mut problems).unwrap();
        let mut rows = table.written(&[3]);
        assert_eq!(rows.len(), 1);
        let row = &mut rows[0];
        assert_eq!((row.line, row.text("gap")), (3, "1.5"));
        assert!(row.in_inches("gap") && row.name("gap") == "gap_in");
        row.set("gap", "-1.5");
        row.set("track", "20");
        assert_eq!(
            row.csv(),
            "feature,gap_in,note,track\nleft,-1.5,\"a, b\",20\n"
        );
    }
}
