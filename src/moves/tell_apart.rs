//! The reading that would decide between two explanations.

use nalgebra::DMatrix;

use crate::bench::Bench;
use crate::causes::solved::block;
use crate::fit::assess::SUSPECT;
use crate::moves::explain::Explanation;
use crate::proposals::Proposal;
use crate::proposals::proposals;
use crate::records::InForce;

/// From this ratio on a reading decides comfortably: then the one that is least trouble is taken.
const PLENTY: f64 = 6.0;
/// Below this no reading tells the two apart.
const LEAST: f64 = 1.0;

/// A reading and what it would show.
#[derive(Debug, Clone)]
pub struct Deciding {
    /// The reading.
    pub proposal: Proposal,
    /// By how much the two explanations differ there, in each of its components, mm or rad.
    pub apart: Vec<f64>,
    /// The same over its standard uncertainty, all components together.
    pub ratio: f64,
}

impl Deciding {
    /// Whether this one reading decides at α = 0.001.
    pub fn decides(&self) -> bool {
        self.ratio > SUSPECT
    }
}

/// The reading at which two explanations differ most for its uncertainty and theirs; `None` where no
/// reading that could be taken would tell them apart.
///
/// The errors of the two are taken as independent of each other, though both rest on the same readings:
/// what is promised is then rather too little.
pub fn tell_apart(bench: &Bench, a: &Explanation, b: &Explanation) -> Option<Deciding> {
    let (a, b) = (a.in_force()?, b.in_force()?);
    let mut best: Option<Deciding> = None;
    for proposal in proposals(bench, &a.unknowns, &a.geometry) {
        let Some(seen) = between(&proposal, &a, &b) else {
            continue;
        };
        let better = match &best {
            None => seen.ratio > LEAST,
            // Proposals come in the order of trouble: counts and notches before touches.
            Some(best) if best.ratio >= PLENTY && best.proposal.kind != proposal.kind => false,
            Some(best) => seen.ratio > best.ratio * 1.05,
        };
        if better {
            best = Some(seen);
        }
    }
    best
}

fn between(proposal: &Proposal, a: &InForce, b: &InForce) -> Option<Deciding> {
    let taken = [&proposal.taken];
    let at_a = block(&a.geometry, &a.unknowns, &taken)?;
    let at_b = block(&b.geometry, &b.unknowns, &taken)?;
    let apart = &at_b.r - &at_a.r;
    let m = apart.len();
    let spread = DMatrix::identity(m, m)
        + &at_a.j * &a.covariance * at_a.j.transpose()
        + &at_b.j * &b.covariance * at_b.j.transpose();
    let ratio = apart.dot(&spread.cholesky()?.solve(&apart)).sqrt();
    ratio.is_finite().then(|| Deciding {
        apart: apart.iter().map(|d| d * proposal.taken.u).collect(),
        ratio,
        proposal: proposal.clone(),
    })
}
