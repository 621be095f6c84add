//! Results as text for people: the answer first, then the figures, then what to do. Rounding
//! happens here and nowhere else.

mod assurance;
pub mod check;
pub mod entry;
mod findings;
pub mod history;
pub mod map;
mod margins;
pub mod moves;
mod notes;
mod number;
pub mod page;
mod places;
pub mod plan;
pub mod reach;
mod registration;
mod repeats;
mod robust;
pub mod sheet;
mod simulation;
mod tables;
pub mod task;
mod undetermined;
mod words;

pub use margins::MarginsDocument;
pub use places::TipDocument;
pub use places::TipFrame;
pub use places::looks;
pub use places::tip;
pub use registration::registered;
pub use undetermined::undetermined;
pub use words::CAUTION;
pub use words::counted;
pub use words::wrap;
