//! What is read off R, beside a decomposition of the whole matrix and beside reference cases.

use crate::fit::solve::Dependent;
use crate::fit::solve::Factor;
use crate::fit::solve::Tiles;
use crate::fit::solve::tests::spread;
use nalgebra::DMatrix;
use serde_json::Value;

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
