//! `notchpin check`.

use crate::clearance::Surroundings;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::folder;
use crate::cli::folder::Folder;
use crate::cli::force;
use crate::cli::json;
use crate::diagnose::Problems;
use crate::fit::quick::look;
use crate::report;
use crate::report::check::TaskRow;
use crate::tasks;

/// The tasks of a folder; mistakes in their files are errors.
fn tasks_of(folder: &Folder) -> Result<Vec<TaskRow>, Failure> {
    let bench = &folder.bench;
    let given = bench.points.iter().map(|p| p.name.as_str());
    let names: Vec<&str> = given
        .chain(bench.taught.iter().map(|p| p.name.as_str()))
        .collect();
    let mut problems = Problems::default();
    let mut found = Vec::new();
    for name in folder::tasks_of(&folder.root) {
        let file = format!("tasks/{name}.csv");
        if let Some(bytes) = folder::task(&folder.root, &file, &mut problems) {
            let steps = tasks::read(&file, &bytes, &bench.cell, &names, &mut problems).len();
            found.push(TaskRow { name, steps });
        }
    }
    match problems.has_errors() {
        true => Err(problems.into()),
        false => Ok(found),
    }
}

pub fn run(args: &args::Check, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let folder = folder::read(&root, folder::Need::Readings)?;
    let quick = look(&folder.bench.cell, &folder.bench.taken);
    let tasks = tasks_of(&folder)?;
    let cell = &folder.bench.cell;
    let surroundings = Surroundings::new(cell, &cell.nominal);
    let overlaps = force::overlaps(&surroundings, cell.accept.clearance_mm);
    let document = report::check::document(
        &folder.bench,
        &folder.unknowns,
        &folder.problems,
        &quick,
        tasks,
        overlaps,
    );
    let text = match args.json {
        true => json(&document)?,
        false => report::check::check(&folder.bench, &document, &quick),
    };
    console.answer(&text)?;
    Ok(if document.look.is_empty() {
        Status::Good
    } else {
        Status::Look
    })
}
