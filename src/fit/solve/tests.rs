use crate::fit::solve::Dependent;
use crate::fit::solve::Ending;
use crate::fit::solve::Factor;
use crate::fit::solve::Limits;
use crate::fit::solve::Problem;
use crate::fit::solve::Solver;
use crate::fit::solve::Tiles;
use nalgebra::DMatrix;
use serde_json::Value;

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

fn tiles_of(matrix: &DMatrix<f64>) -> Tiles {
    let mut tiles = Tiles::new(matrix.nrows(), matrix.ncols());
    for i in 0..matrix.nrows() {
        for k in 0..matrix.ncols() {
            tiles.set(i, k, matrix[(i, k)]);
        }
    }
    tiles
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

#[test]
fn covariance_leverages_and_singular_values_agree_with_a_decomposition_of_the_whole_matrix() {
    for (m, n) in [(1, 1), (9, 3), (150, 15), (161, 7), (900, 39)] {
        let mut matrix = DMatrix::from_row_slice(m, n, &spread((m * n) as u64, m * n));
        for k in 0..n {
            matrix.column_mut(k).scale_mut(10f64.powi(k as i32 % 5 - 2));
        }
        let r = spread(7, m);
        let tiles = tiles_of(&matrix);
        let factor = Factor::of(&tiles, &r, m);
        let svd = matrix.clone().svd(true, true);
        let (u, v) = (svd.u.expect("U"), svd.v_t.expect("Vᵀ").transpose());
        let v_scaled = DMatrix::from_fn(n, n, |i, k| v[(i, k)] / svd.singular_values[k]);
        let expected = &v_scaled * v_scaled.transpose();
        let covariance = factor.covariance().expect("full rank");
        for i in 0..n {
            for k in 0..n {
                let unit = (expected[(i, i)] * expected[(k, k)]).sqrt();
                assert!(
                    (covariance[(i, k)] - expected[(i, k)]).abs() < 1e-11 * unit,
                    "{m} x {n}, ({i}, {k})"
                );
            }
        }
        let leverages = factor.leverages(&tiles).expect("full rank");
        assert_eq!(leverages.len(), m);
        for (i, leverage) in leverages.iter().enumerate() {
            assert!(
                (leverage - u.row(i).norm_squared()).abs() < 1e-11,
                "{m} x {n}, row {i}"
            );
        }
        assert!((leverages.iter().sum::<f64>() - n as f64).abs() < 1e-11 * n as f64);
        let scale: Vec<f64> = (0..n).map(|k| 1.0 + k as f64).collect();
        let scaled = DMatrix::from_fn(m, n, |i, k| matrix[(i, k)] * scale[k]);
        let mut expected: Vec<f64> = scaled
            .svd(false, false)
            .singular_values
            .iter()
            .copied()
            .collect();
        expected.sort_by(|a, b| b.total_cmp(a));
        let found = factor
            .singular_values_scaled(&scale)
            .expect("finite")
            .values;
        assert!(
            found
                .iter()
                .zip(&expected)
                .all(|(a, b)| (a - b).abs() < 1e-13 * expected[0]),
            "{m} x {n}"
        );
        let bound = factor.condition_bound_scaled(&scale).expect("full rank");
        let condition = expected[0] / expected[n - 1];
        assert!(
            bound > condition * (1.0 - 1e-9) && bound < condition * n as f64 * (1.0 + 1e-9),
            "{m} x {n}"
        );
        let gradient = matrix.transpose() * nalgebra::DVector::from_column_slice(&r);
        for k in 0..n {
            let along: f64 = (0..=k).map(|i| factor.r(i, k) * factor.projected(i)).sum();
            assert!(
                (along - gradient[k]).abs() < 1e-12 * matrix.column(k).norm() * r.len() as f64,
                "Rᵀ(Qᵀr) = Jᵀr"
            );
        }
    }
}

#[test]
fn leading_rows_can_be_factored_alone() {
    let matrix = DMatrix::from_row_slice(400, 6, &spread(11, 2_400));
    let r = spread(12, 400);
    let alone = Factor::of(&tiles_of(&matrix.rows(0, 251).into_owned()), &r[..251], 251);
    let leading = Factor::of(&tiles_of(&matrix), &r, 251);
    for i in 0..6 {
        for k in i..6 {
            assert!((alone.r(i, k).abs() - leading.r(i, k).abs()).abs() < 1e-13);
        }
        assert!((alone.projected(i).abs() - leading.projected(i).abs()).abs() < 1e-13);
    }
}

#[test]
fn a_dependent_column_is_named() {
    let tiles = tiles_of(&DMatrix::from_row_slice(
        3,
        3,
        &[1.0, 0.0, 5.0, 2.0, 0.0, 1.0, 3.0, 0.0, 1.0],
    ));
    let factor = Factor::of(&tiles, &[0.0; 3], 3);
    assert_eq!(factor.covariance().unwrap_err(), Dependent { column: 1 });
    assert_eq!(
        factor.leverages(&tiles).unwrap_err(),
        Dependent { column: 1 }
    );
}

#[test]
fn null_spaces_are_those_of_the_reference() {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/reference/generated/null_space.json"
    );
    let root: Value =
        serde_json::from_str(&std::fs::read_to_string(path).expect("the reference")).expect("JSON");
    let numbers = |value: &Value| -> Vec<f64> {
        value
            .as_array()
            .expect("a list")
            .iter()
            .map(|v| v.as_f64().expect("a number"))
            .collect()
    };
    let cases = root["cases"].as_array().expect("cases");
    assert_eq!(cases.len(), 20);
    let mut projectors = 0;
    for case in cases {
        let name = &case["name"];
        let rows: Vec<Vec<f64>> = case["matrix"]
            .as_array()
            .expect("rows")
            .iter()
            .map(numbers)
            .collect();
        let (m, n) = (rows.len(), rows[0].len());
        let tiles = tiles_of(&DMatrix::from_fn(m, n, |i, k| rows[i][k]));
        let factor = Factor::of(&tiles, &vec![0.0; m], m);
        let spectrum = factor
            .singular_values_scaled(&vec![1.0; n])
            .expect("finite");
        let expected = numbers(&case["expected"]["singular_values"]);
        for (found, expected) in spectrum.values.iter().zip(&expected) {
            assert!(
                (found - expected).abs() < 1e-14 * spectrum.values[0],
                "{name}: {found} for {expected}"
            );
        }
        let free = spectrum.null_space(1e-12);
        assert_eq!(
            n - free.ncols(),
            case["expected"]["rank"].as_u64().expect("a rank") as usize,
            "{name}"
        );
        let Some(projector) = case["expected"]["null_projector"].as_array() else {
            continue;
        };
        projectors += 1;
        let found = &free * free.transpose();
        for (i, row) in projector.iter().enumerate() {
            for (k, expected) in numbers(row).iter().enumerate() {
                assert!(
                    (found[(i, k)] - expected).abs() < 1e-10,
                    "{name} ({i}, {k})"
                );
            }
        }
    }
    assert!(projectors >= 10, "{projectors} cases state a projector");
}
