//! Where a count starts or a pin goes: a named mark, or a hole.

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::diagnose::nearest;
use crate::readings::millionths;
use crate::table::Row;

/// A place that a reading refers to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Target {
    /// A mark of the cell file, by its place in the list.
    Mark(usize),
    /// A hole of the plate, fractions allowed, at z = 0. mm.
    Hole(Vector3<f64>),
}

impl Target {
    /// The frame that it belongs to.
    pub fn frame(self, cell: &Cell) -> Belongs {
        match self {
            Target::Mark(index) => cell.marks[index].frame,
            Target::Hole(_) => Belongs::Plate,
        }
    }

    /// Its place in its own frame, mm.
    pub fn place_mm(self, geometry: &Geometry) -> Vector3<f64> {
        match self {
            Target::Mark(index) => geometry.marks_mm[index],
            Target::Hole(at) => at,
        }
    }

    /// Part of a key: which place it is.
    pub fn key(self) -> [i64; 3] {
        match self {
            Target::Mark(index) => [index as i64, -1, -1],
            Target::Hole(at) => [-1, millionths(at.x), millionths(at.y)],
        }
    }

    /// Understands a cell that names a mark, or `column:row`.
    pub fn understand(row: &mut Row<'_>, slot: usize, cell: &Cell) -> Option<Target> {
        let text = row.text(slot).to_owned();
        if let Some((column, hole_row)) = text.split_once(':') {
            let number = |s: &str| s.trim().parse::<f64>().ok().filter(|v| v.is_finite());
            let (Some(c), Some(r)) = (number(column), number(hole_row)) else {
                row.reject(
                    slot,
                    "column:row of a hole, such as 12:4 or 12.5:4",
                    "write the hole's column and row as two numbers with a colon between",
                );
                return None;
            };
            let grid = &cell.plate;
            if c < 0.0 || r < 0.0 || c > f64::from(grid.columns - 1) || r > f64::from(grid.rows - 1)
            {
                row.warn(
                    slot,
                    &format!(
                        "a hole of the plate: columns 0 to {}, rows 0 to {}",
                        grid.columns - 1,
                        grid.rows - 1
                    ),
                    "check the hole; it lies beyond the plate",
                );
            }
            return Some(Target::Hole(Vector3::new(
                c * grid.pitch_x_mm,
                r * grid.pitch_y_mm,
                0.0,
            )));
        }
        Self::mark(row, slot, cell)
    }

    /// Understands a cell that names a mark.
    pub fn mark(row: &mut Row<'_>, slot: usize, cell: &Cell) -> Option<Target> {
        let text = row.text(slot).to_owned();
        if let Some(index) = cell.marks.iter().position(|m| m.name == text) {
            return Some(Target::Mark(index));
        }
        let advice = match nearest(&text, cell.marks.iter().map(|m| m.name.as_str())) {
            Some(near) => format!("write {near}, if that is meant, or add the mark to cell.toml"),
            None => "add the mark under [marks] in cell.toml, or correct the name".to_owned(),
        };
        row.reject(slot, &known_marks(cell), &advice);
        None
    }
}

fn known_marks(cell: &Cell) -> String {
    if cell.marks.is_empty() {
        return "a mark, but this cell has no [marks]".to_owned();
    }
    let names: Vec<&str> = cell.marks.iter().map(|m| m.name.as_str()).take(8).collect();
    format!("a mark of this cell, such as {}", names.join(", "))
}
