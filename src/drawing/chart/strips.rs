//! Lanes of marks over one axis of what is usual, with limits.

use crate::drawing::Fault;
use crate::drawing::axis;
use crate::drawing::axis::Linear;
use crate::drawing::chart::check;
use crate::drawing::chart::marks;
use crate::drawing::chart::marks::Shape;
use crate::drawing::chart::paper::BACK;
use crate::drawing::chart::paper::EDGE;
use crate::drawing::chart::paper::LABEL;
use crate::drawing::chart::paper::LINE;
use crate::drawing::chart::paper::Paper;
use crate::drawing::chart::paper::SMALL;
use crate::drawing::chart::paper::Sample;
use crate::drawing::chart::paper::THIN;
use crate::drawing::chart::paper::ticks_along;
use crate::drawing::ink::LIMIT;
use crate::drawing::path::Path;
use crate::drawing::svg::Colour;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;
use crate::drawing::text::broken;

/// Values farther out than this are drawn at the edge.
const FARTHEST: f64 = 8.0;
/// The axis goes at least so far.
const LEAST: f64 = 4.0;
/// Room of the marks of a lane.
const BAND: f64 = 24.0;

/// One lane.
#[derive(Debug, Clone, PartialEq)]
pub struct Lane {
    /// What it is.
    pub name: String,
    /// Shape of its marks.
    pub shape: Shape,
    /// Their ink.
    pub ink: Colour,
    /// Their values, and whether each stands out.
    pub values: Vec<(f64, bool)>,
    /// What is to be said of it: the worst ones, with their values.
    pub words: String,
}

/// What a chart of lanes shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Strips {
    /// For readers who do not see it.
    pub title: String,
    /// The same at length.
    pub description: String,
    /// Of the axis.
    pub label: String,
    /// Beyond this on either side a mark stands out.
    pub limit: f64,
    /// In the key.
    pub limit_words: String,
    /// In the key, for marks that stand out.
    pub suspect_words: String,
    /// From above.
    pub lanes: Vec<Lane>,
    /// Below.
    pub notes: Vec<String>,
}

/// Draws it on a sheet of this width.
pub fn strips(chart: &Strips, width: f64) -> Result<String, Fault> {
    let values = || chart.lanes.iter().flat_map(|l| &l.values).map(|v| v.0);
    check(values().chain([chart.limit]), "values")?;
    let mut paper = Paper::new(width);
    let scale = scale_of(chart, &paper);
    let (left, right) = (scale.at(-reach(chart)), scale.at(reach(chart)));
    let top = paper.y + LINE;
    // The limits' figures over their lines.
    for limit in [-chart.limit, chart.limit] {
        let figures = axis::plain(limit);
        paper.words(
            &figures,
            (scale.at(limit), paper.y + SMALL),
            SMALL,
            Anchor::Middle,
        );
    }
    paper.y = top + 6.0;
    let count = values().count();
    let r = marks::radius(count);
    let mut lines = Vec::new();
    for lane in &chart.lanes {
        for line in broken(&lane.name, LABEL, paper.inner()) {
            paper.words(&line, (EDGE, paper.y + LABEL), LABEL, Anchor::Start);
            paper.y += LINE + 1.0;
        }
        let y = paper.y + BAND / 2.0;
        lines.push(y);
        paper.line((left, y), (right, y), BACK);
        let area = Area {
            left,
            right,
            top: y,
            bottom: y,
        };
        let mut inside = Vec::new();
        let mut rings = Path::default();
        let mut outside = Path::default();
        for (value, out) in &lane.values {
            let (place, way) = marks::kept_inside((scale.at(*value), y), &area);
            match way {
                Some(way) => {
                    let place = (place.0 - 4.0 * way.0, place.1);
                    marks::farther(&mut outside, place, way);
                }
                None => inside.push(place),
            }
            if *out {
                rings.circle(place, 7.5);
            }
        }
        marks::draw(&mut paper, lane.shape, lane.ink, &inside, r);
        paper.path(&outside, &Look::drawn(Pen::new(LIMIT, 1.3)));
        paper.path(&rings, &Look::drawn(Pen::new(LIMIT, 1.5)));
        paper.y += BAND;
        for line in broken(&lane.words, SMALL, paper.inner()) {
            paper.words(&line, (EDGE, paper.y + SMALL), SMALL, Anchor::Start);
            paper.y += LINE;
        }
        paper.y += 10.0;
    }
    let bottom = paper.y - 4.0;
    verticals(&mut paper, chart, &scale, &lines);
    let ticks = ticks_along((-reach(chart), reach(chart)), right - left);
    paper.axis_below(&scale, &ticks, (left, right), bottom, &chart.label);
    let mut entries: Vec<(Sample, String)> =
        vec![(Sample::Line(limit_pen()), chart.limit_words.clone())];
    if chart.lanes.iter().flat_map(|l| &l.values).any(|v| v.1) {
        entries.push((Sample::Ring(LIMIT), chart.suspect_words.clone()));
    }
    paper.key(&entries);
    paper.notes(&chart.notes);
    paper.finish(&chart.title, &chart.description)
}

fn limit_pen() -> Pen {
    Pen {
        dash_px: 4.0,
        ..Pen::new(LIMIT, 1.2)
    }
}

/// Limits and zero through the marks of each lane, not through its words.
fn verticals(paper: &mut Paper, chart: &Strips, scale: &Linear, lines: &[f64]) {
    for y in lines {
        let (top, bottom) = (y - BAND / 2.0, y + BAND / 2.0);
        for limit in [-chart.limit, chart.limit] {
            let x = scale.at(limit);
            paper.line((x, top), (x, bottom), limit_pen());
        }
        let x = scale.at(0.0);
        paper.line((x, top), (x, bottom), THIN);
    }
}

fn reach(chart: &Strips) -> f64 {
    let values = chart.lanes.iter().flat_map(|l| &l.values);
    values
        .fold(LEAST.max(1.2 * chart.limit), |a, v| a.max(v.0.abs()))
        .min(FARTHEST)
}

pub(super) fn scale_of(chart: &Strips, paper: &Paper) -> Linear {
    let reach = reach(chart);
    Linear::new(-reach, reach, EDGE + 8.0, paper.width - EDGE - 8.0)
}
