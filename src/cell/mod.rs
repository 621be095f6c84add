//! The cell: what it is made of, its nominal geometry, what to solve for and what to accept.

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::units::Range;

mod obstacles;
mod parse;
pub use obstacles::Body;
pub use obstacles::KeepOut;
pub use obstacles::On;
pub use obstacles::Shape;
pub use obstacles::Touch;
pub use parse::MAX_CELL_BYTES;
pub use parse::parse;

/// A cell as its `cell.toml` describes it.
#[derive(Debug, Clone)]
pub struct Cell {
    /// What people call it.
    pub name: String,
    /// The perforated plate.
    pub plate: PlateGrid,
    /// Named places; the index is that of `Geometry::marks_mm`.
    pub marks: Vec<Mark>,
    /// Names of the features of the carriage; the index is that of `Geometry::features_mm`.
    pub features: Vec<String>,
    /// The track, if there is one.
    pub track: Option<TrackLimits>,
    /// Joints, base to tip; the index is that of `Geometry::joints`.
    pub joints: Vec<JointInfo>,
    /// The turntable, if there is one.
    pub turntable: Option<TurntableInfo>,
    /// Standard uncertainties where a row gives none.
    pub instruments: Instruments,
    /// The unknowns, in the order of the file.
    pub solve: Vec<Unknown>,
    /// What the registration must reach.
    pub accept: Accept,
    /// What the arm must stay clear of, in the order of the file.
    pub keep_outs: Vec<KeepOut>,
    /// What the arm is made of, in the order of the file.
    pub bodies: Vec<Body>,
    /// Nominal values of every parameter.
    pub nominal: Geometry,
}

/// The hole grid of the plate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlateGrid {
    /// Pitch along x, mm.
    pub pitch_x_mm: f64,
    /// Pitch along y, mm.
    pub pitch_y_mm: f64,
    /// Holes along +x.
    pub columns: u32,
    /// Holes along +y.
    pub rows: u32,
    /// Whether the file gives the pitch in inches.
    pub in_inches: bool,
}

/// The frame that a mark or a point belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Belongs {
    /// Fixed to the plate.
    Plate,
    /// Turns with the platter.
    Platter,
}

impl Belongs {
    /// As written in files.
    pub fn as_str(self) -> &'static str {
        match self {
            Belongs::Plate => "plate",
            Belongs::Platter => "platter",
        }
    }
}

/// A named place.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Its name.
    pub name: String,
    /// What it is fixed to.
    pub frame: Belongs,
    /// Whether the file gives its place by a hole of the plate.
    pub in_hole: bool,
}

/// Limits of the track's travel, mm of the value; `None` where the file does not say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrackLimits {
    /// Limits of s, mm.
    pub travel_mm: Option<Range>,
}

/// Name and limits of a joint.
#[derive(Debug, Clone, PartialEq)]
pub struct JointInfo {
    /// What people call it.
    pub name: String,
    /// Limits of its value, rad.
    pub limits_rad: Range,
}

/// Notches and limits of the turntable.
#[derive(Debug, Clone, PartialEq)]
pub struct TurntableInfo {
    /// Limits of φ, rad; `None`: turns without end.
    pub travel_rad: Option<Range>,
    /// Nominal angles of the notches in the platter frame, rad.
    pub notches_rad: Vec<f64>,
}

/// Standard uncertainty of each kind of reading where its row gives none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instruments {
    /// Hole counts, mm.
    pub holes_mm: f64,
    /// Notch to switch, rad.
    pub notch_rad: f64,
    /// Touches, mm.
    pub touch_mm: f64,
    /// Level and plumb, rad.
    pub attitude_rad: f64,
    /// Heights, mm.
    pub height_mm: f64,
}

/// One line of `[solve]`.
#[derive(Debug, Clone, PartialEq)]
pub struct Unknown {
    /// Parameter name as in the file.
    pub name: String,
    /// One standard uncertainty of the nominal value in the file's unit (mm, degrees, per unit);
    /// `None`: free.
    pub tolerance: Option<f64>,
    /// Line in `cell.toml`.
    pub line: usize,
    /// Column in `cell.toml`.
    pub column: usize,
}

/// `[accept]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Accept {
    /// Largest u95 of the tip, mm.
    pub tip_mm: Option<f64>,
    /// Side lean that a five-joint arm may keep, rad.
    pub direction_rad: f64,
    /// Least clearance that counts as clear, not below 0, mm.
    pub clearance_mm: f64,
    /// Least distance of a joint to its limits that a task may leave without a look, rad.
    pub margin_rad: f64,
    /// After so many days a registration is due again, whatever it says.
    pub due_days: Option<f64>,
}

/// Values of every parameter of the model, nominal or solved. Millimetres and radians.
#[derive(Debug, Clone, PartialEq)]
pub struct Geometry {
    /// The track, if there is one.
    pub track: Option<TrackGeometry>,
    /// The arm's base on the carriage.
    pub mount: Mounting,
    /// Joints, base to tip.
    pub joints: Vec<JointGeometry>,
    /// Flange origin in the base frame, all joints at 0, mm.
    pub flange_mm: Vector3<f64>,
    /// Flange axes in the base frame, all joints at 0, as columns.
    pub flange_axes: Matrix3<f64>,
    /// The tool on the flange.
    pub tool: Mounting,
    /// The turntable, if there is one.
    pub turntable: Option<TurntableGeometry>,
    /// Tilt of the plate against gravity about x, rad.
    pub plate_tilt_x_rad: f64,
    /// Tilt of the plate against gravity about y, rad.
    pub plate_tilt_y_rad: f64,
    /// Places of the marks in their own frames, mm.
    pub marks_mm: Vec<Vector3<f64>>,
    /// Places of the features in the carriage frame, mm.
    pub features_mm: Vec<Vector3<f64>>,
}

impl Geometry {
    /// A cell of nothing: no track, no joints, no table, no marks.
    pub fn empty() -> Self {
        Geometry {
            track: None,
            mount: Mounting::default(),
            joints: Vec::new(),
            flange_mm: Vector3::zeros(),
            flange_axes: Matrix3::identity(),
            tool: Mounting::default(),
            turntable: None,
            plate_tilt_x_rad: 0.0,
            plate_tilt_y_rad: 0.0,
            marks_mm: Vec::new(),
            features_mm: Vec::new(),
        }
    }
}

/// `[track]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrackGeometry {
    /// Origin and direction, plate frame.
    pub mounting: Mounting,
    /// mm per unit of reading.
    pub scale_mm: f64,
    /// Sign of the nominal scale, +1 or −1: it stays while the scale is solved for.
    pub sense: f64,
    /// Play lost at a reversal, mm.
    pub lost_motion_mm: f64,
}

/// A place with three angles, turned `Rz(yaw) Ry(pitch) Rx(roll)`: track, mount and tool.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Mounting {
    /// Origin, mm.
    pub at_mm: Vector3<f64>,
    /// About z, rad.
    pub yaw_rad: f64,
    /// About the y that follows, rad.
    pub pitch_rad: f64,
    /// About the x that follows, rad.
    pub roll_rad: f64,
}

/// One `[[arm.joint]]`: base frame, all joints at 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JointGeometry {
    /// Unit vector along the axis.
    pub axis: Vector3<f64>,
    /// A point of the axis, mm.
    pub through_mm: Vector3<f64>,
    /// Value at reading 0, rad.
    pub zero_rad: f64,
    /// rad per unit of reading.
    pub scale_rad: f64,
    /// Known play, rad.
    pub lost_motion_rad: f64,
}

/// `[turntable]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurntableGeometry {
    /// Centre in the platter's top face, mm, plate frame.
    pub at_mm: Vector3<f64>,
    /// Turned `Ry(tilt_y) Rx(tilt_x)`, rad.
    pub tilt_x_rad: f64,
    /// See `tilt_x_rad`.
    pub tilt_y_rad: f64,
    /// rad per unit of reading.
    pub scale_rad: f64,
    /// Sign of the nominal scale, +1 or −1: it stays while the scale is solved for.
    pub sense: f64,
    /// φ at reading 0, rad.
    pub index_rad: f64,
    /// Play lost at a reversal, rad.
    pub lost_motion_rad: f64,
    /// Bearing of the switch from the centre, rad.
    pub switch_rad: f64,
    /// First harmonic of the notch circle's eccentricity, rad.
    pub ecc_cos_rad: f64,
    /// See `ecc_cos_rad`.
    pub ecc_sin_rad: f64,
}
