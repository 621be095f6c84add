//! Lanes along a travel: where each thing can be, with marks; without a travel a list of yes and no.

use crate::drawing::Fault;
use crate::drawing::axis::Linear;
use crate::drawing::axis::plain;
use crate::drawing::chart::check;
use crate::drawing::chart::marks::Shape;
use crate::drawing::chart::paper::BACK;
use crate::drawing::chart::paper::EDGE;
use crate::drawing::chart::paper::LABEL;
use crate::drawing::chart::paper::LINE;
use crate::drawing::chart::paper::Paper;
use crate::drawing::chart::paper::SMALL;
use crate::drawing::chart::paper::Sample;
use crate::drawing::chart::paper::ticks_along;
use crate::drawing::chart::view;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::GREY;
use crate::drawing::ink::INK;
use crate::drawing::ink::LIMIT;
use crate::drawing::ink::PAPER;
use crate::drawing::path::Path;
use crate::drawing::svg::Fill;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;
use crate::drawing::text::broken;

/// Height of a bar.
const BAR: f64 = 9.0;
/// Width of a lane's name on a wide sheet.
const NAME: f64 = 190.0;

/// One lane.
#[derive(Debug, Clone, PartialEq)]
pub struct Lane {
    /// Its name.
    pub name: String,
    /// Whether it can be reached without a condition.
    pub reached: bool,
    /// Whether it is reached only under a condition, which the words tell.
    pub condition: bool,
    /// Ends between which it is.
    pub intervals: Vec<[f64; 2]>,
    /// Where it was taught.
    pub taught: Option<f64>,
    /// The best place.
    pub best: Option<f64>,
    /// What there is to say; why not, where it cannot be reached.
    pub words: String,
}

/// What a chart of lanes shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Lanes {
    /// For readers who do not see it.
    pub title: String,
    /// The same at length.
    pub description: String,
    /// Of the axis; None: no travel, a list.
    pub label: Option<String>,
    /// Limits of the travel.
    pub limits: Option<[f64; 2]>,
    /// From above.
    pub lanes: Vec<Lane>,
    /// Below.
    pub notes: Vec<String>,
}

/// Draws it on a sheet of this width.
pub fn lanes(chart: &Lanes, width: f64) -> Result<String, Fault> {
    let every = chart.lanes.iter().flat_map(places);
    check(
        every.chain(chart.limits.iter().flatten().copied()),
        "stations",
    )?;
    let mut paper = Paper::new(width);
    if chart.label.is_none() {
        return listed(chart, paper);
    }
    let scale = scale_of(chart, &paper);
    let (low, high) = extent(chart);
    let (left, right) = (scale.at(low), scale.at(high));
    let labels = limit_labels(&mut paper, chart, &scale);
    paper.y += labels;
    let mut spans = Vec::new();
    for lane in &chart.lanes {
        let top = paper.y;
        let room = match paper.narrow() {
            true => paper.inner(),
            false => NAME - 14.0,
        };
        for line in broken(&lane.name, LABEL, room) {
            paper.words(&line, (EDGE, paper.y + LABEL), LABEL, Anchor::Start);
            paper.y += LINE + 1.0;
        }
        let below_name = paper.y;
        if !paper.narrow() {
            paper.y = top + 1.0;
        }
        let middle = paper.y + 8.0;
        spans.push((middle - 9.0, middle + 9.0));
        draw_lane(
            &mut paper,
            lane,
            &scale,
            (left, right),
            chart.limits,
            middle,
        );
        paper.y = middle + 9.0;
        let at = if paper.narrow() { EDGE } else { left };
        for line in broken(&lane.words, SMALL, paper.width - EDGE - at) {
            paper.words(&line, (at, paper.y + SMALL), SMALL, Anchor::Start);
            paper.y += LINE;
        }
        paper.y = paper.y.max(below_name) + 9.0;
    }
    limits(&mut paper, chart, &scale, &spans);
    let bottom = paper.y - 4.0;
    let ticks = ticks_along((low, high), right - left);
    let label = chart.label.as_deref().unwrap_or_default();
    paper.axis_below(&scale, &ticks, (left, right), bottom, label);
    key(&mut paper, chart);
    paper.notes(&chart.notes);
    paper.finish(&chart.title, &chart.description)
}

fn places(lane: &Lane) -> impl Iterator<Item = f64> {
    let marks = lane.taught.into_iter().chain(lane.best);
    lane.intervals.iter().flatten().copied().chain(marks)
}

fn extent(chart: &Lanes) -> (f64, f64) {
    let limits = chart.limits.iter().flatten().copied();
    view(chart.lanes.iter().flat_map(places).chain(limits), 0.03)
}

pub(super) fn scale_of(chart: &Lanes, paper: &Paper) -> Linear {
    let left = match paper.narrow() {
        true => EDGE + 6.0,
        false => EDGE + NAME,
    };
    let (low, high) = extent(chart);
    Linear::new(low, high, left, paper.width - EDGE - 6.0)
}

/// Figures of the limits of travel over their lines; how high they are.
fn limit_labels(paper: &mut Paper, chart: &Lanes, scale: &Linear) -> f64 {
    let Some(limits) = chart.limits else {
        return 2.0;
    };
    let mut before: Option<Area> = None;
    for limit in limits {
        let words = format!("limit {}", plain(limit));
        let half = text::width_of(&words, SMALL) / 2.0;
        let x = scale
            .at(limit)
            .min(paper.width - EDGE - half)
            .max(EDGE + half);
        let at = (x, paper.y + SMALL);
        let room = text::area_of(&words, SMALL, at, Anchor::Middle, false);
        if before.is_some_and(|b| b.grown(4.0).meets(&room)) {
            continue;
        }
        before = Some(room);
        paper.words(&words, at, SMALL, Anchor::Middle);
    }
    LINE + 6.0
}

fn draw_lane(
    paper: &mut Paper,
    lane: &Lane,
    scale: &Linear,
    (left, right): (f64, f64),
    limits: Option<[f64; 2]>,
    middle: f64,
) {
    if !lane.reached && !lane.condition {
        // Within the limits of travel, where there are any.
        let (left, right) = match limits {
            Some([a, b]) => (scale.at(a.min(b)), scale.at(a.max(b))),
            None => (left, right),
        };
        let area = Area::new(left, middle - BAR / 2.0, right - left, BAR);
        let pen = Pen {
            dash_px: 3.0,
            ..Pen::new(GREY, 0.7)
        };
        paper.rectangle(&area, &Look::filled(Fill::Hatch).with_pen(pen));
    } else {
        paper.line((left, middle), (right, middle), BACK);
        for [a, b] in &lane.intervals {
            let (a, b) = (scale.at(a.min(*b)), scale.at(a.max(*b)));
            // A single station is a stroke.
            let wide = (b - a).max(1.5);
            let area = Area::new(a, middle - BAR / 2.0, wide, BAR);
            paper.rectangle(&area, &look(lane));
        }
    }
    for (at, shape, up) in [
        (lane.taught, Shape::Hollow, 0.0),
        (lane.best, Shape::Peak, 0.0),
    ] {
        let Some(at) = at else { continue };
        let place = (scale.at(at), middle + up);
        let mut path = Path::default();
        shape.add(&mut path, place, 6.0);
        paper.path(&path, &Look::drawn(Pen::new(PAPER, 4.0)));
        paper.path(&path, &shape.look(INK));
    }
}

/// Solid where it is reached, open where only under a condition, hatched where not.
fn look(lane: &Lane) -> Look {
    match (lane.reached, lane.condition) {
        (true, _) => Look::filled(Fill::Plain(BLUE)),
        (false, true) => Look::filled(Fill::Plain(PAPER)).with_pen(Pen::new(INK, 1.1)),
        (false, false) => Look::filled(Fill::Hatch),
    }
}

/// Heavy lines with strokes on the barred side, through the bars and not through words.
fn limits(paper: &mut Paper, chart: &Lanes, scale: &Linear, spans: &[(f64, f64)]) {
    let Some([a, b]) = chart.limits else { return };
    let mut strokes = Path::default();
    for (limit, out) in [(a.min(b), -5.0), (a.max(b), 5.0)] {
        let x = scale.at(limit);
        for (top, bottom) in spans {
            paper.line((x, *top), (x, *bottom), Pen::new(LIMIT, 2.0));
            for k in 0..2 {
                let y = top + 3.0 + 8.0 * f64::from(k);
                strokes.polyline(&[(x, y), (x + out, y + 5.0)], false);
            }
        }
    }
    paper.path(&strokes, &Look::drawn(Pen::new(LIMIT, 0.8)));
}

fn key(paper: &mut Paper, chart: &Lanes) {
    let any = |f: &dyn Fn(&Lane) -> bool| chart.lanes.iter().any(f);
    let along = chart.label.is_some();
    let mut entries = Vec::new();
    if any(&|l| l.reached) {
        entries.push((Sample::Bar(Fill::Plain(BLUE)), "can be reached".to_owned()));
    }
    if any(&|l| !l.reached && l.condition) {
        entries.push((
            Sample::Bar(Fill::Plain(PAPER)),
            "only under the condition told".to_owned(),
        ));
    }
    if any(&|l| !l.reached && !l.condition) {
        entries.push((Sample::Bar(Fill::Hatch), "not reached".to_owned()));
    }
    if along && any(&|l| l.taught.is_some()) {
        entries.push((Sample::Mark(Shape::Hollow, INK), "taught here".to_owned()));
    }
    if along && any(&|l| l.best.is_some()) {
        entries.push((Sample::Mark(Shape::Peak, INK), "best station".to_owned()));
    }
    if chart.limits.is_some() {
        entries.push((
            Sample::Line(Pen::new(LIMIT, 2.0)),
            "limit of travel".to_owned(),
        ));
    }
    paper.key(&entries);
}

/// Without a travel: a box for each, solid where it can be reached, open where only under a condition, hatched
/// where not, and the words.
fn listed(chart: &Lanes, mut paper: Paper) -> Result<String, Fault> {
    const BOX: f64 = 11.0;
    for lane in &chart.lanes {
        let area = Area::new(EDGE + 2.0, paper.y + 2.0, BOX, BOX);
        paper.rectangle(&area, &look(lane).with_pen(Pen::new(INK, 0.7)));
        let x = EDGE + BOX + 12.0;
        let answer = match (lane.reached, lane.condition) {
            (true, _) => "yes",
            (false, true) => "under a condition",
            (false, false) => "no",
        };
        let name = format!("{}: {answer}", lane.name);
        for (text, size) in [(&name, LABEL), (&lane.words, SMALL)] {
            for line in broken(text, size, paper.width - EDGE - x) {
                paper.words(&line, (x, paper.y + LABEL), size, Anchor::Start);
                paper.y += LINE + 1.0;
            }
        }
        paper.y += 6.0;
    }
    key(&mut paper, chart);
    paper.notes(&chart.notes);
    paper.finish(&chart.title, &chart.description)
}
