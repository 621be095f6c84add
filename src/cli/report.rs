//! `notchpin report`.

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::time::SystemTime;

use crate::answers::force::Force;
use crate::answers::map::Raster;
use crate::answers::map::Subject;
use crate::answers::reach::answer;
use crate::answers::target::Asked;
use crate::bench::Bench;
use crate::cell::Cell;
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

use crate::cli::history;
use crate::cli::json;
use crate::cli::kept;
use crate::cli::papers;
use crate::cli::whole::write_new;
use crate::drawing::Fault;
use crate::drawing::map::Room;
use crate::margins::Assessor;
use crate::paper::Origin;
use crate::paper::Paper;
use crate::paper::html;
use crate::pictures::Picture;
use crate::pictures::WIDE;
use crate::pictures::arrows::arrows;
use crate::pictures::cell::Shown;
use crate::pictures::cell::views;
use crate::pictures::contributions::contributions;
use crate::pictures::drift;
use crate::pictures::drift::drift;
use crate::pictures::joints::joints;
use crate::pictures::moved::moved;
use crate::pictures::notch_dial::notch_dial;
use crate::pictures::reach_lanes;
use crate::pictures::reach_lanes::reach_lanes;
use crate::pictures::scene::Known;
use crate::pictures::scene::View;
use crate::pictures::track_line::track_line;
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
        true => of_record(&root, args.record.as_deref(), console)?,
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

fn of_record(root: &Path, record: Option<&Path>, console: &Console) -> Result<Told, Failure> {
    let folder = folder::read(root, folder::Need::Points)?;
    console.warnings(&folder.problems);
    let named = args::Force {
        record: record.map(Path::to_owned),
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
    // Points as they are asked for on the command line: those taught before a move stay where they were.
    let folder = folder::read(root, folder::Need::Points)?;
    if let Some(name) = &args.point {
        let all = &folder.bench;
        let names = all
            .points
            .iter()
            .map(|p| &p.name)
            .chain(all.taught.iter().map(|p| &p.name));
        if !names.into_iter().any(|n| n == name) {
            return Err(Failure::Message(format!(
                "--point: there is no point {name:?} in points.csv or taught.csv"
            )));
        }
    }
    let Some(force) = &told.force else {
        let shown = Shown::new(&told.bench, &cell.nominal, &told.document, None, None);
        return Ok((views(&shown).map_err(cannot)?, None));
    };
    let solver = Solver::new(cell, &force.geometry);
    let targets = match folder.bench.points.is_empty() && folder.bench.taught.is_empty() {
        true => Vec::new(),
        false => asked(&folder, force, &solver, None)?,
    };
    let reach = reached(&targets, &solver, told, force, console)?;
    let point = args.point.as_deref();
    let shown = Shown::new(
        &told.bench,
        &force.geometry,
        &told.document,
        Some(&reach),
        point,
    );
    let mut all = views(&shown).map_err(cannot)?;
    all.extend(statistics(root, told, force)?);
    let lanes = reach_lanes(&reach_lanes::of(&reach, &told.bench, &force.geometry));
    all.extend(lanes.map_err(cannot)?);
    let at = shown.point();
    if let Some(target) = targets.iter().find(|t| Some(t.name) == at) {
        all.extend(mapped(target, cell, &solver, told)?);
    }
    Ok((all, Some(reach)))
}

/// The drawings of what the readings say, and of what changed.
fn statistics(root: &Path, told: &Told, force: &Force) -> Result<Vec<Picture>, Failure> {
    let (bench, document, geometry) = (&told.bench, &told.document, &force.geometry);
    let shown = Shown::new(bench, geometry, document, None, None);
    let mut all = Vec::new();
    all.extend(moved(document).map_err(cannot)?);
    for view in [View::Plan, View::Elevation] {
        all.extend(arrows(&shown.subject(), bench, document, view).map_err(cannot)?);
    }
    all.extend(track_line(document, bench, geometry).map_err(cannot)?);
    all.extend(notch_dial(document, bench, geometry).map_err(cannot)?);
    all.extend(joints(document, bench, geometry).map_err(cannot)?);
    all.extend(contributions(document).map_err(cannot)?);
    let several = papers::records_of(root).is_ok_and(|records| records.len() > 1);
    if several && told.origin.record.is_some() {
        let history = history::of(root, bench)?;
        all.extend(drift(&drift::of(&history)).map_err(cannot)?);
    }
    Ok(all)
}

/// The same for the page; none without a record.
pub fn statistics_of(
    root: &Path,
    record: Option<&Path>,
    console: &Console,
) -> Result<(Vec<Picture>, Known), Failure> {
    let told = of_record(root, record, console)?;
    let known = Known::new(&told.document.parameters);
    let pictures = match &told.force {
        Some(force) => statistics(root, &told, force)?,
        None => Vec::new(),
    };
    Ok((pictures, known))
}

fn cannot(fault: Fault) -> Failure {
    Failure::Message(format!("a drawing cannot be made: {fault}"))
}

/// From where each point is reached.
fn reached(
    targets: &[Asked<'_>],
    solver: &Solver<'_>,
    told: &Told,
    force: &Force,
    console: &Console,
) -> Result<ReachDocument, Failure> {
    let cell = &told.bench.cell;
    let surroundings = Surroundings::new(cell, &force.geometry);
    force::tell_overlaps(&surroundings, cell.accept.clearance_mm, console);
    let assessor = Assessor {
        solver,
        cell,
        surroundings: &surroundings,
        sure: force.spread().zip(force.unknowns()),
    };
    let each = targets.iter();
    let points = each.map(|t| answer(t, &assessor, force, (None, None), &|_| {}));
    let points: Result<Vec<_>, String> = points.collect();
    Ok(ReachDocument {
        points: points.map_err(Failure::Message)?,
    })
}

/// The map of a point; none where no node of a map meets it.
fn mapped(
    target: &Asked<'_>,
    cell: &Cell,
    solver: &Solver<'_>,
    told: &Told,
) -> Result<Option<Picture>, Failure> {
    let subject = Subject::Point(target);
    let raster = Raster::new(&subject, (cell, solver), None, (None, None));
    let Ok(document) = raster.and_then(|r| r.map(&subject, (cell, solver), &|_| {})) else {
        return Ok(None);
    };
    let source = told
        .origin
        .record
        .as_deref()
        .unwrap_or("the readings as they are now");
    let sentence = report::map::sentence(&document);
    let picture = Picture::new(
        "reach-map",
        &report::map::title(&document),
        &sentence,
        |width| {
            let room = if width < WIDE {
                Room::Telephone
            } else {
                Room::Page
            };
            report::map::picture(cell, solver.geometry(), &document, source, room)
        },
    );
    Ok(Some(picture.map_err(cannot)?))
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
