//! What a kind of reading has to know about itself.

use nalgebra::Vector3;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::kinematics::Posed;
use crate::parameters::Unknowns;
use crate::readings::hints::Hints;
use crate::readings::propose::Draft;
use crate::readings::propose::Maker;
use crate::readings::slips::Slips;
use crate::readings::stand;
use crate::table::Columns;
use crate::table::Row;

/// Unit of a residual.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ResidualUnit {
    /// Millimetres.
    Mm,
    /// Degrees in files, radians inside.
    Deg,
}

impl ResidualUnit {
    /// As written in JSON.
    pub fn as_str(self) -> &'static str {
        match self {
            ResidualUnit::Mm => "mm",
            ResidualUnit::Deg => "deg",
        }
    }
    /// One unit of the file in units of the code.
    pub fn in_code(self) -> f64 {
        match self {
            ResidualUnit::Mm => 1.0,
            ResidualUnit::Deg => std::f64::consts::PI / 180.0,
        }
    }
}

/// What a kind needs to know to understand its rows.
pub struct Setting<'a> {
    /// The cell.
    pub cell: &'a Cell,
    /// Names of the unknowns.
    pub solved: Vec<&'a str>,
}

impl Setting<'_> {
    /// Whether a parameter is an unknown.
    pub fn solves(&self, name: &str) -> bool {
        self.solved.contains(&name)
    }
}

/// The residuals of one reading, mm or rad, before division by u.
#[derive(Debug, Clone, Copy, Default)]
pub struct Residuals {
    /// How many: 1 to 3.
    pub count: usize,
    /// Their values.
    pub value: [f64; 3],
}

impl Residuals {
    /// A single one.
    pub fn one(value: f64) -> Self {
        Residuals {
            count: 1,
            value: [value, 0.0, 0.0],
        }
    }
}

/// Derivatives of up to three residuals by every unknown, mm or rad per mm or rad.
pub type ByUnknown = [[f64; 3]];

/// Axes whose readings a reading depends on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AxesRead {
    /// The track.
    pub track: bool,
    /// The turntable.
    pub table: bool,
    /// The first so many joints.
    pub joints: usize,
}

/// An axis that positions are tested of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RunAxis {
    /// The track.
    Track,
    /// The turntable.
    Table,
}

/// One run to a position of an axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Which axis.
    pub axis: RunAxis,
    /// What the runs of a series share.
    pub series: Vec<i64>,
    /// What makes it the same position again.
    pub position: Vec<i64>,
    /// Whether the reading was rising, as `approach` says it.
    pub up: bool,
    /// Actual position less that by the reading, lost motion left out: mm or rad.
    pub deviation: f64,
}

/// Where a picture of residuals shows a reading.
#[derive(Debug, Clone, PartialEq)]
pub enum Shown {
    /// Over the track's reading.
    AlongTrack {
        /// Reading of the track.
        reading: f64,
        /// Whether it was rising; `None`: not noted.
        up: Option<bool>,
        /// How much of the track's travel the reading sees: the cosine of the angle between the two, with its
        /// sign.
        share: f64,
    },
    /// Round the platter.
    RoundTable {
        /// Angle on the platter, counter-clockwise, rad.
        angle_rad: f64,
        /// Whether the table's reading was rising; `None`: not noted.
        up: Option<bool>,
    },
    /// In the lane of a joint, or of what it was taken of.
    AtJoint {
        /// What it was taken of: `plate`, `j2`, `tip`.
        part: String,
        /// What was taken, in words: `level`, `height over the plate`.
        words: String,
    },
    /// In no picture of residuals by place but the plan and the elevation.
    Other,
}

/// Part of a key: a number to a millionth.
pub(super) fn millionths(value: f64) -> i64 {
    (value * 1e6).round() as i64
}

/// What a kind of reading has to know about itself.
pub trait Kind: Sized {
    /// Its file in the folder `readings`.
    const FILE: &'static str;
    /// Name of one such reading in a sentence.
    const WORDS: &'static str;
    /// Unit of its residuals.
    const UNIT: ResidualUnit;
    /// Its columns, without those that every file has.
    fn columns(cell: &Cell) -> Columns;
    /// Its standard uncertainty where the row gives none, mm or rad.
    fn default_u(cell: &Cell) -> f64;
    /// Understands a row; reports what is wrong with it and gives nothing then.
    fn understand(row: &mut Row<'_>, setting: &Setting<'_>) -> Option<Self>;
    /// How the machine stood, and which of its axes count.
    fn stand(&self) -> (&stand::Stand, AxesRead);
    /// What its missing approach adds to the uncertainty: half a lost motion, mm or rad.
    fn widening(&self, _cell: &Cell) -> f64 {
        0.0
    }
    /// How many residuals it gives.
    fn components(&self) -> usize {
        1
    }
    /// Names of its components; `None` for a reading with a single residual.
    fn component(&self, _index: usize) -> Option<&'static str> {
        None
    }
    /// Whether it needs the arm's heading.
    fn heading_joints(&self) -> Option<&stand::Stand> {
        None
    }
    /// Where on the bench its residual of a component is seen, and in which direction it counts: a place
    /// and a unit vector in the plate's frame; `None` for what is no length.
    fn seen_at(
        &self,
        _geometry: &Geometry,
        _component: usize,
    ) -> Option<(Vector3<f64>, Vector3<f64>)> {
        None
    }
    /// Lost motion of joint 1 that it shows, rad.
    fn joint_1_play_rad(&self, _geometry: &Geometry) -> Option<f64> {
        None
    }
    /// What it says by itself about where things stand, as a start for the adjustment.
    fn hint(&self, _geometry: &Geometry, _hints: &mut Hints) {}
    /// What is the same where it is repeated: all but the result and the joints. `None`: never repeated.
    fn setting(&self, _geometry: &Geometry) -> Option<Vec<i64>> {
        None
    }
    /// What it says of the positioning of an axis, where its approach was noted.
    fn run(&self, _geometry: &Geometry) -> Option<Run> {
        None
    }
    /// Where a picture of residuals shows it.
    fn shown(&self, _posed: &Posed<'_>) -> Shown {
        Shown::Other
    }
    /// Readings of its kind that could be taken.
    fn propose(_maker: &Maker<'_>, _out: &mut Vec<Draft>) {}
    /// The slips that people make when they write such a row.
    fn slips(slips: &mut Slips<'_>);
    /// Columns that hold what was measured, as `plan` leaves them blank: in a file that it laid out they must
    /// be filled in, where elsewhere an empty one may mean 0.
    const RESULTS: &'static [&'static str];
    /// What a person is asked for: column, its unit where its name has none (may be empty), and words that
    /// explain it. Axis readings and what every row may have are explained elsewhere.
    const ASKED: &'static [(&'static str, &'static str, &'static str)];
    /// What two rows may have exchanged by a slip: columns that go together, joints as `j#`.
    const EXCHANGED: &'static [&'static [&'static str]];
    /// Whether it shows where the tip is.
    const SHOWS_TIP: bool = false;
    /// Its columns of lengths that were read off a rule.
    const LENGTHS: &'static [&'static str];
    /// Residuals at the values of `geometry`; `by`, where given, is zeroed and gets the derivatives.
    fn evaluate(
        &self,
        posed: &Posed<'_>,
        unknowns: &Unknowns,
        by: Option<&mut ByUnknown>,
    ) -> Residuals;
}
