//! The drawings of a report, and those of the page.

use std::path::Path;

use crate::answers::force::Force;
use crate::answers::map::Raster;
use crate::answers::map::Subject;
use crate::answers::reach::answer;
use crate::answers::target::Asked;
use crate::cell::Cell;
use crate::clearance::Surroundings;
use crate::cli::Console;
use crate::cli::Failure;
use crate::cli::args;
use crate::cli::asked::asked;
use crate::cli::folder;
use crate::cli::force;
use crate::cli::history;
use crate::cli::papers;
use crate::cli::progress;
use crate::cli::report::told::Told;
use crate::cli::report::told::of_record;
use crate::drawing::Fault;
use crate::drawing::map::Room;
use crate::margins::Assessor;
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
use crate::reach::Solver;
use crate::report;
use crate::report::reach::ReachDocument;

/// All drawings, and from where the points are reached.
pub fn drawings(
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
        let shown = Shown::new(&told.bench, &cell.nominal, &told.document, None, None, &[]);
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
        &told.stale,
    );
    let mut all = views(&shown).map_err(cannot)?;
    let line = progress::line(console, "drawing");
    all.extend(statistics(root, told, force)?);
    let lanes = reach_lanes(&reach_lanes::of(&reach, &told.bench, &force.geometry));
    all.extend(lanes.map_err(cannot)?);
    let at = shown.point();
    if let Some(target) = targets.iter().find(|t| Some(t.name) == at) {
        all.extend(mapped(target, cell, &solver, told)?);
    }
    line.finish_and_clear();
    Ok((all, Some(reach)))
}

/// The drawings of what the readings say, and of what changed.
fn statistics(root: &Path, told: &Told, force: &Force) -> Result<Vec<Picture>, Failure> {
    let (bench, document, geometry) = (&told.bench, &told.document, &force.geometry);
    let shown = Shown::new(bench, geometry, document, None, None, &told.stale);
    let mut all = Vec::new();
    all.extend(moved(document).map_err(cannot)?);
    for view in [View::Plan, View::Elevation] {
        all.extend(arrows(&shown.subject(), bench, document, view).map_err(cannot)?);
    }
    all.extend(track_line(document, bench, geometry).map_err(cannot)?);
    all.extend(notch_dial(document, bench, geometry).map_err(cannot)?);
    all.extend(joints(document, bench, geometry).map_err(cannot)?);
    all.extend(contributions(document, bench).map_err(cannot)?);
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
    let bar = progress::bar(
        console,
        100 * targets.len() as u64,
        "percent of the points looked at",
    );
    let each = targets.iter().enumerate();
    let points = each.map(|(done, t)| {
        let tell = |share: f64| bar.set_position((100.0 * (done as f64 + share)) as u64);
        answer(t, &assessor, force, (None, None), &tell)
    });
    let points: Result<Vec<_>, String> = points.collect();
    bar.finish_and_clear();
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
