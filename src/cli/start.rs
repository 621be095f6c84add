//! What `plan` and `sheet` plan from.

use std::io;
use std::path::Path;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::cli::Failure;
use crate::cli::folder::Folder;
use crate::registration::Outcome;
use crate::registration::SetAside;
use crate::registration::register_with;
use crate::table::common::Use;

/// What to plan from: the cell as registered by the readings there are, suspects left out, else as drawn.
pub fn start(folder: &Folder) -> Result<(Bench, Geometry, String, usize), Failure> {
    let bench = &folder.bench;
    let drawn = |why: String| Ok((bench.clone(), bench.cell.nominal.clone(), why, 0));
    let used = bench.taken.iter().filter(|t| t.used()).count();
    if used == 0 {
        return drawn("the drawing and its tolerances: no readings yet".to_owned());
    }
    let registration = register_with(bench, &folder.unknowns, SetAside::Suspects);
    let Outcome::Determined(found) = registration.outcome else {
        return drawn(format!(
            "the {used} readings of this folder, which do not settle all unknowns yet, and the drawing"
        ));
    };
    let sound = found.assessment.global_test_holds() && !found.assessment.any_suspect();
    if !sound && !found.assessment.found.is_empty() {
        return Err(Failure::Message(
            "the readings of this folder contradict each other too much to plan from them; see with \
             `notchpin register` what does not fit, and correct that first"
                .to_owned(),
        ));
    }
    let mut sound = bench.clone();
    for index in &found.set_aside {
        sound.taken[*index].role = Use::No;
    }
    let from = match found.set_aside.len() {
        0 => format!("the {used} readings of this folder"),
        n => format!(
            "{} of the {used} readings of this folder; {n} do not fit and were left out (see `notchpin \
             register`)",
            used - n
        ),
    };
    Ok((sound, found.geometry.clone(), from, found.set_aside.len()))
}

/// The cell as drawn, as if nothing had been measured.
pub fn as_drawn(folder: &Folder) -> (Bench, Geometry) {
    let bench = Bench {
        taken: Vec::new(),
        unfinished: Vec::new(),
        sources: Vec::new(),
        ..folder.bench.clone()
    };
    let geometry = bench.cell.nominal.clone();
    (bench, geometry)
}

/// There is no plan.
pub fn not_finite() -> Failure {
    Failure::Message(
        "the readings taken so far give derivatives that are not finite numbers; check the cell file and \
         the largest readings with `notchpin check`"
            .to_owned(),
    )
}

/// The files to fill in could not be laid out.
pub fn not_laid_out(root: &Path, error: &io::Error) -> Failure {
    Failure::Message(format!(
        "the files could not be laid out in {}: {error}; nothing was left there",
        root.join("readings").display()
    ))
}
