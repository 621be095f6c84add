//! Small cells whose geometry can be worked by hand.

use notchpin::cell::Cell;
use notchpin::cell::parse;
use notchpin::clearance::AxisValues;
use notchpin::clearance::Nearest;
use notchpin::clearance::Surroundings;
use notchpin::diagnose::Problems;

/// A plate of 10 × 10 holes at 50 mm, so from −25 to 475 mm each way; a track along x from the
/// origin, 500 mm up; the arm's base on the carriage without shift. Joint 1 turns about z in the
/// base's origin, joints 2 to 4 about y, 200 mm apart along x; flange at 800 mm, pointing along x,
/// its x down; the tip 100 mm ahead. The turntable stands at (1000, 0, 400).
pub const CELL: &str = r#"format = 1
name = "by hand"
[plate]
pitch_mm = 50
columns = 10
rows = 10
[track]
at_mm = [0, 0, 500]
[turntable]
at_mm = [1000, 0, 400]
[tool]
at_mm = [0, 0, 100]
[arm.flange]
at_mm = [800, 0, 0]
z = [1, 0, 0]
x = [0, 0, -1]
[[arm.joint]]
axis = [0, 0, 1]
through_mm = [0, 0, 0]
limits_deg = [-180, 180]
[[arm.joint]]
axis = [0, 1, 0]
through_mm = [200, 0, 0]
limits_deg = [-180, 180]
[[arm.joint]]
axis = [0, 1, 0]
through_mm = [400, 0, 0]
limits_deg = [-180, 180]
[[arm.joint]]
axis = [0, 1, 0]
through_mm = [600, 0, 0]
limits_deg = [-180, 180]
"#;

pub fn cell(more: &str) -> Cell {
    parsed(&format!("{CELL}{more}"))
}

pub fn parsed(text: &str) -> Cell {
    let mut problems = Problems::default();
    let cell = parse("cell.toml", text, &mut problems);
    let told: String = problems.iter().map(|p| format!("{p}\n")).collect();
    cell.unwrap_or_else(|| panic!("{told}"))
}

/// Travel in mm, turn of the table and of the joints in degrees.
pub fn at(travel_mm: f64, turn_deg: f64, joints_deg: &[f64]) -> AxisValues {
    let mut joints_rad = [0.0; 7];
    for (rad, deg) in joints_rad.iter_mut().zip(joints_deg) {
        *rad = deg.to_radians();
    }
    AxisValues {
        travel_mm,
        turn_rad: turn_deg.to_radians(),
        joints_rad,
    }
}

pub fn nearest(cell: &Cell, at: &AxisValues) -> Option<Nearest> {
    Surroundings::new(cell, &cell.nominal).nearest(at)
}

/// The clearance, which must be that worked by hand within what a distance loses in rounding.
pub fn is(cell: &Cell, at: &AxisValues, by_hand_mm: f64) {
    const ROUNDING_MM: f64 = 1e-6;
    let got = nearest(cell, at).unwrap().clearance_mm;
    let off = (got - by_hand_mm).abs();
    assert!(off < ROUNDING_MM, "{got} is not {by_hand_mm}");
}
