//! What the command line and the page both ask of a cell: where the tip is, how a point is reached, a map.
//!
//! Computing alone: nothing here opens files or prints, and an error is a sentence for a person.

pub mod force;
pub mod map;
pub mod reach;
pub mod target;
pub mod task;
pub mod tip;
