//! What is said after a move: recheck, what moved, changes.

// Negated comparisons send NaN to the refusing side.
#![allow(clippy::neg_cmp_op_on_partial_ord)]

mod changes;
mod compare;
pub mod moved;
mod recheck;
mod recheck_document;
mod recheck_next;
mod transfer;
pub mod words;

pub use changes::changes;
pub use changes::unused;
pub use compare::CompareDocument;
pub use compare::CompareFacts;
pub use compare::ShiftRow;
pub use compare::compare;
pub use compare::compare_document;
pub use recheck::recheck;
pub use recheck_document::DecidingDocument;
pub use recheck_document::ExplanationDocument;
pub use recheck_document::RecheckDocument;
pub use recheck_document::RecheckFacts;
pub use recheck_document::document;
pub use transfer::TransferDocument;
pub use transfer::TransferFacts;
pub use transfer::TransferRow;
pub use transfer::transfer;
pub use transfer::transfer_csv;
pub use transfer::transfer_document;
