//! The statistics of a recheck and of a carried point, by simulation.

use notchpin::moves::Tied;
use notchpin::moves::recheck;
use notchpin::parts::Part;
use notchpin::points::tip_place;
use notchpin::records::InForce;
use notchpin::registration::Outcome;
use notchpin::registration::SetAside;
use notchpin::registration::register_with;
use notchpin::transfer::Epoch;
use notchpin::transfer::Where;
use notchpin::transfer::carry;
use notchpin::units::Approach;

use crate::made::Draw;
use crate::made::registered;

/// While nothing has moved the joint statistic is χ²: its probabilities are spread evenly (Kolmogorov and
/// Smirnov, level 0.001: 1.95/√n), and one recheck in a thousand or so says that something moved.
#[test]
fn the_joint_test_is_chi_squared_while_nothing_moves() {
    const COPIES: usize = 1500;
    for (name, seed) in [("glazing-bench", 5), ("six-joint", 6)] {
        let cell = registered(name);
        let mut draw = Draw::seeded(seed);
        let possible = cell.possible(&cell.force.geometry);
        let kinds: Vec<_> = (0..9).map(|_| draw.0.usize(..possible.len())).collect();
        let chosen: Vec<_> = kinds.iter().map(|k| &possible[*k]).collect();
        let fixed = cell.taken(&chosen, &mut draw);
        let mut p_values = Vec::new();
        let mut alarms = 0;
        for _ in 0..COPIES {
            // The same readings with other errors, and another truth among those that the registration allows.
            let truth = cell.truth(&mut draw);
            let bench = cell.same_places(&fixed, &truth, &mut draw);
            let seen = recheck(&bench, &cell.force).unwrap();
            alarms += usize::from(!seen.holds);
            p_values.push(seen.p_value);
        }
        p_values.sort_by(f64::total_cmp);
        let n = COPIES as f64;
        let off = p_values.iter().enumerate().map(|(k, p)| {
            let (low, high) = (k as f64 / n, (k + 1) as f64 / n);
            (p - low).abs().max((p - high).abs())
        });
        let largest = off.fold(0.0, f64::max);
        assert!(largest < 1.95 / n.sqrt(), "{name}: {largest}");
        // At most 27 residuals at 0.001 each, the joint test and all ways together at 0.001: 3 % at most; 3.3
        // sigma of a binomial on top.
        let limit = 0.03 * n + 3.3 * (0.03 * n).sqrt();
        assert!((alarms as f64) < limit, "{name}: {alarms} of {COPIES}");
    }
}

/// What is said to be noticed four times out of five is: a movement of just that size in each way.
#[test]
fn what_would_be_noticed_is_noticed_four_times_out_of_five() {
    const COPIES: usize = 250;
    let cell = registered("glazing-bench");
    let mut draw = Draw::seeded(91);
    let possible = cell.possible(&cell.force.geometry);
    let chosen: Vec<_> = (0..8)
        .map(|_| &possible[draw.0.usize(..possible.len())])
        .collect();
    let fixed = cell.taken(&chosen, &mut draw);
    let seen = recheck(&fixed, &cell.force).unwrap();
    let ways: Vec<_> = seen.notices.iter().flat_map(|n| &n.ways).collect();
    let ways: Vec<_> = ways.into_iter().filter(|w| w.least.is_some()).collect();
    assert!(ways.len() >= 10, "{}", ways.len());
    for way in ways {
        let least = way.least.unwrap();
        let mut noticed = 0;
        for _ in 0..COPIES {
            let mut truth = cell.truth(&mut draw);
            for (parameter, share) in &way.freedom.shares {
                let moved = parameter.get(&truth) + share * least;
                parameter.set(&mut truth, moved);
            }
            let bench = cell.same_places(&fixed, &truth, &mut draw);
            noticed += usize::from(!recheck(&bench, &cell.force).unwrap().holds);
        }
        let share = noticed as f64 / COPIES as f64;
        // The other tests may find it too, so more is well; less by chance alone.
        let chance = 3.3 * (0.8 * 0.2 / COPIES as f64).sqrt();
        assert!(share > 0.8 - chance, "{:?}: {share}", way.freedom);
    }
}

/// A point taught before the track was moved by a hole and carried over from six readings is met within
/// the stated radius 95 times in a hundred; the truth, the old and the new readings are drawn.
#[test]
fn carried_points_are_met_within_what_is_said() {
    const COPIES: usize = 400;
    let mut cell = registered("glazing-bench");
    // The play of joints has no side that a reading could show.
    for joint in &mut cell.force.geometry.joints {
        joint.lost_motion_rad = 0.0;
    }
    let mut draw = Draw::seeded(77);
    let by = [("track.x", 50.4), ("track.y", 0.8), ("track.yaw", -0.2)];
    let place = cell.moved(&cell.force.geometry, &by);
    let possible = cell.possible(&place);
    let mut chosen = Vec::new();
    for (kind, many) in [("holes.csv", 4), ("touch.csv", 4)] {
        let of_kind: Vec<_> = possible.iter().filter(|p| p.kind == kind).collect();
        chosen.extend((0..many).map(|_| of_kind[draw.0.usize(..of_kind.len())]));
    }
    let fixed = cell.taken(&chosen, &mut draw);
    let points = cell.bench().taught.clone();
    let (mut met, mut tried) = (0, 0);
    for _ in 0..COPIES {
        let before = cell.truth(&mut draw);
        let after = cell.moved(&before, &by);
        let bench = cell.same_places(&fixed, &after, &mut draw);
        let tied = Tied::parts(&bench, &cell.force, &[Part::Track]).unwrap();
        let registration = register_with(&tied.bench, &tied.unknowns, SetAside::Nothing);
        let Outcome::Determined(found) = registration.outcome else {
            panic!("the readings settle the track");
        };
        let new = InForce {
            geometry: found.geometry.clone(),
            unknowns: tied.unknowns.clone(),
            covariance: found.assessment.covariance.clone(),
        };
        let tie = tied.unknowns.tie().unwrap().clone();
        let kin = notchpin::moves::Kin::Tied(tie, cell.force.covariance.clone());
        let between = notchpin::moves::cross(&cell.force, &new, &kin);
        let epoch = Epoch {
            old: &cell.force,
            new: &new,
            between: &between,
        };
        for point in &points {
            let carried = carry(cell.bench(), point, &epoch, &Where::AsTaught).unwrap();
            let Ok(to) = &carried.new else { continue };
            // Each time the axes come to rest from either side.
            let mut then = point.stand;
            let mut now = to.stand;
            for stand in [&mut then, &mut now] {
                stand.track_approach = side(&mut draw);
                stand.table_approach = side(&mut draw);
            }
            let taught = tip_place(&before, &then, point.frame).unwrap().at_mm;
            let comes = tip_place(&after, &now, point.frame).unwrap().at_mm;
            tried += 1;
            met += usize::from((comes - taught).norm() <= to.errors.u95_mm);
        }
    }
    let share = met as f64 / tried as f64;
    // The copies count, not the points: those of one copy hang together. Play is two-valued, not normal.
    let sigma = (0.95 * 0.05 / COPIES as f64).sqrt();
    assert!(points.len() >= 3 && tried >= 3 * COPIES, "{tried}");
    assert!((share - 0.95).abs() < 3.3 * sigma, "{share} of {tried}");
}

fn side(draw: &mut Draw) -> Approach {
    match draw.0.bool() {
        true => Approach::Up,
        false => Approach::Down,
    }
}
