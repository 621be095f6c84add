//! A raster of stations against the general inverse, node by node.

#[path = "reach_support/mod.rs"]
mod reach_support;

use notchpin::cell::*;
use notchpin::reach::Inverse;
use notchpin::reach::Margins;
use notchpin::reach::NO_BRANCH;
use notchpin::reach::OUT_OF_REACH_RAD;
use notchpin::reach::Raster;
use notchpin::reach::Reached;
use notchpin::reach::Solution;
use notchpin::reach::Solver;
use notchpin::reach::Wanted;
use reach_support::*;
use std::f64::consts::TAU;

/// Nodes nearer than this to a limit or to the end of reach may fall on either side, rad.
const EDGE_RAD: f64 = 1e-9;

/// Limits of all sorts: to one side, wider than a turn, narrow, several turns away.
fn limits(dice: &mut Dice) -> [f64; 2] {
    let (middle, half) = match (dice.unit() * 6.0) as u32 {
        0 => (dice.within(-180.0, 180.0), dice.within(181.0, 400.0)),
        1 => (dice.within(-180.0, 180.0), dice.within(5.0, 40.0)),
        2 => (dice.within(-800.0, 800.0), dice.within(60.0, 170.0)),
        3 => (0.0, 180.0),
        _ => (dice.within(-60.0, 60.0), dice.within(90.0, 170.0)),
    };
    [middle - half, middle + half]
}

/// An arm of five joints, or of four; all level if `tilt_deg` is 0.
fn arm(dice: &mut Dice, tilt_deg: f64) -> Cell {
    let mut sign = || if dice.unit() < 0.5 { -1.0 } else { 1.0 };
    let signs = [sign(), sign(), sign(), sign(), sign()];
    let side = dice.unit() < 0.7;
    let mut sides = [0.0; 4];
    if side {
        sides = sides.map(|_| dice.within(-40.0, 40.0));
    }
    let off = if dice.unit() < 0.5 { 0.0 } else { 20.0 };
    let tool = mounting(
        [
            dice.within(-off, off),
            dice.within(-off, off),
            dice.within(50.0, 140.0),
        ],
        [
            dice.within(-180.0, 180.0),
            dice.within(-1.0, 1.0) * tilt_deg.min(2.0),
            dice.within(-1.0, 1.0) * tilt_deg.min(2.0),
        ],
    );
    let mut cell = five(signs, sides, tool);
    for joint in &mut cell.joints {
        let [low, high] = limits(dice);
        (joint.limits_rad.low, joint.limits_rad.high) = (deg(low), deg(high));
    }
    let g = &mut cell.nominal;
    g.joints[2].through_mm.z += dice.within(-60.0, 60.0);
    g.joints[3].through_mm.x += dice.within(-60.0, 60.0);
    let small = |dice: &mut Dice| dice.within(-1.0, 1.0) * tilt_deg;
    g.mount = mounting(
        [dice.within(-20.0, 20.0), dice.within(-20.0, 20.0), 18.0],
        [dice.within(-180.0, 180.0), small(dice), small(dice)],
    );
    if let Some(t) = &mut g.track {
        t.mounting = mounting(
            [150.0, 100.0, 62.0],
            [dice.within(-30.0, 30.0), small(dice), small(dice)],
        );
    }
    if let Some(t) = &mut g.turntable {
        t.tilt_x_rad = deg(small(dice));
        t.tilt_y_rad = deg(small(dice));
    }
    if dice.unit() < 0.25 {
        cell.joints.truncate(4);
        g.joints.truncate(4);
        // Without a roll, the tool's z must lie in the plane.
        g.tool.yaw_rad = 0.0;
        g.tool.roll_rad = 0.0;
        g.tool.pitch_rad = deg(dice.within(-5.0, 5.0));
    }
    cell
}

fn point(dice: &mut Dice, joints: usize) -> Wanted {
    let elevation = match (dice.unit() * 4.0) as u32 {
        0 | 1 => -90.0,
        2 => dice.within(-88.0, 20.0),
        _ => [90.0, -89.5, -45.0, 0.0][(dice.unit() * 4.0) as usize],
    };
    let rolls = joints == 5 && dice.unit() < 0.7;
    Wanted {
        frame: if dice.unit() < 0.8 {
            Belongs::Platter
        } else {
            Belongs::Plate
        },
        at_mm: if dice.unit() < 0.5 {
            v(
                dice.within(-150.0, 150.0),
                dice.within(-150.0, 150.0),
                dice.within(-20.0, 200.0),
            )
        } else {
            v(
                dice.within(0.0, 500.0),
                dice.within(0.0, 500.0),
                dice.within(50.0, 300.0),
            )
        },
        elevation_rad: Some(deg(elevation)),
        azimuth_rad: (rolls && elevation == -90.0 && dice.unit() < 0.4)
            .then(|| dice.within(-3.0, 3.0)),
        roll_rad: rolls.then(|| dice.within(-3.0, 3.0)),
    }
}

struct Tally {
    nodes: usize,
    reached: usize,
    out_of_reach: usize,
    edges: usize,
    rasters: usize,
    refused: usize,
}

/// Many arms and points, each at a few stations, against `Solver::solve`.
fn compare(seed: u64, arms: usize, tilt_deg: f64) -> Tally {
    let mut dice = Dice(seed);
    let mut tally = Tally {
        nodes: 0,
        reached: 0,
        out_of_reach: 0,
        edges: 0,
        rasters: 0,
        refused: 0,
    };
    let (mut yes, mut margins) = (Vec::new(), Margins::default());
    let mut solutions: Vec<Solution> = Vec::new();
    let mut postures = [Reached::default(); 8];
    for _ in 0..arms {
        let cell = arm(&mut dice, tilt_deg);
        let solver = Solver::new(&cell, &cell.nominal);
        assert!(solver.is_closed_form());
        let wanted = point(&mut dice, cell.joints.len());
        let Some(raster) = Raster::new(&solver, &wanted) else {
            tally.refused += 1;
            continue;
        };
        tally.rasters += 1;
        // Ascending, descending or in no order.
        let mut track: Vec<f64> = (0..13).map(|_| dice.within(0.0, 900.0)).collect();
        match (dice.unit() * 3.0) as u32 {
            0 => track.sort_by(f64::total_cmp),
            1 => track.sort_by(|a, b| b.total_cmp(a)),
            _ => {}
        }
        let table: Vec<f64> = (0..5).map(|_| dice.within(-4.0, 4.0)).collect();
        let threads = 1 + (dice.unit() * 3.0) as usize;
        raster.feasible(&track, &table, threads, &mut yes);
        raster.margins(&track, &table, threads, &mut margins);
        let inverse = Inverse::new(&solver, &wanted).expect("as the raster");
        for (k, turn) in table.iter().enumerate() {
            for (i, s) in track.iter().enumerate() {
                let at = k * track.len() + i;
                solver.solve(&wanted, *s, *turn, &mut solutions);
                let want = solutions.first().map(|s| s.limit_margin_rad);
                let (got, branch) = (margins.margin_rad[at], margins.branch[at]);
                let say = || {
                    format!(
                        "{cell:?}\n{wanted:?}\ntravel {s} turn {turn}: {want:?}, {got} by branch {branch}"
                    )
                };
                tally.nodes += 1;
                assert!(
                    got >= OUT_OF_REACH_RAD && (got == OUT_OF_REACH_RAD) == (branch == NO_BRANCH)
                );
                let inside = got >= -EDGE_RAD;
                if inside != want.is_some() || yes[at] != want.is_some() {
                    // The stretched arm: both elbows are one posture.
                    let edge =
                        got.abs() < 2.0 * EDGE_RAD || at_end_of_reach(&solver, &wanted, *s, *turn);
                    assert!(edge, "{}\nfeasible says {}", say(), yes[at]);
                    tally.edges += 1;
                    continue;
                }
                match want {
                    Some(want) => {
                        tally.reached += 1;
                        assert!((want - got).abs() < EDGE_RAD, "{}", say());
                    }
                    None => tally.out_of_reach += usize::from(got == OUT_OF_REACH_RAD),
                }
                let count = inverse.at(*s, *turn, &mut postures);
                assert_eq!(
                    count,
                    solutions.len(),
                    "{}\n{:?}\n{solutions:?}",
                    say(),
                    &postures[..count]
                );
                for posture in &postures[..count] {
                    let twin = solutions.iter().find(|s| {
                        s.values_rad.iter().zip(&posture.values_rad).all(|(a, b)| {
                            let d = a - b;
                            (d - TAU * (d / TAU).round()).abs() < 1e-8
                        })
                    });
                    let twin =
                        twin.unwrap_or_else(|| panic!("{}\n{posture:?} in {solutions:?}", say()));
                    assert!(
                        (twin.limit_margin_rad - posture.margin_rad).abs() < EDGE_RAD,
                        "{}",
                        say()
                    );
                }
            }
        }
    }
    tally
}

/// Whether the answer changes within a relative 1e-9 of the station.
fn at_end_of_reach(solver: &Solver, wanted: &Wanted, s: f64, turn: f64) -> bool {
    let mut out = Vec::new();
    let mut counts = [-1e-6, 0.0, 1e-6].map(|d| {
        solver.solve(wanted, s + d, turn, &mut out);
        out.len()
    });
    counts.sort_unstable();
    counts[0] != counts[2]
}

#[test]
fn a_level_raster_says_what_the_general_inverse_says() {
    let t = compare(11, 2500, 0.0);
    println!(
        "{} nodes, {} reached, {} out of reach, {} edges, {} rasters, {} refused",
        t.nodes, t.reached, t.out_of_reach, t.edges, t.rasters, t.refused
    );
    assert!(
        t.rasters > 1500 && t.reached > 5_000 && t.out_of_reach > 10_000,
        "too few to tell"
    );
    assert!(t.edges < 5);
}

#[test]
fn the_closed_form_alone_says_the_same() {
    // Without azimuth, where the closed form is exact.
    let mut dice = Dice(5);
    let (mut yes, mut margins) = (Vec::new(), Margins::default());
    let mut seen = [0, 0];
    for _ in 0..300 {
        let cell = arm(&mut dice, 0.0);
        let solver = Solver::new(&cell, &cell.nominal);
        let wanted = Wanted {
            azimuth_rad: None,
            ..point(&mut dice, cell.joints.len())
        };
        let Some(raster) = Raster::new(&solver, &wanted) else {
            continue;
        };
        let track: Vec<f64> = (0..101).map(|k| 9.0 * f64::from(k)).collect();
        let table: Vec<f64> = (0..24).map(|k| 0.2618 * f64::from(k)).collect();
        raster.feasible(&track, &table, 2, &mut yes);
        raster.margins(&track, &table, 2, &mut margins);
        for (k, turn) in table.iter().enumerate() {
            for (i, s) in track.iter().enumerate() {
                let at = k * track.len() + i;
                let want = solver.seeds_only(&wanted, *s, *turn);
                let got = margins.margin_rad[at];
                assert_eq!(yes[at], got >= -EDGE_RAD, "{got}");
                match want {
                    Some(want) => assert!((got - want).abs() < EDGE_RAD, "{got} {want}"),
                    None => assert!(got < EDGE_RAD, "{got}"),
                }
                seen[usize::from(want.is_some())] += 1;
            }
        }
    }
    assert!(seen[0] > 10_000 && seen[1] > 10_000, "{seen:?}");
}

#[test]
fn a_tilted_raster_says_what_the_general_inverse_says() {
    let t = compare(23, 600, 0.5);
    println!(
        "{} nodes, {} reached, {} out of reach, {} edges, {} rasters, {} refused",
        t.nodes, t.reached, t.out_of_reach, t.edges, t.rasters, t.refused
    );
    assert!(
        t.rasters > 300 && t.reached > 1_000 && t.out_of_reach > 2_000,
        "too few to tell"
    );
    assert!(t.edges < 5);
}

#[test]
fn a_raster_of_a_leaning_base_says_what_the_general_inverse_says() {
    let t = compare(31, 400, 15.0);
    println!(
        "{} nodes, {} reached, {} out of reach, {} edges, {} rasters, {} refused",
        t.nodes, t.reached, t.out_of_reach, t.edges, t.rasters, t.refused
    );
    assert!(t.rasters > 200 && t.reached > 300, "too few to tell");
    assert!(t.edges < 5);
}

#[test]
fn without_limits_the_reach_is_a_disc_about_joint_1() {
    // By hand. Links of the plain arm: (10, 220) and (230, 15) mm, hand and tool 190 mm along the
    // roll axis. Base at (150 + s, 100, 80); shoulder 20 mm ahead and 180 mm up, so at z = 260.
    // The point is at z = 95 + 30; straight down the wrist is 190 mm above: 315, 55 above the
    // shoulder. It is reached up to 20 + sqrt((|a| + |b|)² − 55²) from joint 1; folded the arm is
    // too short to miss anything, |b| − |a| < 55.
    let mut cell = five([1.0; 5], [0.0; 4], mounting([0.0, 0.0, 110.0], [0.0; 3]));
    for joint in &mut cell.joints {
        (joint.limits_rad.low, joint.limits_rad.high) = (deg(-400.0), deg(400.0));
    }
    let solver = Solver::new(&cell, &cell.nominal);
    let wanted = Wanted {
        frame: Belongs::Platter,
        at_mm: v(100.0, 0.0, 30.0),
        elevation_rad: Some(deg(-90.0)),
        azimuth_rad: None,
        roll_rad: None,
    };
    let stretched = 10f64.hypot(220.0) + 230f64.hypot(15.0);
    let most = 20.0 + (stretched * stretched - 55.0 * 55.0).sqrt();
    let track: Vec<f64> = (0..91).map(|k| 10.0 * f64::from(k)).collect();
    let table: Vec<f64> = (0..36).map(|k| deg(10.0 * f64::from(k))).collect();
    let raster = Raster::new(&solver, &wanted).expect("closed form");
    let (mut yes, mut margins) = (Vec::new(), Margins::default());
    // As many threads as there are, and more than there are rows.
    for threads in [0, 1, 100] {
        raster.feasible(&track, &table, threads, &mut yes);
        raster.margins(&track, &table, threads, &mut margins);
        let mut reached = 0;
        for (k, turn) in table.iter().enumerate() {
            for (i, s) in track.iter().enumerate() {
                let (x, y) = (600.0 + 100.0 * turn.cos(), 400.0 + 100.0 * turn.sin());
                let want = (x - 150.0 - s).hypot(y - 100.0) <= most;
                let at = k * track.len() + i;
                assert_eq!(yes[at], want, "travel {s}, turn {turn}");
                // Half a turn from the middle, the limits are still 220° away.
                assert_eq!(margins.margin_rad[at] > deg(219.0), want);
                reached += usize::from(want);
            }
        }
        assert!(reached > 500 && reached < yes.len() - 500, "{reached}");
    }
    raster.feasible(&[], &table, 2, &mut yes);
    raster.margins(&track, &[], 2, &mut margins);
    assert!(yes.is_empty() && margins.margin_rad.is_empty() && margins.branch.is_empty());
}

#[test]
fn a_cell_without_track_has_one_column() {
    let mut cell = five([1.0; 5], [0.0; 4], mounting([0.0, 0.0, 110.0], [0.0; 3]));
    cell.nominal.track = None;
    cell.nominal.mount.at_mm = v(400.0, 100.0, 80.0);
    let solver = Solver::new(&cell, &cell.nominal);
    let wanted = Wanted {
        frame: Belongs::Platter,
        at_mm: v(120.0, 0.0, 30.0),
        elevation_rad: Some(deg(-90.0)),
        azimuth_rad: None,
        roll_rad: None,
    };
    let table: Vec<f64> = (0..360).map(|k| deg(f64::from(k))).collect();
    let raster = Raster::new(&solver, &wanted).expect("closed form");
    let mut yes = Vec::new();
    raster.feasible(&[0.0], &table, 1, &mut yes);
    for (turn, yes) in table.iter().zip(&yes) {
        assert_eq!(*yes, solver.seeds_only(&wanted, 0.0, *turn).is_some());
    }
    assert!(yes.contains(&true) && yes.contains(&false));
}

#[test]
fn where_the_closed_form_does_not_serve_there_is_no_raster() {
    let cell = five([1.0; 5], [0.0; 4], mounting([0.0, 0.0, 110.0], [0.0; 3]));
    let solver = Solver::new(&cell, &cell.nominal);
    let wanted = Wanted {
        frame: Belongs::Platter,
        at_mm: v(60.0, -40.0, 30.0),
        elevation_rad: Some(deg(-60.0)),
        azimuth_rad: None,
        roll_rad: Some(0.4),
    };
    assert!(Raster::new(&solver, &wanted).is_some());
    let general = solver.without_closed_form();
    assert!(Raster::new(&general, &wanted).is_none());
    assert!(Inverse::new(&general, &wanted).is_none());
    // A free elevation leaves a joint to spare.
    let free = Wanted {
        elevation_rad: None,
        roll_rad: None,
        ..wanted
    };
    assert!(Raster::new(&solver, &free).is_none());
    let nowhere = Wanted {
        at_mm: v(f64::NAN, 0.0, 0.0),
        ..wanted
    };
    assert!(Raster::new(&solver, &nowhere).is_none());
}
