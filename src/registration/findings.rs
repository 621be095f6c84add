//! The JSON of what does not fit, of its likely causes and of the independent check.

use serde::Deserialize;
use serde::Serialize;

use crate::bench::Bench;
use crate::causes::Cause;
use crate::causes::Suspect;
use crate::causes::snoop::Ended;
use crate::parameters::Parameter;
use crate::registration::Checks;
use crate::registration::Determined;
use crate::registration::Document;
use crate::registration::PlaceDocument;

/// A likely cause: what was written, and what was probably meant.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CauseDocument {
    /// `count`, `mark`, `gap`, `unit`, `notch`, `approach`, `offset`, `target`, `attitude`, `joint`,
    /// `swap`; of a whole file or cell `unit`, `pitch`, `direction`.
    pub kind: String,
    /// The file to correct.
    pub file: String,
    /// Its lines; empty for a whole file or cell.
    pub lines: Vec<usize>,
    /// Column or key, several with commas between.
    pub column: String,
    /// As it stands there.
    pub found: String,
    /// As it should.
    pub suggested: String,
    /// S as it was written, other suspects left out.
    pub chi2_before: f64,
    /// S with this put right.
    pub chi2_after: f64,
    /// Its share of all that may explain the same, 0 to 1.
    pub share: f64,
    /// In a sentence.
    pub sentence: String,
}

/// One suspect.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SuspectDocument {
    /// File, or `cell.toml` for a value of the drawing.
    pub file: String,
    /// Physical line.
    pub line: Option<usize>,
    /// The parameter whose tolerance does not fit, for a value of the drawing.
    pub parameter: Option<String>,
    /// How far off it is from what the others say, mm or degrees, a component each.
    pub off: Vec<f64>,
    /// mm or deg.
    pub unit: Option<String>,
    /// Its likely cause.
    pub cause: Option<CauseDocument>,
    /// What may be behind it, where no cause leads.
    pub possible: Vec<CauseDocument>,
}

/// Parameters that the drawing holds; with them solved for, all readings would agree.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UnsolvedDocument {
    /// Their names.
    pub parameters: Vec<String>,
    /// How far off the drawing they would come out, in the unit of each.
    pub off: Vec<f64>,
    /// S then.
    pub chi2: f64,
}

/// What is left without the suspects.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RestDocument {
    /// S.
    pub chi2: f64,
    /// Residuals minus unknowns.
    pub dof: usize,
    /// √(S/dof).
    pub sigma0: Option<f64>,
    /// P(χ² ≥ S).
    pub p_value: Option<f64>,
}

/// The independent check.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChecksDocument {
    /// Every residual of every check reading.
    pub rows: Vec<CheckRowDocument>,
    /// The tip over all check touches; null without touches.
    pub tip: Option<CheckedTipDocument>,
    /// Joint test of all rows.
    pub chi2: f64,
    /// Its degrees of freedom.
    pub dof: usize,
    /// Its probability.
    pub p_value: f64,
    /// Whether all agree with the registration.
    pub hold: bool,
}

/// One residual of a check reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CheckRowDocument {
    /// File.
    pub file: String,
    /// Physical line.
    pub line: usize,
    /// x, y, z for a touch.
    pub component: Option<String>,
    /// What was seen, mm or degrees.
    pub observed: f64,
    /// mm or deg.
    pub unit: String,
    /// Standard uncertainty of that before it was seen.
    pub predicted: f64,
    /// observed over predicted.
    pub ratio: f64,
    /// Likely cause, where it does not fit.
    pub cause: Option<CauseDocument>,
}

/// The tip over all check touches.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CheckedTipDocument {
    /// How many.
    pub touches: usize,
    /// Root of the mean square, mm.
    pub rms_mm: f64,
    /// The largest, mm.
    pub largest_mm: f64,
    /// Where it was seen.
    pub largest: PlaceDocument,
}

impl CauseDocument {
    /// The document of a cause.
    pub fn of(cause: &Cause) -> Self {
        CauseDocument {
            kind: cause.kind.as_str().to_owned(),
            file: cause.file.clone(),
            lines: cause.lines.clone(),
            column: cause.column.clone(),
            found: cause.found.clone(),
            suggested: cause.suggested.clone(),
            chi2_before: cause.chi2_before,
            chi2_after: cause.chi2_after,
            share: cause.share,
            sentence: cause.sentence.clone(),
        }
    }
}

/// Adds what was found to a document whose readings are listed already.
pub(super) fn fill(document: &mut Document, bench: &Bench, determined: &Determined) {
    let place = |index: &usize| PlaceDocument {
        file: bench.taken[*index].file.to_string(),
        line: bench.taken[*index].line,
    };
    document.set_aside = determined.set_aside.iter().map(place).collect();
    let sound = determined.findings.is_none() || !determined.set_aside.is_empty();
    document.verified = Some(
        match &determined.checks {
            // What is contradicted is not confirmed by what agrees with a part of it.
            Some(checks) if checks.hold && sound => "independently",
            Some(_) => "not confirmed",
            None => "only with itself",
        }
        .to_owned(),
    );
    document.checks = determined
        .checks
        .as_ref()
        .map(|c| checks(bench, c, &determined.check_causes));
    let Some(findings) = &determined.findings else {
        return;
    };
    document.search = Some(
        match findings.snooped.ended {
            _ if findings.whole.is_some() || !findings.whole_possible.is_empty() => "whole",
            _ if findings.held => "held",
            Ended::Agrees => "agrees",
            Ended::TooMany => "too many",
            Ended::NothingStandsOut => "nothing stands out",
        }
        .to_owned(),
    );
    let rest = &findings.snooped.solved.assessment;
    document.rest = Some(RestDocument {
        chi2: rest.chi2,
        dof: rest.dof,
        sigma0: rest.sigma0,
        p_value: rest.p_value,
    });
    let named = findings.named();
    document.causes = named.iter().map(|c| CauseDocument::of(c)).collect();
    document.possible_causes = findings
        .whole_possible
        .iter()
        .map(CauseDocument::of)
        .collect();
    document.unsolved = findings
        .unsolved
        .iter()
        .map(|u| UnsolvedDocument {
            parameters: u.parameters.clone(),
            off: u
                .parameters
                .iter()
                .zip(&u.off)
                .map(|(name, off)| {
                    let p = Parameter::named(&bench.cell, name);
                    off / p.map_or(1.0, |p| p.unit().in_code())
                })
                .collect(),
            chi2: u.chi2,
        })
        .collect();
    for suspect in &findings.suspects {
        let taken = &bench.taken[suspect.index];
        document.suspects.push(SuspectDocument {
            file: taken.file.to_string(),
            line: Some(taken.line),
            parameter: None,
            off: suspect
                .off
                .iter()
                .map(|r| r / taken.reading.unit().in_code())
                .collect(),
            unit: Some(taken.reading.unit().as_str().to_owned()),
            cause: suspect.cause.as_ref().map(CauseDocument::of),
            possible: suspect.possible.iter().map(CauseDocument::of).collect(),
        });
    }
    let released: &[usize] = match findings.held {
        true => &[],
        false => &findings.snooped.released,
    };
    for j in released {
        document.suspects.push(SuspectDocument {
            file: "cell.toml".to_owned(),
            line: Some(bench.cell.solve[*j].line),
            parameter: Some(bench.cell.solve[*j].name.clone()),
            off: Vec::new(),
            unit: None,
            cause: None,
            possible: Vec::new(),
        });
    }
    for cause in &named {
        attach(document, bench, determined, cause);
    }
}

/// The cause at the residuals that it explains: the suspect ones; where none of them is suspect by
/// the plain solution, the one that stands out most.
fn attach(document: &mut Document, bench: &Bench, determined: &Determined, cause: &Cause) {
    let written = CauseDocument::of(cause);
    let mut index_of_row = Vec::new();
    for index in &determined.used {
        let count = bench.taken[*index].reading.components();
        index_of_row.extend(std::iter::repeat_n(*index, count));
    }
    let groups: Vec<Vec<usize>> = match cause.lines.is_empty() {
        true => vec![cause.readings.clone()],
        false => cause.readings.iter().map(|i| vec![*i]).collect(),
    };
    for group in groups {
        let mut rows: Vec<usize> = (0..index_of_row.len())
            .filter(|row| group.contains(&index_of_row[*row]))
            .collect();
        let size = |row: &usize| document.readings[*row].standardized.unwrap_or(0.0).abs();
        if let Some(most) = rows
            .iter()
            .copied()
            .max_by(|a, b| size(a).total_cmp(&size(b)))
            && !rows.iter().any(|row| document.readings[*row].suspect)
        {
            rows = vec![most];
        } else {
            rows.retain(|row| document.readings[*row].suspect);
        }
        for row in rows {
            document.readings[row].cause = Some(written.clone());
        }
    }
}

fn checks(bench: &Bench, checks: &Checks, causes: &[Suspect]) -> ChecksDocument {
    ChecksDocument {
        rows: checks
            .rows
            .iter()
            .map(|row| {
                let taken = &bench.taken[row.index];
                let unit = taken.reading.unit();
                CheckRowDocument {
                    file: taken.file.to_string(),
                    line: taken.line,
                    component: taken.reading.component(row.component).map(str::to_owned),
                    observed: row.observed / unit.in_code(),
                    unit: unit.as_str().to_owned(),
                    predicted: row.predicted / unit.in_code(),
                    ratio: row.ratio,
                    cause: causes
                        .iter()
                        .find(|s| s.index == row.index)
                        .and_then(|s| s.cause.as_ref())
                        .map(CauseDocument::of),
                }
            })
            .collect(),
        tip: checks.tip.as_ref().map(|tip| CheckedTipDocument {
            touches: tip.touches,
            rms_mm: tip.rms_mm,
            largest_mm: tip.largest_mm,
            largest: PlaceDocument {
                file: bench.taken[tip.largest_at].file.to_string(),
                line: bench.taken[tip.largest_at].line,
            },
        }),
        chi2: checks.chi2,
        dof: checks.dof,
        p_value: checks.p_value,
        hold: checks.hold,
    }
}
