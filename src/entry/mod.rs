//! Readings entered one by one: what is asked of a row, how an answer is understood, and what it is
//! held against. The terminal and the files are elsewhere.

mod answer;
mod expect;
mod form;
mod progress;

pub use answer::Said;
pub use answer::said;
pub use expect::Basis;
pub use expect::Checked;
pub use expect::Ground;
pub use expect::Part;
pub use expect::Suggestion;
pub use form::Form;
pub use form::Judged;
pub use form::Question;
pub use form::judge;
pub use progress::UNFINISHED;
pub use progress::from_comment;
pub use progress::to_comment;
