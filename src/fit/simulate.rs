//! Noisy copies of a registration: do the statistics hold what they promise on this very cell?
//!
//! At the registered values x̂ the model predicts every reading. A copy has the residuals
//! `r(x) − r(x̂) − e`, over their u, with e drawn from the standard normal law for every reading and
//! every tolerance (which stands for an observation of the nominal value). It is solved and judged as the
//! registration was, and what it found is held against x̂, which is the truth of the copies.

use nalgebra::Vector3;
use statrs::distribution::ContinuousCDF;
use statrs::distribution::Normal;

use crate::cell::Belongs;
use crate::fit::adjust::Minimum;
use crate::fit::adjust::Network;
use crate::fit::assess::Assessment;
use crate::fit::assess::DETECTABLE;
use crate::fit::assess::assess;
use crate::fit::chi2::radius_95;
use crate::fit::solve::Problem;
use crate::fit::solve::Solver;
use crate::fit::solve::Tiles;
use crate::fit::spread::Spread;
use crate::fit::spread::carried;
use crate::readings::stand::Stand;

/// 95 % of a normal law lie within this many standard deviations.
const WITHIN_95: f64 = 1.959_963_984_540_054;

/// What a simulation needs of a registration.
pub struct Subject<'a> {
    /// The registered values, mm and rad.
    pub x: &'a [f64],
    /// Its tests.
    pub assessment: &'a Assessment,
    /// Points at which the tip is looked at.
    pub points: &'a [(Stand, Belongs)],
}

/// Counts over copies; those of several runs add up.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Counts {
    /// Copies that were solved.
    pub copies: usize,
    /// Copies that could not be solved.
    pub failed: usize,
    /// For each unknown, copies whose 95 % interval held the truth.
    pub held: Vec<usize>,
    /// For each point, copies whose tip lay within the 95 % radius.
    pub tip_held: Vec<usize>,
    /// Good residuals of readings that were tested.
    pub tested: usize,
    /// Those that were called suspect.
    pub suspects: usize,
    /// Copies that failed the global test.
    pub global_failures: usize,
    /// Copies with one error of the smallest noticeable size.
    pub spoilt: usize,
    /// Those in which it was found: that residual came out suspect.
    pub found: usize,
}

impl Counts {
    /// Adds the counts of other copies.
    pub fn add(&mut self, other: &Counts) {
        let join = |a: &mut Vec<usize>, b: &Vec<usize>| {
            a.resize(a.len().max(b.len()), 0);
            for (a, b) in a.iter_mut().zip(b) {
                *a += b;
            }
        };
        join(&mut self.held, &other.held);
        join(&mut self.tip_held, &other.tip_held);
        self.copies += other.copies;
        self.failed += other.failed;
        self.tested += other.tested;
        self.suspects += other.suspects;
        self.global_failures += other.global_failures;
        self.spoilt += other.spoilt;
        self.found += other.found;
    }
}

/// A network whose residuals are shifted by constants.
struct Copy<'n, 'a> {
    network: &'n mut Network<'a>,
    shift: &'n [f64],
}

impl Problem for Copy<'_, '_> {
    fn unknowns(&self) -> usize {
        self.network.unknowns()
    }

    fn residuals(&self) -> usize {
        self.network.residuals()
    }

    fn residuals_at(&mut self, x: &[f64], r: &mut [f64]) {
        self.network.residuals_at(x, r);
        for (r, shift) in r.iter_mut().zip(self.shift) {
            *r += shift;
        }
    }

    fn linearise(&mut self, x: &[f64], r: &mut [f64], jacobian: &mut Tiles) {
        self.network.linearise(x, r, jacobian);
        for (r, shift) in r.iter_mut().zip(self.shift) {
            *r += shift;
        }
    }
}

/// Draws the copies `from` … `to` (their numbers decide what is drawn, so that any division of the work gives
/// the same counts) and judges them. Each copy is taken twice: as it is, and with one error.
pub fn simulate(
    network: &mut Network<'_>,
    subject: &Subject<'_>,
    numbers: std::ops::Range<u64>,
    after_each: &mut dyn FnMut(),
) -> Counts {
    let (n, m) = (network.unknowns(), network.residuals());
    let rows = network.reading_rows();
    let mut at_truth = vec![0.0; m];
    network.residuals_at(subject.x, &mut at_truth);
    let tips = tips(network, subject);
    let checked: Vec<usize> = (0..rows)
        .filter(|row| subject.assessment.readings[*row].standardized.is_some())
        .collect();
    let mut counts = Counts {
        held: vec![0; n],
        tip_held: vec![0; tips.len()],
        ..Counts::default()
    };
    let mut solver = Solver::new();
    let mut shift = vec![0.0; m];
    // The parameters of this law are right.
    let Ok(normal) = Normal::new(0.0, 1.0) else {
        return counts;
    };
    for number in numbers {
        let mut draw =
            fastrand::Rng::with_seed(number.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x5EED);
        for (shift, r) in shift.iter_mut().zip(&at_truth) {
            *shift = -r - normal.inverse_cdf(inside(&mut draw));
        }
        match solved(network, &mut solver, subject.x, &shift) {
            Some((minimum, assessment)) => {
                counts.copies += 1;
                count(&mut counts, subject, &tips, &minimum.x, &assessment);
            }
            None => counts.failed += 1,
        }
        if let Some(row) = (!checked.is_empty()).then(|| checked[number as usize % checked.len()]) {
            let size = DETECTABLE / subject.assessment.readings[row].redundancy.sqrt();
            shift[row] += if draw.bool() { size } else { -size };
            match solved(network, &mut solver, subject.x, &shift) {
                Some((_, assessment)) => {
                    counts.spoilt += 1;
                    counts.found += usize::from(assessment.readings[row].suspect);
                }
                None => counts.failed += 1,
            }
        }
        after_each();
    }
    counts
}

/// A number between 0 and 1, neither of them.
fn inside(draw: &mut fastrand::Rng) -> f64 {
    draw.f64().max(f64::MIN_POSITIVE)
}

fn solved(
    network: &mut Network<'_>,
    solver: &mut Solver,
    start: &[f64],
    shift: &[f64],
) -> Option<(Minimum, Assessment)> {
    let mut copy = Copy { network, shift };
    let solution = solver.solve(&mut copy, start);
    if !solution.cost.is_finite() {
        return None;
    }
    let minimum = Minimum::of(&solution);
    let assessment = assess(network, &minimum).ok()?;
    Some((minimum, assessment))
}

fn count(
    counts: &mut Counts,
    subject: &Subject<'_>,
    tips: &[Vec<Vector3<f64>>],
    x: &[f64],
    assessment: &Assessment,
) {
    for (j, found) in assessment.found.iter().enumerate() {
        let holds = (x[j] - subject.x[j]).abs() <= WITHIN_95 * found.u;
        counts.held[j] += usize::from(holds);
    }
    for (k, g) in tips.iter().enumerate() {
        let mut miss = Vector3::zeros();
        for (j, g) in g.iter().enumerate() {
            miss += g * (x[j] - subject.x[j]);
        }
        // The play of the axes is left out: its errors are not drawn.
        let radius = radius_95(&carried(g, &assessment.covariance));
        counts.tip_held[k] += usize::from(miss.norm() <= radius);
    }
    let tested = assessment
        .readings
        .iter()
        .filter(|t| t.standardized.is_some());
    counts.tested += tested.count();
    counts.suspects += assessment.readings.iter().filter(|t| t.suspect).count();
    counts.global_failures += usize::from(!assessment.global_test_holds());
}

/// Derivatives of the tip at the points by the unknowns, at the registered values.
fn tips(network: &Network<'_>, subject: &Subject<'_>) -> Vec<Vec<Vector3<f64>>> {
    let geometry = network.geometry_at(subject.x);
    let spread = Spread::new(&geometry, network.unknown(), &subject.assessment.covariance);
    let points = subject.points.iter();
    points
        .map(|(stand, frame)| spread.by_unknown(stand, *frame))
        .collect()
}
