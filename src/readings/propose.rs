//! Readings that could be taken: each kind proposes its own, where the machine can stand there.

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::kinematics::MAX_JOINTS;
use crate::readings::slips::plain;
use crate::readings::stand::Stand;

/// Joint readings of a posture.
pub type Posture = [f64; MAX_JOINTS];

/// Where the machine can be driven for a reading.
pub struct Maker<'a> {
    /// The cell.
    pub cell: &'a Cell,
    /// Its geometry as far as it is known.
    pub geometry: &'a Geometry,
    /// Readings of the track along its travel; one 0 in a cell without a track.
    pub tracks: Vec<f64>,
    /// Readings of the table round the turn; empty without one.
    pub tables: Vec<f64>,
    /// Holes of the plate to bring the tip to, column and row.
    pub holes: Vec<(u32, u32)>,
    /// Postures with the tip over a place, in the frame it belongs to, at readings of track and table;
    /// joint readings as they are keyed in.
    #[allow(clippy::type_complexity)]
    pub drive: &'a dyn Fn(Belongs, Vector3<f64>, f64, f64) -> Vec<Posture>,
    /// Postures to judge links in: some turns of the first joint, the others in the middle.
    pub postures: Vec<Posture>,
    /// Whether a posture keeps away from limits and from the plate.
    pub fits: &'a dyn Fn(&Stand) -> bool,
}

/// A row that could be filled in at the bench.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    /// Columns that are given: targets, axis readings, approach.
    pub given: Vec<(String, String)>,
    /// Columns that are to be filled in, and what is expected there.
    pub expected: Vec<(String, String)>,
    /// What to do, in words of the bench.
    pub words: String,
    /// What makes it alike to others: a repeated place says less that is new.
    pub place: String,
}

impl Draft {
    /// A draft of one row.
    pub fn new(words: String, place: String) -> Self {
        Draft {
            given: Vec::new(),
            expected: Vec::new(),
            words,
            place,
        }
    }

    /// A cell that is given.
    pub fn given(mut self, column: &str, text: impl Into<String>) -> Self {
        self.given.push((column.to_owned(), text.into()));
        self
    }

    /// The track's reading, where there is a track.
    pub fn track(self, cell: &Cell, reading: f64) -> Self {
        match cell.track {
            Some(_) => self.given("track", plain(reading)),
            None => self,
        }
    }

    /// The readings of the first joints.
    pub fn joints(mut self, posture: &Posture, count: usize) -> Self {
        for (k, value) in posture.iter().enumerate().take(count) {
            self = self.given(&format!("j{}", k + 1), plain(*value));
        }
        self
    }

    /// A cell to fill in.
    pub fn expect(mut self, column: &str, value: f64, decimals: usize) -> Self {
        let text = format!("{value:.decimals$}");
        self.expected.push((column.to_owned(), text));
        self
    }
}

impl Maker<'_> {
    /// "track at 300, arm at 12.5, -40, …" for a sentence.
    pub fn at(&self, track: Option<f64>, table: Option<f64>, posture: &[f64]) -> String {
        let mut parts = Vec::new();
        if let (Some(track), Some(_)) = (track, self.cell.track) {
            parts.push(format!("track at {}", plain(track)));
        }
        if let Some(table) = table {
            parts.push(format!("table at {}", plain(table)));
        }
        if !posture.is_empty() {
            let joints: Vec<String> = posture.iter().map(|v| plain(*v)).collect();
            parts.push(format!("arm at {}", joints.join(", ")));
        }
        parts.join(", ")
    }
}
