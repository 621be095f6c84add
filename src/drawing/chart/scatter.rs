//! Marks over a line, with levels, the gap between two of them, and what stands out.

use crate::drawing::Fault;
use crate::drawing::axis;
use crate::drawing::axis::Linear;
use crate::drawing::chart::check;
use crate::drawing::chart::cloud::Cloud;
use crate::drawing::chart::marks;
use crate::drawing::chart::paper::AXIS_OFF;
use crate::drawing::chart::paper::BACK;
use crate::drawing::chart::paper::EDGE;
use crate::drawing::chart::paper::LABEL;
use crate::drawing::chart::paper::Paper;
use crate::drawing::chart::paper::SMALL;
use crate::drawing::chart::paper::Sample;
use crate::drawing::chart::paper::THIN;
use crate::drawing::chart::paper::TICK_ROOM;
use crate::drawing::chart::paper::ticks_along;
use crate::drawing::chart::paper::widest;
use crate::drawing::chart::view;
use crate::drawing::ink::GROUND;
use crate::drawing::ink::INK;
use crate::drawing::svg::Colour;
use crate::drawing::svg::Pen;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;

/// A level that marks lie about.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// Its value.
    pub value: f64,
    /// Its ink.
    pub ink: Colour,
    /// Whether its line is broken.
    pub dashed: bool,
    /// In the key.
    pub words: String,
}

/// The distance between two levels.
#[derive(Debug, Clone, PartialEq)]
pub struct Gap {
    /// One of them.
    pub from: f64,
    /// The other.
    pub to: f64,
    /// What it is, with its value.
    pub words: String,
}

/// What is usual for a mark: half the width of a bar, and the words for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Usual {
    /// In the chart's values.
    pub half: f64,
    /// In the key.
    pub words: String,
}

/// What a scatter chart shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Scatter {
    /// For readers who do not see it.
    pub title: String,
    /// The same at length.
    pub description: String,
    /// Of the axis along the bottom.
    pub x_label: String,
    /// Over the axis on the left.
    pub y_label: String,
    /// The marks.
    pub cloud: Cloud,
    /// Lines across.
    pub levels: Vec<Level>,
    /// The dimension between two of them.
    pub gap: Option<Gap>,
    /// What is usual.
    pub usual: Option<Usual>,
    /// Below.
    pub notes: Vec<String>,
}

/// Where the values lie on paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Frame {
    pub(super) plot: Area,
    pub(super) x: Linear,
    pub(super) y: Linear,
}

/// Draws it on a sheet of this width.
pub fn scatter(chart: &Scatter, width: f64) -> Result<String, Fault> {
    chart.cloud.check()?;
    check(chart.levels.iter().map(|l| l.value), "levels")?;
    check(chart.gap.iter().flat_map(|g| [g.from, g.to]), "gap")?;
    check(chart.usual.iter().map(|u| u.half), "what is usual")?;
    let mut paper = Paper::new(width);
    paper.paragraph(&chart.y_label, LABEL);
    paper.y += 8.0;
    let frame = framed(chart, &paper);
    let plot = frame.plot;
    let (ticks_y, view_y) = (ticks_y(chart, plot.height()), view_y(chart));
    for value in &ticks_y.values {
        let y = frame.y.at(*value);
        if *value != 0.0 {
            paper.line((plot.left, y), (plot.right, y), Pen::new(GROUND, 0.8));
        }
    }
    if view_y.0 < 0.0 && view_y.1 > 0.0 {
        let y = frame.y.at(0.0);
        paper.line((plot.left, y), (plot.right, y), THIN);
    }
    paper.axis_left(&frame.y, &ticks_y, (plot.top, plot.bottom), plot.left);
    let mut taken = Vec::new();
    for level in &chart.levels {
        let y = frame.y.at(level.value);
        paper.line((plot.left, y), (plot.right, y), pen_of(level));
        taken.push(Area::around(
            ((plot.left + plot.right) / 2.0, y),
            plot.width(),
            2.0,
        ));
    }
    usual(&mut paper, chart, &frame);
    let held = |at: (f64, f64)| marks::kept_inside((frame.x.at(at.0), frame.y.at(at.1)), &plot);
    let beyond = chart.cloud.draw(&mut paper, held, &mut taken);
    let without = chart
        .cloud
        .label(&mut paper, held, &plot.grown(6.0), &mut taken);
    if let Some(gap) = &chart.gap {
        draw_gap(&mut paper, gap, &frame);
    }
    let view_x = view_x(chart);
    let ticks_x = ticks_along(view_x, plot.width() - bars_room(chart));
    paper.axis_below(
        &frame.x,
        &ticks_x,
        (plot.left, plot.right),
        plot.bottom,
        &chart.x_label,
    );
    key(&mut paper, chart);
    let mut notes = chart.notes.clone();
    notes.extend(beyond);
    notes.extend(without);
    paper.notes(&notes);
    paper.finish(&chart.title, &chart.description)
}

fn pen_of(level: &Level) -> Pen {
    Pen {
        dash_px: if level.dashed { 5.0 } else { 0.0 },
        ..Pen::new(level.ink, 1.4)
    }
}

fn view_x(chart: &Scatter) -> (f64, f64) {
    view(chart.cloud.places().map(|p| p.0), 0.05)
}

fn view_y(chart: &Scatter) -> (f64, f64) {
    let mut values = chart.cloud.counted();
    values.extend(chart.levels.iter().map(|l| l.value));
    values.push(0.0);
    if let Some(usual) = &chart.usual {
        let levels = chart.levels.iter().map(|l| l.value);
        let levels: Vec<f64> = levels
            .chain(chart.levels.is_empty().then_some(0.0))
            .collect();
        values.extend(levels.iter().flat_map(|l| [l - usual.half, l + usual.half]));
    }
    view(values, 0.08)
}

fn ticks_y(chart: &Scatter, height: f64) -> axis::Ticks {
    let (low, high) = view_y(chart);
    axis::ticks(low, high, (height / 42.0) as usize)
}

pub(super) fn framed(chart: &Scatter, paper: &Paper) -> Frame {
    let height = if paper.narrow() { 250.0 } else { 300.0 };
    let left = EDGE + widest(&ticks_y(chart, height)) + TICK_ROOM + AXIS_OFF;
    let beside = if chart.gap.is_some() { 40.0 } else { 6.0 };
    let plot = Area {
        left,
        top: paper.y,
        right: paper.width - EDGE - beside,
        bottom: paper.y + height,
    };
    let (view_x, view_y) = (view_x(chart), view_y(chart));
    Frame {
        plot,
        x: Linear::new(view_x.0, view_x.1, plot.left + bars_room(chart), plot.right),
        y: Linear::new(view_y.0, view_y.1, plot.bottom, plot.top),
    }
}

/// Room for the bars of what is usual, before the first mark.
fn bars_room(chart: &Scatter) -> f64 {
    match (&chart.usual, chart.levels.len()) {
        (None, _) => 0.0,
        (Some(_), levels) => 9.0 * levels.max(1) as f64 + 4.0,
    }
}

/// A bar about each level, beside the marks.
fn usual(paper: &mut Paper, chart: &Scatter, frame: &Frame) {
    let Some(usual) = &chart.usual else { return };
    let zero = [(0.0, INK)];
    let levels: Vec<(f64, Colour)> = chart.levels.iter().map(|l| (l.value, l.ink)).collect();
    let levels = if levels.is_empty() {
        &zero[..]
    } else {
        &levels[..]
    };
    for (k, (value, ink)) in levels.iter().enumerate() {
        let ends = (
            frame.y.at(value + usual.half),
            frame.y.at(value - usual.half),
        );
        paper.bracket(frame.plot.left + 6.0 + 9.0 * k as f64, ends, *ink);
    }
}

fn draw_gap(paper: &mut Paper, gap: &Gap, frame: &Frame) {
    let plot = frame.plot;
    let x = plot.right + 12.0;
    let ends = [frame.y.at(gap.from), frame.y.at(gap.to)];
    for y in ends {
        paper.line((plot.right, y), (x + 4.0, y), BACK);
    }
    paper.dimension((x, ends[0]), (x, ends[1]));
    // Its words stand beside it, inside the sheet.
    let long = text::width_of(&gap.words, SMALL);
    let middle = (ends[0] + ends[1]) / 2.0;
    let lowest = (plot.bottom + 4.0 - long / 2.0).max(plot.top + long / 2.0 - 4.0);
    let highest = (plot.top - 4.0 + long / 2.0).min(lowest);
    let at = (x + 5.0 + SMALL, middle.clamp(highest, lowest));
    paper.upright(&gap.words, at, SMALL, Anchor::Middle);
}

fn key(paper: &mut Paper, chart: &Scatter) {
    let mut entries = chart.cloud.key();
    for level in &chart.levels {
        entries.push((Sample::Line(pen_of(level)), level.words.clone()));
    }
    if let Some(usual) = &chart.usual {
        entries.push((Sample::Bracket, usual.words.clone()));
    }
    paper.key(&entries);
}
