//! How sure the tip is at the points.

use nalgebra::DMatrix;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::fit::spread::Spread;
use crate::parameters::Unknowns;
use crate::reach::Solver;
use crate::reach::Wanted;
use crate::reach::grid;
use crate::reach::recommend;
use crate::readings::stand::Stand;
use crate::registration::PointCheck;

/// What is said of a point that the arm meets, but at none of the stations of the grid.
pub const ONLY_AT_PAIRS: &str = "met only at certain pairs of track and table, see reach";

/// u95 at each taught point (its own readings) and at each given point (where `recommend` puts it).
pub fn points_at(
    bench: &Bench,
    geometry: &Geometry,
    unknowns: &Unknowns,
    covariance: &DMatrix<f64>,
) -> Vec<PointCheck> {
    let spread = Spread::new(geometry, unknowns, covariance);
    let mut checks = Vec::new();
    for point in &bench.taught {
        checks.push(PointCheck {
            name: point.name.clone(),
            frame: point.frame,
            taught: true,
            u95_mm: Some(spread.at(&point.stand, point.frame).u95_mm),
            unreachable: None,
            stand: Some(point.stand),
        });
    }
    if bench.points.is_empty() {
        return checks;
    }
    let solver = Solver::new(&bench.cell, geometry);
    for point in &bench.points {
        let wanted = Wanted {
            frame: point.frame,
            at_mm: point.at_mm,
            elevation_rad: point.elevation_rad,
            azimuth_rad: point.azimuth_rad,
            roll_rad: point.roll_rad,
        };
        let (stand, unreachable) = match best_stand(&solver, &wanted, bench, geometry) {
            Ok(stand) => (Some(stand), None),
            Err(why) => (None, Some(why)),
        };
        checks.push(PointCheck {
            name: point.name.clone(),
            frame: point.frame,
            taught: false,
            u95_mm: stand.map(|s| spread.at(&s, point.frame).u95_mm),
            unreachable,
            stand,
        });
    }
    checks
}

/// The station and posture that `reach` recommends for a point, over its default grid.
fn best_stand(
    solver: &Solver<'_>,
    wanted: &Wanted,
    bench: &Bench,
    geometry: &Geometry,
) -> Result<Stand, String> {
    let at_pairs = || solver.needs_pairs(wanted) && !solver.pairs(wanted).is_empty();
    if let Some(refusal) = solver.refusal(wanted) {
        return Err(match at_pairs() {
            true => ONLY_AT_PAIRS.to_owned(),
            false => refusal.to_string(),
        });
    }
    let grid = grid(&bench.cell, geometry, wanted.frame, None, None).map_err(|e| e.to_string())?;
    let best = recommend(solver, wanted, &grid).ok_or_else(|| match at_pairs() {
        true => ONLY_AT_PAIRS.to_owned(),
        false => "out of reach from every station".to_owned(),
    })?;
    let mut stand = Stand {
        track: best.track.unwrap_or(0.0),
        table: best.table.unwrap_or(0.0),
        ..Stand::default()
    };
    let solution = &best.solution;
    stand.joints[..solution.readings.len()].copy_from_slice(&solution.readings);
    Ok(stand)
}
