//! Results as text for people: the answer first, then the figures, then what to do. Rounding
//! happens here and nowhere else.

mod assurance;
pub mod check;
pub mod entry;
mod findings;
pub mod history;
mod lapsed;
pub mod map;
mod margins;
pub mod moves;
mod notes;
pub mod number;
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

pub use findings::NotFitting;
pub use findings::common_cause;
pub use findings::not_fitting;
pub use lapsed::Lapsed;
pub use margins::MarginsDocument;
pub use notes::note_lines;
pub use places::TipDocument;
pub use places::TipFrame;
pub use places::looks;
pub use places::looks_beside_limits;
pub use places::tip;
pub use registration::next_steps;
pub use registration::registered;
pub use registration::sentences;
pub use registration::verdict_word;
pub use repeats::repeat_lines;
pub use undetermined::undetermined;
pub use undetermined::what_would;
pub use words::CAUTION;
pub use words::counted;
pub use words::wrap;
