//! Pictures as SVG text: what they are built of, and the pictures themselves.
//!
//! A picture is one piece of text that needs nothing else: no script, no font to load, no reference
//! to another file. Lengths on paper are in CSS pixels (96 to the inch), y downward; values are in
//! whatever the caller's axes say. A number that is not finite is refused, never written.

use std::fmt;

pub mod axis;
pub mod chart;
pub mod contour;
pub mod ink;
pub mod label;
pub mod map;
pub mod path;
pub mod scale;
pub mod svg;
pub mod text;

#[cfg(test)]
pub(crate) mod tests;

/// Why a picture could not be drawn. All but [`Fault::Unplaceable`] are mistakes in what was given.
#[derive(Debug, Clone, PartialEq)]
pub enum Fault {
    /// A number is not finite or larger than [`axis::LARGEST`]; where it stood.
    Number { place: &'static str },
    /// Nodes of an axis are missing, repeat or turn back.
    Order { axis: String },
    /// There is not one value for each pair of nodes.
    Count {
        values: usize,
        columns: usize,
        rows: usize,
    },
    /// A coordinate on paper left what can be written; a mistake of this module.
    Unplaceable,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Fault::Number { place } => {
                write!(f, "{place}: a number is not finite or too large to draw")
            }
            Fault::Order { axis } => {
                write!(f, "the nodes of `{axis}` do not all rise or all fall")
            }
            Fault::Count {
                values,
                columns,
                rows,
            } => write!(f, "{values} values for {columns} x {rows} nodes"),
            Fault::Unplaceable => write!(f, "a coordinate of the picture cannot be written"),
        }
    }
}

impl std::error::Error for Fault {}
