//! `notchpin plan`.

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::folder;
use crate::cli::json;
use crate::cli::layout;
use crate::cli::progress;
use crate::plan::plan;
use crate::registration::Outcome;
use crate::registration::SetAside;
use crate::registration::register_with;
use crate::report;
use crate::table::common::Use;

pub fn run(args: &args::Plan, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let folder = folder::read(&root, folder::Need::Readings)?;
    console.warnings(&folder.problems);
    let (bench, geometry, from, suspects) = start(&folder)?;
    let bar = progress::bar(console, u64::from(args.most), "planning");
    let planned = plan(
        &bench,
        &folder.unknowns,
        &geometry,
        args.most as usize,
        &mut |steps| bar.set_position(steps as u64),
    );
    bar.finish_and_clear();
    let Some(planned) = planned else {
        return Err(Failure::Message(
            "the readings taken so far give derivatives that are not finite numbers; check the cell \
             file and the largest readings with `notchpin check`"
                .to_owned(),
        ));
    };
    let mut written = Vec::new();
    if args.write && !planned.steps.is_empty() {
        written = layout::lay_out(&root, "readings", &bench, &planned, None).map_err(|e| {
            Failure::Message(format!(
                "the files could not be laid out in {}: {e}; nothing was left there",
                root.join("readings").display()
            ))
        })?;
    }
    let document = report::plan::document(&bench, &planned, &from, suspects, &written);
    let text = match args.json {
        true => json(&document)?,
        false => report::plan::plan(&planned, &document),
    };
    console.answer(&text)?;
    Ok(match document.reached && suspects == 0 {
        true => Status::Good,
        false => Status::Look,
    })
}

/// What to plan from: the cell as registered by the readings there are, suspects left out, else as drawn.
fn start(folder: &folder::Folder) -> Result<(Bench, Geometry, String, usize), Failure> {
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
