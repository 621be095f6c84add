//! A registration: the adjustment of a whole cell, held against what was to be reached.

mod checks;
mod document;
mod findings;
mod gather;
mod points;
mod reliability;
mod repeats;
mod robust;
mod simulation;

pub use checks::Checks;
pub use checks::check;
pub use document::AdviceDocument;
pub use document::ChangeDocument;
pub use document::DirectionDocument;
pub use document::Document;
pub use document::MovedDocument;
pub use document::ParameterDocument;
pub use document::PlaceDocument;
pub use document::PlayDocument;
pub use document::PointDocument;
pub use document::ReadingDocument;
pub use document::UnusedDocument;
pub use findings::CauseDocument;
pub use findings::CheckRowDocument;
pub use findings::CheckedTipDocument;
pub use findings::ChecksDocument;
pub use findings::RestDocument;
pub use findings::SuspectDocument;
pub use findings::UnsolvedDocument;
pub use gather::document;
pub use points::ONLY_AT_PAIRS;
pub use points::points_at;
pub use reliability::Reliability;
pub use reliability::Slip;
pub use repeats::AxisRepeatsDocument;
pub use repeats::RepeatsDocument;
pub use repeats::ScatterDocument;
pub use repeats::TipRepeatsDocument;
pub use robust::RobustAnswer;
pub use robust::RobustDocument;
pub use simulation::SimulationDocument;
pub use simulation::simulation;

pub use crate::bench::Bench;
pub use crate::bench::Source;
pub use crate::bench::check_headings;
pub use crate::bench::resolve_unknowns;

use std::sync::Arc;

use crate::causes;
use crate::causes::Findings;
use crate::causes::Suspect;
use crate::causes::solved::Solved;
use crate::cell::Belongs;
use crate::cell::Geometry;
use crate::fit::adjust::Network;
use crate::fit::assess::Assessment;
use crate::fit::assess::NoRegistration;
use crate::fit::assess::assess;
use crate::fit::identify::FreeDirection;
use crate::fit::repeats::Repeats;
use crate::fit::repeats::repeats as repeats_among;
use crate::fit::solve::Ending;
use crate::fit::spread::Spread;
use crate::fit::start::least;
use crate::parameters::Unknowns;
use crate::readings::Taken;
use crate::readings::stand::Stand;
use crate::registration::reliability::reliability;
use crate::table::common::Use;

/// Whether the registration can be used as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// dof > 0, nothing suspect, the global test holds, every tolerance of `[accept]` is met.
    Accepted,
    /// A person must look at something.
    Look,
    /// The readings do not settle all unknowns; there is no registration.
    Undetermined,
}

impl Verdict {
    /// As written in JSON.
    pub fn as_str(self) -> &'static str {
        match self {
            Verdict::Accepted => "accepted",
            Verdict::Look => "look",
            Verdict::Undetermined => "undetermined",
        }
    }
}

/// Play of joint 1 as a touch showed it.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaySeen {
    /// File of the reading.
    pub file: Arc<str>,
    /// Its line.
    pub line: usize,
    /// Lost motion of joint 1, rad.
    pub lost_motion_rad: f64,
}

/// How sure the tip is at one point of `points.csv` or `taught.csv`.
#[derive(Debug, Clone, PartialEq)]
pub struct PointCheck {
    /// The point.
    pub name: String,
    /// Its frame.
    pub frame: Belongs,
    /// Whether it comes from `taught.csv`.
    pub taught: bool,
    /// u95 of the tip there, mm; `None` where the point cannot be reached.
    pub u95_mm: Option<f64>,
    /// Why it cannot be reached, if so.
    pub unreachable: Option<String>,
    /// Axis readings at which it was looked at.
    pub stand: Option<Stand>,
}

/// What came out.
#[derive(Debug, Clone)]
pub enum Outcome {
    /// There is a registration.
    Determined(Box<Determined>),
    /// There is none: these combinations are settled by nothing.
    Undetermined(Vec<FreeDirection>),
    /// The numbers ran away.
    Failed(String),
}

/// A registration and what was made of it.
#[derive(Debug, Clone)]
pub struct Determined {
    /// Unknowns, tests, covariance.
    pub assessment: Assessment,
    /// The geometry with the unknowns at their solved values.
    pub geometry: Geometry,
    /// Play seen at touches.
    pub play: Vec<PlaySeen>,
    /// u95 at the points.
    pub points: Vec<PointCheck>,
    /// Whether every tolerance of `[accept]` is met.
    pub within_accept: bool,
    /// What does not fit, and what may be behind it; `None` where everything fits.
    pub findings: Option<Findings>,
    /// The rows that were kept out to check the result, held against what is left without the suspects.
    pub checks: Option<Checks>,
    /// What one slip that nobody notices could do.
    pub reliability: Reliability,
    /// What a robust estimate says; `None` where there is none.
    pub robust: Option<RobustAnswer>,
    /// What repeated readings say; their places are those in `repeated`.
    pub repeats: Repeats,
    /// Places in the bench's list of the readings whose repeats count: those that took part or check,
    /// without the suspects.
    pub repeated: Vec<usize>,
    /// Likely causes of check rows that do not fit.
    pub check_causes: Vec<Suspect>,
    /// Places in the bench's list of the readings that took part.
    pub used: Vec<usize>,
    /// Places of the suspects that were set aside because that was asked for.
    pub set_aside: Vec<usize>,
    /// How the solver ended.
    pub ending: Ending,
    /// Iterations of the last run.
    pub iterations: usize,
}

/// A cell's registration.
#[derive(Debug, Clone)]
pub struct Registration {
    /// What came out.
    pub outcome: Outcome,
    /// accepted, look or undetermined.
    pub verdict: Verdict,
}

/// Solves a cell and judges the result.
pub fn register(bench: &Bench, unknowns: &Unknowns) -> Registration {
    register_with(bench, unknowns, SetAside::Nothing)
}

/// What a registration does with its suspects.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SetAside {
    /// Nothing is left out; the plain least-squares answer is the answer.
    Nothing,
    /// Suspects are set aside one after another, and the rest is the answer.
    Suspects,
}

/// The same; with [`SetAside::Suspects`] the readings that do not fit are set aside, and listed.
pub fn register_with(bench: &Bench, unknowns: &Unknowns, what: SetAside) -> Registration {
    let used: Vec<usize> = (0..bench.taken.len())
        .filter(|i| bench.taken[*i].used())
        .collect();
    let plain = register_used(bench, unknowns, used.clone());
    let Outcome::Determined(determined) = &plain.outcome else {
        return plain;
    };
    let aside = match &determined.findings {
        Some(f) if what == SetAside::Suspects && f.rows_are_to_blame() => f.snooped.aside.clone(),
        _ => return plain,
    };
    if aside.is_empty() {
        return plain;
    }
    let findings = determined.findings.clone();
    let left: Vec<usize> = used.into_iter().filter(|i| !aside.contains(i)).collect();
    let mut registration = register_used(bench, unknowns, left);
    // What was set aside is still something that a person must look at.
    registration.verdict = match registration.verdict {
        Verdict::Accepted => Verdict::Look,
        other => other,
    };
    if let Outcome::Determined(determined) = &mut registration.outcome {
        determined.findings = findings;
        determined.set_aside = aside;
    }
    registration
}

fn register_used(bench: &Bench, unknowns: &Unknowns, used: Vec<usize>) -> Registration {
    let taken: Vec<&Taken> = used.iter().map(|i| &bench.taken[*i]).collect();
    let mut network = Network::new(&bench.cell.nominal, unknowns, taken);
    let minimum = least(&mut network);
    if !minimum.chi2.is_finite() {
        return failed(format!("the adjustment broke down: {}", minimum.ending));
    }
    let assessment = match assess(&network, &minimum) {
        Ok(assessment) => assessment,
        Err(NoRegistration::Undetermined(free)) => {
            return Registration {
                outcome: Outcome::Undetermined(free),
                verdict: Verdict::Undetermined,
            };
        }
        Err(NoRegistration::NotFinite) => {
            return failed("a derivative or a covariance is not a finite number".to_owned());
        }
    };
    let geometry = network.geometry_at(&minimum.x);
    let points = points_at(bench, &geometry, unknowns, &assessment.covariance);
    let within_accept = bench
        .cell
        .accept
        .tip_mm
        .is_none_or(|limit| points.iter().all(|p| p.u95_mm.is_none_or(|u| u <= limit)));
    let converged = minimum.ending == Ending::Converged
        || matches!(minimum.ending, Ending::NoDownhillStep { offset, .. } if offset < 1e-6);
    let solved = Solved {
        unknowns: unknowns.clone(),
        used: used.clone(),
        minimum: minimum.clone(),
        assessment: assessment.clone(),
        geometry: geometry.clone(),
    };
    let findings = (!solved.ordinary()).then(|| causes::find(bench, unknowns, solved.clone()));
    // Check readings are held against what is left without the suspects, where that agrees.
    let sound = match &findings {
        Some(f) if f.rows_are_to_blame() => &f.snooped.solved,
        _ => &solved,
    };
    let checks = check(bench, sound);
    let failing = checks.as_ref().map_or(&[][..], |c| &c.failing);
    let check_causes = causes::outside(bench, sound, failing);
    let accepted = assessment.dof > 0
        && !assessment.any_suspect()
        && assessment.global_test_holds()
        && within_accept
        && checks.as_ref().is_none_or(|c| c.hold)
        && converged;
    let robust = robust::beside(&mut network, &minimum.x, &geometry, &assessment, &points);
    let spread = Spread::new(&geometry, unknowns, &assessment.covariance);
    let reliability = reliability(&spread, &minimum, &assessment, &used, bench, &points);
    let repeated = repeated(bench, &used, findings.as_ref());
    let readings: Vec<&Taken> = repeated.iter().map(|i| &bench.taken[*i]).collect();
    let repeats = repeats_among(&geometry, &readings);
    let determined = Determined {
        reliability,
        robust,
        repeats,
        repeated,
        play: play_seen(bench, &geometry, &used),
        findings,
        checks,
        check_causes,
        used,
        set_aside: Vec::new(),
        assessment,
        geometry,
        points,
        within_accept,
        ending: minimum.ending,
        iterations: minimum.iterations,
    };
    Registration {
        outcome: Outcome::Determined(Box::new(determined)),
        verdict: if accepted {
            Verdict::Accepted
        } else {
            Verdict::Look
        },
    }
}

/// Places of the readings whose repeats count: those that took part or check, without the suspects.
fn repeated(bench: &Bench, used: &[usize], findings: Option<&Findings>) -> Vec<usize> {
    let mut counts = vec![false; bench.taken.len()];
    for i in used {
        counts[*i] = true;
    }
    for (count, taken) in counts.iter_mut().zip(&bench.taken) {
        *count |= taken.role == Use::Check;
    }
    // Where too much does not fit it may be the stated u that is wrong: then all of them speak.
    let sure = findings.filter(|f| f.rows_are_to_blame());
    for suspect in sure.into_iter().flat_map(|f| &f.suspects) {
        counts[suspect.index] = false;
    }
    (0..counts.len()).filter(|i| counts[*i]).collect()
}

fn failed(why: String) -> Registration {
    Registration {
        outcome: Outcome::Failed(why),
        verdict: Verdict::Undetermined,
    }
}

fn play_seen(bench: &Bench, geometry: &Geometry, used: &[usize]) -> Vec<PlaySeen> {
    let used = used.iter().map(|i| &bench.taken[*i]);
    used.filter_map(|t| {
        Some(PlaySeen {
            file: t.file.clone(),
            line: t.line,
            lost_motion_rad: t.reading.joint_1_play_rad(geometry)?,
        })
    })
    .collect()
}
