//! Taught points carried over: to a registration after a change, or to another station.
//!
//! A point taught on the platter stays where it is on the platter, one taught on the plate where it is on
//! the plate: its place and direction are what the readings meant in the geometry that was in force when
//! it was taught. New readings are those that bring the tip there in the geometry in force now.

// Negated comparisons send NaN to the refusing side.
#![allow(clippy::neg_cmp_op_on_partial_ord)]

mod carried;
mod kinship;
mod range;

pub use carried::Carried;
pub use carried::New;
pub use carried::Shift;
pub use carried::Where;
pub use carried::carry;
pub use carried::shift_at;
pub use kinship::Epoch;
pub use kinship::Errors;
pub use range::OverRange;
pub use range::over_range;
