//! After a move: does a registration still hold, what moved, and what to solve anew.
//!
//! Everything here holds new readings against a registration in force: its values with their
//! covariance. Nothing old is solved again.

// Negated comparisons send NaN to the refusing side.
#![allow(clippy::neg_cmp_op_on_partial_ord)]

mod cross;
mod explain;
mod holes;
mod movement;
mod recheck;
mod tell_apart;
mod tying;
mod unused;

pub use cross::Change;
pub use cross::Changed;
pub use cross::Kin;
pub use cross::change;
pub use cross::cross;
pub use explain::Explanation;
pub use explain::Weighed;
pub use explain::What;
pub use explain::corrected;
pub use explain::explain;
pub use holes::WholeSteps;
pub use holes::shift_mm;
pub use holes::whole_steps;
pub use movement::Movement;
pub use movement::Sure;
pub use movement::movement;
pub use recheck::Blind;
pub use recheck::Recheck;
pub use recheck::Seen;
pub use recheck::WaySeen;
pub use recheck::recheck;
pub use tell_apart::Deciding;
pub use tell_apart::tell_apart;
pub use tying::Freed;
pub use tying::Tied;
pub use tying::tie_again;
pub use tying::tied;
pub use unused::Unused;
pub use unused::no_longer_count;
