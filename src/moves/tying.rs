//! An adjustment of new readings in which some parts are free to have moved and everything else is held
//! by the values and the covariance of a registration in force.

use nalgebra::DMatrix;

use crate::bench::Bench;
use crate::cell::Cell;
use crate::cell::Unknown;
use crate::parameters::Parameter;
use crate::parameters::ParameterUnit;
use crate::parameters::Tie;
use crate::parameters::Unknowns;
use crate::parts::Freedom;
use crate::parts::Part;
use crate::records::InForce;

/// What a registration held as exactly known counts as known this well where it can only move together
/// with something that was solved for: a micrometre, a thousandth of a degree. Far below any reading.
const HELD_MM: f64 = 1e-3;
const HELD_RAD: f64 = 1e-3 * std::f64::consts::PI / 180.0;

/// The readings and unknowns of such an adjustment. `register` solves and judges it as any other.
#[derive(Debug, Clone)]
pub struct Tied {
    /// The new readings; the nominal values are those of the registration in force.
    pub bench: Bench,
    /// Its unknowns with those that were freed beside them, tied.
    pub unknowns: Unknowns,
    /// Names of the unknowns.
    pub names: Vec<String>,
    /// The ways that were freed.
    pub freed: Vec<Freed>,
    /// Parameters that hold a tolerance of `[solve]` again.
    pub by_tolerance: Vec<String>,
}

/// One way that was freed: names of parameters with the change of each (mm or rad).
pub type Freed = Vec<(String, f64)>;

/// Ties the readings of a bench to a registration, `freedoms` left free, `beside` free or held by the
/// tolerance that `[solve]` gives them. `None` where the registration's covariance cannot be used.
pub fn tied(
    bench: &Bench,
    force: &InForce,
    freedoms: &[Freedom],
    beside: &[Parameter],
) -> Option<Tied> {
    let cell = &bench.cell;
    let all = Parameter::all(cell);
    let name_of = |p: &Parameter| {
        let found = all.iter().find(|(_, q)| q == p);
        found.map_or_else(String::new, |(name, _)| name.clone())
    };
    let mut nominal = force.geometry.clone();
    let mut list: Vec<(Parameter, Option<f64>)> = force
        .unknowns
        .list
        .iter()
        .map(|(p, _)| (*p, None))
        .collect();
    let known = list.len();
    // What moves only together with something else must be among what is tied.
    for freedom in freedoms.iter().filter(|f| f.shares.len() > 1) {
        for (parameter, _) in &freedom.shares {
            if !list.iter().any(|(p, _)| p == parameter) {
                list.push((*parameter, None));
            }
        }
    }
    let tied = list.len();
    let covariance = DMatrix::from_fn(tied, tied, |i, j| match i.max(j) < known {
        true => force.covariance[(i, j)],
        false if i == j => held(&list[i].0).powi(2),
        false => 0.0,
    });
    let mut columns: Vec<Vec<(usize, f64)>> = Vec::new();
    let mut freed: Vec<Freed> = Vec::new();
    let mut free = |shares: &[(Parameter, f64)], list: &mut Vec<(Parameter, Option<f64>)>| {
        let mut column = Vec::new();
        for (parameter, share) in shares {
            match list.iter().position(|(p, _)| p == parameter) {
                Some(at) if at < tied => column.push((at, *share)),
                Some(_) => {}
                None => list.push((*parameter, None)),
            }
        }
        if !column.is_empty() && !columns.contains(&column) {
            columns.push(column);
        }
        let named = shares.iter().map(|(p, share)| (name_of(p), *share));
        freed.push(named.collect());
    };
    for freedom in freedoms {
        free(&freedom.shares, &mut list);
    }
    let mut by_tolerance = Vec::new();
    for parameter in beside {
        let name = name_of(parameter);
        let Some(wanted) = cell.solve.iter().find(|u| u.name == name) else {
            continue;
        };
        free(&[(*parameter, 1.0)], &mut list);
        if let Some(tolerance) = wanted.tolerance {
            let at = list.iter().position(|(p, _)| p == parameter)?;
            list[at].1 = Some(tolerance * parameter.unit().in_code());
            // A tolerance speaks of the drawing's value, not of the one found before the move.
            parameter.set(&mut nominal, parameter.get(&cell.nominal));
            by_tolerance.push(name);
        }
    }
    let d = DMatrix::from_fn(tied, columns.len(), |i, c| {
        let member = columns[c].iter().find(|(at, _)| *at == i);
        member.map_or(0.0, |(_, share)| *share)
    });
    let mut at = Unknowns::new(list.clone()).read(&force.geometry);
    at.truncate(tied);
    let tie = Tie::new(at, &covariance, &d)?;
    let names: Vec<String> = list.iter().map(|(p, _)| name_of(p)).collect();
    let mut bench = bench.clone();
    bench.cell.nominal = nominal;
    let wanted = list
        .iter()
        .zip(&names)
        .map(|((p, tolerance), name)| Unknown {
            name: name.clone(),
            tolerance: tolerance.map(|t| t / p.unit().in_code()),
            line: 0,
            column: 0,
        });
    bench.cell.solve = wanted.collect();
    Some(Tied {
        bench,
        unknowns: Unknowns::new(list).tied(tie),
        names,
        freed,
        by_tolerance,
    })
}

impl Tied {
    /// Frees whole parts.
    pub fn parts(bench: &Bench, force: &InForce, parts: &[Part]) -> Option<Tied> {
        let freedoms: Vec<Freedom> = parts.iter().flat_map(|p| p.freedoms(&bench.cell)).collect();
        let beside: Vec<Parameter> = parts.iter().flat_map(|p| p.beside(&bench.cell)).collect();
        tied(bench, force, &freedoms, &beside)
    }
}

/// The tie of a registration that was solved after a move, made again from what its record says: the
/// ways that were freed, as parameters with the change of each. `None` where it does not fit the cell.
pub fn tie_again(cell: &Cell, force: &InForce, freed: &[Freed]) -> Option<Tie> {
    let mut freedoms = Vec::with_capacity(freed.len());
    for way in freed {
        let mut shares = Vec::with_capacity(way.len());
        for (name, share) in way {
            shares.push((Parameter::named(cell, name)?, *share));
        }
        freedoms.push(Freedom { shares });
    }
    let tied = tied(&Bench::new(cell.clone()), force, &freedoms, &[])?;
    tied.unknowns.tie().cloned()
}

fn held(parameter: &Parameter) -> f64 {
    match parameter.unit() {
        ParameterUnit::Mm | ParameterUnit::MmPerUnit => HELD_MM,
        ParameterUnit::Deg | ParameterUnit::DegPerUnit => HELD_RAD,
    }
}
