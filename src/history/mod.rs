//! All records of a cell in order: what was registered when, what drifts and how fast, what wears, and
//! when it is due again. What is computed here is what `history --json` prints.

mod days;
mod due;
mod line;
mod recheck;
mod series;
mod told;

pub use days::MONTH;
pub use days::day_of;
pub use days::text_of;
pub use due::Due;
pub use due::Rule;
pub use due::due;
pub use line::At;
pub use line::LEVEL;
pub use line::Line;
pub use line::SCATTERS;
pub use line::Sides;
pub use line::holm;
pub use line::line;
pub use recheck::Recheck;
pub use series::Drift;
pub use series::Record;
pub use series::Series;
pub use series::ValueThen;
pub use series::series;
pub use told::History;
pub use told::Kept;
pub use told::RecheckEntry;
pub use told::RecordEntry;
pub use told::history;
