//! What is said after a move: recheck, what moved, changes.

mod changes;
mod recheck;
mod recheck_document;
pub mod words;

pub use changes::changes;
pub use changes::unused;
pub use recheck::recheck;
pub use recheck_document::DecidingDocument;
pub use recheck_document::ExplanationDocument;
pub use recheck_document::RecheckDocument;
pub use recheck_document::RecheckFacts;
pub use recheck_document::document;
