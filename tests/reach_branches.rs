//! Every branch, of any arm: ten thousand random targets on each of five arms.
//!
//! A target is made from a posture, so one solution is known. Where a closed form serves an arm, the
//! solver from many starts must find all that the closed form finds, and the other way round.
//! `NOTCHPIN_TARGETS=n` tries n targets an arm.

mod reach_support;

use nalgebra::Matrix3;
use nalgebra::Vector3;
use notchpin::cell::Belongs;
use notchpin::cell::Cell;
use notchpin::kinematics::ArmScene;
use notchpin::reach::Solution;
use notchpin::reach::Solver;
use notchpin::units::wrap_rad;
use reach_support::*;

/// Five joints that follow no pattern: the roll axis stands askew.
fn odd_five() -> Cell {
    cell(
        &[
            ([0.0, 0.0, 1.0], [0.0, 0.0, 0.0], [-165.0, 165.0]),
            ([0.0, 1.0, 0.0], [30.0, 0.0, 180.0], [-110.0, 110.0]),
            ([0.0, 1.0, 0.1], [30.0, 0.0, 400.0], [-140.0, 140.0]),
            ([1.0, 0.0, 0.2], [120.0, 15.0, 420.0], [-170.0, 170.0]),
            ([0.0, 1.0, 0.0], [260.0, 0.0, 420.0], [-120.0, 120.0]),
        ],
        [330.0, 0.0, 420.0],
        ahead(),
        mounting([0.0, 0.0, 90.0], [0.0, 0.0, 0.0]),
    )
}

/// Four joints that follow no pattern.
fn odd_four() -> Cell {
    cell(
        &[
            ([0.0, 0.0, 1.0], [0.0, 0.0, 0.0], [-165.0, 165.0]),
            ([0.0, 1.0, 0.1], [30.0, 10.0, 180.0], [-110.0, 110.0]),
            ([0.0, 1.0, 0.0], [30.0, 0.0, 400.0], [-140.0, 140.0]),
            ([0.1, 1.0, 0.0], [260.0, 0.0, 420.0], [-120.0, 120.0]),
        ],
        [330.0, 0.0, 420.0],
        ahead(),
        mounting([0.0, 0.0, 90.0], [0.0, 0.0, 0.0]),
    )
}

fn targets() -> usize {
    let given = std::env::var("NOTCHPIN_TARGETS").ok();
    given.and_then(|n| n.parse().ok()).unwrap_or(10_000)
}

#[derive(Default)]
struct Tally {
    lost: usize,
    fewer: usize,
    other_fewer: usize,
    wrong: usize,
    twice: usize,
    postures: usize,
}

fn near(a: &[f64], b: &[f64], within: f64) -> bool {
    a.iter().zip(b).all(|(x, y)| wrap_rad(x - y).abs() < within)
}

/// Whether `some` lacks a posture that `all` has.
fn lacks(some: &[Solution], all: &[Solution]) -> bool {
    all.iter().any(|s| {
        !some
            .iter()
            .any(|o| near(&o.values_rad, &s.values_rad, 1e-4))
    })
}

fn tool(cell: &Cell, q: &[f64], travel: f64) -> (Matrix3<f64>, Vector3<f64>) {
    let scene = ArmScene::new(&cell.nominal, travel, q);
    (scene.tool_axes, scene.tip_mm)
}

/// Solves for the targets of random postures with `solver`, counts against `other`.
fn tally(cell: &Cell, solver: &Solver, other: Option<&Solver>, seed: u64, n: usize) -> Tally {
    let mut dice = Dice(seed);
    let mut t = Tally::default();
    let (mut out, mut more): (Vec<Solution>, Vec<Solution>) = (Vec::new(), Vec::new());
    for _ in 0..n {
        let q: Vec<f64> = cell
            .joints
            .iter()
            .map(|j| dice.within(j.limits_rad.low, j.limits_rad.high))
            .collect();
        let travel = dice.within(0.0, 900.0);
        let wanted = solver
            .wanted_at(Belongs::Plate, travel, 0.0, &q)
            .expect("a place");
        solver.solve(&wanted, travel, 0.0, &mut out);
        t.postures += out.len();
        t.lost += usize::from(!out.iter().any(|s| near(&s.values_rad, &q, 1e-4)));
        let (axes, tip) = tool(cell, &q, travel);
        for (i, s) in out.iter().enumerate() {
            let (a, p) = tool(cell, &s.values_rad, travel);
            let turned = if q.len() >= 6 {
                (a - axes).abs().max()
            } else {
                (a.column(2)[2] - axes.column(2)[2]).abs()
            };
            let limits = cell
                .joints
                .iter()
                .zip(&s.values_rad)
                .any(|(j, v)| *v < j.limits_rad.low - 1e-8 || *v > j.limits_rad.high + 1e-8);
            t.wrong += usize::from((p - tip).norm() > 1e-6 || turned > 1e-8 || limits);
            t.twice += out[..i]
                .iter()
                .filter(|o| near(&o.values_rad, &s.values_rad, 1e-6))
                .count();
        }
        if let Some(other) = other {
            other.solve(&wanted, travel, 0.0, &mut more);
            t.fewer += usize::from(lacks(&out, &more));
            t.other_fewer += usize::from(lacks(&more, &out));
        }
    }
    t
}

/// On as many threads as there are: a search costs about a millisecond.
fn many(cell: &Cell, solver: &Solver, other: Option<&Solver>, seed: u64) -> Tally {
    let threads = std::thread::available_parallelism().map_or(1, |n| n.get().min(8));
    let share = targets().div_ceil(threads);
    let parts: Vec<Tally> = std::thread::scope(|scope| {
        let parts: Vec<_> = (0..threads)
            .map(|k| scope.spawn(move || tally(cell, solver, other, seed + 1000 * k as u64, share)))
            .collect();
        parts.into_iter().map(|p| p.join().unwrap()).collect()
    });
    parts.into_iter().fold(Tally::default(), |a, b| Tally {
        lost: a.lost + b.lost,
        fewer: a.fewer + b.fewer,
        other_fewer: a.other_fewer + b.other_fewer,
        wrong: a.wrong + b.wrong,
        twice: a.twice + b.twice,
        postures: a.postures + b.postures,
    })
}

fn hold(name: &str, t: &Tally) {
    let n = targets();
    println!(
        "{name}: {n} targets, {:.2} postures each; lost {}, fewer than the other way {}, more {}, \
         wrong {}, twice {}",
        t.postures as f64 / n as f64,
        t.lost,
        t.fewer,
        t.other_fewer,
        t.wrong,
        t.twice
    );
    let most = n / 1000;
    assert!(
        t.lost <= most && t.fewer <= most && t.other_fewer <= most,
        "{name}"
    );
    assert!(t.wrong == 0 && t.twice == 0, "{name}");
}

#[test]
fn closed_forms_and_many_starts_find_the_same_branches() {
    for (name, cell) in [("meeting", meeting()), ("parallel", parallel())] {
        let solver = Solver::new(&cell, &cell.nominal);
        assert!(solver.is_closed_form(), "{name}");
        let numeric = solver.without_closed_form();
        hold(name, &many(&cell, &numeric, Some(&solver), 12));
        hold(&format!("{name}, closed"), &many(&cell, &solver, None, 13));
    }
}

#[test]
fn many_starts_serve_arms_without_a_closed_form() {
    for (name, cell) in [
        ("offset wrist", offset()),
        ("odd five", odd_five()),
        ("odd four", odd_four()),
    ] {
        let solver = Solver::new(&cell, &cell.nominal);
        assert!(!solver.is_closed_form(), "{name}");
        hold(name, &many(&cell, &solver, None, 14));
    }
}
