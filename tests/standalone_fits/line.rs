use nalgebra::DMatrix;
use notchpin::fit::standalone::Approach;
use notchpin::fit::standalone::checks::InputError;
use notchpin::fit::standalone::line::LineError;
use notchpin::fit::standalone::line::LineModel;
use notchpin::fit::standalone::line::LineRow;
use notchpin::fit::standalone::line::Term;
use notchpin::fit::standalone::line::fit;
use notchpin::fit::standalone::lsq;

use crate::support::cases;
use crate::support::close;
use crate::support::json;
use crate::support::near;
use crate::support::num;
use crate::support::nums;
use crate::support::printed;

pub fn row(reading: f64, position: f64) -> LineRow {
    LineRow {
        reading,
        position,
        approach: Approach::Unknown,
        weight: 1.0,
    }
}

pub fn side(direction: f64) -> Approach {
    match direction {
        1.0 => Approach::Rising,
        -1.0 => Approach::Falling,
        0.0 => Approach::Unknown,
        other => panic!("direction {other}"),
    }
}

#[test]
fn generated_lines() {
    for case in cases("generated/line_fits.json", 24) {
        let (name, kind) = (
            case["name"].as_str().unwrap(),
            case["kind"].as_str().unwrap(),
        );
        let mut rows: Vec<LineRow> = nums(&case["x"])
            .into_iter()
            .zip(nums(&case["y"]))
            .map(|(x, y)| row(x, y))
            .collect();
        let mut model = LineModel::PLAIN;
        // The file's reversal value is forward minus backward, d/2 · p2: minus the lost motion.
        let mut signs = vec![1.0, 1.0];
        match kind {
            "ols" => {}
            "wls" => rows
                .iter_mut()
                .zip(nums(&case["weight"]))
                .for_each(|(r, w)| r.weight = w),
            "reversal" => {
                rows.iter_mut()
                    .zip(nums(&case["direction"]))
                    .for_each(|(r, d)| r.approach = side(d));
                model = LineModel::WITH_REVERSAL;
                signs = vec![1.0, 1.0, -1.0];
            }
            "origin" => {
                model.offset = Term::Known(0.0);
                signs = vec![1.0];
            }
            other => panic!("kind {other}"),
        }
        let found = fit(&rows, model).unwrap_or_else(|e| panic!("{name}: {e}"));
        let expected = &case["expected"];
        let size = rows.iter().map(|r| r.position.abs()).fold(0.0, f64::max);
        let params = nums(&expected["params"]);
        let sd = nums(&expected["sd"]);
        assert_eq!(found.lsq.params.len(), params.len(), "{name}");
        assert_eq!(found.lsq.dof as f64, num(&expected["dof"]), "{name}");
        for i in 0..params.len() {
            near(
                &format!("{name} parameter {i}"),
                found.lsq.params[i] * signs[i],
                params[i],
                1e-12 * size,
            );
            close(
                &format!("{name} sd {i}"),
                found.lsq.sd(i).unwrap(),
                sd[i],
                1e-8,
            );
            for j in 0..params.len() {
                let (c, root) = (&expected["unscaled_covariance"], |k: usize| {
                    num(&expected["unscaled_covariance"][k][k]).sqrt()
                });
                let covariance = found.lsq.covariance[(i, j)] * signs[i] * signs[j];
                near(
                    &format!("{name} covariance {i} {j}"),
                    covariance,
                    num(&c[i][j]),
                    1e-11 * root(i) * root(j),
                );
            }
        }
        close(
            &format!("{name} rss"),
            found.lsq.rss,
            num(&expected["rss"]),
            1e-8,
        );
        close(
            &format!("{name} residual sd"),
            found.lsq.residual_sd().unwrap(),
            num(&expected["residual_sd"]),
            1e-8,
        );
        match expected["correlation01"].as_f64() {
            Some(r) => near(name, found.offset_scale_correlation().unwrap(), r, 1e-11),
            None => assert_eq!(found.offset_scale_correlation(), None, "{name}"),
        }
        let largest = found
            .lsq
            .residuals
            .iter()
            .fold(0.0f64, |m, r| m.max(r.abs()));
        close(
            &format!("{name} largest residual"),
            largest,
            num(&expected["max_abs_residual"]),
            1e-8,
        );
    }
}

#[test]
fn gum_thermometer() {
    let file = json("published/gum_h3_thermometer.json");
    let t0 = num(&file["t0"]);
    let (t, b) = (nums(&file["t"]), nums(&file["b"]));
    let rows: Vec<LineRow> = t.iter().zip(&b).map(|(t, b)| row(t - t0, *b)).collect();
    let found = fit(&rows, LineModel::PLAIN).unwrap();
    let (b30, u30) = found.predict(30.0 - t0, Approach::Unknown);
    let figures = [
        ("y1", "y1", found.offset.value),
        ("u_y1", "u_y1", found.offset.sd.unwrap()),
        ("y2", "y2", found.scale.value),
        ("u_y2", "u_y2", found.scale.sd.unwrap()),
        (
            "r_y1_y2",
            "r_y1_y2",
            found.offset_scale_correlation().unwrap(),
        ),
        ("s", "s", found.lsq.residual_sd().unwrap()),
        ("b_at_30", "b_at_30", b30),
        ("u_b_at_30", "u_b_at_30", u30.unwrap()),
    ];
    for (name, key, value) in figures {
        printed(name, value, &file["published"][key]);
        close(name, value, num(&file["recomputed"][key]), 1e-11);
    }
    for (i, t) in t.iter().enumerate() {
        printed(
            "predicted",
            found.predict(t - t0, Approach::Unknown).0,
            &file["published"]["predicted"][i],
        );
        printed(
            "difference",
            found.lsq.residuals[i],
            &file["published"]["difference"][i],
        );
    }
}

fn csv(name: &str) -> (Vec<f64>, Vec<f64>) {
    let path = format!(
        "{}/tests/reference/published/nist_strd/data/{name}.csv",
        env!("CARGO_MANIFEST_DIR")
    );
    let text = std::fs::read_to_string(path).unwrap();
    assert_eq!(text.lines().next(), Some("y,x"));
    let split = |line: &str| {
        line.split_once(',')
            .map(|(y, x)| (y.parse::<f64>().unwrap(), x.parse::<f64>().unwrap()))
    };
    text.lines()
        .skip(1)
        .map(|line| split(line).expect("two columns"))
        .unzip()
}

fn certified(name: &str) -> serde_json::Value {
    let file = json("published/nist_strd/linear.json");
    file["datasets"]
        .as_array()
        .unwrap()
        .iter()
        .find(|d| d["name"] == name)
        .unwrap()
        .clone()
}

/// Measured elsewhere for column-scaled QR in double precision: 12.1 digits for both sets.
#[test]
fn nist_norris() {
    let (y, x) = csv("Norris");
    assert_eq!(y.len(), 36);
    let rows: Vec<LineRow> = x.iter().zip(&y).map(|(x, y)| row(*x, *y)).collect();
    let found = fit(&rows, LineModel::PLAIN).unwrap();
    let c = certified("Norris");
    for (i, term) in [found.offset, found.scale].into_iter().enumerate() {
        close(
            "estimate",
            term.value,
            num(&c["params"][i]["estimate"]),
            1e-12,
        );
        close("sd", term.sd.unwrap(), num(&c["params"][i]["sd"]), 1e-12);
    }
    close(
        "residual sd",
        found.lsq.residual_sd().unwrap(),
        num(&c["residual_sd"]),
        1e-12,
    );
    close("rss", found.lsq.rss, num(&c["anova"]["residual_ss"]), 1e-12);
}

/// A quadratic, so through the least squares under the line.
#[test]
fn nist_pontius() {
    let (y, x) = csv("Pontius");
    assert_eq!(y.len(), 40);
    let design = DMatrix::from_fn(y.len(), 3, |i, j| x[i].powi(j as i32));
    let found = lsq::solve(&design, &y, None).unwrap();
    let c = certified("Pontius");
    for i in 0..3 {
        close(
            "estimate",
            found.params[i],
            num(&c["params"][i]["estimate"]),
            1e-11,
        );
        close(
            "sd",
            found.sd(i).unwrap(),
            num(&c["params"][i]["sd"]),
            1e-10,
        );
    }
    close(
        "residual sd",
        found.residual_sd().unwrap(),
        num(&c["residual_sd"]),
        1e-10,
    );
}

#[test]
fn what_is_missing_is_named() {
    let one_station = [row(100.0, 5.0), row(100.0, 5.1), row(100.0, 5.2)];
    let error = fit(&one_station, LineModel::PLAIN).unwrap_err();
    assert!(
        matches!(error, LineError::OneStation { reading: 100.0, .. }),
        "{error}"
    );

    let rising: Vec<LineRow> = (0..4)
        .map(|i| LineRow {
            approach: Approach::Rising,
            ..row(f64::from(i), 1.0)
        })
        .collect();
    let error = fit(&rising, LineModel::WITH_REVERSAL).unwrap_err();
    assert!(
        matches!(
            error,
            LineError::OneSide {
                rising: 4,
                falling: 0,
                ..
            }
        ),
        "{error}"
    );
    assert!(error.to_string().contains("both sides"));

    let error = fit(&[row(1.0, 2.0)], LineModel::PLAIN).unwrap_err();
    assert_eq!(
        error,
        LineError::Input(InputError::TooFew {
            what: "readings",
            found: 1,
            needed: 2
        })
    );
    let error = fit(&[row(1.0, 2.0), row(2.0, f64::INFINITY)], LineModel::PLAIN).unwrap_err();
    assert_eq!(
        error,
        LineError::Input(InputError::NotFinite {
            what: "the position",
            row: 1,
            value: f64::INFINITY
        })
    );
    let bad = LineRow {
        weight: -1.0,
        ..row(2.0, 2.0)
    };
    assert_eq!(
        fit(&[row(1.0, 2.0), bad], LineModel::PLAIN).unwrap_err(),
        LineError::Input(InputError::Weight {
            row: 1,
            value: -1.0
        })
    );
    let huge = [row(1e300, 1e300), row(-1e300, 1.0), row(2e300, 3.0)];
    assert!(matches!(
        fit(&huge, LineModel::PLAIN),
        Err(LineError::Input(InputError::OutOfRange { .. }))
    ));
}

/// A row of weight 0 changes nothing, whatever it says.
#[test]
fn weight_zero_leaves_a_row_out() {
    let rows = [row(0.0, 1.0), row(10.0, 11.2), row(20.0, 20.9)];
    let mut more = rows.to_vec();
    more.insert(
        1,
        LineRow {
            weight: 0.0,
            ..row(5.0, 900.0)
        },
    );
    let (a, b) = (
        fit(&rows, LineModel::PLAIN).unwrap(),
        fit(&more, LineModel::PLAIN).unwrap(),
    );
    near("offset", a.offset.value, b.offset.value, 1e-13);
    near("sd", a.scale.sd.unwrap(), b.scale.sd.unwrap(), 1e-13);
    assert_eq!(a.lsq.dof, b.lsq.dof);
}
