//! The points of a cell as targets.

use crate::bench::Bench;
use crate::cell::Belongs;
use crate::cell::Geometry;
use crate::kinematics::joint_value_rad;
use crate::points::TaughtPoint;
use crate::reach::Solver;
use crate::reach::Wanted;
use crate::readings::stand::Stand;
use crate::units::Reading;

/// A point of either file.
pub struct Asked<'a> {
    /// Its name.
    pub name: &'a str,
    /// What it belongs to.
    pub frame: Belongs,
    /// Its coordinates, or what could be made of its readings.
    pub wanted: Option<Wanted>,
    /// How the machine stood when it was taught.
    pub taught: Option<&'a Stand>,
}

/// All points of both files. `stale`: names of taught points whose readings lead elsewhere by now, with the
/// geometry in which they were taught.
pub fn targets<'a>(
    bench: &'a Bench,
    solver: &Solver<'_>,
    stale: &[(String, Geometry)],
) -> Vec<Asked<'a>> {
    let geometry = solver.geometry();
    let mut all: Vec<Asked<'a>> = Vec::new();
    for p in &bench.points {
        all.push(Asked {
            name: &p.name,
            frame: p.frame,
            wanted: Some(Wanted {
                frame: p.frame,
                at_mm: p.at_mm,
                elevation_rad: p.elevation_rad,
                azimuth_rad: p.azimuth_rad,
                roll_rad: p.roll_rad,
            }),
            taught: None,
        });
    }
    for p in &bench.taught {
        // Where something moved since, the place is where the readings led when it was taught; they lead
        // elsewhere now, so the point is one of coordinates.
        if let Some((_, then)) = stale.iter().find(|(name, _)| *name == p.name) {
            let values = values_of(then, p);
            let (travel, turn) = (p.stand.travel_mm(then), p.stand.turn_rad(then));
            all.push(Asked {
                name: &p.name,
                frame: p.frame,
                wanted: Solver::new(&bench.cell, then).wanted_at(p.frame, travel, turn, &values),
                taught: None,
            });
            continue;
        }
        let values = values_of(geometry, p);
        let travel_mm = p.stand.travel_mm(geometry);
        let turn_rad = p.stand.turn_rad(geometry);
        all.push(Asked {
            name: &p.name,
            frame: p.frame,
            wanted: solver.wanted_at(p.frame, travel_mm, turn_rad, &values),
            taught: Some(&p.stand),
        });
    }
    all
}

fn values_of(geometry: &Geometry, point: &TaughtPoint) -> Vec<f64> {
    let joints = geometry.joints.iter().zip(&point.stand.joints);
    joints
        .map(|(joint, reading)| joint_value_rad(joint, Reading(*reading)))
        .collect()
}
