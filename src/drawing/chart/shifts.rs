//! From before to after: an arrow for each row, in units of how surely the difference is known.

use crate::drawing::Fault;
use crate::drawing::axis::Linear;
use crate::drawing::axis::plain;
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
use crate::drawing::chart::paper::ticks_along;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::LIMIT;
use crate::drawing::ink::OCHRE;
use crate::drawing::path::Path;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::text::Anchor;
use crate::drawing::text::broken;

/// Differences farther than this end at the edge.
const FARTHEST: f64 = 15.0;
/// The axis goes at least so far.
const LEAST: f64 = 4.0;
/// Room of an arrow.
const BAND: f64 = 22.0;

/// How sure a difference is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Surely {
    /// It is real.
    Real,
    /// It may be.
    Perhaps,
    /// Nothing speaks for it.
    Same,
    /// It has no uncertainty.
    Given,
}

impl Surely {
    const ALL: [Surely; 4] = [Surely::Real, Surely::Perhaps, Surely::Same, Surely::Given];

    fn shape(self) -> Shape {
        match self {
            Surely::Real => Shape::Diamond,
            Surely::Perhaps => Shape::Hollow,
            Surely::Same => Shape::Cross,
            Surely::Given => Shape::Dot,
        }
    }
}

/// One row.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Its name.
    pub name: String,
    /// After less before, in units of its uncertainty; None where it has none.
    pub off: Option<f64>,
    /// How sure it is.
    pub surely: Surely,
    /// Values before and after, difference.
    pub words: String,
}

/// Rows under one heading.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// Over them.
    pub heading: String,
    /// From above.
    pub rows: Vec<Row>,
}

/// What a chart of shifts shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Shifts {
    /// For readers who do not see it.
    pub title: String,
    /// The same at length.
    pub description: String,
    /// Of the axis.
    pub label: String,
    /// Lines on both sides of before.
    pub limits: Vec<f64>,
    /// In the key, for those.
    pub limit_words: String,
    /// In the key, for each of real, perhaps, same, given.
    pub words: [String; 4],
    /// From above.
    pub groups: Vec<Group>,
    /// Below.
    pub notes: Vec<String>,
}

/// Draws it on a sheet of this width.
pub fn shifts(chart: &Shifts, width: f64) -> Result<String, Fault> {
    let rows = || chart.groups.iter().flat_map(|g| &g.rows);
    check(rows().filter_map(|r| r.off), "differences")?;
    check(chart.limits.iter().copied(), "limits")?;
    let mut paper = Paper::new(width);
    let scale = scale_of(chart, &paper);
    let far = reach(chart);
    let (left, right) = (scale.at(-far), scale.at(far));
    paper.key(&key(chart));
    paper.y += 8.0;
    for group in &chart.groups {
        for line in broken(&group.heading, LABEL, paper.inner()) {
            paper.words(&line, (EDGE, paper.y + LABEL), LABEL, Anchor::Start);
            paper.y += LINE + 1.5;
        }
        paper.line((EDGE, paper.y), (width - EDGE, paper.y), BACK);
        paper.y += 6.0;
        for row in &group.rows {
            one(&mut paper, chart, row, &scale, (left, right));
        }
        paper.y += 8.0;
    }
    if rows().any(|r| r.off.is_some()) {
        let bottom = paper.y - 8.0;
        let ticks = ticks_along((-far, far), right - left);
        paper.axis_below(&scale, &ticks, (left, right), bottom, &chart.label);
    }
    let mut notes = chart.notes.clone();
    if rows().filter_map(|r| r.off).any(|off| off.abs() > far) {
        notes.push(format!(
            "An arrow with two chevrons goes farther than {}; its row says how far.",
            plain(far)
        ));
    }
    paper.notes(&notes);
    paper.finish(&chart.title, &chart.description)
}

fn reach(chart: &Shifts) -> f64 {
    let all = chart.groups.iter().flat_map(|g| &g.rows);
    all.filter_map(|r| r.off)
        .fold(LEAST, |a, v| a.max(1.05 * v.abs()))
        .min(FARTHEST)
}

pub(super) fn scale_of(chart: &Shifts, paper: &Paper) -> Linear {
    let far = reach(chart);
    Linear::new(-far, far, EDGE + 10.0, paper.width - EDGE - 10.0)
}

fn limit_pen() -> Pen {
    Pen {
        dash_px: 4.0,
        ..Pen::new(LIMIT, 0.9)
    }
}

fn key(chart: &Shifts) -> Vec<(Sample, String)> {
    let mut entries = vec![(Sample::Mark(Shape::Square, BLUE), "before".to_owned())];
    for (surely, words) in Surely::ALL.iter().zip(&chart.words) {
        let any = chart.groups.iter().flat_map(|g| &g.rows);
        if any.into_iter().any(|r| r.surely == *surely) {
            entries.push((Sample::Mark(surely.shape(), OCHRE), words.clone()));
        }
    }
    entries.push((Sample::Line(limit_pen()), chart.limit_words.clone()));
    entries
}

fn one(paper: &mut Paper, chart: &Shifts, row: &Row, scale: &Linear, (left, right): (f64, f64)) {
    for line in broken(&row.name, LABEL, paper.inner()) {
        paper.words(&line, (EDGE, paper.y + LABEL), LABEL, Anchor::Start);
        paper.y += LINE + 1.0;
    }
    for line in broken(&row.words, SMALL, paper.inner()) {
        paper.words(&line, (EDGE, paper.y + SMALL), SMALL, Anchor::Start);
        paper.y += LINE;
    }
    let Some(off) = row.off else {
        paper.y += 8.0;
        return;
    };
    let y = paper.y + BAND / 2.0 - 1.0;
    paper.line((left, y), (right, y), BACK);
    for limit in &chart.limits {
        for x in [scale.at(-limit), scale.at(*limit)] {
            paper.line((x, y - 9.0), (x, y + 9.0), limit_pen());
        }
    }
    let before = (scale.at(0.0), y);
    let far = off.abs() > reach(chart);
    let way = off.signum();
    let after = match far {
        true => (if way > 0.0 { right } else { left }, y),
        false => (scale.at(off), y),
    };
    paper.line(before, after, Pen::new(OCHRE, 1.6));
    marks::draw(paper, Shape::Square, BLUE, &[before], 4.6);
    if far {
        let mut path = Path::default();
        marks::farther(&mut path, (after.0 - 6.0 * way, y), (way, 0.0));
        paper.path(&path, &Look::drawn(Pen::new(OCHRE, 1.4)));
        let inner = (after.0 - 20.0 * way, y);
        marks::draw(paper, row.surely.shape(), OCHRE, &[inner], 5.2);
    } else {
        marks::draw(paper, row.surely.shape(), OCHRE, &[after], 5.2);
    }
    paper.y += BAND + 6.0;
}
