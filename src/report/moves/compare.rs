//! Two registrations held against each other: text and JSON.

use std::fmt::Write;

use serde::Serialize;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::moves::Change;
use crate::moves::Movement;
use crate::registration::ChangeDocument;
use crate::report::moves::changes::changes;
use crate::report::moves::words;
use crate::report::number::decimals_for;
use crate::report::number::fixed;
use crate::report::words::counted;
use crate::report::words::wrap;
use crate::transfer::OverRange;
use crate::transfer::Shift;

/// A point and its shift.
pub struct ShiftRow {
    /// Its name.
    pub name: String,
    /// Its frame.
    pub frame: Belongs,
    /// Whether it comes from taught.csv.
    pub taught: bool,
    /// The tip's shift at the same readings; `None` where it cannot be reached.
    pub shift: Option<Shift>,
}

/// What a comparison is told from.
pub struct CompareFacts<'a> {
    /// The cell.
    pub cell: &'a Cell,
    /// How the one is called.
    pub from: &'a str,
    /// How the other is called.
    pub to: &'a str,
    /// Readings that both rest on, where that is not taken into account.
    pub shared: usize,
    /// Changes of the parameters.
    pub change: &'a Change,
    /// What each part did.
    pub movements: Vec<Movement>,
    /// The points.
    pub points: &'a [ShiftRow],
    /// Over the working range.
    pub range: Option<OverRange>,
}

/// `compare --json`.
#[derive(Debug, Clone, Serialize)]
pub struct CompareDocument {
    /// Name of the cell.
    pub cell: String,
    /// The one.
    pub from: String,
    /// The other.
    pub to: String,
    /// Whether anything really changed.
    pub changed: bool,
    /// Readings that both rest on, where that is not taken into account: then the u of changes are too large.
    pub shared_readings: usize,
    /// In sentences: each part that really moved.
    pub sentences: Vec<String>,
    /// Every parameter's change.
    pub parameters: Vec<ChangeDocument>,
    /// The tip's shift at the points, at the same readings.
    pub points: Vec<PointShiftDocument>,
    /// The tip's shift over the working range, plate frame; null where no posture could be looked at.
    pub range: Option<RangeDocument>,
}

/// One point.
#[derive(Debug, Clone, Serialize)]
pub struct PointShiftDocument {
    /// Its name.
    pub name: String,
    /// plate or platter.
    pub frame: String,
    /// Whether it was taught by driving there.
    pub taught: bool,
    /// In its own frame, mm; null where it cannot be reached.
    pub shift_mm: Option<[f64; 3]>,
    /// As a distance, mm.
    pub distance_mm: Option<f64>,
    /// 95 % radius, mm.
    pub u95_mm: Option<f64>,
    /// Whether it is more than that.
    pub real: Option<bool>,
}

/// The working range.
#[derive(Debug, Clone, Serialize)]
pub struct RangeDocument {
    /// Postures that were looked at.
    pub postures: usize,
    /// Half of them shift by less, mm.
    pub median_mm: f64,
    /// The largest shift, mm.
    pub largest_mm: f64,
    /// 95 % radius of that, mm.
    pub u95_mm: f64,
}

/// Gathers the document.
pub fn compare_document(facts: &CompareFacts<'_>) -> CompareDocument {
    let parameters = changes(facts.change);
    let changed = |name: &str| {
        let found = parameters.iter().find(|p| p.name == name);
        found.is_some_and(|p| p.verdict == "real" || p.verdict == "drawing")
    };
    let mut sentences = Vec::new();
    for movement in &facts.movements {
        // Told where a parameter of the part really changed; a table that turned is told by its shift, or by
        // index and switch turning together.
        let ways = movement.part.freedoms(facts.cell);
        let own = ways.iter().any(|way| {
            way.shares.iter().all(|(p, _)| {
                let found = facts.change.list.iter().find(|c| c.parameter == *p);
                found.is_some_and(|c| changed(&c.name))
            })
        });
        if own {
            sentences.push(words::movement(movement, facts.cell));
        }
    }
    CompareDocument {
        cell: facts.cell.name.clone(),
        from: facts.from.to_owned(),
        to: facts.to.to_owned(),
        changed: parameters.iter().any(|p| changed(&p.name)),
        shared_readings: facts.shared,
        sentences,
        parameters,
        points: facts.points.iter().map(point).collect(),
        range: facts.range.as_ref().map(|r| RangeDocument {
            postures: r.postures,
            median_mm: r.median_mm,
            largest_mm: r.largest_mm,
            u95_mm: r.largest_u95_mm,
        }),
    }
}

fn point(row: &ShiftRow) -> PointShiftDocument {
    let distance = row.shift.map(|s| s.mm.norm());
    let u95 = row.shift.map(|s| s.errors.u95_mm);
    PointShiftDocument {
        name: row.name.clone(),
        frame: row.frame.as_str().to_owned(),
        taught: row.taught,
        shift_mm: row.shift.map(|s| s.mm.into()),
        distance_mm: distance,
        u95_mm: u95,
        real: distance.zip(u95).map(|(d, u)| d > u),
    }
}

/// For people.
pub fn compare(document: &CompareDocument) -> String {
    let mut out = String::new();
    let head = match document.changed {
        true => "CHANGED",
        false => "THE SAME within what is known",
    };
    out.push_str(&wrap(
        "",
        0,
        &format!(
            "{head}: {}, from {} to {}",
            document.cell, document.from, document.to
        ),
    ));
    for sentence in &document.sentences {
        out.push_str(&wrap("  - ", 4, &format!("{sentence}.")));
    }
    if document.shared_readings > 0 {
        let text = format!(
            "Both rest on {} that are the same; the uncertainties of the changes are then rather too large.",
            counted(document.shared_readings, "reading")
        );
        out.push_str(&wrap("  ", 2, &text));
    }
    parameters(&mut out, document);
    points(&mut out, document);
    out
}

fn parameters(out: &mut String, document: &CompareDocument) {
    let solved: Vec<&ChangeDocument> = document
        .parameters
        .iter()
        .filter(|p| p.u > 0.0 || p.change != 0.0)
        .collect();
    let width = solved
        .iter()
        .map(|p| p.name.len())
        .max()
        .unwrap_or(0)
        .max(12);
    out.push_str(
        "\nParameters: before -> after, change ± one standard uncertainty of the change\n",
    );
    for p in solved {
        let d = decimals_for(p.u).min(4);
        let verdict = match p.verdict.as_str() {
            "real" => "really changed",
            "perhaps" => "perhaps changed",
            "drawing" => "changed in cell.toml",
            _ => "the same",
        };
        let sign = if p.change >= 0.0 { "+" } else { "" };
        let unit = p.unit.replace("/unit", " per unit");
        let _ = writeln!(
            out,
            "  {:<width$} {:>9} -> {:>9}  {:>9} ± {:<6} {unit:<3}  {verdict}",
            p.name,
            fixed(p.before, d),
            fixed(p.after, d),
            format!("{sign}{}", fixed(p.change, d)),
            fixed(p.u, d),
        );
    }
}

fn points(out: &mut String, document: &CompareDocument) {
    if !document.points.is_empty() {
        out.push_str("\nTip at the same axis readings: how far it stands elsewhere now, ± 95 %\n");
        let width = document
            .points
            .iter()
            .map(|p| p.name.len())
            .max()
            .unwrap_or(0)
            .max(12);
        for p in &document.points {
            let Some((mm, (distance, u95))) = p.shift_mm.zip(p.distance_mm.zip(p.u95_mm)) else {
                let _ = writeln!(out, "  {:<width$} out of reach", p.name);
                continue;
            };
            let d = decimals_for(u95).clamp(1, 3);
            let real = if p.real == Some(true) {
                ""
            } else {
                "   within what is known"
            };
            let [x, y, z] = mm.map(|v| fixed(v, d));
            let _ = writeln!(
                out,
                "  {:<width$} {:>8} ± {:<6} mm  ({x}, {y}, {z}) in the {}{real}",
                p.name,
                fixed(distance, d),
                fixed(u95, d),
                p.frame,
            );
        }
    }
    if let Some(range) = &document.range {
        let d = decimals_for(range.u95_mm).clamp(1, 2);
        let text = format!(
            "Over the working range ({} postures, plate frame): half of them shift by less than {} mm, the most by {} \
             mm (±{} mm).",
            range.postures,
            fixed(range.median_mm, d),
            fixed(range.largest_mm, d),
            fixed(range.u95_mm, d)
        );
        out.push_str(&wrap("  ", 2, &text));
    }
}
