//! The robust estimate: against published and exact values, and where it is needed.

mod bench;

use notchpin::fit::robust::Psi;
use notchpin::fit::robust::reweighted;
use notchpin::fit::solve::Problem;
use notchpin::fit::solve::Tiles;
use serde_json::Value;

/// y = Σ p_k x_k, residuals computed less observed.
struct Linear {
    rows: Vec<(Vec<f64>, f64)>,
}

impl Problem for Linear {
    fn unknowns(&self) -> usize {
        self.rows[0].0.len()
    }
    fn residuals(&self) -> usize {
        self.rows.len()
    }
    fn residuals_at(&mut self, x: &[f64], r: &mut [f64]) {
        for (r, (row, y)) in r.iter_mut().zip(&self.rows) {
            *r = row.iter().zip(x).map(|(a, b)| a * b).sum::<f64>() - y;
        }
    }
    fn linearise(&mut self, x: &[f64], r: &mut [f64], jacobian: &mut Tiles) {
        self.residuals_at(x, r);
        for (k, (row, _)) in self.rows.iter().enumerate() {
            jacobian.set_row(k, row);
        }
    }
}

fn reference(name: &str) -> String {
    let path = format!(
        "{}/tests/reference/robust/{name}",
        env!("CARGO_MANIFEST_DIR")
    );
    std::fs::read_to_string(path).unwrap()
}

fn stackloss() -> Linear {
    let rows = reference("stackloss.csv")
        .lines()
        .skip(1)
        .map(|line| {
            line.split(',')
                .map(|v| v.parse().unwrap())
                .collect::<Vec<f64>>()
        })
        .map(|v| (vec![v[1], v[2], v[3], 1.0], v[0]))
        .collect();
    Linear { rows }
}

/// The scale of rlm: median |r| / 0.6745 at the estimate, settled together with it.
fn with_median_scale(problem: &mut Linear, psi: Psi, start: &[f64]) -> (Vec<f64>, f64, Vec<f64>) {
    let mut x = start.to_vec();
    let mut r = vec![0.0; problem.residuals()];
    let mut weights = Vec::new();
    let mut scale = 0.0;
    for _ in 0..400 {
        problem.residuals_at(&x, &mut r);
        let mut sizes: Vec<f64> = r.iter().map(|v| v.abs()).collect();
        sizes.sort_by(f64::total_cmp);
        scale = sizes[sizes.len() / 2] / 0.6745;
        let found = reweighted(problem, &x, psi, scale, 1e-12).unwrap();
        (x, weights) = (found.x, found.weights);
    }
    (x, scale, weights)
}

/// R's rlm as recorded outside (tests/reference/robust/SOURCE.md): it stopped at its own tolerance, so
/// a converged fit agrees to about 1e-3 of each figure.
#[test]
fn stack_loss_agrees_with_the_published_fits() {
    let published: Value = serde_json::from_str(&reference("stackloss_robust.json")).unwrap();
    let mut problem = stackloss();
    let mut start = vec![0.7156, 1.2953, -0.1521, -39.9197];
    for (key, psi) in [
        ("huber", Psi::Huber(1.345)),
        ("bisquare", Psi::Bisquare(4.685)),
    ] {
        let (x, scale, weights) = with_median_scale(&mut problem, psi, &start);
        let wanted = &published[key];
        let near = |got: f64, wanted: &Value, what: &str| {
            let wanted = wanted.as_f64().unwrap();
            let off = (got - wanted).abs();
            assert!(
                off <= 2e-3 * wanted.abs().max(0.1),
                "{key} {what}: {got}, not {wanted}"
            );
        };
        for (k, got) in x.iter().enumerate() {
            near(*got, &wanted["params"][k], "parameter");
        }
        near(scale, &wanted["scale"], "scale");
        for (k, got) in weights.iter().enumerate() {
            let wanted = wanted["weights"][k].as_f64().unwrap();
            assert!(
                (got - wanted).abs() < 5e-3,
                "{key} weight {k}: {got}, not {wanted}"
            );
        }
        start = x;
    }
}

/// Exact minimisers of Σ rho, made outside; the threshold is k times the scale 0.02.
#[test]
fn hubers_line_is_the_exact_minimiser() {
    let all: Value = serde_json::from_str(&reference("robust.json")).unwrap();
    let mut seen = 0;
    for case in all["cases"].as_array().unwrap() {
        if case["kind"] != "huber_line" {
            continue;
        }
        seen += 1;
        let list = |key: &str| -> Vec<f64> {
            let values = case[key].as_array().unwrap().iter();
            values.map(|v| v.as_f64().unwrap()).collect()
        };
        let rows = list("x").into_iter().zip(list("y"));
        let mut problem = Linear {
            rows: rows.map(|(x, y)| (vec![1.0, x], y)).collect(),
        };
        let mut x = vec![0.0, 1.0];
        for _ in 0..200 {
            x = reweighted(&mut problem, &x, Psi::Huber(1.345), 0.02, 1e-13)
                .unwrap()
                .x;
        }
        for (k, got) in x.iter().enumerate() {
            let wanted = case["expected"]["params"][k].as_f64().unwrap();
            assert!(
                (got - wanted).abs() <= 1e-9 * wanted.abs().max(1.0),
                "{got}, not {wanted}"
            );
        }
    }
    assert_eq!(seen, 4);
}

fn demo(name: &str) -> (bench::Read, Value) {
    let truth = serde_json::from_str(&bench::demo_text(name, "truth.json")).unwrap();
    (bench::demo(name, notchpin::readings::FILES), truth)
}

/// Three slips pull the plain answer away from the truth (truth.json of the demo cell); the robust one
/// stays within what the readings allow.
#[test]
fn slips_pull_the_plain_answer_but_not_the_robust_one() {
    let (read, truth) = demo("slips");
    let determined = read.determined();
    let robust = determined.robust.as_ref().unwrap();
    assert!(robust.matters && robust.converged);
    let mut pulled = 0;
    for (j, (named, (p, _))) in read
        .bench
        .cell
        .solve
        .iter()
        .zip(&read.unknowns.list)
        .enumerate()
    {
        let one = p.unit().in_code();
        let true_value = truth["true_values"][&named.name].as_f64().unwrap() * one;
        let u = determined.assessment.found[j].u;
        let off = (robust.x[j] - true_value).abs();
        assert!(off < 4.0 * u, "{}: {} u off", named.name, off / u);
        pulled += usize::from((determined.assessment.found[j].value - true_value).abs() > 10.0 * u);
    }
    assert!(pulled >= 5, "{pulled}");
}

#[test]
fn without_slips_both_agree() {
    let (read, _) = demo("glazing-bench");
    let determined = read.determined();
    let robust = determined.robust.as_ref().unwrap();
    assert!(!robust.matters && robust.converged);
    for (found, x) in determined.assessment.found.iter().zip(&robust.x) {
        assert!((found.value - x).abs() < 0.5 * found.u);
    }
}
