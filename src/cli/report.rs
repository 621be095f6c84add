//! `notchpin report`.

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::time::SystemTime;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::clearance::Surroundings;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::asked::asked;
use crate::cli::folder;
use crate::cli::folder::Folder;
use crate::cli::force;
use crate::cli::force::Force;
use crate::cli::json;
use crate::cli::kept;
use crate::cli::papers;
use crate::cli::reach::answer;
use crate::cli::whole::write_new;
use crate::margins::Assessor;
use crate::paper::Origin;
use crate::paper::Paper;
use crate::paper::html;
use crate::pictures::Picture;
use crate::pictures::arrows::arrows;
use crate::pictures::cell::Shown;
use crate::pictures::cell::views;
use crate::pictures::scene::View;
use crate::plan::advise;
use crate::reach::Solver;
use crate::records;
use crate::registration::Document;
use crate::registration::Outcome;
use crate::registration::SetAside;
use crate::registration::document;
use crate::registration::register_with;
use crate::report;
use crate::report::reach::ReachDocument;

/// What is reported.
struct Told {
    document: Document,
    /// The readings that it rests on, as far as they are still there; points of now.
    bench: Bench,
    origin: Origin,
    inputs: Vec<records::Input>,
    /// The geometry with its uncertainty; `None` where there is no registration.
    force: Option<Force>,
    /// Full values, as they stand beside the report.
    full: String,
    /// In the name of the report.
    number: String,
}

pub fn run(args: &args::Report, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let first = papers::records_of(&root).is_ok_and(|all| !all.is_empty());
    let told = match first || args.record.is_some() {
        true => of_record(&root, args, console)?,
        false => of_now(&root, console)?,
    };
    let (pictures, reach) = drawings(&root, &told, args, console)?;
    let mut written = Vec::new();
    if let Some(into) = &args.svg {
        written.extend(write_drawings(&root, into, &pictures)?);
    }
    if args.out.is_some() || args.svg.is_none() {
        let path = match &args.out {
            Some(path) => path.clone(),
            None => free_name(&told.number),
        };
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
        if beside == path {
            return Err(Failure::Message(format!(
                "{} is the name of the full values; give --out a name that ends in .html",
                path.display()
            )));
        }
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
        report::verdict_word(&told.document),
        told.document.cell
    );
    for path in &written {
        text.push_str(&report::wrap("Written: ", 9, &path.display().to_string()));
    }
    if told.origin.record.is_none() {
        text.push_str("No record was written: the report shows the readings as they are now.\n");
    }
    text.push('\n');
    text.push_str(report::CAUTION);
    console.answer(&text)?;
    Ok(match told.document.verdict.as_str() {
        "accepted" => Status::Good,
        _ => Status::Look,
    })
}

fn of_record(root: &Path, args: &args::Report, console: &Console) -> Result<Told, Failure> {
    let folder = folder::read(root, folder::Need::Points)?;
    console.warnings(&folder.problems);
    let named = args::Force {
        record: args.record.clone(),
        as_drawn: false,
    };
    let force = force::find(&named, &folder, console)?;
    let path = force.record.clone().unwrap_or_default();
    let kept = kept::load(&path, &folder.bench.cell)?;
    let newest = kept::paths(root)?.pop();
    let bench = kept::readings_of(&folder, &kept);
    let mut looks = Vec::new();
    if let Some(newest) =
        newest.filter(|n| fs::canonicalize(n).ok() != fs::canonicalize(&path).ok())
    {
        looks.push(format!(
            "Not the newest: {} was written later.",
            newest.file_name().unwrap_or_default().to_string_lossy()
        ));
    }
    let changed: Vec<&str> = kept
        .body
        .inputs
        .iter()
        .filter(|i| fs::read(root.join(&i.file)).map_or(true, |b| records::digest(&b) != i.sha256))
        .map(|i| i.file.as_str())
        .collect();
    if !changed.is_empty() {
        looks.push(format!(
            "Changed or gone since this was registered: {}. Numbers are those of the record; drawings show of \
             these files only what the record kept.",
            changed.join(", ")
        ));
    }
    let full = fs::read_to_string(&path)
        .map_err(|e| Failure::Message(format!("{} cannot be read: {e}", path.display())))?;
    let stem = path.file_stem().map(|s| s.to_string_lossy().into_owned());
    let number = stem
        .as_deref()
        .and_then(|s| s.rsplit('-').next())
        .unwrap_or("0000");
    let body = kept.body.clone();
    Ok(Told {
        origin: Origin {
            record: Some(kept.link.file.clone()),
            sha256: Some(kept.link.sha256.clone()),
            time: body.time,
            taken: body.taken,
            note: body.note,
            predecessor: body.predecessor.map(|p| p.file),
            program: body.program,
            looks,
        },
        number: number.to_owned(),
        inputs: body.inputs,
        document: body.registration,
        bench,
        force: Some(force),
        full,
    })
}

/// Solves the readings as they are now; nothing is kept.
fn of_now(root: &Path, console: &Console) -> Result<Told, Failure> {
    let folder = folder::read(root, folder::Need::Readings)?;
    console.warnings(&folder.problems);
    let Folder {
        bench,
        unknowns,
        inputs,
        ..
    } = folder;
    let registration = register_with(&bench, &unknowns, SetAside::Nothing);
    let mut document = document(&bench, &unknowns, &registration);
    document.advice = advise(&bench, &unknowns, &registration);
    let force = match registration.outcome {
        Outcome::Determined(determined) => Some(Force::unkept(
            determined.geometry,
            (unknowns, determined.assessment.covariance),
            &document.verdict,
        )),
        Outcome::Undetermined(_) => None,
        Outcome::Failed(why) => {
            return Err(Failure::Message(format!(
                "{why}; nothing was written. Check the cell file and the largest readings."
            )));
        }
    };
    Ok(Told {
        full: json(&document)?,
        origin: Origin {
            record: None,
            sha256: None,
            time: humantime::format_rfc3339_seconds(SystemTime::now()).to_string(),
            taken: None,
            note: None,
            predecessor: None,
            program: format!("notchpin {}", env!("CARGO_PKG_VERSION")),
            looks: vec!["This is not a record. `notchpin register` keeps one.".to_owned()],
        },
        number: "now".to_owned(),
        inputs,
        document,
        bench,
        force,
    })
}

/// All drawings, and from where the points are reached.
fn drawings(
    root: &Path,
    told: &Told,
    args: &args::Report,
    console: &Console,
) -> Result<(Vec<Picture>, Option<ReachDocument>), Failure> {
    let cell = &told.bench.cell;
    let cannot = |fault| Failure::Message(format!("a drawing cannot be made: {fault}"));
    let reach = match &told.force {
        Some(force) => Some(reached(root, told, force, console)?),
        None => None,
    };
    if let Some(name) = &args.point
        && !reach
            .iter()
            .flat_map(|r| &r.points)
            .any(|p| p.name == *name)
    {
        return Err(Failure::Message(format!(
            "--point: there is no point {name:?} in points.csv or taught.csv"
        )));
    }
    let found: &Geometry = told.force.as_ref().map_or(&cell.nominal, |f| &f.geometry);
    let shown = Shown::new(
        &told.bench,
        found,
        &told.document,
        reach.as_ref(),
        args.point.as_deref(),
    );
    let mut all = views(&shown).map_err(cannot)?;
    if told.force.is_some() {
        for view in [View::Plan, View::Elevation] {
            let picture = arrows(&shown.subject(), &told.bench, &told.document, view);
            all.extend(picture.map_err(cannot)?);
        }
    }
    Ok((all, reach))
}

/// From where each point is reached.
fn reached(
    root: &Path,
    told: &Told,
    force: &Force,
    console: &Console,
) -> Result<ReachDocument, Failure> {
    // Points as they are asked for on the command line: those taught before a move stay where they were.
    let folder = folder::read(root, folder::Need::Points)?;
    let cell = &told.bench.cell;
    let solver = Solver::new(cell, &force.geometry);
    let surroundings = Surroundings::new(cell, &force.geometry);
    force::tell_overlaps(&surroundings, cell.accept.clearance_mm, console);
    let assessor = Assessor {
        solver: &solver,
        cell,
        surroundings: &surroundings,
        sure: force.spread().zip(force.unknowns()),
    };
    let mut points = Vec::new();
    for point in asked(&folder, force, &solver, None)? {
        points.push(answer(&point, &assessor, force, (None, None), &|_| {})?);
    }
    Ok(ReachDocument { points })
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
