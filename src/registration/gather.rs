//! Gathers the document of a registration.

use crate::fit::assess::Tested;
use crate::fit::identify::FreeDirection;
use crate::parameters::Unknowns;
use crate::registration::Bench;
use crate::registration::Determined;
use crate::registration::DirectionDocument;
use crate::registration::Document;
use crate::registration::Outcome;
use crate::registration::ParameterDocument;
use crate::registration::PlaceDocument;
use crate::registration::PlayDocument;
use crate::registration::ReadingDocument;
use crate::registration::Registration;
use crate::registration::document::PointDocument;
use crate::registration::document::ReliabilityDocument;
use crate::registration::document::ShareDocument;
use crate::registration::findings;
use crate::registration::repeats;
use crate::registration::robust;
use crate::table::common::Use;

/// The document of a registration.
pub fn document(bench: &Bench, unknowns: &Unknowns, registration: &Registration) -> Document {
    let nominal = unknowns.read(&bench.cell.nominal);
    let directions = |free: &[FreeDirection]| -> Vec<DirectionDocument> {
        let share = |(j, share): &(usize, f64)| ShareDocument {
            name: bench.cell.solve[*j].name.clone(),
            share: *share,
        };
        free.iter()
            .map(|d| DirectionDocument {
                parameters: d.shares.iter().map(share).collect(),
            })
            .collect()
    };
    let mut parameters: Vec<ParameterDocument> = Vec::new();
    for (j, (parameter, tolerance)) in unknowns.list.iter().enumerate() {
        let unit = parameter.unit();
        parameters.push(ParameterDocument {
            name: bench.cell.solve[j].name.clone(),
            value: None,
            u: None,
            unit: unit.as_str().to_owned(),
            nominal: nominal[j] / unit.in_code(),
            tolerance: tolerance.map(|t| t / unit.in_code()),
            redundancy: None,
            standardized: None,
            suspect: false,
            weak: false,
        });
    }
    let place = |file: &str, line: usize| PlaceDocument {
        file: file.to_owned(),
        line,
    };
    let left_out = bench.taken.iter().filter(|t| t.role == Use::No);
    let mut document = Document {
        cell: bench.cell.name.clone(),
        parameters,
        covariance: Vec::new(),
        chi2: None,
        dof: None,
        sigma0: None,
        p_value: None,
        readings: Vec::new(),
        left_out: left_out.map(|t| place(&t.file, t.line)).collect(),
        unfinished: bench
            .unfinished
            .iter()
            .map(|u| place(&u.file, u.line))
            .collect(),
        play: Vec::new(),
        by_tolerance_only: Vec::new(),
        undetermined: Vec::new(),
        points: Vec::new(),
        suspects: Vec::new(),
        search: None,
        advice: Vec::new(),
        simulation: None,
        robust: None,
        repeats: None,
        rest: None,
        reliability: None,
        causes: Vec::new(),
        possible_causes: Vec::new(),
        unsolved: Vec::new(),
        set_aside: Vec::new(),
        checks: None,
        verified: None,
        moved: None,
        verdict: registration.verdict.as_str().to_owned(),
    };
    let determined = match &registration.outcome {
        Outcome::Determined(determined) => determined,
        Outcome::Undetermined(free) => {
            // Nothing was found, so nothing is listed.
            document.parameters.clear();
            document.undetermined = directions(free);
            return document;
        }
        Outcome::Failed(_) => return document,
    };
    let assessment = &determined.assessment;
    let units: Vec<f64> = unknowns
        .list
        .iter()
        .map(|(p, _)| p.unit().in_code())
        .collect();
    for (j, (shown, found)) in document
        .parameters
        .iter_mut()
        .zip(&assessment.found)
        .enumerate()
    {
        shown.value = Some(found.value / units[j]);
        shown.u = Some(found.u / units[j]);
        shown.weak = found.weak;
        if let Some(test) = &found.tolerance {
            shown.redundancy = Some(test.redundancy);
            shown.standardized = test.standardized;
            shown.suspect = test.suspect;
        }
    }
    let covariance = &assessment.covariance;
    document.covariance = (0..units.len())
        .map(|i| {
            let row = (0..units.len()).map(|j| covariance[(i, j)] / (units[i] * units[j]));
            row.collect()
        })
        .collect();
    document.chi2 = Some(assessment.chi2);
    document.dof = Some(assessment.dof);
    document.sigma0 = assessment.sigma0;
    document.p_value = assessment.p_value;
    document.by_tolerance_only = directions(&assessment.by_tolerance_only);
    let mut tests = assessment.readings.iter();
    for taken in determined.used.iter().map(|i| &bench.taken[*i]) {
        for (component, test) in (0..taken.reading.components()).zip(tests.by_ref()) {
            document.readings.push(reading(taken, component, test));
        }
    }
    for (row, slip) in document
        .readings
        .iter_mut()
        .zip(&determined.reliability.residuals)
    {
        row.unnoticed_tip_mm = slip.as_ref().map(|s| s.tip_mm);
    }
    document.robust = determined
        .robust
        .as_ref()
        .map(|r| robust::document(bench, unknowns, r, &determined.points));
    document.repeats = repeats::repeats(bench, &determined.repeated, &determined.repeats);
    document.reliability = reliability_document(bench, determined);
    findings::fill(&mut document, bench, determined);
    document.play = determined
        .play
        .iter()
        .map(|p| PlayDocument {
            file: p.file.to_string(),
            line: p.line,
            joint: "j1".to_owned(),
            lost_motion_deg: p.lost_motion_rad.to_degrees(),
        })
        .collect();
    document.points = determined
        .points
        .iter()
        .map(|p| PointDocument {
            name: p.name.clone(),
            frame: p.frame.as_str().to_owned(),
            taught: p.taught,
            u95_mm: p.u95_mm,
            unreachable: p.unreachable.clone(),
        })
        .collect();
    document
}

fn reliability_document(bench: &Bench, determined: &Determined) -> Option<ReliabilityDocument> {
    let slip = determined.reliability.largest.as_ref()?;
    let taken = &bench.taken[slip.index];
    let unit = taken.reading.unit();
    Some(ReliabilityDocument {
        tip_mm: slip.tip_mm,
        point: determined.points[slip.point].name.clone(),
        file: taken.file.to_string(),
        line: taken.line,
        component: taken.reading.component(slip.component).map(str::to_owned),
        error: slip.error / unit.in_code(),
        unit: unit.as_str().to_owned(),
    })
}

fn reading(taken: &crate::readings::Taken, component: usize, test: &Tested) -> ReadingDocument {
    let unit = taken.reading.unit();
    ReadingDocument {
        file: taken.file.to_string(),
        line: taken.line,
        component: taken.reading.component(component).map(str::to_owned),
        residual: test.residual / unit.in_code(),
        unit: unit.as_str().to_owned(),
        u: test.u / unit.in_code(),
        redundancy: test.redundancy,
        standardized: test.standardized,
        detectable: test.detectable.map(|d| d / unit.in_code()),
        suspect: test.suspect,
        unnoticed_tip_mm: None,
        cause: None,
    }
}
