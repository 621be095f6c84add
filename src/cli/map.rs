//! `notchpin reach --map`: the best margin over a raster, as CSV and as a picture.

use std::fs;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;

use crate::answers::force::Force;
use crate::answers::map::Over;
use crate::answers::map::Raster;
use crate::answers::map::Subject;
use crate::cell::Cell;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::json;
use crate::cli::progress;
use crate::drawing::map::Room;
use crate::reach::Solver;
use crate::report;

pub fn run(
    args: &args::Reach,
    stem: &Path,
    subject: &Subject<'_>,
    (cell, force, solver): (&Cell, &Force, &Solver<'_>),
    (track, table): (Option<Vec<f64>>, Option<Vec<f64>>),
    console: &Console,
) -> Done {
    let over = args.over.map(|over| match over {
        args::Over::Table => Over::Table,
        args::Over::Elevation => Over::Elevation,
    });
    let raster =
        Raster::new(subject, (cell, solver), over, (track, table)).map_err(Failure::Message)?;
    let files = [with(stem, "csv"), with(stem, "svg")];
    for file in &files {
        if file.exists() {
            return Err(Failure::Message(format!(
                "{} is there already and is not overwritten; give --map another name",
                file.display()
            )));
        }
    }
    let bar = progress::bar(console, raster.rows.count() as u64, "rows of the map");
    let tell = |done: usize| bar.set_position(done as u64);
    let mut document = raster
        .map(subject, (cell, solver), &tell)
        .map_err(Failure::Message)?;
    bar.finish_and_clear();
    document.files = files.iter().map(|f| f.display().to_string()).collect();
    let svg = report::map::picture(cell, &force.geometry, &document, &force.source, Room::Sheet)
        .map_err(|fault| Failure::Message(format!("the map cannot be drawn: {fault}")))?;
    write(&files[0], &report::map::csv(&document))?;
    if let Err(failure) = write(&files[1], &svg) {
        // Both or none.
        let _ = fs::remove_file(&files[0]);
        return Err(failure);
    }
    let text = match args.json {
        true => json(&document)?,
        false => {
            let verdict = force.verdict.as_deref();
            force.headed(report::map::words(&document, &force.source, verdict))
        }
    };
    console.answer(&text)?;
    // Reached with the tool at another elevation is not what the point asks for.
    let reached = match &document.asked {
        Some(asked) => asked.best.is_some(),
        None => document.best.is_some(),
    };
    Ok(match reached && force.doubt.is_none() {
        true => Status::Good,
        false => Status::Look,
    })
}

fn with(stem: &Path, ending: &str) -> PathBuf {
    let mut name = stem.as_os_str().to_owned();
    name.push(".");
    name.push(ending);
    PathBuf::from(name)
}

/// Writes a file that must not be there yet: into one of its own first, then given its name.
fn write(path: &Path, text: &str) -> Result<(), Failure> {
    let fail = |e: std::io::Error| {
        Failure::Message(format!(
            "{} cannot be written: {}; give --map a name in a folder that is there and may be written to",
            path.display(),
            e.kind()
        ))
    };
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".writing-").suffix(".tmp");
    // To be handed to others: readable as any new file is.
    #[cfg(unix)]
    let builder = {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666))
    };
    let mut file = builder.tempfile_in(folder).map_err(fail)?;
    file.write_all(text.as_bytes()).map_err(fail)?;
    file.as_file().sync_all().map_err(fail)?;
    file.persist_noclobber(path).map_err(|e| fail(e.error))?;
    Ok(())
}
