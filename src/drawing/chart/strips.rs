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
/// Room of the marks of a lane, where none lie on each other.
const BAND: f64 = 24.0;
/// Marks that would lie on each other are set over and under each other, in at most so many rows.
const MOST_ROWS: usize = 9;

/// One lane.
#[derive(Debug, Clone, PartialEq)]
pub struct Lane {
    /// What it is.
    pub name: String,
    /// What its marks are, in the key: the same words for all lanes of one shape and ink.
    pub marks: String,
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
    let mut hidden = 0;
    for lane in &chart.lanes {
        for line in broken(&lane.name, LABEL, paper.inner()) {
            paper.words(&line, (EDGE, paper.y + LABEL), LABEL, Anchor::Start);
            paper.y += LINE + 1.0;
        }
        let held: Vec<Held> = lane
            .values
            .iter()
            .map(|(value, _)| {
                let area = Area {
                    left,
                    right,
                    top: 0.0,
                    bottom: 0.0,
                };
                let ((x, _), way) = marks::kept_inside((scale.at(*value), 0.0), &area);
                // Chevrons have room before the end of the lane.
                (way.map_or(x, |way| x - 4.0 * way.0), way)
            })
            .collect();
        let apart = 2.0 * r + 1.0;
        let (rows, on) = rows(&held.iter().map(|h| h.0).collect::<Vec<_>>(), apart);
        hidden += on;
        let most = rows.iter().copied().max().unwrap_or(0);
        let band = BAND + apart * 2.0 * most.div_ceil(2) as f64;
        let y = paper.y + band / 2.0;
        lines.push((y, band / 2.0));
        paper.line((left, y), (right, y), BACK);
        let mut inside = Vec::new();
        let mut rings = Path::default();
        let mut outside = Path::default();
        for (((x, way), row), (_, out)) in held.iter().zip(&rows).zip(&lane.values) {
            let place = (*x, y + apart * row_off(*row));
            match way {
                Some(way) => marks::farther(&mut outside, place, *way),
                None => inside.push(place),
            }
            if *out {
                rings.circle(place, 7.5);
            }
        }
        marks::draw(&mut paper, lane.shape, lane.ink, &inside, r);
        paper.path(&outside, &Look::drawn(Pen::new(LIMIT, 1.3)));
        paper.path(&rings, &Look::drawn(Pen::new(LIMIT, 1.5)));
        paper.y += band;
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
    let mut entries: Vec<(Sample, String)> = Vec::new();
    for lane in chart.lanes.iter().filter(|l| !l.values.is_empty()) {
        let entry = (Sample::Mark(lane.shape, lane.ink), lane.marks.clone());
        if !entries.contains(&entry) {
            entries.push(entry);
        }
    }
    entries.push((Sample::Line(limit_pen()), chart.limit_words.clone()));
    if chart.lanes.iter().flat_map(|l| &l.values).any(|v| v.1) {
        entries.push((Sample::Ring(LIMIT), chart.suspect_words.clone()));
    }
    paper.key(&entries);
    let mut notes = chart.notes.clone();
    if hidden > 0 {
        notes.push(format!(
            "Some marks lie on each other where more than {MOST_ROWS} would be side by side: {hidden} of them."
        ));
    }
    paper.notes(&notes);
    paper.finish(&chart.title, &chart.description)
}

/// Where a mark lies along its lane, and which way it lies farther out, if it does.
type Held = (f64, Option<(f64, f64)>);

/// A row for each mark, so that no two in one row are nearer than `apart`, from the lane's line on; and how many
/// marks lie on others all the same.
fn rows(along: &[f64], apart: f64) -> (Vec<usize>, usize) {
    let mut order: Vec<usize> = (0..along.len()).collect();
    order.sort_by(|a, b| along[*a].total_cmp(&along[*b]));
    let mut rows = vec![0; along.len()];
    let mut ends = [f64::NEG_INFINITY; MOST_ROWS];
    let mut hidden = 0;
    for k in order {
        let free = ends.iter().position(|end| along[k] - end >= apart);
        // Where all are full, on the one that ended first.
        let row = free.unwrap_or_else(|| {
            hidden += 1;
            let farthest = |a: &usize, b: &usize| ends[*a].total_cmp(&ends[*b]);
            (0..MOST_ROWS).min_by(farthest).unwrap_or(0)
        });
        ends[row] = along[k];
        rows[k] = row;
    }
    (rows, hidden)
}

/// How many rows over (−) or under (+) the line: 0, −1, 1, −2, 2.
fn row_off(row: usize) -> f64 {
    let off = row.div_ceil(2) as f64;
    if row % 2 == 1 { -off } else { off }
}

fn limit_pen() -> Pen {
    Pen {
        dash_px: 4.0,
        ..Pen::new(LIMIT, 1.2)
    }
}

/// Limits and zero through the marks of each lane, not through its words.
fn verticals(paper: &mut Paper, chart: &Strips, scale: &Linear, lines: &[(f64, f64)]) {
    for (y, half) in lines {
        let (top, bottom) = (y - half, y + half);
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
