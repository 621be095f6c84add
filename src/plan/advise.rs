//! What a registration leaves open, in words of the bench, and the reading that would settle it, found by
//! trying all that could be taken.

use nalgebra::DMatrix;
use nalgebra::DVector;
use nalgebra::SymmetricEigen;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::fit::identify::FreeDirection;
use crate::parameters::Unknowns;
use crate::plan::combination::named;
use crate::plan::combination::parts;
use crate::plan::combination::reason;
use crate::plan::state::State;
use crate::proposals::Proposal;
use crate::proposals::proposals;
use crate::registration::AdviceDocument;
use crate::registration::Outcome;
use crate::registration::PlaceDocument;
use crate::registration::Registration;
use crate::registration::points_at;

/// A free combination is hardly settled beyond so many scaling units (1 mm, 1 degree).
const HARDLY_FREE: f64 = 10.0;
/// One that its tolerances hold: the readings took away less than a tenth.
const HARDLY_TIED: f64 = 0.9;
/// A tip that moves less than this for one scaling unit does not matter, mm.
const MATTERS_MM: f64 = 0.02;
/// Most combinations that are talked about.
const MOST: usize = 6;
/// A reading helps where it would see one scaling unit of the combination with at least this many u.
const HELPS: f64 = 0.5;

/// Advice on a registration; nothing where all is settled and checked.
pub fn advise(
    bench: &Bench,
    unknowns: &Unknowns,
    registration: &Registration,
) -> Vec<AdviceDocument> {
    let mut open: Vec<(&'static str, Vec<f64>)> = Vec::new();
    let mut unchecked: Vec<(usize, usize)> = Vec::new();
    let geometry = match &registration.outcome {
        Outcome::Failed(_) => return Vec::new(),
        Outcome::Undetermined(free) => {
            open.extend(free.iter().map(|d| ("undetermined", d.vector.clone())));
            bench.cell.nominal.clone()
        }
        Outcome::Determined(found) => {
            let ties: &[FreeDirection] = &found.assessment.by_tolerance_only;
            open.extend(ties.iter().map(|d| ("tolerance only", d.vector.clone())));
            unchecked = found.reliability.unchecked.clone();
            found.geometry.clone()
        }
    };
    let hardly = match &registration.outcome {
        Outcome::Determined(found) => {
            !unknowns.is_empty() && found.assessment.found.iter().any(|f| f.weak)
        }
        _ => false,
    };
    if open.is_empty() && unchecked.is_empty() && !hardly {
        return Vec::new();
    }
    let Some(mut state) = State::new(bench, unknowns, &geometry) else {
        return Vec::new();
    };
    if hardly {
        for vector in hardly_settled(&state) {
            let known = open.iter().any(|(_, v)| dot(v, &vector).abs() > 0.9);
            if !known {
                open.push(("hardly settled", vector));
            }
        }
    }
    open.truncate(MOST);
    let points = points_at(bench, &geometry, unknowns, &state.covariance());
    state.aim(&geometry, unknowns, &points);
    let candidates = proposals(bench, unknowns, &geometry);
    let adviser = Adviser {
        bench,
        unknowns,
        geometry: &geometry,
        rows: candidates.iter().map(|p| state.scaled(&p.j)).collect(),
        candidates,
        names: points.iter().map(|p| p.name.clone()).collect(),
        state,
    };
    let mut advice: Vec<AdviceDocument> = open
        .iter()
        .map(|(about, vector)| adviser.on_combination(about, vector))
        .collect();
    advice.extend(adviser.on_unchecked(&unchecked));
    advice
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Directions of the unknowns, in scaled columns, that stay wide.
fn hardly_settled(state: &State) -> Vec<Vec<f64>> {
    let Some(eigen) = SymmetricEigen::try_new(state.c.clone(), f64::EPSILON, 1000) else {
        return Vec::new();
    };
    let mut found: Vec<(f64, Vec<f64>)> = Vec::new();
    for (value, vector) in eigen
        .eigenvalues
        .iter()
        .zip(eigen.eigenvectors.column_iter())
    {
        let tied: f64 = (0..state.scale.len())
            .filter(|j| state.tied[*j])
            .map(|j| vector[j] * vector[j])
            .sum();
        let limit = if tied > 0.5 { HARDLY_TIED } else { HARDLY_FREE };
        if value.max(0.0).sqrt() > limit {
            let largest = vector
                .iter()
                .copied()
                .fold(0.0, |m: f64, v| if v.abs() > m.abs() { v } else { m });
            let sign = largest.signum();
            found.push((*value, vector.iter().map(|v| v * sign).collect()));
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.into_iter().map(|(_, vector)| vector).collect()
}

struct Adviser<'a> {
    bench: &'a Bench,
    unknowns: &'a Unknowns,
    geometry: &'a Geometry,
    state: State,
    candidates: Vec<Proposal>,
    rows: Vec<DMatrix<f64>>,
    names: Vec<String>,
}

impl Adviser<'_> {
    fn on_combination(&self, about: &str, vector: &[f64]) -> AdviceDocument {
        let parts = parts(vector);
        let matters_for = self.matters_for(vector);
        let reading = self.settling(vector);
        let mut sentence = self.what(about, &parts);
        sentence.push_str(
            &match (matters_for.is_empty(), self.state.targets.is_empty()) {
                (_, true) => String::new(),
                (true, _) => {
                    " It does not matter for the points of points.csv and taught.csv.".to_owned()
                }
                (false, _) => format!(" It matters for {}.", some(&matters_for)),
            },
        );
        self.document(about, sentence, matters_for, reading, &parts)
    }

    fn what(&self, about: &str, parts: &[(usize, f64)]) -> String {
        let name = |k: usize| named(self.bench, self.unknowns, parts[k].0);
        match (about, parts.len()) {
            (_, 0) => "Something stays open.".to_owned(),
            ("undetermined", 1) => format!("No reading says anything of {}.", name(0)),
            ("tolerance only", 1) => {
                format!(
                    "No reading says anything of {}; its tolerance alone holds it.",
                    name(0)
                )
            }
            (_, 1) => format!("The readings hardly hold {}.", name(0)),
            (_, 2) => {
                let pair = [parts[0].0, parts[1].0];
                let why = reason(self.bench, self.unknowns, self.geometry, pair)
                    .unwrap_or("a change of one is made up for by the other in every reading");
                let hardly = if about == "hardly settled" {
                    "can hardly"
                } else {
                    "cannot"
                };
                format!(
                    "The readings {hardly} tell {} from {}: {why}.",
                    name(0),
                    name(1)
                )
            }
            (_, n) => {
                let shown: Vec<String> = (0..n.min(4)).map(name).collect();
                let more = match n > 4 {
                    true => format!(" and {} more", n - 4),
                    false => String::new(),
                };
                let hardly = if about == "hardly settled" {
                    "can hardly"
                } else {
                    "cannot"
                };
                format!(
                    "The readings {hardly} tell {}{more} apart: together they can change without \
                     any reading showing it.",
                    shown.join(", ")
                )
            }
        }
    }

    /// Points at which one scaling unit of a combination moves the tip.
    fn matters_for(&self, vector: &[f64]) -> Vec<String> {
        let v = DVector::from_column_slice(vector);
        let targets = self.state.targets.iter();
        targets
            .filter(|t| (&t.g * &v).norm() > MATTERS_MM)
            .map(|t| self.names[t.point].clone())
            .collect()
    }

    /// The reading that sees most of a combination.
    fn settling(&self, vector: &[f64]) -> Option<usize> {
        let v = DVector::from_column_slice(vector);
        let seen = self.rows.iter().map(|row| (row * &v).norm());
        let (best, most) = seen.enumerate().max_by(|a, b| a.1.total_cmp(&b.1))?;
        (most > HELPS).then_some(best)
    }

    /// Readings that nothing checks, one sentence for those that the same reading would check.
    fn on_unchecked(&self, unchecked: &[(usize, usize)]) -> Vec<AdviceDocument> {
        let mut groups: Vec<(Option<usize>, Vec<PlaceDocument>)> = Vec::new();
        for (index, component) in unchecked.iter().take(50) {
            let taken = &self.bench.taken[*index];
            let place = PlaceDocument {
                file: taken.file.to_string(),
                line: taken.line,
            };
            let reading = self.checking(*index, *component);
            match groups.iter_mut().find(|(r, _)| *r == reading) {
                Some((_, places)) if places.contains(&place) => {}
                Some((_, places)) => places.push(place),
                None => groups.push((reading, vec![place])),
            }
        }
        groups
            .into_iter()
            .map(|(reading, places)| {
                let rows: Vec<String> = places
                    .iter()
                    .map(|p| format!("{} line {}", p.file, p.line))
                    .collect();
                let sentence = format!(
                    "Nothing checks {}; a slip there would go unnoticed.",
                    rows.join(", ")
                );
                let mut advice = self.document("unchecked", sentence, Vec::new(), reading, &[]);
                advice.readings = places;
                advice
            })
            .collect()
    }

    /// The reading, of those that could be taken, with which a residual is checked best.
    fn checking(&self, index: usize, component: usize) -> Option<usize> {
        let used = self.bench.taken.iter().filter(|t| t.used());
        let at = used
            .enumerate()
            .find(|(_, t)| std::ptr::eq(*t, &self.bench.taken[index]))?
            .0;
        let row = self.state.rows.get(at)?.rows(component, 1).into_owned();
        let mut best: Option<(usize, f64)> = None;
        for (k, candidate) in self.rows.iter().enumerate() {
            let Some(update) = self.state.update(candidate) else {
                continue;
            };
            let more = (&row * &update.a).norm_squared();
            if more > 0.02 && best.is_none_or(|b| more > b.1) {
                best = Some((k, more));
            }
        }
        best.map(|(k, _)| k)
    }

    fn document(
        &self,
        about: &str,
        sentence: String,
        matters_for: Vec<String>,
        reading: Option<usize>,
        parts: &[(usize, f64)],
    ) -> AdviceDocument {
        let proposal = reading.map(|k| &self.candidates[k]);
        AdviceDocument {
            about: about.to_owned(),
            parameters: parts
                .iter()
                .map(|(j, _)| self.bench.cell.solve[*j].name.clone())
                .collect(),
            readings: Vec::new(),
            sentence,
            matters_for,
            reading: proposal.map(|p| p.draft.words.clone()),
            file: proposal.map(|p| format!("readings/{}", p.kind)),
            cells: proposal.map_or_else(Default::default, |p| {
                p.draft.given.iter().cloned().collect()
            }),
        }
    }
}

/// A few names, and how many more.
fn some(names: &[String]) -> String {
    const SHOWN: usize = 4;
    let shown = names[..names.len().min(SHOWN)].join(", ");
    match names.len() > SHOWN {
        true => format!("{shown} and {} more points", names.len() - SHOWN),
        false => shown,
    }
}
