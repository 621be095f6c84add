//! `notchpin plan`.

use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::folder;
use crate::cli::json;
use crate::cli::layout;
use crate::cli::moved;
use crate::cli::progress;
use crate::cli::start::not_finite;
use crate::cli::start::not_laid_out;
use crate::cli::start::start;
use crate::plan::plan;
use crate::report;

pub fn run(args: &args::Plan, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let folder = folder::read(&root, folder::Need::Readings)?;
    console.warnings(&folder.problems);
    let (bench, geometry, from, suspects) = start(&folder)?;
    moved::refuse_plan(&folder)?;
    let bar = progress::bar(console, u64::from(args.most), "planning");
    let planned = plan(
        &bench,
        &folder.unknowns,
        &geometry,
        args.most as usize,
        &mut |steps| bar.set_position(steps as u64),
    );
    bar.finish_and_clear();
    let planned = planned.ok_or_else(not_finite)?;
    let mut written = Vec::new();
    if args.write && !planned.steps.is_empty() {
        written = layout::lay_out(&root, "readings", &bench, &planned, None)
            .map_err(|e| not_laid_out(&root, &e))?;
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
