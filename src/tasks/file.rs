//! The file of a task: points in the order in which the arm shall go to them.

use crate::cell::Cell;
use crate::diagnose::Problems;
use crate::table::Columns;
use crate::table::Row;
use crate::table::Table;

/// Most steps of a task.
const MOST_STEPS: usize = 2000;
/// Largest reading that an axis may be held at, and longest dwell, s.
const MOST_READING: f64 = 1e6;
/// Longest approach or depart, mm.
const MOST_MM: f64 = 2000.0;

/// Along what the tip comes and goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Along {
    /// Back along the tool.
    Tool,
    /// Up from the plate.
    Up,
}

/// What is asked of an axis at a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Held {
    /// Nothing: it may stand anywhere.
    Free,
    /// A reading.
    At(f64),
    /// Where it stood at the step before.
    Same,
}

/// One step.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// The point's name.
    pub point: String,
    /// How far before the point the tip shall stop, mm; 0: not at all.
    pub approach_mm: f64,
    /// How far it shall go back afterward, mm.
    pub depart_mm: f64,
    /// Along what.
    pub along: Along,
    /// How long it shall stay, s.
    pub dwell_s: Option<f64>,
    /// What is asked of the track.
    pub track: Held,
    /// What is asked of the table.
    pub table: Held,
    /// What the file says of it for people.
    pub note: String,
    /// Line in the file.
    pub line: usize,
}

/// Reads a task. `names`: the points of the cell.
pub fn read(
    file: &str,
    bytes: &[u8],
    cell: &Cell,
    names: &[&str],
    problems: &mut Problems,
) -> Vec<Step> {
    const POINT: usize = 0;
    const APPROACH: usize = 1;
    const DEPART: usize = 2;
    const ALONG: usize = 3;
    const DWELL: usize = 4;
    const TRACK: usize = 5;
    const TABLE: usize = 6;
    const NOTE: usize = 7;
    let columns = Columns::new()
        .text("point")
        .length("approach")
        .optional()
        .length("depart")
        .optional()
        .text("along")
        .optional()
        .number("dwell_s")
        .optional()
        .text("track")
        .optional()
        .text("table")
        .optional()
        .text("note")
        .optional();
    let mut steps: Vec<Step> = Vec::new();
    let Some(table) = Table::read(file, bytes, &columns, problems) else {
        return steps;
    };
    table.for_each(problems, |row| {
        let point = row
            .needed_text(POINT, "the name of a point")
            .map(str::to_owned);
        if let Some(name) = &point
            && !names.contains(&name.as_str())
        {
            let advice = match crate::diagnose::nearest(name, names.iter().copied()) {
                Some(near) => format!("write {near}, if that is meant"),
                None => "see points.csv and taught.csv for the names".to_owned(),
            };
            row.reject(POINT, "a point of points.csv or taught.csv", &advice);
        }
        let mut length = |slot: usize| {
            let value = row.length_mm(slot).unwrap_or(0.0);
            if !(0.0..=MOST_MM).contains(&value) {
                row.reject(
                    slot,
                    "a length from 0 to 2000 mm",
                    "write how far from the point",
                );
            }
            value
        };
        let (approach_mm, depart_mm) = (length(APPROACH), length(DEPART));
        let along = match row.text(ALONG) {
            "" | "tool" => Along::Tool,
            "up" => Along::Up,
            _ => {
                let advice = "write tool to come and go along the tool, up along the plate's z";
                row.reject(ALONG, "tool, up or nothing", advice);
                Along::Tool
            }
        };
        let dwell_s = row.number(DWELL);
        if dwell_s.is_some_and(|s| !(0.0..=MOST_READING).contains(&s)) {
            row.reject(
                DWELL,
                "seconds, not below 0",
                "write how long the tip shall stay",
            );
        }
        let first = steps.is_empty();
        let track = held(row, TRACK, "track", cell.track.is_some(), first);
        let table = held(row, TABLE, "turntable", cell.turntable.is_some(), first);
        if steps.len() >= MOST_STEPS {
            row.reject(
                POINT,
                "at most 2000 steps",
                "split the task into several files",
            );
        }
        if let (Some(point), false) = (point, row.is_bad()) {
            steps.push(Step {
                point,
                approach_mm,
                depart_mm,
                along,
                dwell_s,
                track,
                table,
                note: row.text(NOTE).to_owned(),
                line: row.line(),
            });
        }
    });
    steps
}

fn held(row: &mut Row<'_>, slot: usize, axis: &str, there: bool, first: bool) -> Held {
    let text = row.text(slot);
    if text.is_empty() {
        return Held::Free;
    }
    if !there {
        row.reject(
            slot,
            &format!("nothing: this cell has no {axis}"),
            "leave the cell empty",
        );
        return Held::Free;
    }
    if text == "same" {
        if first {
            row.reject(
                slot,
                "a reading or nothing: there is no step before",
                "write the reading at which the axis shall stand",
            );
        }
        return Held::Same;
    }
    match text.parse::<f64>() {
        Ok(reading) if reading.abs() <= MOST_READING => Held::At(reading),
        _ => {
            row.reject(
                slot,
                "a reading, same, or nothing where the axis may stand anywhere",
                "write what the controller shows, or same (in small letters) for the step before",
            );
            Held::Free
        }
    }
}
