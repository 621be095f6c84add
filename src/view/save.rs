//! A row for the file in which positions of the page are kept.

use std::f64::consts::TAU;

use crate::readings::stand::Stand;
use crate::report::Lapsed;
use crate::report::page;
use crate::view::Refused;
use crate::view::ask::SaveAsk;
use crate::view::ask::Which;
use crate::view::face::Face;
use crate::view::tell::AxisAt;

/// The file in the cell folder. No command reads it; its rows can be moved into `taught.csv`.
pub const SAVE_FILE: &str = "taught-on-page.csv";
/// Longest name of a point, characters.
const LONGEST: usize = 60;
/// A table that turns without end and has turned so often is not where anybody's controller shows it.
const MOST_TURNS: f64 = 1000.0;

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
    if name.eq_ignore_ascii_case("name") {
        return Some("it is the heading of the names");
    }
    if name.starts_with('-') {
        return Some("it begins with -, which a spreadsheet takes for a sum");
    }
    (!name.chars().all(fits)).then_some("it has others than letters, digits, _ and -")
}

/// Rounds a reading as it is kept, and writes it.
fn keep(reading: &mut f64, limits: Option<(f64, f64)>, decimals: usize) -> Result<String, Refused> {
    let text = page::kept(*reading, limits, decimals);
    let no_number = |_| Refused::failed(format!("{text} cannot be written as a reading"));
    *reading = text.parse().map_err(no_number)?;
    Ok(text)
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
        let frame = ask.frame.belongs();
        if frame == crate::cell::Belongs::Platter && self.cell.turntable.is_none() {
            return Err(Refused::bad(
                "frame is platter, and this cell has no turntable: expected plate".to_owned(),
            ));
        }
        // What is looked at is what is written, to its last digit.
        let (row, stand) = self.rounded(&stand)?;
        let state = self.state(&stand, None);
        if let Some(why) = state.unkept {
            return Err(Refused::bad(why));
        }
        let record = self.record().unwrap_or_default();
        let mut header = "name,frame,track,table".to_owned();
        for k in 1..=self.cell.joints.len() {
            header.push_str(&format!(",j{k}"));
        }
        let mut row = format!("{},{},{row}", ask.name, frame.as_str());
        header.push_str(",record");
        row.push_str(&format!(",{record}"));
        Ok(Row {
            name: ask.name.clone(),
            header,
            row,
            looks: state.looks,
        })
    }

    /// Name of the record in force.
    fn record(&self) -> Option<&str> {
        let path = self.force.record.as_ref()?;
        path.file_stem()?.to_str()
    }

    /// Why a position cannot be kept, if it cannot.
    pub fn unkept(&self, stand: &Stand, axes: &[AxisAt]) -> Option<String> {
        if self.which != Which::Registered || self.record().is_none() {
            let how = match self.other {
                Some(_) => "switch to as registered",
                None => "register the cell first",
            };
            return Some(format!(
                "positions as drawn are not kept, since the arm would not stand there; {how}"
            ));
        }
        if let Some(lapsed @ (Lapsed::Doubted(_) | Lapsed::Superseded(_))) = self.lapsed {
            return Some(format!(
                "{}: the arm would not stand there any more; register the cell again",
                lapsed.why()
            ));
        }
        if let Some(out) = axes.iter().find(|a| !a.inside) {
            return Some(format!(
                "{} is beyond its limit: {}; such a position is not kept",
                out.id, out.room
            ));
        }
        let turns = stand.turn_rad(&self.force.geometry) / TAU;
        if self.cell.turntable.is_some() && !(turns.abs() <= MOST_TURNS) {
            return Some(format!(
                "the table reads more than {MOST_TURNS} turns from its zero; bring it within them"
            ));
        }
        None
    }

    /// Readings as they are kept, track, table and joints in the columns of a row; and the same as numbers.
    fn rounded(&self, stand: &Stand) -> Result<(String, Stand), Refused> {
        let mut there = *stand;
        let mut columns = Vec::new();
        if self.cell.track.is_some() {
            let limits = self.track_limits();
            columns.push(keep(&mut there.track, limits, self.track_decimals())?);
        } else {
            columns.push(String::new());
        }
        if self.cell.turntable.is_some() {
            let limits = self.table_limits();
            columns.push(keep(&mut there.table, limits, self.table_decimals())?);
        } else {
            columns.push(String::new());
        }
        let n = self.cell.joints.len();
        for (k, reading) in there.joints.iter_mut().take(n).enumerate() {
            columns.push(keep(reading, self.joint_limits(k), self.joint_decimals(k))?);
        }
        Ok((columns.join(","), there))
    }
}
