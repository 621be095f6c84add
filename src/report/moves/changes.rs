//! Changes between two registrations as documents.

use crate::cell::Cell;
use crate::fit::assess::SUSPECT;
use crate::moves::Change;
use crate::moves::Unused;
use crate::parts::Part;
use crate::registration::ChangeDocument;
use crate::registration::UnusedDocument;

/// Every parameter's change, in the units of its file.
pub fn changes(change: &Change) -> Vec<ChangeDocument> {
    let of = |c: &crate::moves::Changed| {
        let unit = c.parameter.unit();
        let by = (c.values[1] - c.values[0]) / unit.in_code();
        let u = c.u / unit.in_code();
        // What both hold as drawn can only have changed in the drawing.
        let verdict = match by.abs() {
            // Rounding alone.
            b if !(b > 1e-9) => "same",
            b if !change.unknowns.list.iter().any(|(p, _)| *p == c.parameter) && b > 0.0 => {
                "drawing"
            }
            b if b > SUSPECT * u => "real",
            b if b > 1.96 * u => "perhaps",
            _ => "same",
        };
        ChangeDocument {
            name: c.name.clone(),
            unit: unit.as_str().to_owned(),
            before: c.values[0] / unit.in_code(),
            after: c.values[1] / unit.in_code(),
            change: by,
            u,
            verdict: verdict.to_owned(),
        }
    };
    change.list.iter().map(of).collect()
}

/// Readings of before that no longer count, with the reason.
pub fn unused(
    old: &[Unused],
    named: &[Part],
    followed: &[Part],
    cell: &Cell,
) -> Vec<UnusedDocument> {
    let list = |parts: &[Part]| {
        let words: Vec<String> = parts.iter().map(|p| p.words(cell)).collect();
        words.join(", ")
    };
    let mut why = format!("they were taken before {} changed", list(named));
    if !followed.is_empty() {
        why.push_str(&format!(
            ", and with it what is set after it ({})",
            list(followed)
        ));
    }
    old.iter()
        .map(|u| UnusedDocument {
            file: u.file.clone(),
            lines: u.lines.clone(),
            of: u.of,
            why: why.clone(),
        })
        .collect()
}
