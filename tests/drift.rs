//! Lines over time: against published figures, and by simulation: how often nothing is called a drift, and
//! how often a drift is found.

use notchpin::history::At;
use notchpin::history::LEVEL;
use notchpin::history::Sides;
use notchpin::history::holm;
use notchpin::history::line;
use serde_json::Value;

fn json(path: &str) -> Value {
    let path = format!("{}/tests/reference/{path}", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn numbers(list: &Value) -> Vec<f64> {
    list.as_array()
        .unwrap()
        .iter()
        .map(|v| v.as_f64().unwrap())
        .collect()
}

#[track_caller]
fn close(found: f64, expected: f64, relative: f64) {
    assert!(
        (found - expected).abs() <= relative * expected.abs(),
        "{found:.17e}, expected {expected:.17e}"
    );
}

/// All u alike and far too small: the uncertainty then comes from the scatter alone, as in JCGM 100:2008,
/// H.3, and in the certified figures of NIST.
fn from_scatter(x: &[f64], y: &[f64], u: f64) -> notchpin::history::Line {
    let at = x.iter().zip(y).map(|(day, value)| At {
        day: *day,
        value: *value,
        u,
    });
    let found = line(&at.collect::<Vec<_>>(), Sides::Both).unwrap();
    assert!(found.scatter > 10.0, "{}", found.scatter);
    found
}

/// Slope and its standard uncertainty of the thermometer, as printed (0.00218, 0.00067) and to 15 digits. Its
/// 95 % interval: t of 9 degrees of freedom is 2.262157 (table G.2: 2.26). Intercept and correlation, of
/// which a drift makes no use, are tested with the line itself in `standalone_fits`.
#[test]
fn the_thermometer_of_the_guide() {
    let file = json("published/gum_h3_thermometer.json");
    let (t, b) = (numbers(&file["t"]), numbers(&file["b"]));
    let found = from_scatter(&t, &b, 1e-5);
    for (key, value) in [("y2", found.per_day), ("u_y2", found.u_per_day)] {
        close(value, file["recomputed"][key].as_f64().unwrap(), 1e-10);
        let printed = file["published"][key].as_str().unwrap();
        let decimals = printed.split_once('.').unwrap().1.len();
        assert_eq!(format!("{value:.decimals$}"), printed);
    }
    assert_eq!(found.dof, 9);
    close(found.u95_per_day / found.u_per_day, 2.262_157, 1e-6);
    // s = 0.0035 as printed is what one value scatters.
    assert_eq!(format!("{:.4}", found.scatter * 1e-5), "0.0035");
}

/// NIST StRD, Norris: certified slope, its standard deviation, residual standard deviation. (NoInt1 and NoInt2
/// have no intercept, Pontius is a quadratic: a drift fits neither.)
#[test]
fn norris() {
    let root = env!("CARGO_MANIFEST_DIR");
    let path = format!("{root}/tests/reference/published/nist_strd/data/Norris.csv");
    let text = std::fs::read_to_string(path).unwrap();
    let rows: Vec<(f64, f64)> = text
        .lines()
        .skip(1)
        .map(|l| l.split_once(',').unwrap())
        .map(|(y, x)| (x.parse().unwrap(), y.parse().unwrap()))
        .collect();
    let (x, y): (Vec<f64>, Vec<f64>) = rows.into_iter().unzip();
    let file = json("published/nist_strd/linear.json");
    let sets = file["datasets"].as_array().unwrap();
    let certified = sets.iter().find(|d| d["name"] == "Norris").unwrap();
    let found = from_scatter(&x, &y, 1e-3);
    let slope = &certified["params"][1];
    close(found.per_day, slope["estimate"].as_f64().unwrap(), 1e-12);
    close(found.u_per_day, slope["sd"].as_f64().unwrap(), 1e-11);
    close(
        found.scatter * 1e-3,
        certified["residual_sd"].as_f64().unwrap(),
        1e-11,
    );
}

/// Normal deviates (Box, Muller 1958) from a fixed seed.
struct Dice(fastrand::Rng);

impl Dice {
    fn normal(&mut self) -> f64 {
        let (a, b) = (1.0 - self.0.f64(), self.0.f64());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
}

/// Parameters of a cell.
const PARAMETERS: usize = 20;
const CELLS: usize = 8000;

/// How often any of 20 parameters is called a drift, in cells in which the first one drifts by so many
/// standard uncertainties of its slope; and how often that one is. Values are `scatter` times as uncertain
/// as stated.
fn share(days: &[f64], sigmas: f64, scatter: f64, seed: u64) -> [f64; 2] {
    let mut dice = Dice(fastrand::Rng::with_seed(seed));
    let (mut any, mut first) = (0, 0);
    let n = days.len() as f64;
    let mean = days.iter().sum::<f64>() / n;
    let spread: f64 = days.iter().map(|d| (d - mean).powi(2)).sum();
    for _ in 0..CELLS {
        let chances: Vec<f64> = (0..PARAMETERS)
            .map(|k| {
                let u = 0.01 * (1 + k) as f64;
                let slope = if k == 0 {
                    sigmas * u / spread.sqrt()
                } else {
                    0.0
                };
                let values: Vec<At> = days
                    .iter()
                    .map(|&day| At {
                        day,
                        value: 7.0 + slope * day + scatter * u * dice.normal(),
                        u,
                    })
                    .collect();
                line(&values, Sides::Both).unwrap().probability
            })
            .collect();
        let corrected = holm(&chances);
        any += usize::from(corrected.iter().any(|p| *p <= LEVEL));
        first += usize::from(corrected[0] <= LEVEL);
    }
    [any, first].map(|n| n as f64 / CELLS as f64)
}

/// Three standard deviations of a share (binomial law).
fn slack(share: f64) -> f64 {
    3.0 * (share * (1.0 - share) / CELLS as f64).sqrt()
}

/// 20 independent parameters of which none drifts. With two values each: 1 − (1 − 0.05/20)^20 = 4.88 % of the
/// cells. With more, those that by chance scatter more than stated are judged with Student's t, and fewer are
/// called a drift; never more than 5 %.
#[test]
fn nothing_is_called_a_drift_more_often_than_stated() {
    let [two, _] = share(&[0.0, 91.0], 0.0, 1.0, 11);
    assert!((two - 0.0488).abs() <= slack(0.0488), "{two}");
    for (days, seed) in [
        (vec![0.0, 40.0, 200.0], 12),
        (vec![0.0, 30.0, 60.0, 90.0, 120.0], 13),
        ((0..12).map(|k| 30.0 * f64::from(k)).collect(), 14),
    ] {
        let [any, _] = share(&days, 0.0, 1.0, seed);
        assert!(any <= 0.05 + slack(0.05), "{days:?}: {any}");
        assert!(any > 0.02, "{days:?}: {any}");
    }
}

/// Values that scatter three times as much as stated, 12 of each: nearly all are seen to (P(9 χ²_10 > 18.3) =
/// 0.98), and few are called a drift by mistake. Of those not seen to, P(|3 z| > 3.02) would be 31 %.
#[test]
fn more_scatter_than_stated_makes_few_drifts() {
    let days: Vec<f64> = (0..12).map(|k| 30.0 * f64::from(k)).collect();
    let [any, _] = share(&days, 0.0, 3.0, 21);
    assert!(any <= 0.25, "{any}");
    // Without looking at the scatter nearly all cells would have one: 1 − (1 − 0.31)^20 > 0.99.
}

/// A drift of 3.6 standard uncertainties of its slope among 20 parameters: found where z + 3.6 is beyond the
/// normal quantile of 1 − 0.05/40, 3.0233: P(z > −0.5767) = 0.7179. (That another one is called a drift first and
/// lowers the bar adds less than 0.002.)
#[test]
fn a_drift_is_found_as_often_as_the_normal_law_says() {
    let [_, first] = share(&[0.0, 91.0], 3.6, 1.0, 31);
    assert!((first - 0.7179).abs() <= slack(0.7179) + 0.002, "{first}");
}

/// The same looked at by itself: P(z > 1.95996 − 3.6) = P(z > −1.64004) = 0.9495.
#[test]
fn a_drift_looked_at_alone() {
    let mut dice = Dice(fastrand::Rng::with_seed(41));
    let u = 0.3;
    let slope = 3.6 * u * 2f64.sqrt() / 50.0;
    let found = (0..CELLS)
        .filter(|_| {
            let at = |day: f64, z: f64| At {
                day,
                value: slope * day + u * z,
                u,
            };
            let values = [at(0.0, dice.normal()), at(50.0, dice.normal())];
            let line = line(&values, Sides::Both).unwrap();
            let real = line.probability <= LEVEL;
            assert_eq!(real, line.per_day.abs() >= line.u95_per_day);
            real
        })
        .count();
    let share = found as f64 / CELLS as f64;
    assert!((share - 0.9495).abs() <= slack(0.9495), "{share}");
}
