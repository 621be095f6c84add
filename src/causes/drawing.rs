//! A value that is held at the drawing and is wrong there: then good readings contradict each other.

use nalgebra::DMatrix;
use nalgebra::DVector;

use crate::bench::Bench;
use crate::causes::solved::LARGE;
use crate::causes::solved::Solved;
use crate::causes::solved::Start;
use crate::causes::solved::all;
use crate::causes::solved::solve;
use crate::causes::whole::agrees;
use crate::kinematics::Posed;
use crate::parameters::Parameter;
use crate::parameters::ParameterUnit;
use crate::parameters::Unknowns;

/// What stands or is mounted together and is wrong together.
const TOGETHER: [&[&str]; 7] = [
    &["turntable.x", "turntable.y"],
    &["turntable.x", "turntable.y", "turntable.z"],
    &["turntable.tilt_x", "turntable.tilt_y"],
    &["track.x", "track.y"],
    &["track.x", "track.y", "track.yaw"],
    &["mount.x", "mount.y"],
    &["tool.x", "tool.y"],
];
/// ln of the weight below the best from which on an answer is not told.
const TELLS: f64 = 3.0;
/// ln of how much rarer a wrong value of the drawing is than the commonest slip in a row, for each value
/// (*common practice*: judged, not counted).
const RARITY: f64 = 2.0;
/// A value may be off by this many of its standard uncertainties at least.
const LEAST_OFF: f64 = 3.0;
/// S over its degrees of freedom beyond which an unfinished run is given up.
const FAR: f64 = 3.0;
/// The same to first order, in a large network.
const NEAR: f64 = 1.3;
/// At most so many answers.
const MOST: usize = 3;

/// Parameters that would have to be solved for too, so that all readings agree.
#[derive(Debug, Clone, PartialEq)]
pub struct Unsolved {
    /// Their names.
    pub parameters: Vec<String>,
    /// How far off the drawing they come out, mm or rad (per unit for scales).
    pub off: Vec<f64>,
    /// S then.
    pub chi2: f64,
    /// ln of its weight but for S: how much rarer it is, and how little of what the parameters might have been
    /// they turn out to be.
    pub rarity: f64,
}

impl Unsolved {
    /// ln of its weight, above that of a solution with this S.
    pub fn weight(&self, rest: f64) -> f64 {
        (rest - self.chi2) / 2.0 - self.rarity
    }
}

/// Frees what the drawing holds, one by one and in groups, and tells with what all readings agree, the
/// weightiest first.
pub fn unsolved(bench: &Bench, unknowns: &Unknowns, plain: &Solved) -> Vec<Unsolved> {
    let held: Vec<(String, Parameter)> = Parameter::all(&bench.cell)
        .into_iter()
        .filter(|(_, p)| !unknowns.list.iter().any(|(q, _)| q == p))
        .collect();
    let mut groups: Vec<Vec<&(String, Parameter)>> = held.iter().map(|h| vec![h]).collect();
    let mut together = |names: &mut dyn Iterator<Item = String>| {
        let group: Vec<&(String, Parameter)> = names
            .filter_map(|name| held.iter().find(|(n, _)| *n == name))
            .collect();
        if group.len() > 1 {
            groups.push(group);
        }
    };
    for names in TOGETHER {
        together(&mut names.iter().map(|n| (*n).to_owned()));
    }
    let joints = 1..=bench.cell.joints.len();
    together(&mut joints.map(|j| format!("arm.j{j}.zero")));
    for mark in &bench.cell.marks {
        together(
            &mut ["x", "y", "z"]
                .iter()
                .map(|a| format!("marks.{}.{a}", mark.name)),
        );
    }
    let large = plain.minimum.whitened.len() * plain.unknowns.len() > LARGE;
    let mut found: Vec<Unsolved> = groups
        .into_iter()
        .filter(|group| !large || promising(bench, plain, group))
        .filter_map(|group| with(bench, unknowns, plain, &group))
        .collect();
    found.sort_by(|a, b| b.weight(0.0).total_cmp(&a.weight(0.0)));
    if let Some(most) = found.first().map(|u| u.weight(0.0)) {
        found.retain(|u| u.weight(0.0) > most - TELLS);
    }
    // With more freed than one that is told already it is the same answer.
    let told: Vec<Vec<String>> = found.iter().map(|u| u.parameters.clone()).collect();
    found.retain(|u| {
        let within = |t: &Vec<String>| t.iter().all(|p| u.parameters.contains(p));
        !told
            .iter()
            .any(|t| t.len() < u.parameters.len() && within(t))
    });
    found.truncate(MOST);
    found
}

/// Whether S would fall far enough to first order: by `bᵀ A⁻¹ b` with `b = J_gᵀ r` and
/// `A = J_gᵀ J_g − J_gᵀ J C Jᵀ J_g`, J_g being the derivatives by what is freed.
fn promising(bench: &Bench, plain: &Solved, group: &[&(String, Parameter)]) -> bool {
    let freed = Unknowns::new(group.iter().map(|(_, p)| (*p, None)).collect());
    let (k, n) = (freed.len(), plain.unknowns.len());
    let mut a = DMatrix::<f64>::zeros(k, k);
    let mut cross = DMatrix::<f64>::zeros(k, n);
    let mut b = DVector::<f64>::zeros(k);
    let mut by = vec![[0.0; 3]; k];
    let posed = Posed::new(&plain.geometry);
    let mut row = 0;
    for taken in plain.used.iter().map(|i| &bench.taken[*i]) {
        by.fill([0.0; 3]);
        let found = taken
            .reading
            .evaluate_posed(&posed, &freed, Some(&mut by[..]));
        for component in 0..found.count {
            let own: Vec<f64> = by.iter().map(|d| d[component] / taken.u).collect();
            for (i, one) in own.iter().enumerate().filter(|(_, v)| **v != 0.0) {
                b[i] += one * plain.minimum.whitened[row];
                for (j, other) in own.iter().enumerate() {
                    a[(i, j)] += one * other;
                }
                for j in 0..n {
                    cross[(i, j)] += one * plain.minimum.jacobian.get(row, j);
                }
            }
            row += 1;
        }
    }
    a -= &cross * &plain.assessment.covariance * cross.transpose();
    let Some(factor) = a.cholesky() else {
        return false;
    };
    let left = plain.minimum.chi2 - b.dot(&factor.solve(&b));
    left < NEAR * plain.assessment.dof.max(1) as f64
}

fn with(
    bench: &Bench,
    unknowns: &Unknowns,
    plain: &Solved,
    group: &[&(String, Parameter)],
) -> Option<Unsolved> {
    let nominal = &bench.cell.nominal;
    let mut list = unknowns.list.clone();
    let mut start = plain.minimum.x.clone();
    for (_, parameter) in group {
        list.push((*parameter, None));
        start.push(parameter.get(nominal));
    }
    let more = unknowns.again(list);
    let solve_from = |start| solve(nominal, &more, &all(bench), plain.used.clone(), start);
    let rough = solve_from(Start::Roughly(&start))?;
    // Far from agreeing: another few steps will not bring it there.
    if rough.minimum.chi2 > FAR * rough.assessment.dof.max(1) as f64 {
        return None;
    }
    let solved = solve_from(Start::Near(&rough.minimum.x))?;
    let off: Vec<f64> = group
        .iter()
        .enumerate()
        .map(|(k, (_, p))| solved.minimum.x[unknowns.len() + k] - p.get(nominal))
        .collect();
    // What the value might have been is spread over twice what it turns out to be off (as for an error of any
    // size in a row).
    let rarity = off.iter().enumerate().map(|(k, off)| {
        let u = solved.assessment.found[unknowns.len() + k].u;
        let size = off.abs().max(LEAST_OFF * u);
        RARITY + (2.0 * size / (u * std::f64::consts::TAU.sqrt())).ln()
    });
    let rarity: f64 = rarity.sum();
    // No drawing is off by half a metre or a half turn.
    let believable = group.iter().zip(&off).all(|((_, p), off)| match p.unit() {
        ParameterUnit::Mm | ParameterUnit::MmPerUnit => off.abs() < 500.0,
        ParameterUnit::Deg | ParameterUnit::DegPerUnit => off.abs() < std::f64::consts::PI,
    });
    (agrees(&solved) && rarity.is_finite() && believable).then(|| Unsolved {
        parameters: group.iter().map(|(name, _)| name.clone()).collect(),
        off,
        chi2: solved.minimum.chi2,
        rarity,
    })
}
