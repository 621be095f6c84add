//! The robust estimate held against the plain one.

use serde::Deserialize;
use serde::Serialize;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::fit::adjust::Network;
use crate::fit::assess::Assessment;
use crate::fit::robust::robust;
use crate::parameters::Unknowns;
use crate::points::tip_place;
use crate::registration::PointCheck;

/// How it was made, in words.
pub const METHOD: &str =
    "Huber's estimate (k = 1.345), then Tukey's bisquare (c = 4.685), scale as stated";

/// What a robust estimate says instead.
#[derive(Debug, Clone, PartialEq)]
pub struct RobustAnswer {
    /// Values of the unknowns, mm and rad.
    pub x: Vec<f64>,
    /// Whether it settled.
    pub converged: bool,
    /// Where the tip moves most between the two answers: point and mm.
    pub largest_shift: Option<(usize, f64)>,
    /// Whether it matters: an unknown moves by more than its u, or the tip by more than half its u95.
    pub matters: bool,
}

/// `robust` in JSON.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RobustDocument {
    /// Which estimate.
    pub method: String,
    /// Its values, mm and degrees.
    pub parameters: Vec<RobustValueDocument>,
    /// Where the tip moves most between the two answers; null without points.
    pub largest_shift: Option<ShiftDocument>,
    /// Whether it matters which answer is used.
    pub matters: bool,
}

/// One unknown.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RobustValueDocument {
    /// Its name.
    pub name: String,
    /// Its value in the unit of `parameters`.
    pub value: f64,
}

/// A shift of the tip.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShiftDocument {
    /// At this point.
    pub point: String,
    /// mm.
    pub mm: f64,
}

/// Works it out from the plain answer; `None` where it breaks down.
pub(super) fn beside(
    network: &mut Network<'_>,
    plain: &[f64],
    geometry: &Geometry,
    assessment: &Assessment,
    points: &[PointCheck],
) -> Option<RobustAnswer> {
    if plain.is_empty() || assessment.dof == 0 {
        return None;
    }
    let found = robust(network, plain)?;
    let other = network.geometry_at(&found.x);
    let mut largest_shift: Option<(usize, f64)> = None;
    let mut matters = false;
    for (k, point) in points.iter().enumerate() {
        let Some(stand) = point.stand else { continue };
        let places = [geometry, &other].map(|g| tip_place(g, &stand, point.frame));
        let [Some(a), Some(b)] = places else { continue };
        let mm = (a.at_mm - b.at_mm).norm();
        matters |= point.u95_mm.is_some_and(|u| mm > 0.5 * u);
        if largest_shift.is_none_or(|(_, most)| mm > most) {
            largest_shift = Some((k, mm));
        }
    }
    let moved = found.x.iter().zip(plain).zip(&assessment.found);
    matters |= moved.into_iter().any(|((a, b), f)| (a - b).abs() > f.u);
    Some(RobustAnswer {
        x: found.x,
        converged: found.converged,
        largest_shift,
        matters,
    })
}

/// Its document.
pub(super) fn document(
    bench: &Bench,
    unknowns: &Unknowns,
    answer: &RobustAnswer,
    points: &[PointCheck],
) -> RobustDocument {
    let named = bench.cell.solve.iter().zip(&unknowns.list).zip(&answer.x);
    RobustDocument {
        method: METHOD.to_owned(),
        parameters: named
            .map(|((named, (p, _)), value)| RobustValueDocument {
                name: named.name.clone(),
                value: value / p.unit().in_code(),
            })
            .collect(),
        largest_shift: answer.largest_shift.map(|(k, mm)| ShiftDocument {
            point: points[k].name.clone(),
            mm,
        }),
        matters: answer.matters,
    }
}
