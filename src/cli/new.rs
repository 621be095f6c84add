//! `notchpin new`.

use std::fmt::Write as _;
use std::fs;
use std::io;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;

use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::demo;
use crate::cli::demo::Demo;
use crate::diagnose::nearest;
use crate::report;

pub fn run(args: &args::New, console: &Console) -> Done {
    if args.list {
        console.answer(&list())?;
        return Ok(Status::Good);
    }
    let demo = chosen(args.from.as_deref())?;
    let Some(folder) = &args.folder else {
        return Err(Failure::Message("give the folder to make".to_owned()));
    };
    let target = free_place(folder)?;
    lay_out(demo, &target).map_err(|e| {
        Failure::Message(format!(
            "{} could not be laid out: {e}; nothing was left there. Check the rights and the space \
             of {}",
            folder.display(),
            parent_of(&target).display()
        ))
    })?;
    console.answer(&told(demo, folder))?;
    Ok(Status::Good)
}

fn list() -> String {
    let mut out = String::from("Demo cells (all invented), for notchpin new FOLDER --from NAME\n");
    for demo in demo::DEMOS {
        let first = match demo.name == demo::FIRST {
            true => " (the one if none is named)",
            false => "",
        };
        let start = format!("  {:<19} ", demo.name);
        out.push_str(&report::wrap(&start, 22, &format!("{}{first}", demo.about)));
    }
    out
}

fn chosen(name: Option<&str>) -> Result<&'static Demo, Failure> {
    let name = name.unwrap_or(demo::FIRST);
    demo::named(name).ok_or_else(|| {
        let advice = match nearest(name, demo::DEMOS.iter().map(|d| d.name)) {
            Some(near) => format!("write --from {near}, if that is meant"),
            None => "notchpin new --list names them".to_owned(),
        };
        Failure::Message(format!("there is no demo cell {name:?}; {advice}"))
    })
}

/// Where to lay out: a path at which nothing stands, or an empty folder.
fn free_place(folder: &Path) -> Result<PathBuf, Failure> {
    let refuse = |why: &str, advice: &str| {
        let place = folder.display();
        Failure::Message(format!("{place} {why}; {advice}. Nothing was written"))
    };
    let another = "give a folder that does not exist yet, or an empty one";
    match fs::symlink_metadata(folder) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => {
            let parent = parent_of(folder);
            if parent.is_dir() {
                return Ok(folder.to_owned());
            }
            let why = format!("cannot be made: there is no folder {}", parent.display());
            return Err(refuse(&why, "make that one first, or correct the path"));
        }
        Err(e) => return Err(refuse(&format!("cannot be looked at: {e}"), another)),
        Ok(_) => {}
    }
    let mut entries = match fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(e) if e.kind() == io::ErrorKind::NotADirectory => {
            return Err(refuse("is a file", another));
        }
        Err(e) => return Err(refuse(&format!("cannot be looked at: {e}"), another)),
    };
    if entries.next().is_some() {
        return Err(refuse("exists and is not empty", another));
    }
    let place = folder
        .canonicalize()
        .map_err(|e| refuse(&format!("cannot be looked at: {e}"), another))?;
    let here = std::env::current_dir().and_then(|d| d.canonicalize());
    // It is replaced as a whole, which would pull the ground from under whoever stands in it.
    if here.is_ok_and(|here| here == place) {
        let advice = "give the name of a folder to make in it";
        return Err(refuse("is the current folder", advice));
    }
    Ok(place)
}

fn parent_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// Writes all files beside the place first, then gives the folder its name in one step.
fn lay_out(demo: &Demo, target: &Path) -> io::Result<()> {
    let parent = parent_of(target);
    let beside = tempfile::Builder::new()
        .prefix(".notchpin-new-")
        .tempdir_in(parent)?;
    // A folder of its own inside: the temporary one is closed to others, this one need not be.
    let cell = beside.path().join("cell");
    fs::create_dir(&cell)?;
    for (name, text) in demo.files {
        let path = cell.join(name);
        fs::create_dir_all(parent_of(&path))?;
        let mut file = fs::File::create_new(path)?;
        file.write_all(text.as_bytes())?;
        file.sync_all()?;
    }
    if cfg!(windows) && target.is_dir() {
        // Removes an empty folder only.
        fs::remove_dir(target)?;
    }
    // Fails where the place was taken meanwhile, unless by an empty folder.
    fs::rename(&cell, target)?;
    // The name itself must survive a power cut too; not every system can do this.
    if let Ok(parent) = fs::File::open(parent) {
        let _ = parent.sync_all();
    }
    Ok(())
}

fn told(demo: &Demo, folder: &Path) -> String {
    let path = folder.display().to_string();
    let mut out = report::wrap(
        "",
        0,
        &format!(
            "Laid out in {path}: the demo cell {} ({}).",
            demo.name, demo.about
        ),
    );
    for (name, _) in demo.files {
        let _ = writeln!(out, "  {name}");
    }
    out.push_str(
        "\nAll of it is invented: bench, arm and readings. Use it to see how the files look, then\n\
         write your own cell into them.\n",
    );
    let quoted = match path.contains(char::is_whitespace) {
        true => format!("\"{path}\""),
        false => path,
    };
    let _ = write!(
        out,
        "\nNext\n  notchpin register {quoted}\n  notchpin tip {quoted} {}\n  notchpin reach {quoted}\n\n{}",
        demo.tip,
        report::CAUTION
    );
    out
}
