//! Which parts make a reading another one if they move.

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::parameters::Parameter;
use crate::parameters::Unknowns;
use crate::parts::Part;
use crate::readings::Taken;

/// A part counts for a reading where 1 mm or 1 degree of it moves the reading by more than this share of
/// its standard uncertainty. Not 0: postures are rounded to a tenth of a degree, so a level that is not
/// about a joint still turns with it by a few thousandths.
const COUNTS: f64 = 0.1;

/// The parts on which a reading rests, in the order of [`Part::all`].
pub(super) fn depends(cell: &Cell, geometry: &Geometry, taken: &Taken) -> Vec<Part> {
    let mut parts = Part::all(cell);
    parts.retain(|part| moves(cell, geometry, taken, *part));
    parts
}

fn moves(cell: &Cell, geometry: &Geometry, taken: &Taken, part: Part) -> bool {
    let mut ways: Vec<Vec<(Parameter, f64)>> =
        part.freedoms(cell).into_iter().map(|f| f.shares).collect();
    ways.extend(part.beside(cell).into_iter().map(|p| vec![(p, 1.0)]));
    let list = ways.iter().flatten().map(|(p, _)| (*p, None)).collect();
    let unknowns = Unknowns::new(list);
    let mut by = vec![[0.0; 3]; unknowns.len()];
    let found = taken
        .reading
        .evaluate(geometry, &unknowns, Some(&mut by[..]));
    let mut rest = by.as_slice();
    ways.iter().any(|shares| {
        let (own, others) = rest.split_at(shares.len());
        rest = others;
        let unit = shares.first().map_or(0.0, |(p, _)| p.unit().in_code());
        (0..found.count).any(|k| {
            let moved: f64 = own.iter().zip(shares).map(|(by, (_, s))| by[k] * s).sum();
            // What is no number counts: to start again too early does no harm.
            (moved * unit).abs() / taken.u > COUNTS || !moved.is_finite()
        })
    })
}
