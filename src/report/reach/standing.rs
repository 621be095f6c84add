//! Whether a point is reached, in one of a few classes that all outputs share.

use crate::report::reach::PointDocument;
use crate::report::reach::words::at_pairs;

/// How a point stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Reached from a station, clear of everything.
    Reached,
    /// Met only at certain pairs of track and table.
    Pairs,
    /// Reached from stations, but everywhere too near to something.
    TooNear,
    /// Reached only between the stations that were looked at.
    Between,
    /// Reached from nowhere.
    Nowhere,
    /// Cannot be asked for.
    Refused,
}

impl Standing {
    /// In words, for a table.
    pub fn words(self) -> &'static str {
        match self {
            Standing::Reached => "yes",
            Standing::Pairs => "only at certain pairs of track and table",
            Standing::TooNear => "only too near to something",
            Standing::Between => "only between the stations looked at",
            Standing::Nowhere => "no",
            Standing::Refused => "cannot be asked for",
        }
    }

    /// Whether the arm gets there in some way, though not without a condition.
    pub fn partly(self) -> bool {
        matches!(
            self,
            Standing::Pairs | Standing::TooNear | Standing::Between
        )
    }
}

/// How a point stands.
pub fn standing(point: &PointDocument) -> Standing {
    let solved = point.stations.iter().any(|s| !s.solutions.is_empty());
    let between = point
        .track_intervals
        .iter()
        .any(|i| !i.intervals.is_empty());
    match point {
        p if p.refused.is_some() => Standing::Refused,
        p if p.reachable => Standing::Reached,
        p if at_pairs(p) => Standing::Pairs,
        _ if solved => Standing::TooNear,
        _ if between => Standing::Between,
        _ => Standing::Nowhere,
    }
}
