//! Two bars for each row, side by side: a share from 0 to 1, and an amount with its unit.

use crate::drawing::Fault;
use crate::drawing::chart::check;
use crate::drawing::chart::marks;
use crate::drawing::chart::paper::BACK;
use crate::drawing::chart::paper::EDGE;
use crate::drawing::chart::paper::LABEL;
use crate::drawing::chart::paper::LINE;
use crate::drawing::chart::paper::Paper;
use crate::drawing::chart::paper::SMALL;
use crate::drawing::chart::paper::Sample;
use crate::drawing::chart::paper::THIN;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::INK;
use crate::drawing::path::Path;
use crate::drawing::svg::Fill;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;
use crate::drawing::text::broken;

/// Height of a bar.
const BAR: f64 = 8.0;
/// An amount so many times the middle one of its unit ends at the edge.
const FARTHEST: f64 = 4.0;
/// Width of a row's name beside its bars, on a wide and on a narrow sheet.
const NAME: [f64; 2] = [150.0, 82.0];
/// Room of the figures after a bar: of a share, of an amount.
const FIGURES: [f64; 2] = [44.0, 78.0];

/// One row.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Its name.
    pub name: String,
    /// From 0 to 1.
    pub share: f64,
    /// With its words.
    pub share_words: String,
    /// None where there is none; then only the words stand there.
    pub amount: Option<f64>,
    /// With its unit.
    pub amount_words: String,
}

/// Rows under one heading, with amounts in one unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// Over them.
    pub heading: String,
    /// Of the amounts.
    pub unit: String,
    /// From above.
    pub rows: Vec<Row>,
}

/// What a chart of bars shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Bars {
    /// For readers who do not see it.
    pub title: String,
    /// The same at length.
    pub description: String,
    /// In the key, for the first bar.
    pub share_label: String,
    /// In the key, for the second one.
    pub amount_label: String,
    /// From above.
    pub groups: Vec<Group>,
    /// Below.
    pub notes: Vec<String>,
}

/// Where bars begin, and how long the longest is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Columns {
    pub(super) share: f64,
    pub(super) amount: f64,
    pub(super) long: f64,
}

/// Draws it on a sheet of this width.
pub fn bars(chart: &Bars, width: f64) -> Result<String, Fault> {
    let rows = || chart.groups.iter().flat_map(|g| &g.rows);
    check(rows().map(|r| r.share), "shares")?;
    check(rows().filter_map(|r| r.amount), "amounts")?;
    let mut paper = Paper::new(width);
    paper.key(&[
        (Sample::Bar(Fill::Plain(BLUE)), chart.share_label.clone()),
        (Sample::Bar(Fill::Hatch), chart.amount_label.clone()),
    ]);
    paper.y += 6.0;
    let columns = columns(&paper);
    for group in &chart.groups {
        let longest = longest(chart, &group.unit);
        for line in broken(&group.heading, LABEL, paper.inner()) {
            paper.words(&line, (EDGE, paper.y + LABEL), LABEL, Anchor::Start);
            paper.y += LINE + 1.5;
        }
        paper.y += 2.0;
        scale_ends(&mut paper, &columns);
        let top = paper.y;
        for row in &group.rows {
            one(&mut paper, row, &columns, longest);
        }
        for x in [columns.share, columns.amount] {
            paper.line((x, top), (x, paper.y), THIN);
        }
        let end = columns.share + columns.long;
        paper.line((end, top), (end, paper.y), BACK);
        paper.y += 12.0;
    }
    paper.notes(&chart.notes);
    paper.finish(&chart.title, &chart.description)
}

pub(super) fn columns(paper: &Paper) -> Columns {
    let from = EDGE + name_room(paper);
    let long = (paper.width - EDGE - from - FIGURES[0] - FIGURES[1]) / 2.0;
    Columns {
        share: from,
        amount: from + long + FIGURES[0],
        long,
    }
}

fn name_room(paper: &Paper) -> f64 {
    NAME[usize::from(paper.narrow())]
}

/// Where 0 and 1 lie.
fn scale_ends(paper: &mut Paper, columns: &Columns) {
    for (x, figure) in [
        (columns.share, "0"),
        (columns.share + columns.long, "1"),
        (columns.amount, "0"),
    ] {
        let x = x.max(EDGE + 4.0);
        paper.words(figure, (x, paper.y + SMALL), SMALL, Anchor::Middle);
    }
    paper.y += LINE;
}

/// The amount that the longest bar stands for: the largest one, but not where that would squeeze the others.
fn longest(chart: &Bars, unit: &str) -> f64 {
    let same = chart.groups.iter().filter(|g| g.unit == unit);
    let mut all: Vec<f64> = same
        .flat_map(|g| &g.rows)
        .filter_map(|r| r.amount)
        .collect();
    all.sort_by(f64::total_cmp);
    match (all.get(all.len() / 2), all.last()) {
        (Some(middle), Some(largest)) if *largest > 0.0 => {
            largest.min((FARTHEST * middle).max(1e-9))
        }
        _ => 1.0,
    }
}

fn one(paper: &mut Paper, row: &Row, columns: &Columns, longest: f64) {
    let lines = broken(&row.name, SMALL, name_room(paper) - 8.0);
    let top = paper.y;
    for (k, line) in lines.iter().enumerate() {
        let y = top + (k as f64 + 0.5) * LINE + text::MIDDLE * SMALL;
        paper.words(line, (EDGE, y), SMALL, Anchor::Start);
    }
    let middle = paper.y + LINE / 2.0;
    let edge = Pen::new(INK, 0.7);
    let bar = |paper: &mut Paper, x: f64, share: f64, fill: Fill| {
        let long = columns.long * share.clamp(0.0, 1.0);
        let area = Area::new(x, middle - BAR / 2.0, long, BAR);
        paper.rectangle(&area, &Look::filled(fill).with_pen(edge));
        x + long
    };
    bar(paper, columns.share, row.share, Fill::Plain(BLUE));
    let y = middle + text::MIDDLE * SMALL;
    let at = (columns.share + columns.long + 6.0, y);
    paper.words(&row.share_words, at, SMALL, Anchor::Start);
    let mut end = columns.amount;
    if let Some(amount) = row.amount {
        end = bar(paper, columns.amount, amount / longest, Fill::Hatch);
        if amount > longest * (1.0 + 1e-9) {
            let mut path = Path::default();
            marks::farther(&mut path, (end + 5.0, middle), (1.0, 0.0));
            paper.path(&path, &Look::drawn(Pen::new(INK, 1.1)));
            end += 9.0;
        }
    }
    let mut y = y;
    // In words it may be longer than figures are.
    for line in broken(&row.amount_words, SMALL, paper.width - EDGE - end - 6.0) {
        paper.words(&line, (end + 6.0, y), SMALL, Anchor::Start);
        y += LINE;
    }
    let lower = y - LINE - middle - text::MIDDLE * SMALL;
    paper.y = (top + LINE * lines.len().max(1) as f64).max(top + LINE + lower.max(0.0)) + 2.0;
}
