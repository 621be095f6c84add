//! Speed of the inverse, of the forward chain with its derivatives, and of a recommendation.

#[path = "../tests/reach_support/mod.rs"]
mod reach_support;

use std::hint::black_box;

use criterion::Criterion;
use criterion::criterion_group;
use criterion::criterion_main;
use notchpin::cell::Belongs;
use notchpin::kinematics::ArmScene;
use notchpin::reach::Inverse;
use notchpin::reach::Margins;
use notchpin::reach::Raster;
use notchpin::reach::Reached;
use notchpin::reach::Solver;
use notchpin::reach::Wanted;
use notchpin::reach::grid;
use notchpin::reach::recommend;
use notchpin::reach::track_intervals;
use reach_support::*;

fn reach(c: &mut Criterion) {
    let arms = fives();
    let wanted = Wanted {
        frame: Belongs::Platter,
        at_mm: v(60.0, -40.0, 30.0),
        elevation_rad: Some(deg(-60.0)),
        azimuth_rad: None,
        roll_rad: Some(0.4),
    };
    let down = Wanted {
        elevation_rad: Some(deg(-90.0)),
        ..wanted
    };
    for name in ["plain", "out of true"] {
        let cell = &arms.iter().find(|a| a.0 == name).expect("arm").1;
        let solver = Solver::new(cell, &cell.nominal);
        c.bench_function(
            &format!("closed form unpolished, straight down, {name}"),
            |b| b.iter(|| solver.seeds_only(black_box(&down), black_box(300.0), black_box(0.3))),
        );
        c.bench_function(&format!("all solutions, polished, {name}"), |b| {
            let mut out = Vec::new();
            b.iter(|| {
                solver.solve(
                    black_box(&wanted),
                    black_box(300.0),
                    black_box(0.3),
                    &mut out,
                )
            })
        });
        let g = grid(cell, &cell.nominal, Belongs::Platter, None, None).expect("grid");
        c.bench_function(
            &format!(
                "recommend, {} stations, {name}",
                g.track.len() * g.table.len()
            ),
            |b| b.iter(|| recommend(&solver, black_box(&wanted), &g)),
        );
        c.bench_function(&format!("track intervals, one table angle, {name}"), |b| {
            b.iter(|| track_intervals(&solver, black_box(&wanted), &[0.0]))
        });
    }
    let cell = &arms[0].1;
    let q = [0.1, 0.4, 0.7, -0.3, 0.5];
    c.bench_function("forward chain with derivatives", |b| {
        b.iter(|| {
            let scene = ArmScene::new(&cell.nominal, black_box(300.0), black_box(&q));
            let j: [_; 5] = std::array::from_fn(|k| scene.joint_twist(k).of_point(&scene.tip_mm));
            (scene.tip_mm, scene.tool_axes, j)
        })
    });
}

/// The next of 64.
fn next(k: &mut usize) -> usize {
    *k = (*k + 1) % 64;
    *k
}

/// Six joints: both closed forms, and the search from many starts where there is none.
fn six(c: &mut Criterion) {
    for (name, cell) in [
        ("last three axes meet", meeting()),
        ("three axes parallel", parallel()),
        ("no closed form", offset()),
    ] {
        let solver = Solver::new(&cell, &cell.nominal);
        let mut dice = Dice(3);
        let targets: Vec<Wanted> = (0..64)
            .map(|_| {
                let q: Vec<f64> = cell
                    .joints
                    .iter()
                    .map(|j| dice.within(j.limits_rad.low, j.limits_rad.high))
                    .collect();
                solver
                    .wanted_at(Belongs::Plate, 300.0, 0.0, &q)
                    .expect("a place")
            })
            .collect();
        let mut out = Vec::new();
        let mut k = 0;
        c.bench_function(&format!("six joints, all postures, {name}"), |b| {
            b.iter(|| solver.solve(&targets[next(&mut k)], black_box(300.0), 0.0, &mut out))
        });
        let numeric = solver.without_closed_form();
        let mut k = 0;
        c.bench_function(&format!("six joints, from many starts, {name}"), |b| {
            b.iter(|| numeric.solve(&targets[next(&mut k)], black_box(300.0), 0.0, &mut out))
        });
    }
}

/// The thousand travels and thousand table angles of the large maps.
fn million() -> (Vec<f64>, Vec<f64>) {
    let spread = |n: u32, low: f64, high: f64| {
        (0..n)
            .map(|k| low + (high - low) * f64::from(k) / f64::from(n - 1))
            .collect()
    };
    (spread(1000, 0.0, 900.0), spread(1000, -3.0, 3.0))
}

fn raster(c: &mut Criterion) {
    let mut c = c.benchmark_group("raster");
    c.sample_size(20);
    let arms = fives();
    let (track, table) = million();
    let wanted = |elevation: f64, roll: Option<f64>| Wanted {
        frame: Belongs::Platter,
        at_mm: v(60.0, -40.0, 30.0),
        elevation_rad: Some(deg(elevation)),
        azimuth_rad: None,
        roll_rad: roll,
    };
    for (name, elevation, roll, words) in [
        ("plain", -90.0, None, "straight down"),
        ("offsets", -90.0, Some(0.4), "straight down, offsets"),
        ("plain", -60.0, Some(0.4), "slanted"),
        (
            "out of true",
            -90.0,
            Some(0.4),
            "straight down, out of true",
        ),
    ] {
        let cell = &arms.iter().find(|a| a.0 == name).expect("arm").1;
        let solver = Solver::new(cell, &cell.nominal);
        let point = wanted(elevation, roll);
        let inverse = Inverse::new(&solver, &point).expect("closed form");
        let mut out = [Reached::default(); 8];
        let most = (0..900)
            .map(|k| inverse.at(f64::from(k), 0.3, &mut out))
            .max();
        println!(
            "{words}: up to {} postures within limits",
            most.unwrap_or(0)
        );
        c.bench_function(format!("inverse singly, {words}"), |b| {
            let mut k = 0;
            b.iter(|| {
                k = if k == 999 { 0 } else { k + 1 };
                inverse.at(track[k], black_box(0.3), &mut out)
            })
        });
        let map = Raster::new(&solver, &point).expect("closed form");
        let (mut yes, mut margins) = (Vec::new(), Margins::default());
        for threads in [1, 2] {
            c.bench_function(
                format!("feasible, 1,000,000 nodes, {words}, threads: {threads}"),
                |b| b.iter(|| map.feasible(&track, &table, threads, &mut yes)),
            );
            c.bench_function(
                format!("margins, 1,000,000 nodes, {words}, threads: {threads}"),
                |b| b.iter(|| map.margins(&track, &table, threads, &mut margins)),
            );
        }
        let share = yes.iter().filter(|y| **y).count() as f64 / yes.len() as f64;
        println!("{words}: {:.0} % of the nodes are reached", 100.0 * share);
    }
    c.finish();
}

criterion_group!(benches, reach, six, raster);
criterion_main!(benches);
