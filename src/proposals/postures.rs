//! Postures in which a reading can be taken: over a target, or somewhere in the open.

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::kinematics::MAX_JOINTS;
use crate::kinematics::joint_reading;
use crate::kinematics::joint_value_rad;
use crate::kinematics::radical_inverse;
use crate::proposals::decimals;
use crate::proposals::rounded;
use crate::reach::Solver;
use crate::reach::Wanted;
use crate::readings::propose::Posture;
use crate::readings::stand::Stand;
use crate::units::Reading;

/// The tip is driven so far above its target: what is left is measured, nothing is touched in driving.
const LIFT_MM: f64 = 5.0;
/// No joint stands nearer to its limit.
const MARGIN_DEG: f64 = 5.0;
/// Nothing of the arm that is known stands lower over the plate.
const CLEAR_MM: f64 = 2.0;
/// Elevations of the tool that are tried.
const ELEVATIONS_DEG: [f64; 3] = [-90.0, -70.0, -50.0];
/// Postures in the open.
const SAMPLES: usize = 8;

/// Drives the tip over targets.
pub(super) struct Over<'a> {
    cell: &'a Cell,
    geometry: &'a Geometry,
    solver: Solver<'a>,
}

pub(super) fn over<'a>(cell: &'a Cell, geometry: &'a Geometry) -> Over<'a> {
    Over {
        cell,
        geometry,
        solver: Solver::new(cell, geometry),
    }
}

impl Over<'_> {
    /// Postures with the tip a little above a place, one for each elevation that is possible.
    pub(super) fn postures(
        &self,
        frame: Belongs,
        at_mm: Vector3<f64>,
        track: f64,
        table: f64,
    ) -> Vec<Posture> {
        let stand = Stand {
            track,
            table,
            ..Stand::default()
        };
        let place = match (frame, stand.turntable(self.geometry)) {
            (Belongs::Platter, Some(t)) => t.platter_axes * at_mm + t.centre_mm,
            (Belongs::Platter, None) => return Vec::new(),
            _ => at_mm,
        };
        let wanted = |elevation_deg: Option<f64>| Wanted {
            frame: Belongs::Plate,
            at_mm: place + Vector3::new(0.0, 0.0, LIFT_MM),
            elevation_rad: elevation_deg.map(f64::to_radians),
            azimuth_rad: None,
            roll_rad: None,
        };
        let mut aims: Vec<Wanted> = ELEVATIONS_DEG
            .iter()
            .map(|e| wanted(Some(*e)))
            .filter(|w| self.solver.refusal(w).is_none())
            .collect();
        if aims.is_empty() && self.solver.refusal(&wanted(None)).is_none() {
            aims.push(wanted(None));
        }
        let mut found: Vec<Posture> = Vec::new();
        for aim in aims {
            let mut solutions = Vec::new();
            let travel = stand.travel_mm(self.geometry);
            self.solver.solve(&aim, travel, 0.0, &mut solutions);
            let Some(best) = solutions.first() else {
                continue;
            };
            let mut posture = [0.0; MAX_JOINTS];
            let laws = best.readings.iter().zip(&self.geometry.joints);
            for ((reading, law), slot) in laws.zip(&mut posture) {
                *slot = rounded(*reading, decimals(law.scale_rad.to_degrees(), 0.1));
            }
            let there = Stand {
                joints: posture,
                ..stand
            };
            if fits(self.cell, self.geometry, &there) && !found.contains(&posture) {
                found.push(posture);
            }
        }
        found
    }
}

/// Whether a posture keeps away from limits, and pivots and tip from the plate.
pub(super) fn fits(cell: &Cell, geometry: &Geometry, stand: &Stand) -> bool {
    let margin = MARGIN_DEG.to_radians();
    let joints = cell.joints.iter().zip(&geometry.joints).zip(&stand.joints);
    for ((info, law), reading) in joints {
        let value = joint_value_rad(law, Reading(*reading));
        let limits = info.limits_rad;
        if value < limits.low + margin || value > limits.high - margin {
            return false;
        }
    }
    let arm = stand.arm(geometry, cell.joints.len());
    let pivots = arm.joints[1..cell.joints.len()]
        .iter()
        .map(|j| j.point_mm.z);
    pivots
        .chain([arm.flange_mm.z, arm.tip_mm.z])
        .all(|z| z > CLEAR_MM)
}

/// Postures in the open: the zero posture, then some spread over the limits (Halton 1960), readings in
/// steps of about 5 degrees.
pub(super) fn samples(cell: &Cell, geometry: &Geometry) -> Vec<Posture> {
    const PRIMES: [usize; MAX_JOINTS] = [2, 3, 5, 7, 11, 13, 17];
    let mut found: Vec<Posture> = Vec::new();
    for index in 0..400 {
        let mut posture = [0.0; MAX_JOINTS];
        let joints = cell.joints.iter().zip(&geometry.joints).zip(PRIMES);
        for (((info, law), prime), slot) in joints.zip(&mut posture) {
            let limits = info.limits_rad;
            let value = match index {
                0 => 0.0,
                _ => limits.low + (limits.high - limits.low) * radical_inverse(index, prime),
            };
            let reading = joint_reading(law, value).0;
            let step = 5.0 / 10f64.powi(decimals(law.scale_rad.to_degrees(), 1.0));
            *slot = (reading / step).round() * step;
        }
        let stand = Stand {
            joints: posture,
            ..Stand::default()
        };
        if fits(cell, geometry, &stand) && !found.contains(&posture) {
            found.push(posture);
        }
        if found.len() == SAMPLES {
            break;
        }
    }
    found
}
