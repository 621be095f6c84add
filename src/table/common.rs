//! Columns that several kinds of table share.

use crate::table::Row;
use crate::table::Unit;
use crate::units::Approach;

/// Most joints that an arm has.
pub const MOST_JOINTS: usize = 7;

/// Whether a row takes part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Use {
    /// It does.
    Yes,
    /// It is left out, and the report says so.
    No,
    /// It is kept out of the solution and tested against it.
    Check,
}

/// The column `use`: `yes` if empty.
pub fn use_row(row: &mut Row<'_>, slot: usize) -> Use {
    match row.text(slot) {
        "" | "yes" => Use::Yes,
        "no" => Use::No,
        "check" => Use::Check,
        _ => {
            row.reject(
                slot,
                "yes, no or check",
                "write no to leave the row out, check to keep it out of the solution and test it \
                 against it, else yes or nothing",
            );
            Use::Yes
        }
    }
}

/// From which side a reading was reached: `up`, `down` or nothing.
pub fn approach(row: &mut Row<'_>, slot: usize) -> Approach {
    match row.text(slot) {
        "" => Approach::Unnoted,
        "up" => Approach::Up,
        "down" => Approach::Down,
        "ccw" | "cw" => {
            let advice = "write up if the reading was rising, down if it was falling";
            row.reject(slot, "up, down or nothing", advice);
            Approach::Unnoted
        }
        _ => {
            let advice = "write up if the reading was rising, down if it was falling, nothing if \
                          nobody noted it";
            row.reject(slot, "up, down or nothing", advice);
            Approach::Unnoted
        }
    }
}

/// The same for the turntable, where `ccw` and `cw` (seen from above) are understood too: at a
/// positive scale the reading rises when the table turns counterclockwise.
pub fn approach_of_table(row: &mut Row<'_>, slot: usize, scale: f64) -> Approach {
    match (row.text(slot), scale < 0.0) {
        ("ccw", false) | ("cw", true) => Approach::Up,
        ("cw", false) | ("ccw", true) => Approach::Down,
        ("" | "up" | "down", _) => approach(row, slot),
        _ => {
            let advice = "write up or down as the reading rose or fell, or ccw or cw as the table \
                          turned, seen from above";
            row.reject(slot, "up, down, ccw, cw or nothing", advice);
            Approach::Unnoted
        }
    }
}

/// The standard uncertainty of a row in the unit of code (mm or rad): `default` if the cell is
/// empty or cannot be used; zero and less are errors.
pub fn uncertainty(row: &mut Row<'_>, slot: usize, unit: Unit, default: f64) -> f64 {
    let value = match unit {
        Unit::Mm => row.length_mm(slot),
        Unit::Deg => row.angle_rad(slot),
        Unit::None => row.number(slot),
    };
    match value {
        None => default,
        Some(u) if u > 0.0 => u,
        Some(_) => {
            let advice = "write the standard uncertainty of the row, or leave the cell empty for \
                          that of the instrument";
            row.reject(slot, "a number above 0", advice);
            default
        }
    }
}

/// Joint readings `j1` to `jn`, base to tip, `j1` in slot `first`. The first `needed` must be
/// there, and `why` says what for; of the others those that are there are given.
pub fn joints(
    row: &mut Row<'_>,
    first: usize,
    n: usize,
    needed: usize,
    why: &str,
) -> [Option<f64>; MOST_JOINTS] {
    let mut readings = [None; MOST_JOINTS];
    for (k, reading) in readings.iter_mut().enumerate().take(n) {
        *reading = match k < needed {
            true => row.needed_number(first + k, why),
            false => row.number(first + k),
        };
    }
    readings
}
