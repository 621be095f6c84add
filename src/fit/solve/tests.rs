//! The solver itself: damping, rank, points that are not there, bounds.

use crate::fit::solve::Ending;
use crate::fit::solve::Limits;
use crate::fit::solve::Problem;
use crate::fit::solve::Solver;
use crate::fit::solve::Tiles;

mod factor;

/// A problem from two closures: residuals, and the rows of J.
struct Case<R, J> {
    unknowns: usize,
    residuals: usize,
    r: R,
    j: J,
    evaluations: usize,
}

impl<R: Fn(&[f64]) -> Vec<f64>, J: Fn(&[f64]) -> Vec<Vec<f64>>> Problem for Case<R, J> {
    fn unknowns(&self) -> usize {
        self.unknowns
    }

    fn residuals(&self) -> usize {
        self.residuals
    }

    fn residuals_at(&mut self, x: &[f64], r: &mut [f64]) {
        self.evaluations += 1;
        r.copy_from_slice(&(self.r)(x));
    }

    fn linearise(&mut self, x: &[f64], r: &mut [f64], j: &mut Tiles) {
        self.residuals_at(x, r);
        for (row, values) in (self.j)(x).iter().enumerate() {
            j.set_row(row, values);
        }
    }
}

fn case<R: Fn(&[f64]) -> Vec<f64>, J: Fn(&[f64]) -> Vec<Vec<f64>>>(
    unknowns: usize,
    residuals: usize,
    r: R,
    j: J,
) -> Case<R, J> {
    Case {
        unknowns,
        residuals,
        r,
        j,
        evaluations: 0,
    }
}

/// Evenly spread in −0.5 .. 0.5, the same at every run.
fn spread(seed: u64, count: usize) -> Vec<f64> {
    let mut state = seed;
    let mut next = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1u64 << 53) as f64 - 0.5
    };
    (0..count).map(|_| next()).collect()
}

#[test]
fn only_the_sum_of_two_unknowns_matters_and_the_step_is_the_shortest() {
    let mut problem = case(
        2,
        3,
        |x| vec![x[0] + x[1] - 4.0, 2.0 * (x[0] + x[1]) - 8.0, 0.0],
        |_| vec![vec![1.0, 1.0], vec![2.0, 2.0], vec![0.0, 0.0]],
    );
    let mut solver = Solver::new();
    let solution = solver.solve(&mut problem, &[1.0, 0.0]);
    assert_eq!(solution.ending, Ending::Converged);
    // 3 are missing; the shortest change gives 1.5 to each.
    assert!(
        (solution.x[0] - 2.5).abs() < 1e-14 && (solution.x[1] - 1.5).abs() < 1e-14,
        "{:?}",
        solution.x
    );
    let spectrum = solution
        .factor
        .singular_values_scaled(&[1.0, 1.0])
        .expect("finite");
    assert!((spectrum.values[0] - 10f64.sqrt()).abs() < 1e-14 && spectrum.values[1] < 1e-15);
    let free = spectrum.null_space(1e-8);
    assert_eq!(free.ncols(), 1);
    assert!(
        (free[(0, 0)] + free[(1, 0)]).abs() < 1e-14,
        "the difference is free"
    );
}

#[test]
fn damping_works_where_columns_depend_on_each_other_or_are_zero() {
    // Powell's valley in u = x0 + x1 and x2; x3 has no effect. The minimum u = 1, x2 = 1 needs damped steps.
    let r = |x: &[f64]| {
        let u = x[0] + x[1];
        vec![10.0 * (x[2] - u * u), 1.0 - u]
    };
    let j = |x: &[f64]| {
        let u = x[0] + x[1];
        vec![
            vec![-20.0 * u, -20.0 * u, 10.0, 0.0],
            vec![-1.0, -1.0, 0.0, 0.0],
        ]
    };
    let mut problem = case(4, 2, r, j);
    let mut solver = Solver::new();
    let solution = solver.solve(&mut problem, &[-1.2, 0.0, 1.0, 7.0]);
    assert_eq!(solution.ending, Ending::Converged);
    assert!(
        (solution.x[0] + solution.x[1] - 1.0).abs() < 1e-9 && (solution.x[2] - 1.0).abs() < 1e-9
    );
    assert_eq!(
        solution.x[3], 7.0,
        "an unknown without effect is left alone"
    );
    assert!(
        solution.evaluations > solution.iterations + 1,
        "some step was taken back"
    );
    assert!(solution.factor.covariance().is_err());
}

#[test]
fn a_trial_that_is_not_a_number_is_taken_back() {
    // ln x = −2: the first undamped step from 10 leads to x < 0, where the logarithm is NaN.
    let mut problem = case(
        1,
        2,
        |x| vec![x[0].ln() + 2.0, 0.0],
        |x| vec![vec![1.0 / x[0]], vec![0.0]],
    );
    let mut solver = Solver::new();
    let solution = solver.solve(&mut problem, &[10.0]);
    assert_eq!(solution.ending, Ending::Converged);
    assert!((solution.x[0] - (-2f64).exp()).abs() < 1e-12);
    assert!(solution.residuals.iter().all(|r| r.is_finite()));
}

#[test]
fn derivatives_that_are_not_numbers_also_take_a_trial_back() {
    // The residual stays finite everywhere, its derivative does not exist for x < 0.
    let j = |x: &[f64]| {
        vec![vec![if x[0] < 0.0 {
            f64::NAN
        } else {
            0.5 / x[0].sqrt()
        }]]
    };
    let mut problem = case(1, 1, |x| vec![x[0].abs().sqrt() - 0.1], j);
    let mut solver = Solver::new();
    let solution = solver.solve(&mut problem, &[0.09]);
    assert_eq!(solution.ending, Ending::Converged);
    assert!((solution.x[0] - 0.01).abs() < 1e-9, "{:?}", solution.x);
    assert!(solution.factor.r(0, 0).is_finite() && solution.jacobian.get(0, 0).is_finite());
}

#[test]
fn a_start_that_is_not_a_number_names_the_residual() {
    let mut problem = case(
        1,
        3,
        |x| vec![x[0], 1.0, x[0].sqrt()],
        |_| vec![vec![1.0], vec![0.0], vec![1.0]],
    );
    let mut solver = Solver::new();
    assert_eq!(
        solver.solve(&mut problem, &[-1.0]).ending,
        Ending::NotFinite { residual: Some(2) }
    );
    let mut problem = case(
        1,
        2,
        |x| vec![x[0], 1.0],
        |_| vec![vec![1.0], vec![f64::INFINITY]],
    );
    assert_eq!(
        solver.solve(&mut problem, &[1.0]).ending,
        Ending::NotFinite { residual: Some(1) }
    );
    let mut problem = case(1, 1, |_| vec![1e200], |_| vec![vec![1.0]]);
    assert_eq!(
        solver.solve(&mut problem, &[1.0]).ending,
        Ending::NotFinite { residual: None }
    );
}

#[test]
fn evaluations_are_bounded() {
    // exp(−x) has its least value at infinity.
    let mut problem = case(
        1,
        1,
        |x| vec![(-x[0]).exp()],
        |x| vec![vec![-(-x[0]).exp()]],
    );
    let mut solver = Solver::with_limits(Limits {
        evaluations: 20,
        ..Limits::default()
    });
    let solution = solver.solve(&mut problem, &[0.0]);
    let Ending::IterationsSpent {
        cost,
        offset,
        evaluations,
    } = solution.ending
    else {
        panic!("{}", solution.ending)
    };
    assert!(
        (offset - 1.0).abs() < 1e-12,
        "all of the residual is still removable"
    );
    assert_eq!((cost, evaluations), (solution.cost, 20));
    assert_eq!(problem.evaluations, 20);
}

#[test]
fn wrong_derivatives_end_without_a_downhill_step() {
    let mut problem = case(
        1,
        2,
        |x| vec![x[0] - 3.0, 1.0],
        |_| vec![vec![-1.0], vec![0.0]],
    );
    let mut solver = Solver::new();
    let solution = solver.solve(&mut problem, &[1.0]);
    assert!(
        matches!(solution.ending, Ending::NoDownhillStep { offset, .. } if offset > 0.1),
        "{}",
        solution.ending
    );
    assert_eq!(solution.x, [1.0]);
    assert!(solution.evaluations < 100);
}

#[test]
fn fewer_residuals_than_unknowns_give_the_shortest_step() {
    let mut problem = case(
        3,
        1,
        |x| vec![x[0] + x[1] + x[2] - 3.0],
        |_| vec![vec![1.0; 3]],
    );
    let mut solver = Solver::new();
    let solution = solver.solve(&mut problem, &[0.0; 3]);
    assert_eq!(solution.ending, Ending::Converged);
    assert!(
        solution.x.iter().all(|x| (x - 1.0).abs() < 1e-14),
        "{:?}",
        solution.x
    );
    assert!(solution.factor.covariance().is_err());
}

#[test]
fn one_solver_serves_problems_of_different_sizes() {
    let mut solver = Solver::new();
    for n in [5, 2, 9] {
        let target = spread(n as u64, n);
        let mut problem = case(
            n,
            n,
            |x| x.iter().zip(&target).map(|(x, t)| x - t).collect(),
            |_| {
                (0..n)
                    .map(|i| (0..n).map(|k| f64::from(u8::from(i == k))).collect())
                    .collect()
            },
        );
        let solution = solver.solve(&mut problem, &vec![1.0; n]);
        assert_eq!(solution.ending, Ending::Converged);
        assert!(
            solution
                .x
                .iter()
                .zip(&target)
                .all(|(x, t)| (x - t).abs() < 1e-15)
        );
    }
}
