//! Reading reference files, and comparisons that say what differed.

use nalgebra::Matrix3;
use nalgebra::Vector3;
use serde_json::Value;

pub fn json(path: &str) -> Value {
    let path = format!("{}/tests/reference/{path}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}"));
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// The cases of a generated file; refuses another number of them than the file is known to hold.
pub fn cases(path: &str, count: usize) -> Vec<Value> {
    let cases = json(path)["cases"]
        .as_array()
        .expect("a list of cases")
        .clone();
    assert_eq!(cases.len(), count, "{path}");
    cases
}

pub fn num(v: &Value) -> f64 {
    v.as_f64().unwrap_or_else(|| panic!("{v} is not a number"))
}

pub fn nums(v: &Value) -> Vec<f64> {
    v.as_array()
        .unwrap_or_else(|| panic!("{v} is not a list"))
        .iter()
        .map(num)
        .collect()
}

/// A point with two or three coordinates.
pub fn vec3(v: &Value) -> Vector3<f64> {
    let n = nums(v);
    Vector3::new(n[0], n[1], n.get(2).copied().unwrap_or(0.0))
}

pub fn points(v: &Value) -> Vec<Vector3<f64>> {
    v.as_array()
        .expect("a list of points")
        .iter()
        .map(vec3)
        .collect()
}

pub fn mat3(v: &Value) -> Matrix3<f64> {
    let rows = v.as_array().expect("rows");
    Matrix3::from_fn(|i, j| num(&rows[i][j]))
}

/// `|found − expected| ≤ tolerance`; not a number is refused.
#[track_caller]
pub fn near(what: &str, found: f64, expected: f64, tolerance: f64) {
    let off = (found - expected).abs();
    assert!(
        off <= tolerance,
        "{what}: found {found:.17e}, expected {expected:.17e}, off by {off:.2e}, allowed {tolerance:.2e}"
    );
}

/// Relative, for quantities that are not near zero by cancellation.
#[track_caller]
pub fn close(what: &str, found: f64, expected: f64, relative: f64) {
    near(what, found, expected, relative * expected.abs());
}

/// To half a unit of the last printed digit.
#[track_caller]
pub fn printed(what: &str, found: f64, figure: &Value) {
    let text = figure
        .as_str()
        .unwrap_or_else(|| panic!("{what}: {figure} is not a printed figure"));
    let decimals = text.split_once('.').map_or(0, |(_, d)| d.len());
    let half = 0.5 * 10f64.powi(-(decimals as i32));
    near(
        what,
        found,
        text.parse().expect("a printed number"),
        half * (1.0 + 1e-9),
    );
}

#[test]
fn the_comparisons_can_fail() {
    let fails = |f: fn()| std::panic::catch_unwind(f).is_err();
    assert!(fails(|| near("x", 1.0, 1.1, 0.09)));
    assert!(fails(|| near("x", f64::NAN, 1.0, 1.0)));
    assert!(fails(|| close("x", 1.0, 1.0 + 1e-9, 1e-10)));
    assert!(fails(|| printed("x", 0.1236, &Value::from("0.123"))));
    printed("x", 0.1234, &Value::from("0.123"));
}
