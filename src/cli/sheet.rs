//! `notchpin sheet`.

use std::fs;
use std::io;
use std::io::Write;
use std::path::Path;

use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::folder;
use crate::cli::json;
use crate::cli::layout;
use crate::cli::progress;
use crate::cli::start::as_drawn;
use crate::cli::start::not_finite;
use crate::cli::start::not_laid_out;
use crate::cli::start::start;
use crate::plan::plan_or_settle;
use crate::report;
use crate::sheet::Job;
use crate::sheet::Sheet;
use crate::sheet::sheet;

/// How the sheet is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    Html,
    Markdown,
}

pub fn run(args: &args::Sheet, console: &Console) -> Done {
    let form = form(args)?;
    if let Some(file) = args.out.as_deref().filter(|f| f.symlink_metadata().is_ok()) {
        return Err(exists(file));
    }
    let root = folder::root_of(args.folder.cell.as_deref());
    let folder = folder::read(&root, folder::Need::Readings)?;
    console.warnings(&folder.problems);
    let (bench, geometry, from, suspects) = match args.purpose {
        args::For::Commissioning => {
            let (bench, geometry) = as_drawn(&folder);
            (bench, geometry, String::new(), 0)
        }
        args::For::More => start(&folder)?,
    };
    let bar = progress::bar(console, u64::from(args.most), "planning");
    let planned = plan_or_settle(
        &bench,
        &folder.unknowns,
        &geometry,
        args.most as usize,
        &mut |steps| bar.set_position(steps as u64),
    );
    bar.finish_and_clear();
    let planned = planned.ok_or_else(not_finite)?;
    let job = match args.purpose {
        args::For::Commissioning => Job::commissioning(&bench.cell, &planned),
        args::For::More => Job::more(&planned, &from),
    };
    let mut sheet = sheet(&bench, &geometry, &planned, &job);
    let mut written = Vec::new();
    let mut file = None;
    if !planned.steps.is_empty() {
        if args.write {
            let (plan, numbers) = sheet.arranged(&planned);
            written = layout::lay_out(&root, "readings", &bench, &plan, Some(&numbers))
                .map_err(|e| not_laid_out(&root, &e))?;
            sheet.laid_out(&written);
        }
        if let Some(path) = &args.out {
            // All or nothing: files laid out for a sheet that is not there would be in the way.
            keep(path, &text(&sheet, form)).inspect_err(|_| {
                for name in &written {
                    let _ = fs::remove_file(root.join(name));
                }
            })?;
            file = Some(path.display().to_string());
        }
    }
    let answer = match (&file, args.json) {
        (file, true) => {
            let document = report::sheet::document(&sheet, &planned, file.as_deref(), &written);
            json(&document)?
        }
        (_, false) if planned.steps.is_empty() => report::sheet::nothing(&sheet, &planned),
        (Some(file), false) => report::sheet::told(&sheet, file, &written),
        (None, false) => text(&sheet, form),
    };
    console.answer(&answer)?;
    Ok(match planned.reached() && suspects == 0 {
        true => Status::Good,
        false => Status::Look,
    })
}

fn text(sheet: &Sheet, form: Form) -> String {
    match form {
        Form::Html => report::sheet::html(sheet),
        Form::Markdown => report::sheet::markdown(sheet),
    }
}

/// What the ending of the file says; without a file, what was asked for.
fn form(args: &args::Sheet) -> Result<Form, Failure> {
    let Some(file) = &args.out else {
        return Ok(if args.html {
            Form::Html
        } else {
            Form::Markdown
        });
    };
    let ending = file.extension().and_then(|e| e.to_str()).unwrap_or("");
    match ending.to_ascii_lowercase().as_str() {
        "html" | "htm" => Ok(Form::Html),
        "md" => Ok(Form::Markdown),
        _ => Err(Failure::Message(format!(
            "--out {}: expected a name that ends in .html or .md, which says how the sheet is written; \
             nothing was written",
            file.display()
        ))),
    }
}

/// Writes a file whole or not at all, and over nothing.
fn keep(path: &Path, text: &str) -> Result<(), Failure> {
    let within = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let attempt = || -> io::Result<()> {
        let mut builder = tempfile::Builder::new();
        builder.prefix(".writing-").suffix(".tmp");
        // To be handed to others: readable as any new file is.
        #[cfg(unix)]
        let builder = {
            use std::os::unix::fs::PermissionsExt;
            builder.permissions(fs::Permissions::from_mode(0o666))
        };
        let mut file = builder.tempfile_in(within)?;
        file.write_all(text.as_bytes())?;
        file.as_file().sync_all()?;
        file.persist_noclobber(path).map_err(|e| e.error)?;
        Ok(())
    };
    attempt().map_err(|e| match e.kind() {
        io::ErrorKind::AlreadyExists => exists(path),
        _ => Failure::Message(format!(
            "the sheet cannot be written to {}: {e}; give a file in a folder that exists and may be \
             written; nothing was written",
            path.display()
        )),
    })
}

fn exists(file: &Path) -> Failure {
    Failure::Message(format!(
        "{} exists already and is not overwritten; give another name with --out, or move it away; nothing \
         was written",
        file.display()
    ))
}
