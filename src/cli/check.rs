//! `notchpin check`.

use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::folder;
use crate::cli::json;
use crate::fit::quick::look;
use crate::report;

pub fn run(args: &args::Check, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let folder = folder::read(&root, folder::Need::Readings)?;
    let quick = look(&folder.bench.cell, &folder.bench.taken);
    let document =
        report::check::document(&folder.bench, &folder.unknowns, &folder.problems, &quick);
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
