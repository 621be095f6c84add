//! A row for the file in which positions of the page are kept.

use crate::report::page;
use crate::view::Refused;
use crate::view::ask::SaveAsk;
use crate::view::ask::Which;
use crate::view::face::Face;

/// The file in the cell folder. No command reads it; its rows can be moved into `taught.csv`.
pub const SAVE_FILE: &str = "taught-on-page.csv";
/// Longest name of a point, characters.
const LONGEST: usize = 60;

/// A row to be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// The point's name.
    pub name: String,
    /// The columns, as `taught.csv` has them.
    pub header: String,
    /// The row, without a line end.
    pub row: String,
    /// What a person must look at before driving there.
    pub looks: Vec<String>,
}

/// What is wrong with a name, if anything.
fn unfit(name: &str) -> Option<&'static str> {
    let fits = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    if name.is_empty() {
        return Some("it is empty");
    }
    if name.chars().count() > LONGEST {
        return Some("it has more than 60 characters");
    }
    if name.starts_with('-') {
        return Some("it begins with -, which a spreadsheet takes for a sum");
    }
    (!name.chars().all(fits)).then_some("it has others than letters, digits, _ and -")
}

impl Face<'_> {
    /// The row for a position, if it may be kept. That its name is free is for whoever writes it to see.
    pub fn row(&self, ask: &SaveAsk) -> Result<Row, Refused> {
        let stand = ask.stand.stand(self.cell)?;
        if let Some(why) = unfit(&ask.name) {
            return Err(Refused::bad(format!(
                "the name cannot be used: {why}; expected at most 60 letters, digits, _ and -"
            )));
        }
        let record = self
            .force
            .record
            .as_ref()
            .and_then(|p| p.file_stem()?.to_str());
        let Some(record) = record.filter(|_| self.which == Which::Registered) else {
            return Err(Refused::bad(
                "positions as drawn are not kept, since the arm would not stand there; register the cell first"
                    .to_owned(),
            ));
        };
        let frame = ask.frame.belongs();
        if frame == crate::cell::Belongs::Platter && self.cell.turntable.is_none() {
            return Err(Refused::bad(
                "frame is platter, and this cell has no turntable: expected plate".to_owned(),
            ));
        }
        let state = self.state(&stand, None);
        if let Some(out) = state.axes.iter().find(|a| !a.inside) {
            return Err(Refused::bad(format!(
                "{} is beyond its limit: {}; such a position is not kept",
                out.id, out.room
            )));
        }
        let n = self.cell.joints.len();
        let mut header = "name,frame,track,table".to_owned();
        let number = |v: Option<f64>| v.map_or(String::new(), page::kept);
        let mut row = format!(
            "{},{},{},{}",
            ask.name,
            frame.as_str(),
            number(ask.stand.track),
            number(ask.stand.table)
        );
        for (k, reading) in ask.stand.joints.iter().take(n).enumerate() {
            header.push_str(&format!(",j{}", k + 1));
            row.push_str(&format!(",{}", page::kept(*reading)));
        }
        header.push_str(",record");
        row.push_str(&format!(",{record}"));
        Ok(Row {
            name: ask.name.clone(),
            header,
            row,
            looks: state.looks,
        })
    }
}
