//! One geometry of a cell made ready for many questions.

use nalgebra::Vector2;
use nalgebra::Vector3;

use crate::answers::force::Force;
use crate::answers::target::Asked;
use crate::answers::target::targets;
use crate::cell::Cell;
use crate::clearance::AxisValues;
use crate::clearance::Surroundings;
use crate::kinematics::MAX_JOINTS;
use crate::kinematics::joint_reading;
use crate::kinematics::joint_value_rad;
use crate::kinematics::table_reading;
use crate::kinematics::track_reading;
use crate::margins::Assessor;
use crate::reach::Solver;
use crate::readings::stand::Stand;
use crate::report::Lapsed;
use crate::report::page;
use crate::units::Range;
use crate::units::Reading;
use crate::view::Ground;
use crate::view::Refused;
use crate::view::ask::ViewName;
use crate::view::ask::Which;
use crate::view::scene::Scene;

/// How far inside a limit something is put that goes to the limit, in its own unit: rounding must not
/// bring it outside.
const INSIDE: f64 = 1e-9;

/// One geometry.
pub struct Face<'a> {
    pub which: Which,
    pub cell: &'a Cell,
    pub force: &'a Force,
    /// Why its registration is not to be gone by any more.
    pub lapsed: Option<&'a Lapsed>,
    /// The other one, if the cell has two.
    pub other: Option<(Which, &'a Force)>,
    pub solver: Solver<'a>,
    pub surroundings: Surroundings<'a>,
    pub scene: Scene<'a>,
    pub targets: Vec<Asked<'a>>,
}

impl<'a> Face<'a> {
    /// Makes it ready.
    pub fn new(ground: &'a Ground, which: Which) -> Result<Face<'a>, Refused> {
        let force = ground.force(which)?;
        let cell = &ground.bench.cell;
        let solver = Solver::new(cell, &force.geometry);
        let others = ground.geometries().into_iter().find(|w| *w != which);
        let other = others.and_then(|w| Some((w, ground.force(w).ok()?)));
        let stale = match which {
            Which::Registered => ground.stale.as_slice(),
            Which::Drawn => &[],
        };
        let drawn = match which {
            Which::Registered => Some(&cell.nominal),
            Which::Drawn => None,
        };
        let targets = targets(&ground.bench, &solver, stale);
        Ok(Face {
            which,
            cell,
            force,
            other,
            lapsed: ground
                .lapsed
                .as_ref()
                .filter(|_| which == Which::Registered),
            surroundings: Surroundings::new(cell, &force.geometry),
            scene: Scene::new(cell, &force.geometry, drawn, ground.shown(which)),
            targets,
            solver,
        })
    }

    /// What margins are worked out from.
    pub fn assessor(&self) -> Assessor<'_> {
        Assessor {
            solver: &self.solver,
            cell: self.cell,
            surroundings: &self.surroundings,
            sure: self.force.spread().zip(self.force.unknowns()),
        }
    }

    /// Values of the joints, rad.
    pub fn values(&self, stand: &Stand) -> Vec<f64> {
        let joints = self.force.geometry.joints.iter().zip(&stand.joints);
        joints
            .map(|(joint, reading)| joint_value_rad(joint, Reading(*reading)))
            .collect()
    }

    /// The same axes with the joints at other values; what would lie beyond a limit by no more than
    /// rounding lies within.
    pub fn with_values(&self, stand: &Stand, values_rad: &[f64]) -> Stand {
        let mut stand = *stand;
        let joints = self.force.geometry.joints.iter().zip(&self.cell.joints);
        for ((reading, (joint, info)), value) in stand.joints.iter_mut().zip(joints).zip(values_rad)
        {
            let limits = info.limits_rad;
            let near = |limit: f64| (value - limit).abs() <= INSIDE;
            let value = match near(limits.low) || near(limits.high) {
                true => into(limits, *value),
                false => *value,
            };
            *reading = joint_reading(joint, value).0;
        }
        stand
    }

    /// How the arm holds itself, in words.
    pub fn held_as(&self, values_rad: &[f64]) -> String {
        match values_rad.is_empty() {
            true => String::new(),
            false => self.solver.bearing(values_rad).to_string(),
        }
    }

    /// Values of all axes.
    pub fn axes(&self, stand: &Stand) -> AxisValues {
        let mut joints_rad = [0.0; MAX_JOINTS];
        for (to, value) in joints_rad.iter_mut().zip(self.values(stand)) {
            *to = value;
        }
        AxisValues {
            travel_mm: stand.travel_mm(&self.force.geometry),
            turn_rad: stand.turn_rad(&self.force.geometry),
            joints_rad,
        }
    }

    /// Limits of the track as readings, the lower one first.
    pub fn track_limits(&self) -> Option<(f64, f64)> {
        let track = self.force.geometry.track.as_ref()?;
        let travel = self.cell.track?.travel_mm?;
        Some(ordered(
            track_reading(track, travel.low).0,
            track_reading(track, travel.high).0,
        ))
    }

    /// Limits of the table as readings.
    pub fn table_limits(&self) -> Option<(f64, f64)> {
        let table = self.force.geometry.turntable.as_ref()?;
        let travel = self.cell.turntable.as_ref()?.travel_rad?;
        Some(ordered(
            table_reading(table, travel.low).0,
            table_reading(table, travel.high).0,
        ))
    }

    /// Limits of a joint as readings.
    pub fn joint_limits(&self, index: usize) -> Option<(f64, f64)> {
        let joint = self.force.geometry.joints.get(index)?;
        let limits = self.cell.joints.get(index)?.limits_rad;
        Some(ordered(
            joint_reading(joint, limits.low).0,
            joint_reading(joint, limits.high).0,
        ))
    }

    /// Decimals of readings of the track.
    pub fn track_decimals(&self) -> usize {
        let track = self.force.geometry.track.as_ref();
        page::decimals(track.map_or(1.0, |t| t.scale_mm))
    }

    /// Decimals of readings of the table.
    pub fn table_decimals(&self) -> usize {
        let table = self.force.geometry.turntable.as_ref();
        page::decimals(table.map_or(1.0, |t| t.scale_rad.to_degrees()))
    }

    /// Decimals of readings of a joint.
    pub fn joint_decimals(&self, index: usize) -> usize {
        let joint = self.force.geometry.joints.get(index);
        page::decimals(joint.map_or(1.0, |j| j.scale_rad.to_degrees()))
    }

    /// A point by its name.
    pub fn target(&self, name: &str) -> Result<&Asked<'a>, Refused> {
        self.targets.iter().find(|t| t.name == name).ok_or_else(|| {
            let names = self.targets.iter().map(|t| t.name);
            let advice = match crate::diagnose::nearest(name, names) {
                Some(near) => format!("; write {near}, if that is meant"),
                None => String::new(),
            };
            Refused::missing(format!(
                "name is {name:?}, expected the name of a point of this cell{advice}"
            ))
        })
    }
}

fn ordered(a: f64, b: f64) -> (f64, f64) {
    (a.min(b), a.max(b))
}

/// A value within limits, off them by no more than rounding can take away.
pub fn into(limits: Range, value: f64) -> f64 {
    let inside = INSIDE.min(0.25 * (limits.high - limits.low)).max(0.0);
    value.min(limits.high - inside).max(limits.low + inside)
}

/// What a view shows of a direction or a difference of places, mm.
pub fn seen(view: ViewName) -> impl Fn(&Vector3<f64>) -> Vector2<f64> {
    move |v| match view {
        ViewName::Plan => Vector2::new(v.x, v.y),
        ViewName::Elevation => Vector2::new(v.x, v.z),
    }
}

/// A way in the plane of a view, plate frame, mm.
pub fn in_plane(view: ViewName, by: &Vector2<f64>) -> Vector3<f64> {
    match view {
        ViewName::Plan => Vector3::new(by.x, by.y, 0.0),
        ViewName::Elevation => Vector3::new(by.x, 0.0, by.y),
    }
}

/// The direction that a view looks along.
pub fn depth(view: ViewName) -> Vector3<f64> {
    match view {
        ViewName::Plan => -Vector3::z(),
        ViewName::Elevation => Vector3::y(),
    }
}
