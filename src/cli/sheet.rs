//! `notchpin sheet`.

use std::fs;
use std::path::Path;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::as_found::only_new;
use crate::cli::folder;
use crate::cli::folder::Folder;
use crate::cli::json;
use crate::cli::kept;
use crate::cli::layout;
use crate::cli::moved;
use crate::cli::progress;
use crate::cli::sets;
use crate::cli::start::as_drawn;
use crate::cli::start::not_finite;
use crate::cli::start::not_laid_out;
use crate::cli::start::start;
use crate::cli::whole::write_new;
use crate::moves::Tied;
use crate::parts::Part;
use crate::pictures::cell::before;
use crate::plan::plan_or_settle;
use crate::registration::Outcome;
use crate::registration::SetAside;
use crate::registration::register_with;
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
    let folder = folder::read(
        &root,
        match args.moved.is_empty() {
            true => folder::Need::Readings,
            false => folder::Need::Points,
        },
    )?;
    console.warnings(&folder.problems);
    let mut unknowns = folder.unknowns.clone();
    let mut parts: Vec<Part> = Vec::new();
    let (bench, geometry, from, suspects) = match args.purpose {
        _ if !args.moved.is_empty() => {
            let since = since(args, &folder, console)?;
            unknowns = since.tied.unknowns;
            parts = since.parts;
            (since.tied.bench, since.geometry, since.from, 0)
        }
        args::For::Commissioning => {
            let (bench, geometry) = as_drawn(&folder);
            (bench, geometry, String::new(), 0)
        }
        args::For::More => {
            moved::refuse_plan(&folder)?;
            start(&folder)?
        }
    };
    let bar = progress::bar(console, u64::from(args.most), "planning");
    let planned = plan_or_settle(
        &bench,
        &unknowns,
        &geometry,
        args.most as usize,
        &mut |steps| bar.set_position(steps as u64),
    );
    bar.finish_and_clear();
    let planned = planned.ok_or_else(not_finite)?;
    let job = match args.purpose {
        _ if !parts.is_empty() => {
            Job::after_move(&planned, &parts, &from, &new_readings(args, &root)?)
        }
        args::For::Commissioning => Job::commissioning(&bench.cell, &planned),
        args::For::More => Job::more(&planned, &from),
    };
    let mut sheet = sheet(&bench, &geometry, &planned, &job);
    let mut written = Vec::new();
    let mut file = None;
    if !planned.steps.is_empty() {
        if args.write {
            let (plan, numbers) = sheet.arranged(&planned);
            let into = match parts.is_empty() {
                true => "readings".to_owned(),
                false => new_readings(args, &root)?,
            };
            written = layout::lay_out(&root, &into, &bench, &plan, Some(&numbers))
                .map_err(|e| not_laid_out(&root, &e))?;
            sheet.laid_out(&written);
        }
        if let Some(path) = &args.out {
            // All or nothing: files laid out for a sheet that is not there would be in the way.
            write_new(&root, path, &text(&sheet, form, (&bench, &geometry))).inspect_err(|_| {
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
        (None, false) => text(&sheet, form, (&bench, &geometry)),
    };
    console.answer(&answer)?;
    Ok(match planned.reached() && suspects == 0 {
        true => Status::Good,
        false => Status::Look,
    })
}

/// What is known after a move.
struct Since {
    tied: Tied,
    parts: Vec<Part>,
    geometry: Geometry,
    from: String,
}

fn since(args: &args::Sheet, folder: &Folder, console: &Console) -> Result<Since, Failure> {
    let kept = kept::in_force(folder, args.record.as_deref(), console)?;
    let parts = moved::with_followed(folder, &args.moved, args.only)?;
    let there = folder.root.join(sets::RECHECK).is_dir();
    let set = match args.readings.is_some() || there {
        true => Some(sets::read_set_with(
            folder,
            args.readings.as_deref(),
            false,
        )?),
        false => None,
    };
    let mut bench = folder.bench.clone();
    let mut from = format!(
        "{}; what moved may be anywhere: drive there with care",
        kept.called()
    );
    let mut geometry = kept.force.geometry.clone();
    let set = set.map(|mut set| {
        only_new(&mut set.bench, &folder.root, &folder.bench.cell, &kept);
        set
    });
    if let Some(set) = set.filter(|s| s.bench.taken.iter().any(|t| t.used())) {
        bench = set.bench;
        let tied = Tied::parts(&bench, &kept.force, &parts);
        if let Some(tied) = tied
            && let Outcome::Determined(found) =
                register_with(&tied.bench, &tied.unknowns, SetAside::Nothing).outcome
        {
            geometry = found.geometry.clone();
            from = format!(
                "{} and the {} readings taken since",
                kept.called(),
                bench.taken.iter().filter(|t| t.used()).count()
            );
        } else {
            // They do not settle it: the plan starts from the record alone.
            bench.taken.clear();
        }
    }
    let tied = Tied::parts(&bench, &kept.force, &parts).ok_or_else(|| {
        Failure::Message(format!(
            "{}: its covariance cannot be used to hold what did not move",
            kept.link.file
        ))
    })?;
    Ok(Since {
        tied,
        parts,
        geometry,
        from,
    })
}

/// The folder of the cell that rows are laid out in after a move.
fn new_readings(args: &args::Sheet, root: &Path) -> Result<String, Failure> {
    let Some(given) = &args.readings else {
        return Ok(sets::RECHECK.to_owned());
    };
    let shown = given.strip_prefix(root).unwrap_or(given);
    match shown.is_absolute() || root.join(shown).is_file() {
        true => Err(Failure::Message(format!(
            "--write lays rows out in a folder of the cell, and {} is none; leave --readings out for the folder \
             {}, or name a folder of the cell",
            given.display(),
            sets::RECHECK
        ))),
        false => Ok(shown.display().to_string()),
    }
}

fn text(sheet: &Sheet, form: Form, (bench, geometry): (&Bench, &Geometry)) -> String {
    match form {
        Form::Html => {
            // A sheet is worth having without its drawing too.
            let drawing = before(bench, geometry).ok();
            report::sheet::html_with(sheet, drawing.as_deref())
        }
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

fn exists(file: &Path) -> Failure {
    Failure::Message(format!(
        "{} exists already and is not overwritten; give another name with --out, or move it away; nothing \
         was written",
        file.display()
    ))
}
