//! NIST StRD: data, certified figures and models. The models are as published; Nelson is fitted to log(y).
//! Derivatives come from dual numbers, so that no formula is differentiated by hand.

use notchpin::fit::solve::Problem;
use notchpin::fit::solve::Tiles;
use num_dual::Dual64;
use num_dual::DualNum;
use serde_json::Value;
use std::f64::consts::PI;
use std::fs;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/nist_strd/");

pub struct Certified {
    pub value: f64,
    pub sd: f64,
}

pub struct Set {
    pub name: String,
    pub linear: bool,
    pub y: Vec<f64>,
    /// The predictors of each observation.
    pub x: Vec<Vec<f64>>,
    pub starts: Vec<Vec<f64>>,
    pub parameters: Vec<Certified>,
    pub residual_ss: f64,
    pub certified_digits: f64,
}

impl Set {
    /// Observations less parameters. (The published file of Rat43 states 9 degrees of freedom, but its standard
    /// deviations are those of 15 − 4 = 11.)
    pub fn degrees_of_freedom(&self) -> f64 {
        (self.y.len() - self.parameters.len()) as f64
    }
}

/// Digits in which `found` agrees with `certified`: −log10 of the relative error, of the absolute one about zero.
pub fn digits(found: f64, certified: f64, cap: f64) -> f64 {
    let error = if certified == 0.0 {
        found.abs()
    } else {
        ((found - certified) / certified).abs()
    };
    if error.is_nan() {
        0.0
    } else {
        (-error.log10()).clamp(0.0, cap)
    }
}

pub fn nonlinear() -> Vec<Set> {
    read("nonlinear.json", 11.0, |set, number| Set {
        starts: ["start1", "start2"].map(|key| column(set, key)).to_vec(),
        parameters: certified(set, "certified"),
        residual_ss: number(&set["residual_ss"]),
        ..data(set, false)
    })
}

pub fn linear() -> Vec<Set> {
    read("linear.json", 15.0, |set, number| Set {
        parameters: certified(set, "estimate"),
        residual_ss: number(&set["anova"]["residual_ss"]),
        ..data(set, true)
    })
}

fn read(
    file: &str,
    certified_digits: f64,
    make: impl Fn(&Value, fn(&Value) -> f64) -> Set,
) -> Vec<Set> {
    let text =
        fs::read_to_string(format!("{FOLDER}{file}")).expect("the file of certified figures");
    let root: Value = serde_json::from_str(&text).expect("valid JSON");
    let sets = root["datasets"].as_array().expect("a list of sets");
    sets.iter()
        .map(|set| Set {
            certified_digits,
            ..make(set, number)
        })
        .collect()
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn column(set: &Value, key: &str) -> Vec<f64> {
    set["params"]
        .as_array()
        .expect("parameters")
        .iter()
        .map(|p| number(&p[key]))
        .collect()
}

fn certified(set: &Value, key: &str) -> Vec<Certified> {
    column(set, key)
        .into_iter()
        .zip(column(set, "sd"))
        .map(|(value, sd)| Certified { value, sd })
        .collect()
}

fn data(set: &Value, linear: bool) -> Set {
    let text = fs::read_to_string(format!(
        "{FOLDER}{}",
        set["file"].as_str().expect("a file name")
    ))
    .expect("the data");
    let (mut x, mut y) = (Vec::new(), Vec::new());
    for line in text.lines().skip(1) {
        let mut cells = line
            .split(',')
            .map(|cell| cell.trim().parse::<f64>().expect("a number"));
        y.push(cells.next().expect("an observation"));
        x.push(cells.collect());
    }
    assert_eq!(
        y.len() as u64,
        set["observations"].as_u64().expect("a count")
    );
    let name = set["name"].as_str().expect("a name").to_owned();
    if name == "Nelson" {
        y.iter_mut().for_each(|y| *y = y.ln());
    }
    Set {
        name,
        linear,
        x,
        y,
        starts: Vec::new(),
        parameters: Vec::new(),
        residual_ss: 0.0,
        certified_digits: 0.0,
    }
}

/// A set as a problem: residual = model − observation.
pub struct Regression<'a> {
    set: &'a Set,
    duals: Vec<Dual64>,
}

impl<'a> Regression<'a> {
    pub fn new(set: &'a Set) -> Self {
        Regression {
            set,
            duals: Vec::new(),
        }
    }
}

impl Problem for Regression<'_> {
    fn unknowns(&self) -> usize {
        self.set.parameters.len()
    }

    fn residuals(&self) -> usize {
        self.set.y.len()
    }

    fn residuals_at(&mut self, b: &[f64], r: &mut [f64]) {
        for ((r, x), y) in r.iter_mut().zip(&self.set.x).zip(&self.set.y) {
            *r = model(self.set, b, x) - y;
        }
    }

    fn linearise(&mut self, b: &[f64], r: &mut [f64], j: &mut Tiles) {
        self.residuals_at(b, r);
        self.duals.clear();
        self.duals.extend(b.iter().map(|b| Dual64::from_re(*b)));
        for k in 0..b.len() {
            self.duals[k].eps = 1.0;
            for (row, x) in self.set.x.iter().enumerate() {
                j.set(row, k, model(self.set, &self.duals, x).eps);
            }
            self.duals[k].eps = 0.0;
        }
    }
}

fn model<D: DualNum<f64> + Copy>(set: &Set, b: &[D], x: &[f64]) -> D {
    if set.linear {
        linear_model(&set.name, b, x)
    } else {
        nonlinear_model(&set.name, b, x)
    }
}

fn linear_model<D: DualNum<f64> + Copy>(name: &str, b: &[D], x: &[f64]) -> D {
    match name {
        "NoInt1" | "NoInt2" => b[0] * x[0],
        "Longley" => b[1..].iter().zip(x).fold(b[0], |sum, (b, x)| sum + *b * *x),
        _ => polynomial(b, x[0]),
    }
}

fn polynomial<D: DualNum<f64> + Copy>(b: &[D], x: f64) -> D {
    b.iter()
        .rev()
        .skip(1)
        .fold(b[b.len() - 1], |sum, b| sum * x + *b)
}

fn nonlinear_model<D: DualNum<f64> + Copy>(name: &str, b: &[D], x: &[f64]) -> D {
    let (one, t) = (D::from(1.0), x[0]);
    match name {
        "Bennett5" => b[0] * (-((b[1] + t).ln() / b[2])).exp(),
        "BoxBOD" | "Misra1a" => b[0] * (one - (-b[1] * t).exp()),
        "Chwirut1" | "Chwirut2" => (-b[0] * t).exp() / (b[1] + b[2] * t),
        "DanWood" => b[0] * (b[1] * t.ln()).exp(),
        "ENSO" => {
            let wave = |period: D, cosine: D, sine: D| {
                let turn = period.recip() * (2.0 * PI * t);
                cosine * turn.cos() + sine * turn.sin()
            };
            b[0] + wave(D::from(12.0), b[1], b[2]) + wave(b[3], b[4], b[5]) + wave(b[6], b[7], b[8])
        }
        "Eckerle4" => {
            let z = (-b[2] + t) / b[1];
            b[0] / b[1] * (z * z * -0.5).exp()
        }
        "Gauss1" | "Gauss2" | "Gauss3" => {
            let peak = |height: D, centre: D, width: D| {
                let z = (-centre + t) / width;
                height * (-(z * z)).exp()
            };
            b[0] * (-b[1] * t).exp() + peak(b[2], b[3], b[4]) + peak(b[5], b[6], b[7])
        }
        "Hahn1" | "Thurber" => polynomial(&b[..4], t) / polynomial(&[one, b[4], b[5], b[6]], t),
        "Kirby2" => polynomial(&b[..3], t) / polynomial(&[one, b[3], b[4]], t),
        "Lanczos1" | "Lanczos2" | "Lanczos3" => {
            b[0] * (-b[1] * t).exp() + b[2] * (-b[3] * t).exp() + b[4] * (-b[5] * t).exp()
        }
        "MGH09" => b[0] * (b[1] * t + t * t) / (b[2] * t + b[3] + t * t),
        "MGH10" => b[0] * (b[1] / (b[2] + t)).exp(),
        "MGH17" => b[0] + b[1] * (-b[3] * t).exp() + b[2] * (-b[4] * t).exp(),
        "Misra1b" => b[0] * (one - (b[1] * (t / 2.0) + 1.0).powi(-2)),
        "Misra1c" => b[0] * (one - (b[1] * (2.0 * t) + 1.0).sqrt().recip()),
        "Misra1d" => b[0] * b[1] * t / (b[1] * t + 1.0),
        "Nelson" => b[0] - b[1] * t * (-b[2] * x[1]).exp(),
        "Rat42" => b[0] / ((b[1] - b[2] * t).exp() + 1.0),
        "Rat43" => b[0] * (-(((b[1] - b[2] * t).exp() + 1.0).ln() / b[3])).exp(),
        "Roszman1" => b[0] - b[1] * t - (b[2] / (-b[3] + t)).atan() / PI,
        other => panic!("no model for {other}"),
    }
}
