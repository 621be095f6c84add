//! Small charts of the same make, one under or beside another: values over time with their bars.

use crate::drawing::Fault;
use crate::drawing::axis;
use crate::drawing::axis::Linear;
use crate::drawing::chart::check;
use crate::drawing::chart::marks;
use crate::drawing::chart::marks::Shape;
use crate::drawing::chart::paper::AXIS_OFF;
use crate::drawing::chart::paper::EDGE;
use crate::drawing::chart::paper::LABEL;
use crate::drawing::chart::paper::LINE;
use crate::drawing::chart::paper::Paper;
use crate::drawing::chart::paper::SMALL;
use crate::drawing::chart::paper::Sample;
use crate::drawing::chart::paper::TICK_ROOM;
use crate::drawing::chart::paper::widest;
use crate::drawing::chart::view;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::GREY;
use crate::drawing::ink::GROUND;
use crate::drawing::ink::LIMIT;
use crate::drawing::ink::OCHRE;
use crate::drawing::path::Path;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;
use crate::drawing::text::broken;

/// Height of a plot.
const HEIGHT: f64 = 104.0;
/// Between two charts beside each other.
const APART: f64 = 26.0;
/// Strokes of a bar's feet.
const FOOT: f64 = 3.0;

/// A value then.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Then {
    /// Its day, as a number.
    pub day: f64,
    /// The value.
    pub value: f64,
    /// Half of its bar.
    pub half: f64,
    /// Whether it counts.
    pub counts: bool,
}

/// One small chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel {
    /// Over it, with the unit.
    pub name: String,
    /// What to see in it.
    pub words: String,
    /// The values, in order of their days.
    pub values: Vec<Then>,
    /// A line: a day and the value there, twice.
    pub line: Option<[(f64, f64); 2]>,
}

/// What small multiples show.
#[derive(Debug, Clone, PartialEq)]
pub struct Multiples {
    /// For readers who do not see it.
    pub title: String,
    /// The same at length.
    pub description: String,
    /// Days along the bottom of each, with what stands there.
    pub days: Vec<(f64, String)>,
    /// Days on which something happened.
    pub events: Vec<f64>,
    /// In the key, for those.
    pub event_words: String,
    /// In the key, for values that count, values that do not, bars, lines.
    pub words: [String; 4],
    /// The charts.
    pub panels: Vec<Panel>,
    /// Below.
    pub notes: Vec<String>,
}

/// Draws it on a sheet of this width.
pub fn multiples(chart: &Multiples, width: f64) -> Result<String, Fault> {
    let values = || chart.panels.iter().flat_map(|p| &p.values);
    let lines = || chart.panels.iter().filter_map(|p| p.line).flatten();
    check(values().flat_map(|v| [v.day, v.value, v.half]), "values")?;
    check(lines().flat_map(|l| [l.0, l.1]), "lines")?;
    check(chart.days.iter().map(|d| d.0), "days")?;
    check(chart.events.iter().copied(), "days")?;
    let mut paper = Paper::new(width);
    let columns = if paper.narrow() { 1 } else { 2 };
    let each = (paper.inner() - APART * (columns - 1) as f64) / columns as f64;
    for row in chart.panels.chunks(columns) {
        let top = paper.y;
        // Beside each other plots stand at one height.
        let heads: Vec<Vec<(String, f64)>> = row.iter().map(|p| head(p, each)).collect();
        let lines = heads.iter().map(Vec::len).max().unwrap_or(0);
        let plot_top = top + LINE * lines as f64 + 10.0;
        let mut bottom = top;
        for (k, panel) in row.iter().enumerate() {
            let left = EDGE + k as f64 * (each + APART);
            for (line, (words, size)) in heads[k].iter().enumerate() {
                let y = top + LINE * line as f64 + LABEL;
                paper.words(words, (left, y), *size, Anchor::Start);
            }
            paper.y = plot_top;
            one(&mut paper, chart, panel, (left, left + each));
            bottom = f64::max(bottom, paper.y);
        }
        paper.y = bottom + 12.0;
    }
    key(&mut paper, chart);
    paper.notes(&chart.notes);
    paper.finish(&chart.title, &chart.description)
}

fn head(panel: &Panel, wide: f64) -> Vec<(String, f64)> {
    let of = |text: &str, size: f64| -> Vec<(String, f64)> {
        let lines = broken(text, size, wide);
        lines.into_iter().map(|l| (l, size)).collect()
    };
    let mut lines = of(&panel.name, LABEL);
    lines.extend(of(&panel.words, SMALL));
    lines
}

/// First and last day of all charts.
fn days(chart: &Multiples) -> (f64, f64) {
    let values = chart.panels.iter().flat_map(|p| &p.values).map(|v| v.day);
    view(values.chain(chart.events.iter().copied()), 0.04)
}

fn value_view(panel: &Panel) -> (f64, f64) {
    let values = panel.values.iter();
    let ends = values.flat_map(|v| [v.value - v.half, v.value + v.half]);
    let line = panel.line.into_iter().flatten().map(|l| l.1);
    view(ends.chain(line), 0.06)
}

/// The plot of a chart between two sides, and its scales.
pub(super) fn laid(
    chart: &Multiples,
    panel: &Panel,
    (left, right): (f64, f64),
    top: f64,
) -> (Area, Linear, Linear) {
    let (low, high) = value_view(panel);
    let ticks = axis::ticks(low, high, 3);
    let plot = Area {
        left: left + widest(&ticks) + TICK_ROOM + AXIS_OFF,
        top,
        right,
        bottom: top + HEIGHT,
    };
    let (first, last) = days(chart);
    (
        plot,
        Linear::new(first, last, plot.left, plot.right),
        Linear::new(low, high, plot.bottom, plot.top),
    )
}

fn one(paper: &mut Paper, chart: &Multiples, panel: &Panel, sides: (f64, f64)) {
    let (plot, x, y) = laid(chart, panel, sides, paper.y);
    let (low, high) = value_view(panel);
    let ticks = axis::ticks(low, high, 3);
    for value in &ticks.values {
        let y = y.at(*value);
        paper.line((plot.left, y), (plot.right, y), Pen::new(GROUND, 0.8));
    }
    paper.axis_left(&y, &ticks, (plot.top, plot.bottom), plot.left);
    for event in &chart.events {
        let x = x.at(*event);
        paper.line((x, plot.top), (x, plot.bottom), event_pen());
    }
    if let Some([a, b]) = panel.line {
        paper.line(
            (x.at(a.0), y.at(a.1)),
            (x.at(b.0), y.at(b.1)),
            Pen::new(OCHRE, 1.3),
        );
    }
    let (mut counting, mut others) = (Vec::new(), Vec::new());
    let mut bars = [Path::default(), Path::default()];
    for then in &panel.values {
        let at = (x.at(then.day), y.at(then.value));
        let (top, bottom) = (y.at(then.value + then.half), y.at(then.value - then.half));
        if bottom - top > 1.0 {
            let path = &mut bars[usize::from(!then.counts)];
            path.polyline(&[(at.0, top), (at.0, bottom)], false);
            for y in [top, bottom] {
                path.polyline(&[(at.0 - FOOT, y), (at.0 + FOOT, y)], false);
            }
        }
        match then.counts {
            true => counting.push(at),
            false => others.push(at),
        }
    }
    for (path, ink) in bars.iter().zip([BLUE, GREY]) {
        paper.path(path, &Look::drawn(Pen::new(ink, 1.0)));
    }
    marks::draw(paper, Shape::Diamond, BLUE, &counting, 4.4);
    marks::draw(paper, Shape::Hollow, GREY, &others, 4.4);
    // Only as many days as have room.
    let mut marks_below: Vec<(f64, String)> = Vec::new();
    let mut free = f64::NEG_INFINITY;
    for (day, words) in &chart.days {
        let at = x.at(*day);
        let half = text::width_of(words, SMALL) / 2.0;
        if at < plot.left - 1.0 || at > plot.right + 1.0 || at - half < free {
            continue;
        }
        if at + half > plot.right + EDGE {
            continue;
        }
        free = at + half + 8.0;
        marks_below.push((at, words.clone()));
    }
    paper.marks_below(&marks_below, (plot.left, plot.right), plot.bottom, "");
}

fn event_pen() -> Pen {
    Pen {
        dash_px: 4.0,
        ..Pen::new(LIMIT, 1.2)
    }
}

fn key(paper: &mut Paper, chart: &Multiples) {
    let values = || chart.panels.iter().flat_map(|p| &p.values);
    let [counts, not, bars, line] = &chart.words;
    let mut entries = vec![(Sample::Mark(Shape::Diamond, BLUE), counts.clone())];
    if values().any(|v| !v.counts) {
        entries.push((Sample::Mark(Shape::Hollow, GREY), not.clone()));
    }
    entries.push((Sample::Bracket, bars.clone()));
    if chart.panels.iter().any(|p| p.line.is_some()) {
        entries.push((Sample::Line(Pen::new(OCHRE, 1.3)), line.clone()));
    }
    if !chart.events.is_empty() {
        entries.push((Sample::Line(event_pen()), chart.event_words.clone()));
    }
    paper.key(&entries);
}
