//! The points that a command asks for.

use crate::answers::force::Force;
use crate::answers::target::Asked;
use crate::answers::target::targets;
use crate::cli::Failure;
use crate::cli::folder::Folder;
use crate::cli::kept;
use crate::reach::Solver;

/// The points that were asked for: all of both files, or those of one name.
pub fn asked<'a>(
    folder: &'a Folder,
    force: &Force,
    solver: &Solver<'_>,
    name: Option<&str>,
) -> Result<Vec<Asked<'a>>, Failure> {
    let stale = match force.record {
        Some(ref path) => kept::stale_points(folder, path),
        None => Vec::new(),
    };
    let mut all = targets(&folder.bench, solver, &stale);
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
