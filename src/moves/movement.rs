//! What a part did between two registrations, in terms of the bench.

use nalgebra::DMatrix;
use nalgebra::DVector;
use nalgebra::Vector3;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::moves::cross::Change;
use crate::moves::holes::WholeSteps;
use crate::moves::holes::shift_mm;
use crate::moves::holes::whole_steps;
use crate::parameters::Parameter;
use crate::parts::Part;

/// A turn of the index is one by whole notches within this.
const NEAR_NOTCH_RAD: f64 = 1.5 * std::f64::consts::PI / 180.0;

/// A figure with its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sure {
    /// mm or rad.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

/// The movement of a part.
#[derive(Debug, Clone, PartialEq)]
pub struct Movement {
    /// The part.
    pub part: Part,
    /// Its shift, mm: of its middle in plate axes for what stands on the plate, of the tip in flange axes
    /// for a tool; empty for an angle.
    pub shift: Vec<Sure>,
    /// Its turn about the vertical, or the change of its angle, rad.
    pub turn: Option<Sure>,
    /// Whole holes of the plate.
    pub holes: Option<WholeSteps>,
    /// Whole notches of the platter.
    pub notches: Option<i64>,
}

/// The movement of a part from one geometry to another; `change` has how surely it is known.
pub fn movement(
    part: Part,
    cell: &Cell,
    old: &Geometry,
    new: &Geometry,
    change: &Change,
) -> Movement {
    let named = |name: &str| {
        let found = change.list.iter().find(|c| c.name == name);
        found.map(|c| Sure {
            value: c.values[1] - c.values[0],
            u: c.u,
        })
    };
    let (mut shift, mut turn, mut holes, mut notches) = (Vec::new(), None, None, None);
    match part {
        Part::Track | Part::Mount | Part::Turntable => {
            shift = on_plate(part, cell, old, new, change);
            turn = match part {
                Part::Track => named("track.yaw"),
                Part::Mount => named("mount.yaw"),
                // A turn of the whole table takes its switch along; else it is the index that changed.
                _ => named("turntable.index").filter(|index| {
                    named("turntable.switch").is_some_and(|switch| {
                        (index.value - switch.value).abs() <= 0.5 * index.value.abs()
                    })
                }),
            };
            holes = whole_steps(part, cell, old, new);
        }
        Part::Tool => {
            let axes = ["tool.x", "tool.y", "tool.z"];
            shift = axes.iter().filter_map(|n| named(n)).collect();
        }
        Part::Joint(j) => turn = named(&format!("arm.j{}.zero", j + 1)),
        Part::Index => {
            turn = named("turntable.index");
            notches = turn.and_then(|t| whole_notches(cell, t.value));
        }
        Part::Switch => turn = named("turntable.switch"),
    }
    Movement {
        part,
        shift,
        turn,
        holes,
        notches,
    }
}

/// The shift of a part over the plate, x, y, z; its uncertainty from the derivatives of that shift.
fn on_plate(part: Part, cell: &Cell, old: &Geometry, new: &Geometry, change: &Change) -> Vec<Sure> {
    let Some(d) = shift_mm(part, cell, old, new) else {
        return Vec::new();
    };
    let list = &change.unknowns.list;
    let mut g = DMatrix::<f64>::zeros(3, list.len());
    for (j, (parameter, _)) in list.iter().enumerate() {
        g.set_column(j, &slope(parameter, part, cell, old, new));
    }
    (0..3)
        .map(|axis| {
            let row: DVector<f64> = g.row(axis).transpose();
            Sure {
                value: d[axis],
                u: row.dot(&(&change.covariance * &row)).max(0.0).sqrt(),
            }
        })
        .collect()
}

/// Derivative of the shift by a parameter, from differences over a step in which it is straight.
fn slope(
    parameter: &Parameter,
    part: Part,
    cell: &Cell,
    old: &Geometry,
    new: &Geometry,
) -> Vector3<f64> {
    const STEP: f64 = 1e-4;
    let at = |step: f64| {
        let mut moved = new.clone();
        parameter.set(&mut moved, parameter.get(new) + step);
        shift_mm(part, cell, old, &moved).unwrap_or_default()
    };
    (at(STEP) - at(-STEP)) / (2.0 * STEP)
}

/// Notches by which the index turned, where they are evenly spaced.
fn whole_notches(cell: &Cell, turn_rad: f64) -> Option<i64> {
    let notches = &cell.turntable.as_ref()?.notches_rad;
    let even = std::f64::consts::TAU / notches.len() as f64;
    let gaps = notches.windows(2).map(|w| w[1] - w[0]);
    if notches.len() < 2 || gaps.into_iter().any(|g| (g - even).abs() > 1e-9) {
        return None;
    }
    let steps = (turn_rad / even).round();
    let near = (turn_rad - steps * even).abs() < NEAR_NOTCH_RAD;
    (steps != 0.0 && near).then_some(steps as i64)
}
