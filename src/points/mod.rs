//! Points to reach (`points.csv`) and points taught by driving the arm there (`taught.csv`).

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::diagnose::Problem;
use crate::diagnose::Problems;
use crate::diagnose::Severity;
use crate::frames::Plate;
use crate::frames::Point;
use crate::kinematics::Direction;
use crate::kinematics::direction_of;
use crate::readings::AxesRead;
use crate::readings::limits::AxisSlots;
use crate::readings::limits::warn_beyond;
use crate::readings::stand::Stand;
use crate::table::Columns;
use crate::table::Row;
use crate::table::Table;
use crate::table::common::joints;

/// A point given by coordinates in its own frame.
#[derive(Debug, Clone, PartialEq)]
pub struct GivenPoint {
    /// Its name.
    pub name: String,
    /// What it belongs to.
    pub frame: Belongs,
    /// Coordinates, mm.
    pub at_mm: Vector3<f64>,
    /// Wanted elevation, rad; `None`: free.
    pub elevation_rad: Option<f64>,
    /// Wanted azimuth, rad; `None`: free.
    pub azimuth_rad: Option<f64>,
    /// Wanted roll, rad; `None`: free.
    pub roll_rad: Option<f64>,
    /// Line in `points.csv`.
    pub line: usize,
}

/// A point given by the axis readings at which it was taught.
#[derive(Debug, Clone, PartialEq)]
pub struct TaughtPoint {
    /// Its name.
    pub name: String,
    /// What it belongs to, and so what it moves with.
    pub frame: Belongs,
    /// Readings of all axes.
    pub stand: Stand,
    /// The record that was in force when it was taught, as the file says: its number or its name.
    pub record: Option<String>,
    /// Line in `taught.csv`.
    pub line: usize,
}

/// Where the tip is and how the tool points, in one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TipPlace {
    /// Coordinates of the tip, mm.
    pub at_mm: Vector3<f64>,
    /// Elevation, azimuth, roll.
    pub direction: Direction,
}

/// The tip at a set of axis readings, in the plate or the platter frame.
///
/// `T_plate_tool(s, θ)` or `T_plate_platter(φ)⁻¹ T_plate_tool(s, θ)`. `None` for the platter frame in
/// a cell without a turntable.
pub fn tip_place(geometry: &Geometry, stand: &Stand, frame: Belongs) -> Option<TipPlace> {
    let arm = stand.arm(geometry, geometry.joints.len());
    let heading = arm.heading();
    match frame {
        Belongs::Plate => Some(TipPlace {
            at_mm: arm.tip_mm,
            direction: direction_of(&arm.tool_axes, heading),
        }),
        Belongs::Platter => {
            let table = stand.turntable(geometry)?;
            let back = table.platter_axes.transpose();
            let platter = table.platter_pose().inverse();
            Some(TipPlace {
                at_mm: platter.carry(Point::<Plate>::asserted(arm.tip_mm)).mm,
                direction: direction_of(&(back * arm.tool_axes), heading.map(|h| back * h)),
            })
        }
    }
}

const NAME: usize = 0;
const FRAME: usize = 1;

/// Reads `points.csv`.
pub fn read_points(
    file: &str,
    bytes: &[u8],
    cell: &Cell,
    problems: &mut Problems,
) -> Vec<GivenPoint> {
    let columns = Columns::new()
        .text("name")
        .text("frame")
        .length("x")
        .length("y")
        .length("z")
        .angle("elevation")
        .optional()
        .angle("azimuth")
        .optional()
        .angle("roll")
        .optional();
    let mut points: Vec<GivenPoint> = Vec::new();
    let mut names = Names::default();
    if let Some(table) = Table::read(file, bytes, &columns, problems) {
        table.for_each(problems, |row| {
            let name = names.take(row);
            let frame = frame_of(row, cell);
            let why = "the place of the point";
            let at = [2, 3, 4].map(|slot| row.needed_length_mm(slot, why));
            let angles = [5, 6, 7].map(|slot| row.angle_rad(slot));
            let quarter = std::f64::consts::FRAC_PI_2 + 1e-12;
            if angles[0].is_some_and(|e| e.abs() > quarter) {
                row.reject(
                    5,
                    "an elevation from -90 (straight down) to 90 (straight up)",
                    "write how far the tool's z points above the horizontal",
                );
            }
            if let (Some(name), Some(frame), [Some(x), Some(y), Some(z)], false) =
                (name, frame, at, row.is_bad())
            {
                points.push(GivenPoint {
                    name,
                    frame,
                    at_mm: Vector3::new(x, y, z),
                    elevation_rad: angles[0],
                    azimuth_rad: angles[1],
                    roll_rad: angles[2],
                    line: row.line(),
                });
            }
        });
    }
    points
}

/// Reads `taught.csv`.
pub fn read_taught(
    file: &str,
    bytes: &[u8],
    cell: &Cell,
    problems: &mut Problems,
) -> Vec<TaughtPoint> {
    const TRACK: usize = 2;
    const TABLE: usize = 3;
    const FIRST_JOINT: usize = 4;
    let n = cell.joints.len();
    let columns = Columns::new()
        .text("name")
        .text("frame")
        .number("track")
        .optional()
        .number("table")
        .optional()
        .joints(n)
        .text("record")
        .optional();
    let record = columns.slot("record");
    let slots = AxisSlots::of(&columns);
    let mut points: Vec<TaughtPoint> = Vec::new();
    let mut names = Names::default();
    if let Some(table) = Table::read(file, bytes, &columns, problems) {
        table.for_each(problems, |row| {
            let name = names.take(row);
            let frame = frame_of(row, cell);
            let track = match &cell.track {
                Some(_) => row.needed_number(TRACK, "the reading of the track"),
                None => row.number(TRACK),
            };
            let table = match frame {
                Some(Belongs::Platter) => row.needed_number(
                    TABLE,
                    "the reading of the table, for a point of the platter",
                ),
                _ => row.number(TABLE),
            };
            let readings = joints(row, FIRST_JOINT, n, n, "the reading of the joint");
            if let (Some(name), Some(frame), false) = (name, frame, row.is_bad()) {
                let stand = Stand {
                    track: track.unwrap_or(0.0),
                    table: table.unwrap_or(0.0),
                    joints: readings.map(Option::unwrap_or_default),
                    ..Stand::default()
                };
                let axes = AxesRead {
                    track: true,
                    table: frame == Belongs::Platter,
                    joints: n,
                };
                warn_beyond(row, &slots, cell, &stand, axes);
                let record = row.text(record);
                points.push(TaughtPoint {
                    name,
                    frame,
                    stand,
                    record: (!record.is_empty()).then(|| record.to_owned()),
                    line: row.line(),
                });
            }
        });
    }
    points
}

/// Names in use in one of the two files.
#[derive(Default)]
struct Names {
    seen: std::collections::HashMap<String, usize>,
}

impl Names {
    fn take(&mut self, row: &mut Row<'_>) -> Option<String> {
        let name = row.needed_text(NAME, "a name for the point")?.to_owned();
        let fits = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
        if !name.chars().all(fits) {
            row.reject(
                NAME,
                "a name of letters, digits, _ and -",
                "rename the point",
            );
        }
        if let Some(line) = self.seen.insert(name.clone(), row.line()) {
            row.reject(
                NAME,
                &format!("a name of its own; line {line} has the same"),
                "rename one of the two",
            );
        }
        Some(name)
    }
}

fn frame_of(row: &mut Row<'_>, cell: &Cell) -> Option<Belongs> {
    match row.text(FRAME) {
        "plate" => Some(Belongs::Plate),
        "platter" if cell.turntable.is_some() => Some(Belongs::Platter),
        "platter" => {
            row.reject(
                FRAME,
                "plate: this cell has no turntable",
                "write plate, or add [turntable] to cell.toml",
            );
            None
        }
        _ => {
            row.reject(FRAME, "plate or platter", "write what the point moves with");
            None
        }
    }
}

/// Reports names that stand in both files: a point asked for by name must be one point.
pub fn check_names(points: &[GivenPoint], taught: &[TaughtPoint], problems: &mut Problems) {
    for point in taught {
        if let Some(other) = points.iter().find(|p| p.name == point.name) {
            problems.push(Problem {
                severity: Severity::Warning,
                file: "taught.csv".to_owned(),
                line: Some(point.line),
                column: None,
                field: Some("name".to_owned()),
                found: format!(
                    "{:?}, which points.csv has in line {}",
                    point.name, other.line
                ),
                expected: "a name of its own, so that --point means one point".to_owned(),
                advice: "rename one of the two points".to_owned(),
            });
        }
    }
}
