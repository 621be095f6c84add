//! `notchpin report`.

mod drawings;
mod told;

pub use drawings::statistics_of;

use std::fs;
use std::path::Path;
use std::path::PathBuf;

use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::folder;
use crate::cli::papers;
use crate::cli::report::drawings::drawings;
use crate::cli::report::told::of_now;
use crate::cli::report::told::of_record;
use crate::cli::whole::write_new;
use crate::paper::Paper;
use crate::paper::headline;
use crate::paper::html;
use crate::pictures::Picture;
use crate::report;
use crate::report::Lapsed;

pub fn run(args: &args::Report, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let first = papers::records_of(&root).is_ok_and(|all| !all.is_empty());
    let told = match first || args.record.is_some() {
        true => of_record(&root, args.record.as_deref(), console)?,
        false => of_now(&root, console)?,
    };
    let (pictures, reach) = drawings(&root, &told, args, console)?;
    let mut written = Vec::new();
    let page = match (&args.out, &args.svg) {
        (Some(path), _) => Some(path.clone()),
        (None, Some(_)) => None,
        (None, None) => Some(free_name(&told.number)),
    };
    // All or nothing: what stands in the way is found before anything is written.
    if let Some(path) = &page {
        is_free(path)?;
    }
    if let Some(into) = &args.svg {
        written.extend(write_drawings(&root, into, &pictures)?);
    }
    if let Some(path) = page {
        let beside = path.with_extension("json");
        let name = beside.file_name().map(|n| n.to_string_lossy().into_owned());
        let paper = Paper {
            bench: &told.bench,
            document: &told.document,
            origin: &told.origin,
            inputs: &told.inputs,
            pictures: &pictures,
            reach: reach.as_ref(),
            json: name.as_deref().unwrap_or_default(),
            version: env!("CARGO_PKG_VERSION"),
        };
        write_new(&root, &beside, &told.full)?;
        if let Err(failure) = write_new(&root, &path, &html(&paper)) {
            // Both or none.
            let _ = fs::remove_file(&beside);
            return Err(failure);
        }
        written.extend([path, beside]);
    }
    let mut text = format!(
        "{}: {}\n",
        headline(&told.document, &told.origin),
        told.document.cell
    );
    for path in &written {
        text.push_str(&report::wrap("Written: ", 9, &path.display().to_string()));
    }
    if let Some(lapsed) = &told.origin.lapsed {
        text.push_str(&report::wrap("", 0, &format!("Look: {}.", lapsed.why())));
    }
    if told.origin.record.is_none() {
        text.push_str("No record was written: the report shows the readings as they are now.\n");
    }
    text.push('\n');
    text.push_str(report::CAUTION);
    console.answer(&text)?;
    // An older record was asked for by name: that it is no longer in force is no surprise.
    let stands = matches!(told.origin.lapsed, None | Some(Lapsed::Superseded(_)));
    Ok(match told.document.verdict.as_str() {
        "accepted" if stands => Status::Good,
        _ => Status::Look,
    })
}

/// Whether a report can be written there: a page has its ending, and nothing is overwritten.
fn is_free(path: &Path) -> Result<(), Failure> {
    let refuse = |why: &str| Err(Failure::Message(format!("--out {}: {why}", path.display())));
    let name = path
        .file_name()
        .and_then(|n| n.to_str())
        .unwrap_or_default();
    let ending = path
        .extension()
        .and_then(|e| e.to_str())
        .unwrap_or_default();
    if !matches!(ending.to_ascii_lowercase().as_str(), "html" | "htm")
        || name.chars().any(char::is_control)
    {
        return refuse("expected a name that ends in .html; nothing was written");
    }
    let beside = path.with_extension("json");
    for (file, what) in [
        (path, "it"),
        (&beside, "the file of the full values beside it"),
    ] {
        if file.symlink_metadata().is_ok() {
            return refuse(&format!(
                "{what} is there already, and nothing is overwritten; give another name, or move it away. Nothing \
                 was written"
            ));
        }
    }
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty());
    match folder.is_none_or(Path::is_dir) {
        true => Ok(()),
        false => {
            refuse("its folder is not there; make it, or give another place. Nothing was written")
        }
    }
}

/// A name in the current folder that is not taken.
fn free_name(number: &str) -> PathBuf {
    let mut path = PathBuf::from(format!("report-{number}.html"));
    let mut k = 2;
    while (path.exists() || path.with_extension("json").exists()) && k < 10_000 {
        path = PathBuf::from(format!("report-{number}-{k}.html"));
        k += 1;
    }
    path
}

fn write_drawings(root: &Path, into: &Path, pictures: &[Picture]) -> Result<Vec<PathBuf>, Failure> {
    let files: Vec<(PathBuf, &Picture)> = pictures
        .iter()
        .map(|p| (into.join(format!("{}.svg", p.slug)), p))
        .collect();
    if let Some((path, _)) = files
        .iter()
        .find(|(path, _)| path.symlink_metadata().is_ok())
    {
        return Err(Failure::Message(format!(
            "{} is there already, and nothing is overwritten; give --svg another folder. Nothing was written",
            path.display()
        )));
    }
    fs::create_dir_all(into).map_err(|e| {
        Failure::Message(format!(
            "{} cannot be made: {e}; give --svg a folder that may be written",
            into.display()
        ))
    })?;
    for (path, picture) in &files {
        write_new(root, path, &picture.wide)?;
    }
    Ok(files.into_iter().map(|(path, _)| path).collect())
}
