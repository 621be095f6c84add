//! The points of a cell as targets.

use crate::cell::Belongs;
use crate::cell::Geometry;
use crate::cli::Failure;
use crate::cli::folder::Folder;
use crate::cli::force::Force;
use crate::cli::kept;
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

/// The points that were asked for: all of both files, or those of one name.
pub fn asked<'a>(
    folder: &'a Folder,
    force: &Force,
    solver: &Solver<'_>,
    name: Option<&str>,
) -> Result<Vec<Asked<'a>>, Failure> {
    let bench = &folder.bench;
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
    let stale = match force.record {
        Some(ref path) => kept::stale_points(folder, path),
        None => Vec::new(),
    };
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
        let geometry = &force.geometry;
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
    let Some(name) = name else {
        if all.is_empty() {
            return Err(Failure::Message(
                "this cell has no points: write points.csv (name, frame, x_mm, y_mm, z_mm, \
                 elevation_deg, azimuth_deg, roll_deg) or taught.csv (name, frame, track, table, \
                 j1 …)"
                    .to_owned(),
            ));
        }
        return Ok(all);
    };
    let names: Vec<&str> = all.iter().map(|p| p.name).collect();
    if !names.contains(&name) {
        let advice = match crate::diagnose::nearest(name, names) {
            Some(near) => format!("write {near}, if that is meant"),
            None => "see points.csv and taught.csv for the names".to_owned(),
        };
        return Err(Failure::Message(format!(
            "--point: found {name:?}, expected the name of a point of this cell; {advice}"
        )));
    }
    all.retain(|p| p.name == name);
    Ok(all)
}

fn values_of(geometry: &Geometry, point: &TaughtPoint) -> Vec<f64> {
    let joints = geometry.joints.iter().zip(&point.stand.joints);
    joints
        .map(|(joint, reading)| joint_value_rad(joint, Reading(*reading)))
        .collect()
}
