//! `recheck --json`.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::bench::Bench;
use crate::moves::Deciding;
use crate::moves::Explanation;
use crate::moves::Kin;
use crate::moves::Recheck;
use crate::moves::Seen;
use crate::moves::Weighed;
use crate::moves::What;
use crate::moves::change;
use crate::moves::cross;
use crate::moves::movement;
use crate::parameters::Parameter;
use crate::records::InForce;
use crate::registration::CauseDocument;
use crate::registration::PlaceDocument;
use crate::report::moves::recheck_next::next;
use crate::report::moves::words;

/// How explanations are ranked.
pub const CRITERION: &str = "S + k ln m, least first: k freed parameters, m new residuals (Schwarz 1978); a wrong reading or a second move costs 7.8 more";

/// `recheck --json`.
#[derive(Debug, Clone, Serialize)]
pub struct RecheckDocument {
    /// Name of the cell.
    pub cell: String,
    /// The registration that was rechecked: file and day.
    pub record: String,
    /// Whether it still holds.
    pub holds: bool,
    /// rᵀ (I + J C Jᵀ)⁻¹ r.
    pub chi2: f64,
    /// Residuals.
    pub dof: usize,
    /// P(χ² ≥ chi2).
    pub p_value: f64,
    /// Every residual.
    pub readings: Vec<SeenDocument>,
    /// Place in `readings` of the one that is farthest off for what was to be expected.
    pub worst: usize,
    /// Rows that read the very same as rows of an earlier record; they are left out unless `again`.
    pub as_before: Vec<PlaceDocument>,
    /// Whether these rows count all the same.
    pub again: bool,
    /// What these readings would notice, a part each.
    pub notices: Vec<NoticeDocument>,
    /// How explanations are ranked.
    pub criterion: String,
    /// What may have happened, the best first; empty where the registration holds.
    pub explanations: Vec<ExplanationDocument>,
    /// Whether the first explanation leads every other that fits by odds of 9 to 1.
    pub decided: bool,
    /// Readings that would decide between the first and its rivals.
    pub deciding: Vec<DecidingDocument>,
    /// What to do next.
    pub next: Vec<String>,
}

/// One residual.
#[derive(Debug, Clone, Serialize)]
pub struct SeenDocument {
    /// File.
    pub file: String,
    /// Physical line.
    pub line: usize,
    /// x, y, z for a touch.
    pub component: Option<String>,
    /// Predicted less read, mm or degrees.
    pub off: f64,
    /// mm or deg.
    pub unit: String,
    /// Standard uncertainty of the reading.
    pub u: f64,
    /// Standard uncertainty of `off` before it was seen: of reading and prediction.
    pub expected: f64,
    /// `off / expected`.
    pub ratio: f64,
    /// Whether it does not fit by itself.
    pub fails: bool,
}

/// What the readings would notice of a part.
#[derive(Debug, Clone, Serialize)]
pub struct NoticeDocument {
    /// The part.
    pub part: String,
    /// Whether they look at it at all.
    pub looked_at: bool,
    /// Its ways to move.
    pub ways: Vec<WayDocument>,
}

/// One way to move.
#[derive(Debug, Clone, Serialize)]
pub struct WayDocument {
    /// Parameters that change together.
    pub parameters: Vec<String>,
    /// The smallest movement that would be noticed with 80 % power; null: they do not look at it.
    pub least: Option<f64>,
    /// Its own test: a standard normal while nothing moved; null: they do not look at it.
    pub t: Option<f64>,
    /// Whether that is more than chance, all ways taken together.
    pub moved: bool,
    /// mm or deg.
    pub unit: String,
}

/// One explanation.
#[derive(Debug, Clone, Serialize)]
pub struct ExplanationDocument {
    /// `moved` or `reading`.
    pub what: String,
    /// Parts that moved, as `register --moved` calls them.
    pub parts: Vec<String>,
    /// The reading that is wrong.
    pub reading: Option<PlaceDocument>,
    /// The slip behind it.
    pub cause: Option<CauseDocument>,
    /// In a sentence.
    pub sentence: String,
    /// S at its best.
    pub chi2: f64,
    /// Residuals less freed parameters.
    pub dof: usize,
    /// P(χ² ≥ S); null with dof 0.
    pub p_value: Option<f64>,
    /// Freed parameters.
    pub freed: Vec<String>,
    /// Schwarz's criterion.
    pub criterion: f64,
    /// Whether the readings agree with it.
    pub fits: bool,
    /// Whether it cannot be told apart from the first one yet.
    pub rival: bool,
    /// What each freed parameter changed by.
    pub changes: Vec<ShiftedDocument>,
    /// Whole holes of the plate, columns and rows; null where it is none.
    pub whole_holes: Option<[i64; 2]>,
}

/// A parameter's change.
#[derive(Debug, Clone, Serialize)]
pub struct ShiftedDocument {
    /// Its name.
    pub name: String,
    /// Value in the record.
    pub before: f64,
    /// Value now.
    pub after: f64,
    /// Standard uncertainty of the difference.
    pub u: f64,
    /// Unit.
    pub unit: String,
}

/// A reading that would decide.
#[derive(Debug, Clone, Serialize)]
pub struct DecidingDocument {
    /// Between the first explanation and this one (its place in `explanations`).
    pub against: usize,
    /// Whether this one reading decides; else it only helps.
    pub decides: bool,
    /// What to do; null where no reading tells the two apart.
    pub reading: Option<String>,
    /// Its file.
    pub file: Option<String>,
    /// What is given in its row.
    pub cells: BTreeMap<String, String>,
    /// By how much the two differ there, mm or deg, a component each.
    pub apart: Vec<f64>,
}

/// What a recheck is told from.
pub struct RecheckFacts<'a> {
    /// The new readings.
    pub bench: &'a Bench,
    /// The registration.
    pub force: &'a InForce,
    /// How it is called.
    pub record: &'a str,
    /// What was seen.
    pub seen: &'a Recheck,
    /// What may have happened.
    pub weighed: Option<&'a Weighed>,
    /// Readings that would decide, one for each rival by its place in the list.
    pub deciding: &'a [(usize, Option<Deciding>)],
    /// Rows that read the very same as when a record was made.
    pub as_before: Vec<PlaceDocument>,
    /// Whether they count all the same.
    pub again: bool,
    /// How the set of readings is given on the command line, with a blank before it.
    pub set: &'a str,
    /// The cell as given on the command line.
    pub folder: &'a str,
}

/// Gathers the document.
pub fn document(facts: &RecheckFacts<'_>) -> RecheckDocument {
    let (bench, seen) = (facts.bench, facts.seen);
    let names = Parameter::all(&bench.cell);
    let name = |p: &Parameter| {
        let found = names.iter().find(|(_, q)| q == p);
        found.map_or_else(String::new, |(n, _)| n.clone())
    };
    let worst = seen
        .worst()
        .and_then(|w| seen.seen.iter().position(|s| s == w));
    let explanations: Vec<ExplanationDocument> = facts
        .weighed
        .map(|w| {
            w.list
                .iter()
                .map(|e| explanation(e, facts, &name))
                .collect()
        })
        .unwrap_or_default();
    let decided = facts.weighed.is_some_and(|w| w.named().is_some());
    let mut document = RecheckDocument {
        cell: bench.cell.name.clone(),
        record: facts.record.to_owned(),
        holds: seen.holds,
        chi2: seen.chi2,
        dof: seen.dof,
        p_value: seen.p_value,
        readings: seen.seen.iter().map(|s| of_seen(s, facts)).collect(),
        worst: worst.unwrap_or_default(),
        as_before: facts.as_before.clone(),
        again: facts.again,
        notices: notices(seen, &name),
        criterion: CRITERION.to_owned(),
        explanations,
        decided,
        deciding: facts
            .deciding
            .iter()
            .map(|(i, d)| deciding(*i, d.as_ref()))
            .collect(),
        next: Vec::new(),
    };
    document.next = next(&document, facts);
    document
}

fn of_seen(s: &Seen, facts: &RecheckFacts<'_>) -> SeenDocument {
    let taken = &facts.bench.taken[s.index];
    let unit = taken.reading.unit();
    SeenDocument {
        file: taken.file.to_string(),
        line: taken.line,
        component: taken.reading.component(s.component).map(str::to_owned),
        off: s.off / unit.in_code(),
        unit: unit.as_str().to_owned(),
        u: s.u / unit.in_code(),
        expected: s.expected / unit.in_code(),
        ratio: s.ratio,
        fails: !(s.ratio.abs() <= crate::fit::assess::SUSPECT),
    }
}

fn notices(seen: &Recheck, name: &dyn Fn(&Parameter) -> String) -> Vec<NoticeDocument> {
    let of = |b: &crate::moves::Blind| NoticeDocument {
        part: b.part.name(),
        looked_at: !b.unseen(),
        ways: b
            .ways
            .iter()
            .map(|way| {
                let unit = way.freedom.shares[0].0.unit();
                WayDocument {
                    parameters: way.freedom.shares.iter().map(|(p, _)| name(p)).collect(),
                    least: way.least.map(|l| l / unit.in_code()),
                    t: way.t,
                    moved: way.moved,
                    unit: unit.as_str().to_owned(),
                }
            })
            .collect(),
    };
    seen.notices.iter().map(of).collect()
}

fn explanation(
    e: &Explanation,
    facts: &RecheckFacts<'_>,
    name: &dyn Fn(&Parameter) -> String,
) -> ExplanationDocument {
    let cell = &facts.bench.cell;
    let mut out = ExplanationDocument {
        what: "moved".to_owned(),
        parts: e.parts().iter().map(|p| p.name()).collect(),
        reading: None,
        cause: None,
        sentence: String::new(),
        chi2: e.chi2,
        dof: e.dof,
        p_value: e.p_value,
        freed: e
            .freedoms
            .iter()
            .flat_map(|f| &f.shares)
            .map(|(p, _)| name(p))
            .collect(),
        criterion: e.criterion,
        fits: e.fits(),
        rival: facts
            .weighed
            .is_some_and(|w| w.rivals().iter().any(|r| std::ptr::eq(*r, e))),
        changes: Vec::new(),
        whole_holes: None,
    };
    match &e.what {
        What::Reading(suspect) => {
            let taken = &facts.bench.taken[suspect.index];
            out.what = "reading".to_owned();
            out.reading = Some(PlaceDocument {
                file: taken.file.to_string(),
                line: taken.line,
            });
            let place = format!("{}, line {}", taken.file, taken.line);
            out.sentence = match &suspect.cause {
                Some(cause) => format!(
                    "nothing moved, but {place} is wrong: {}",
                    cause.sentence.trim_end_matches('.')
                ),
                None => format!("nothing moved, but {place} is wrong"),
            };
            out.cause = suspect.cause.as_ref().map(CauseDocument::of);
        }
        What::Moved(parts) => {
            if let (Some((tied, _)), Some(after)) = (&e.solved, e.in_force())
                && let Some(tie) = tied.unknowns.tie()
            {
                let kin = Kin::Tied(tie.clone(), facts.force.covariance.clone());
                let change = change(cell, facts.force, &after, &cross(facts.force, &after, &kin));
                let moves: Vec<_> = parts
                    .iter()
                    .map(|p| movement(*p, cell, &facts.force.geometry, &after.geometry, &change))
                    .collect();
                let told: Vec<String> = moves.iter().map(|m| words::movement(m, cell)).collect();
                out.sentence = told.join("; and ");
                out.whole_holes = moves
                    .iter()
                    .find_map(|m| m.holes)
                    .map(|h| [h.columns, h.rows]);
                let freed = change.list.iter().filter(|c| out.freed.contains(&c.name));
                out.changes = freed
                    .map(|c| {
                        let unit = c.parameter.unit();
                        ShiftedDocument {
                            name: c.name.clone(),
                            before: c.values[0] / unit.in_code(),
                            after: c.values[1] / unit.in_code(),
                            u: c.u / unit.in_code(),
                            unit: unit.as_str().to_owned(),
                        }
                    })
                    .collect();
            }
        }
    }
    out
}

fn deciding(against: usize, found: Option<&Deciding>) -> DecidingDocument {
    let Some(d) = found else {
        return DecidingDocument {
            against,
            decides: false,
            reading: None,
            file: None,
            cells: BTreeMap::new(),
            apart: Vec::new(),
        };
    };
    let unit = d.proposal.taken.reading.unit().in_code();
    DecidingDocument {
        against,
        decides: d.decides(),
        reading: Some(d.proposal.draft.words.clone()),
        file: Some(d.proposal.kind.to_owned()),
        cells: d.proposal.draft.given.iter().cloned().collect(),
        apart: d.apart.iter().map(|a| a / unit).collect(),
    }
}
