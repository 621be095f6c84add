//! How the errors of two registrations of one cell hang together, and so how sure a change is.
//!
//! Where the later one (B) ties what did not move to the earlier one (A) by the rows R of its tie, the
//! error of B is `C_B (Rᵀ R e_A + Jᵀ ε)` to first order, so that `Cov(e_B, e_A) = C_B Rᵀ R C_A`. Where B
//! rests on all readings of A and more, that is the same with nothing freed, `R Rᵀ = C_A⁻¹`. Two that
//! share no reading share the drawing: a tolerance that both held is one observation, and
//! `Cov(e_B, e_A) = C_B T C_A` with T = 1/t² for these.

use nalgebra::DMatrix;

use crate::cell::Cell;
use crate::parameters::Parameter;
use crate::parameters::Tie;
use crate::parameters::Unknowns;
use crate::records::InForce;

/// How two registrations are related.
#[derive(Debug, Clone)]
pub enum Kin {
    /// The later one is tied to another one, of which the errors hang together with those of the earlier
    /// one in this way: rows are the unknowns of that other one. Its own covariance, where it is itself the
    /// earlier one.
    Tied(Tie, DMatrix<f64>),
    /// The later one rests on all readings of the earlier one.
    Contains,
    /// The earlier one rests on all readings of the later one.
    Within,
    /// They share no readings, as far as is known.
    Apart,
}

/// `Cov(e_B, e_A)`: rows are the unknowns of `new`, columns those of `old`; mm and rad.
pub fn cross(old: &InForce, new: &InForce, kin: &Kin) -> DMatrix<f64> {
    let (n, o) = (new.unknowns.len(), old.unknowns.len());
    match kin {
        Kin::Tied(tie, between) => {
            let (t, k) = (tie.at.len(), between.nrows());
            let by_rows = tie
                .rows
                .tr_mul(&(tie.rows.columns(0, k.min(t)) * between.rows(0, k.min(t))));
            new.covariance.columns(0, t) * by_rows
        }
        // C_B C_A⁻¹ C_A, unknowns matched.
        Kin::Contains => matched(&old.unknowns, &new.unknowns, &new.covariance),
        Kin::Within => matched(&new.unknowns, &old.unknowns, &old.covariance).transpose(),
        Kin::Apart => {
            let mut shared = DMatrix::zeros(n, o);
            for (i, (p, t)) in new.unknowns.list.iter().enumerate() {
                for (j, (q, s)) in old.unknowns.list.iter().enumerate() {
                    if let (true, Some(t), Some(s)) = (p == q, t, s)
                        && (t - s).abs() <= 1e-9 * t
                    {
                        shared[(i, j)] = 1.0 / (t * t);
                    }
                }
            }
            &new.covariance * shared * &old.covariance
        }
    }
}

/// The columns of a covariance of `more`, put where `fewer` has the same unknowns.
fn matched(fewer: &Unknowns, more: &Unknowns, covariance: &DMatrix<f64>) -> DMatrix<f64> {
    let mut out = DMatrix::zeros(more.len(), fewer.len());
    for (j, (q, _)) in fewer.list.iter().enumerate() {
        if let Some(k) = more.list.iter().position(|(p, _)| p == q) {
            out.set_column(j, &covariance.column(k));
        }
    }
    out
}

/// The change of one parameter.
#[derive(Debug, Clone, PartialEq)]
pub struct Changed {
    /// Its name.
    pub name: String,
    /// The parameter.
    pub parameter: Parameter,
    /// Its values in the two, mm or rad.
    pub values: [f64; 2],
    /// Standard uncertainty of their difference, mm or rad; 0 where neither solved for it.
    pub u: f64,
}

/// All parameters in two registrations with the covariance of their differences, mm and rad.
#[derive(Debug, Clone)]
pub struct Change {
    /// Every parameter of the cell.
    pub list: Vec<Changed>,
    /// Those that either solved for.
    pub unknowns: Unknowns,
    /// Covariance of their differences.
    pub covariance: DMatrix<f64>,
}

/// Holds two registrations against each other; `between` is Cov(e_new, e_old), as from [`cross`].
pub fn change(cell: &Cell, old: &InForce, new: &InForce, between: &DMatrix<f64>) -> Change {
    let mut list = new.unknowns.list.clone();
    for (q, t) in &old.unknowns.list {
        if !list.iter().any(|(p, _)| p == q) {
            list.push((*q, *t));
        }
    }
    let n = list.len();
    let place = |p: &Parameter| list.iter().position(|(q, _)| q == p).unwrap_or_default();
    let of_new: Vec<usize> = new.unknowns.list.iter().map(|(p, _)| place(p)).collect();
    let of_old: Vec<usize> = old.unknowns.list.iter().map(|(p, _)| place(p)).collect();
    let mut covariance = DMatrix::<f64>::zeros(n, n);
    for (i, at) in of_new.iter().enumerate() {
        for (j, to) in of_new.iter().enumerate() {
            covariance[(*at, *to)] += new.covariance[(i, j)];
        }
        for (j, to) in of_old.iter().enumerate() {
            covariance[(*at, *to)] -= between[(i, j)];
            covariance[(*to, *at)] -= between[(i, j)];
        }
    }
    for (i, at) in of_old.iter().enumerate() {
        for (j, to) in of_old.iter().enumerate() {
            covariance[(*at, *to)] += old.covariance[(i, j)];
        }
    }
    let all = Parameter::all(cell).into_iter();
    let changed = all.map(|(name, parameter)| {
        let at = list.iter().position(|(q, _)| *q == parameter);
        Changed {
            name,
            parameter,
            values: [parameter.get(&old.geometry), parameter.get(&new.geometry)],
            // Rounding may leave a little less than nothing where both are the same.
            u: at.map_or(0.0, |j| covariance[(j, j)].max(0.0).sqrt()),
        }
    });
    Change {
        list: changed.collect(),
        unknowns: Unknowns::new(list.clone()),
        covariance,
    }
}
