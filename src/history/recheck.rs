//! A recheck as far as the history tells of it.

use serde::Deserialize;

use crate::records::Link;

/// Readings held against a registration later on.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Recheck {
    /// When it was written, UTC, RFC 3339.
    pub time: String,
    /// The day on which the readings were taken, where somebody said so.
    #[serde(default)]
    pub taken: Option<String>,
    /// Who, what, why.
    #[serde(default)]
    pub note: Option<String>,
    /// The registration that was checked.
    pub against: Link,
    /// Whether it still holds.
    pub holds: bool,
}

impl Recheck {
    /// When its readings were taken, as far as is known.
    pub fn date(&self) -> &str {
        self.taken.as_deref().unwrap_or(&self.time)
    }
}
