//! How one point is reached: from where, in which postures, with what margins.

use crate::answers::force::Force;
use crate::answers::target::Asked;
use crate::cell::Belongs;
use crate::clearance::Surroundings;
use crate::fit::spread::Spread;
use crate::kinematics::joint_value_rad;
use crate::kinematics::table_reading;
use crate::margins::Assessor;
use crate::reach;
use crate::reach::Curve;
use crate::reach::Pair;
use crate::reach::Station;
use crate::reach::Wanted;
use crate::readings::stand::Stand;
use crate::report;
use crate::report::MarginsDocument;
use crate::report::reach::BestDocument;
use crate::report::reach::CurveDocument;
use crate::report::reach::IntervalsDocument;
use crate::report::reach::PairDocument;
use crate::report::reach::PointDocument;
use crate::report::reach::SolutionDocument;
use crate::report::reach::StationDocument;
use crate::units::Reading;

/// Table angles that are tried for room where things stand on the platter, degrees apart.
const TABLE_DEG: f64 = 15.0;
/// Places of a curve that are told: its ends and every so many mm between.
const CURVE_STEP_MM: f64 = 10.0;

/// All that is known of one point's reach: over all stations of the cell, or over those of the track and
/// table readings that are given. `tell` is told which share is done. An error is a sentence.
pub fn answer(
    point: &Asked<'_>,
    assessor: &Assessor<'_>,
    force: &Force,
    (track, table): (Option<&[f64]>, Option<&[f64]>),
    tell: &(dyn Fn(f64) + Sync),
) -> Result<PointDocument, String> {
    let (cell, solver) = (assessor.cell, assessor.solver);
    let mut document = PointDocument {
        name: point.name.to_owned(),
        frame: point.frame.as_str().to_owned(),
        taught: point.taught.is_some(),
        posture: point.taught.map(|t| t.joints[..cell.joints.len()].to_vec()),
        clearance_needed_mm: cell.accept.clearance_mm,
        reachable: false,
        refused: None,
        best: None,
        stations: Vec::new(),
        track_intervals: Vec::new(),
        pairs: None,
    };
    let Some(wanted) = &point.wanted else {
        document.refused = Some("its readings do not give a place".to_owned());
        return Ok(document);
    };
    if solver.needs_pairs(wanted) {
        let told = |c: &Curve| curve(c, assessor);
        document.pairs = Some(solver.pairs(wanted).iter().map(told).collect());
    }
    if let Some(refusal) = solver.refusal(wanted) {
        if document.pairs.as_ref().is_none_or(Vec::is_empty) {
            document.refused = Some(refusal.to_string());
        }
        return Ok(document);
    }
    let grid = reach::grid(cell, &force.geometry, point.frame, track, table)
        .map_err(|refusal| refusal.to_string())?;
    let found = reach::reach_point_telling(solver, wanted, &grid.track, &grid.table, tell)
        .map_err(|refusal| refusal.to_string())?;
    document.track_intervals = found
        .intervals
        .iter()
        .map(|i| IntervalsDocument {
            table: i.table,
            intervals: i.intervals.clone(),
        })
        .collect();
    // Things on the platter may be in the way of a point of the plate: where the table stands counts.
    let turns: Vec<f64> = match point.frame == Belongs::Plate && assessor.table_in_the_way() {
        true => match table {
            Some(asked) => asked.to_vec(),
            None => reach::table_nodes(cell, &force.geometry, TABLE_DEG),
        },
        false => Vec::new(),
    };
    let turn_of = |r: &f64| {
        let stand = Stand {
            table: *r,
            ..Stand::default()
        };
        stand.turn_rad(&force.geometry)
    };
    let turns: Vec<f64> = turns.iter().map(turn_of).collect();
    // Where everything is at a posture is kept from one question to the next: each thread has its own.
    let own = || (force.spread(), Surroundings::new(cell, &force.geometry));
    let told = |(spread, surroundings): &(Option<Spread<'_>>, Surroundings<'_>),
                station: &Station| {
        let assessor = Assessor {
            solver,
            cell,
            surroundings,
            sure: None,
        };
        let mut stand = Stand {
            track: station.track.unwrap_or(0.0),
            table: station.table.unwrap_or(0.0),
            ..Stand::default()
        };
        let travel_mm = stand.travel_mm(&force.geometry);
        let turn_rad = stand.turn_rad(&force.geometry);
        let solutions = station.solutions.iter().map(|solution| {
            stand.joints[..solution.readings.len()].copy_from_slice(&solution.readings);
            let u95 = spread.as_ref().map(|s| s.at(&stand, point.frame).u95_mm);
            let back = spread.as_ref().zip(point.taught);
            let at = assessor.axes(travel_mm, turn_rad, &solution.values_rad);
            let (near, turn) = match assessor.roomiest(&at, &turns) {
                Some((near, turn)) => (Some(near), turn),
                None => (None, None),
            };
            let table = force.geometry.turntable.as_ref();
            let clear_at_table = turn.zip(table).map(|(v, t)| table_reading(t, v).0);
            SolutionDocument {
                clear_at_table,
                joints: solution.readings.clone(),
                limit_margin_deg: solution.limit_margin_rad.to_degrees(),
                side_lean_deg: solution.side_lean_rad.to_degrees(),
                height_off_mm: solution.height_off_mm,
                posture: solver.bearing(&solution.values_rad).to_string(),
                clearance_mm: near.map(|n| n.clearance_mm),
                clearance_to: near.map(|n| surroundings.other_name(n.other)),
                u95_mm: u95,
                return_u95_mm: back
                    .map(|(s, taught)| s.returning(taught, &stand, point.frame).u95_mm),
            }
        });
        StationDocument {
            track: station.track,
            table: station.table,
            solutions: solutions.collect(),
        }
    };
    let stations = &found.stations;
    document.stations = reach::shared(true, stations.len(), &own, &|own, i| {
        told(own, &stations[i])
    });
    document.reachable = document
        .stations
        .iter()
        .flat_map(|s| &s.solutions)
        .any(|s| s.clearance_mm.is_none_or(|c| c >= cell.accept.clearance_mm));
    document.best = best(&document, wanted, assessor);
    Ok(document)
}

/// The best posture with all its margins.
fn best(
    document: &PointDocument,
    wanted: &Wanted,
    assessor: &Assessor<'_>,
) -> Option<BestDocument> {
    let (track, table, joints) = match report::reach::best_of(document) {
        Some((station, solution)) => {
            let table = station.table.or(solution.clear_at_table);
            (station.track, table, solution.joints.clone())
        }
        None => {
            let best = report::reach::best_pair(document)?;
            (best.track, Some(best.table), best.joints.clone())
        }
    };
    let geometry = assessor.solver.geometry();
    let stand = Stand {
        track: track.unwrap_or(0.0),
        table: table.unwrap_or(0.0),
        ..Stand::default()
    };
    let values: Vec<f64> = geometry
        .joints
        .iter()
        .zip(&joints)
        .map(|(j, r)| joint_value_rad(j, Reading(*r)))
        .collect();
    let (travel_mm, turn_rad) = (stand.travel_mm(geometry), stand.turn_rad(geometry));
    let margins = assessor.margins(wanted, travel_mm, turn_rad, &values);
    let spare_joints = assessor.solver.spare_joints(wanted);
    let distances = assessor.cell.joints.iter().zip(&values).map(|(j, v)| {
        let limits = j.limits_rad;
        (v - limits.low).min(limits.high - v).to_degrees()
    });
    let why = report::reach::why_spare(spare_joints, &distances.collect::<Vec<f64>>());
    Some(BestDocument {
        spare_joints,
        why,
        track,
        table: table.filter(|_| document.frame == Belongs::Platter.as_str()),
        joints,
        posture: assessor.solver.bearing(&values).to_string(),
        margins: MarginsDocument::new(assessor.cell, assessor.surroundings, &margins),
    })
}

/// A curve, thinned: its ends, its best place, and places about 10 mm apart.
fn curve(curve: &Curve, assessor: &Assessor<'_>) -> CurveDocument {
    let pairs = &curve.pairs;
    let margin = |p: &Pair| p.solution.limit_margin_rad;
    let best = pairs
        .iter()
        .enumerate()
        .max_by(|a, b| margin(a.1).total_cmp(&margin(b.1)))
        .map(|(i, _)| i);
    let mut last = f64::NEG_INFINITY;
    let kept = pairs.iter().enumerate().filter(|(i, pair)| {
        let keep =
            *i + 1 == pairs.len() || Some(*i) == best || pair.travel_mm - last >= CURVE_STEP_MM;
        if keep {
            last = pair.travel_mm;
        }
        keep
    });
    let clearance = |pair: &Pair| {
        let at = assessor.axes(pair.travel_mm, pair.turn_rad, &pair.solution.values_rad);
        assessor.surroundings.nearest(&at).map(|n| n.clearance_mm)
    };
    let posture = best.and_then(|i| pairs.get(i)).map(|p| {
        let bearing = assessor.solver.bearing(&p.solution.values_rad);
        bearing.to_string()
    });
    CurveDocument {
        posture: posture.unwrap_or_default(),
        places: kept
            .map(|(_, pair)| PairDocument {
                clearance_mm: clearance(pair),
                track: pair.track,
                table: pair.table,
                joints: pair.solution.readings.clone(),
                limit_margin_deg: margin(pair).to_degrees(),
            })
            .collect(),
    }
}
