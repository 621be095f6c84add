//! The slips that people make when they write a reading down: each kind of reading knows its own.
//! They are changes of the text of a row, so that what is suggested can be written as it stands.

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::table::Written;

/// What sort of slip; the words of `cause.kind`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SlipKind {
    /// A count, or which way it was counted.
    Count,
    /// The wrong feature, mark or body that something was measured from or to.
    Mark,
    /// A gap with the wrong sign.
    Gap,
    /// Inches for millimetres, or the reverse.
    Unit,
    /// The wrong notch.
    Notch,
    /// The approach noted the wrong way.
    Approach,
    /// An offset with the wrong sign, or in swapped axes.
    Offset,
    /// The wrong target.
    Target,
    /// Level for plumb, the wrong axis, the wrong way.
    Attitude,
    /// A joint's reading with the wrong sign, or two joints swapped.
    Joint,
    /// Two rows swapped.
    Swap,
    /// The pitch of the plate.
    Pitch,
    /// The direction of an axis reversed.
    Direction,
}

impl SlipKind {
    /// As written in JSON.
    pub fn as_str(self) -> &'static str {
        match self {
            SlipKind::Count => "count",
            SlipKind::Mark => "mark",
            SlipKind::Gap => "gap",
            SlipKind::Unit => "unit",
            SlipKind::Notch => "notch",
            SlipKind::Approach => "approach",
            SlipKind::Offset => "offset",
            SlipKind::Target => "target",
            SlipKind::Attitude => "attitude",
            SlipKind::Joint => "joint",
            SlipKind::Swap => "swap",
            SlipKind::Pitch => "pitch",
            SlipKind::Direction => "direction",
        }
    }
}

/// What a row might have said instead.
#[derive(Debug, Clone, PartialEq)]
pub struct Slip {
    /// What sort.
    pub kind: SlipKind,
    /// Columns, by their names without unit, and what should stand there.
    pub edits: Vec<(String, String)>,
    /// How much rarer such a slip is than the commonest ones: a natural logarithm, 0 or more.
    /// *Common practice*: judged, not counted.
    pub rarity: f64,
}

/// The slips that may have been made in one row.
pub struct Slips<'a> {
    /// The row.
    pub row: &'a Written,
    /// The cell.
    pub cell: &'a Cell,
    /// What was collected.
    pub list: Vec<Slip>,
}

impl<'a> Slips<'a> {
    /// None yet.
    pub fn new(row: &'a Written, cell: &'a Cell) -> Self {
        Slips {
            row,
            cell,
            list: Vec::new(),
        }
    }

    /// One cell might hold something else.
    pub fn other(&mut self, kind: SlipKind, column: &str, text: impl Into<String>, rarity: f64) {
        let text = text.into();
        if text != self.row.text(column) {
            self.list.push(Slip {
                kind,
                edits: vec![(column.to_owned(), text)],
                rarity,
            });
        }
    }

    /// One cell might hold any of some names.
    pub fn any_of<'n>(
        &mut self,
        kind: SlipKind,
        column: &str,
        names: impl IntoIterator<Item = &'n str>,
        rarity: f64,
    ) {
        for name in names {
            self.other(kind, column, name, rarity);
        }
    }

    /// The number of a cell with the other sign.
    pub fn sign(&mut self, kind: SlipKind, column: &str, rarity: f64) {
        if self.row.number(column).is_some_and(|v| v != 0.0) {
            let text = negated(self.row.text(column));
            self.other(kind, column, text, rarity);
        }
    }

    /// The numbers of several cells with the other sign, all at once.
    pub fn signs(&mut self, kind: SlipKind, columns: &[&str], rarity: f64) {
        let edits: Vec<(String, String)> = columns
            .iter()
            .filter(|c| self.row.number(c).is_some_and(|v| v != 0.0))
            .map(|c| ((*c).to_owned(), negated(self.row.text(c))))
            .collect();
        if edits.len() > 1 {
            self.list.push(Slip {
                kind,
                edits,
                rarity,
            });
        }
    }

    /// Two cells exchanged.
    pub fn exchanged(&mut self, kind: SlipKind, a: &str, b: &str, rarity: f64) {
        let (at_a, at_b) = (self.row.text(a), self.row.text(b));
        if at_a != at_b {
            let edits = vec![
                (a.to_owned(), or_zero(at_b).to_owned()),
                (b.to_owned(), or_zero(at_a).to_owned()),
            ];
            self.list.push(Slip {
                kind,
                edits,
                rarity,
            });
        }
    }

    /// Lengths read in the other unit, each and all together.
    pub fn units(&mut self, columns: &[&str], rarity: f64) {
        let edits: Vec<(String, String)> = columns
            .iter()
            .filter_map(|c| Some(((*c).to_owned(), other_unit(self.row, c)?)))
            .collect();
        for edit in &edits {
            self.list.push(Slip {
                kind: SlipKind::Unit,
                edits: vec![edit.clone()],
                rarity,
            });
        }
        if edits.len() > 1 {
            self.list.push(Slip {
                kind: SlipKind::Unit,
                edits,
                rarity,
            });
        }
    }

    /// The approach noted the wrong way, where one was noted.
    pub fn approach(&mut self, column: &str) {
        let other = match self.row.text(column) {
            "up" => "down",
            "down" => "up",
            "ccw" => "cw",
            "cw" => "ccw",
            _ => return,
        };
        self.other(SlipKind::Approach, column, other, 0.3);
    }

    /// A joint's reading with the wrong sign, or two joints swapped, among the first `joints`.
    pub fn joints(&mut self, joints: usize) {
        let name = |k: usize| format!("j{}", k + 1);
        for k in 0..joints {
            self.sign(SlipKind::Joint, &name(k), 0.3);
            for other in k + 1..joints {
                self.exchanged(SlipKind::Joint, &name(k), &name(other), 0.7);
            }
        }
    }

    /// Another hole: some holes off a target written as `column:row` or a mark that stands in a hole; columns
    /// and rows exchanged; and, less likely the farther, any hole of the plate.
    pub fn holes_about(&mut self, column: &str) {
        let text = self.row.text(column).to_owned();
        let grid = &self.cell.plate;
        let numbers = |text: &str| -> Option<(f64, f64)> {
            let (c, r) = text.split_once(':')?;
            Some((c.trim().parse().ok()?, r.trim().parse().ok()?))
        };
        let written = numbers(&text);
        let from = written.or_else(|| self.hole_of_mark(&text));
        let more = if written.is_some() { 0.0 } else { 0.7 };
        if let Some((c, r)) = written {
            self.other(SlipKind::Target, column, format!("{r}:{c}"), 0.7);
        }
        // Half holes too, where the target is one.
        let (half_c, half_r) = from.map_or((0.0, 0.0), |at| (at.0.fract(), at.1.fract()));
        if u64::from(grid.columns) * u64::from(grid.rows) > MOST_HOLES {
            return;
        }
        for c in 0..grid.columns {
            for r in 0..grid.rows {
                let hole = (f64::from(c) + half_c, f64::from(r) + half_r);
                let rarity = match from {
                    Some(at) => {
                        let off = [(hole.0 - at.0).abs(), (hole.1 - at.1).abs()];
                        let both = if off[0] > 0.0 && off[1] > 0.0 {
                            0.7
                        } else {
                            0.0
                        };
                        ((off[0] + off[1]).max(1.0).ln() * 1.5 + both + more).min(ANY_HOLE)
                    }
                    None => ANY_HOLE,
                };
                if !self.has_mark_in(hole) {
                    let text = format!("{}:{}", hole.0, hole.1);
                    self.other(SlipKind::Target, column, text, rarity);
                }
            }
        }
    }

    /// The hole that a mark of the plate stands in, halves allowed; `None` where it stands in none.
    fn hole_of_mark(&self, name: &str) -> Option<(f64, f64)> {
        let mark = self.cell.marks.iter().position(|m| m.name == name)?;
        if self.cell.marks[mark].frame != Belongs::Plate {
            return None;
        }
        let grid = &self.cell.plate;
        let p = self.cell.nominal.marks_mm[mark];
        let halves = (2.0 * p.x / grid.pitch_x_mm, 2.0 * p.y / grid.pitch_y_mm);
        let in_a_hole = |v: f64| (v - v.round()).abs() < 1e-6;
        let fits = p.z == 0.0 && in_a_hole(halves.0) && in_a_hole(halves.1);
        fits.then(|| (halves.0.round() / 2.0, halves.1.round() / 2.0))
    }

    /// Whether a mark stands in a hole: then the mark is named, not the hole.
    fn has_mark_in(&self, hole: (f64, f64)) -> bool {
        let grid = &self.cell.plate;
        let places = self.cell.marks.iter().zip(&self.cell.nominal.marks_mm);
        places
            .filter(|(mark, _)| mark.frame == Belongs::Plate)
            .any(|(_, p)| {
                let off = (p.x - hole.0 * grid.pitch_x_mm).abs()
                    + (p.y - hole.1 * grid.pitch_y_mm).abs()
                    + p.z.abs();
                off < 1e-6
            })
    }
}

fn or_zero(text: &str) -> &str {
    if text.is_empty() { "0" } else { text }
}

/// The text of a number with the other sign.
pub fn negated(text: &str) -> String {
    match text.strip_prefix('-') {
        Some(rest) => rest.to_owned(),
        None => format!("-{}", text.strip_prefix('+').unwrap_or(text)),
    }
}

/// What a length column should say if the number in it was read in the other unit.
pub fn other_unit(row: &Written, column: &str) -> Option<String> {
    let value = row.number(column).filter(|v| *v != 0.0)?;
    // As finely as a rule is read, and no finer.
    let (value, ten) = match row.in_inches(column) {
        true => (value / MM_PER_INCH, 1e4),
        false => (value * MM_PER_INCH, 1e2),
    };
    Some(plain((value * ten).round() / ten))
}

/// ln of how much rarer just any hole of the plate is than the commonest slips.
const ANY_HOLE: f64 = 5.0;
/// On a plate with more holes not all of them are tried.
const MOST_HOLES: u64 = 5000;

/// Exactly, by definition (international inch of 1959).
pub const MM_PER_INCH: f64 = 25.4;

/// A number as a person would write it: no more than six decimals, no zeros behind.
pub fn plain(value: f64) -> String {
    let text = format!("{value:.6}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0" } else { text }.to_owned()
}
