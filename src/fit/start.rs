//! Where to start: nominal values can be wrong by a hole, a notch or a quarter turn, and S has a
//! local minimum at each.
//!
//! The solver is run from the nominal values and from what the stand-alone fits say; where the
//! better of the two does not pass the global test, the four quarter turns of every free yaw, of the
//! index and of a free joint-1 zero are tried in all combinations. The least S wins.

use std::f64::consts::FRAC_PI_2;
use std::f64::consts::TAU;

use nalgebra::Vector3;

use crate::cell::Geometry;
use crate::fit::adjust::Minimum;
use crate::fit::adjust::Network;
use crate::fit::alone::notch_row;
use crate::fit::alone::track_lines;
use crate::fit::alone::turns_of;
use crate::fit::assess::GLOBAL_LIMIT;
use crate::fit::chi2::chi2_upper_tail;
use crate::fit::solve::Problem;
use crate::fit::solve::Solver;
use crate::fit::standalone;
use crate::parameters::Parameter;
use crate::parameters::ParameterUnit;
use crate::readings::hints::CountHint;
use crate::readings::hints::Hints;
use crate::readings::hints::PairHint;

/// Finds the least S.
pub fn least(network: &mut Network<'_>) -> Minimum {
    let mut solver = Solver::new();
    let nominal = network.nominal().to_vec();
    let mut best = network.minimum_from(&mut solver, &nominal);
    if passes(network, best.chi2) {
        return nearest_branch(network, &mut solver, best);
    }
    let alone = from_stand_alone_fits(network);
    let mut bases = vec![nominal];
    if let Some(alone) = alone {
        let other = network.minimum_from(&mut solver, &alone);
        if better(other.chi2, best.chi2) {
            best = other;
        }
        bases.insert(0, alone);
    }
    if !passes(network, best.chi2) {
        let turning = turning_unknowns(network);
        let mut start_of_best = None;
        let mut least = best.chi2;
        for base in &bases {
            for code in 0..4_usize.pow(turning.len() as u32) {
                let mut start = base.clone();
                let mut rest = code;
                for group in &turning {
                    for j in group {
                        start[*j] += FRAC_PI_2 * (rest % 4) as f64;
                    }
                    rest /= 4;
                }
                let (cost, x) = network.cost_from(&mut solver, &start);
                if better(cost, least) {
                    least = cost;
                    start_of_best = Some(x);
                }
            }
        }
        if let Some(start) = start_of_best {
            best = network.minimum_from(&mut solver, &start);
        }
    }
    nearest_branch(network, &mut solver, best)
}

/// Lower by more than rounding.
fn better(new: f64, old: f64) -> bool {
    !old.is_finite() || new < old * (1.0 - 1e-9) - 1e-12
}

fn passes(network: &Network<'_>, chi2: f64) -> bool {
    let (m, n) = (network.residuals(), network.unknowns());
    if m > n {
        chi2_upper_tail(chi2, m - n) >= GLOBAL_LIMIT
    } else {
        // Nothing is left over: only a sum near zero says that the start was right.
        chi2 < 1e-6
    }
}

/// Free yaws, the index, a free zero of joint 1: what can be wrong by a quarter turn, with what turns
/// along with it.
fn turning_unknowns(network: &Network<'_>) -> Vec<Vec<usize>> {
    let turns = |p: &Parameter| match p.spec().pattern {
        "track.yaw" | "mount.yaw" | "tool.yaw" | "turntable.index" => true,
        "arm.j#.zero" => p.item() == 0,
        _ => false,
    };
    let unknowns = network.unknown();
    let turning = |j: &usize| turns(&unknowns.list[*j].0);
    let alone = (0..unknowns.len()).filter(|j| unknowns.free(*j) && turning(j));
    let together = unknowns.tie().into_iter().flat_map(|t| &t.together);
    alone
        .map(|j| vec![j])
        .chain(together.filter(|group| group.iter().any(turning)).cloned())
        .collect()
}

/// Free angles on the branch nearest the nominal value.
fn nearest_branch(network: &mut Network<'_>, solver: &mut Solver, mut best: Minimum) -> Minimum {
    let mut moved = false;
    for (j, (parameter, _)) in network.unknown().list.iter().enumerate() {
        let pattern = parameter.spec().pattern;
        let periodic = parameter.unit() == ParameterUnit::Deg
            && !pattern.ends_with("lost_motion")
            && !pattern.contains("ecc_");
        if periodic && network.unknown().free(j) {
            let turns = ((best.x[j] - network.nominal()[j]) / TAU).round();
            if turns != 0.0 && turns.is_finite() {
                best.x[j] -= turns * TAU;
                moved = true;
            }
        }
    }
    if moved {
        let start = best.x.clone();
        return network.minimum_from(solver, &start);
    }
    best
}

/// Index from the notches, track from the counts, the whole arm from the touches; only free
/// unknowns are moved. `None` where these fits have nothing to say.
fn from_stand_alone_fits(network: &Network<'_>) -> Option<Vec<f64>> {
    let nominal = network.nominal().to_vec();
    let mut geometry = network.geometry_at(&nominal);
    let mut hints = Hints::default();
    for taken in network.taken() {
        taken.reading.hint(&geometry, &mut hints);
    }
    let free = |pattern: &str| {
        network
            .unknown()
            .list
            .iter()
            .enumerate()
            .any(|(j, (p, _))| network.unknown().free(j) && p.spec().pattern == pattern)
    };
    if let Some(table) = geometry
        .turntable
        .as_mut()
        .filter(|_| free("turntable.index"))
    {
        let rows: Vec<_> = hints.notches.iter().map(|h| notch_row(h, 1.0)).collect();
        if let Ok(found) =
            standalone::circular::turntable_index(&rows, table.scale_rad, table.switch_rad)
        {
            table.index_rad = found.index;
        }
    }
    if free("track.x") || free("track.y") || free("track.yaw") {
        track_from_counts(&mut geometry, &hints.counts);
    }
    let mut pairs = Hints::default();
    for taken in network.taken() {
        taken.reading.hint(&geometry, &mut pairs);
    }
    arm_from_touches(&mut geometry, &pairs.pairs);
    if free("turntable.x") && free("turntable.y") {
        centre_from_touches(network, &mut geometry);
    }
    let mut start = nominal.clone();
    for (j, (parameter, _)) in network.unknown().list.iter().enumerate() {
        if network.unknown().free(j) {
            start[j] = parameter.get(&geometry);
        }
    }
    let usable = start != nominal && start.iter().all(|v| v.is_finite());
    usable.then_some(start)
}

/// Straight lines through the counts along x and along y: their slopes are the direction.
fn track_from_counts(geometry: &mut Geometry, counts: &[CountHint]) {
    let Some(track) = geometry.track.as_mut() else {
        return;
    };
    let alike: Vec<(CountHint, f64)> = counts.iter().map(|h| (*h, 1.0)).collect();
    let found = track_lines(track, &alike);
    track.mounting.yaw_rad = found.yaw_rad;
    let [x, y] = found.along;
    if let Some(x) = x {
        track.mounting.at_mm.x = x.offset.value;
    }
    if let Some(y) = y {
        track.mounting.at_mm.y = y.offset.value;
    }
}

/// The table's centre from touches of one platter mark at several turns, the arm where it is by now.
fn centre_from_touches(network: &Network<'_>, geometry: &mut Geometry) {
    let mut hints = Hints::default();
    for taken in network.taken() {
        taken.reading.hint(geometry, &mut hints);
    }
    // The mark that was touched most often; the first of them where several were.
    let most = (0..geometry.marks_mm.len())
        .rev()
        .max_by_key(|m| turns_of(&hints, *m).len());
    let Some(Ok(found)) = most.map(|m| standalone::turns::centre_from_turns(&turns_of(&hints, m)))
    else {
        return;
    };
    if let Some(table) = geometry.turntable.as_mut() {
        table.at_mm.x = found.centre.x;
        table.at_mm.y = found.centre.y;
    }
}

/// The plate turns and shifts the whole arm until its tips meet the targets best.
fn arm_from_touches(geometry: &mut Geometry, pairs: &[PairHint]) {
    let tips: Vec<Vector3<f64>> = pairs.iter().map(|p| p.tip_mm).collect();
    let targets: Vec<Vector3<f64>> = pairs.iter().map(|p| p.target_mm).collect();
    let Ok(moved) = standalone::rigid::fit_about_z(&tips, &targets, None) else {
        return;
    };
    let carrier = match geometry.track.as_mut() {
        Some(track) => &mut track.mounting,
        None => &mut geometry.mount,
    };
    carrier.at_mm = crate::frames::rot_z(moved.yaw) * carrier.at_mm + moved.translation;
    carrier.yaw_rad += moved.yaw;
}
