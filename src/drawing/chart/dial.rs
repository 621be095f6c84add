//! Small values round a circle: outward is positive, drawn larger than angles along the circle.

use std::f64::consts::PI;

use crate::drawing::Fault;
use crate::drawing::axis;
use crate::drawing::chart::check;
use crate::drawing::chart::cloud::Cloud;
use crate::drawing::chart::paper::BACK;
use crate::drawing::chart::paper::EDGE;
use crate::drawing::chart::paper::LABEL;
use crate::drawing::chart::paper::LINE;
use crate::drawing::chart::paper::Paper;
use crate::drawing::chart::paper::SMALL;
use crate::drawing::chart::paper::Sample;
use crate::drawing::chart::paper::THIN;
use crate::drawing::chart::scatter::Gap;
use crate::drawing::chart::scatter::Usual;
use crate::drawing::ink::INK;
use crate::drawing::path::Path;
use crate::drawing::svg::Colour;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;

/// Radius of the zero circle as a share of the outer one.
const ZERO: f64 = 0.64;
/// Straight pieces of a circle.
const PIECES: usize = 120;
/// Largest radius, px.
const LARGEST: f64 = 178.0;

/// A curve `constant + cos · cos α + sin · sin α`.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Constant part.
    pub constant: f64,
    /// Cosine part.
    pub cos: f64,
    /// Sine part.
    pub sin: f64,
    /// Its ink.
    pub ink: Colour,
    /// Whether its line is broken.
    pub dashed: bool,
    /// In the key.
    pub words: String,
}

impl Curve {
    fn at(&self, deg: f64) -> f64 {
        let (sin, cos) = deg.to_radians().sin_cos();
        self.constant + self.cos * cos + self.sin * sin
    }
}

/// What a dial shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Dial {
    /// For readers who do not see it.
    pub title: String,
    /// The same at length.
    pub description: String,
    /// Over it.
    pub label: String,
    /// Points as (angle in degrees, counter-clockwise from the right; value in degrees).
    pub cloud: Cloud,
    /// Curves round the circle.
    pub curves: Vec<Curve>,
    /// The dimension between two of them.
    pub gap: Option<Gap>,
    /// What is usual.
    pub usual: Option<Usual>,
    /// Below.
    pub notes: Vec<String>,
}

/// Where angles and values lie on paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Circle {
    pub(super) centre: (f64, f64),
    pub(super) outer: f64,
    pub(super) zero: f64,
    pub(super) px_per_deg: f64,
}

impl Circle {
    pub(super) fn on(&self, deg: f64, radius: f64) -> (f64, f64) {
        let (sin, cos) = deg.to_radians().sin_cos();
        (self.centre.0 + radius * cos, self.centre.1 - radius * sin)
    }
    fn radius(&self, value: f64) -> f64 {
        self.zero + value * self.px_per_deg
    }
    pub(super) fn at(&self, deg: f64, value: f64) -> (f64, f64) {
        self.on(deg, self.radius(value))
    }
    /// How many times larger a value is drawn than an angle along the zero circle.
    fn exaggeration(&self) -> f64 {
        self.px_per_deg / (self.zero * PI / 180.0)
    }
}

/// Draws it on a sheet of this width.
pub fn dial(chart: &Dial, width: f64) -> Result<String, Fault> {
    chart.cloud.check()?;
    check(
        chart.curves.iter().flat_map(|c| [c.constant, c.cos, c.sin]),
        "curves",
    )?;
    check(chart.usual.iter().map(|u| u.half), "what is usual")?;
    check(chart.gap.iter().flat_map(|g| [g.from, g.to]), "gap")?;
    let mut paper = Paper::new(width);
    paper.paragraph(&chart.label, LABEL);
    let circle = laid(chart, &paper);
    protractor(&mut paper, &circle);
    let mut taken = paper.taken.clone();
    for curve in &chart.curves {
        let mut path = Path::default();
        let around: Vec<(f64, f64)> = (0..PIECES)
            .map(|k| 360.0 * k as f64 / PIECES as f64)
            .map(|deg| circle.at(deg, curve.at(deg)))
            .collect();
        path.polyline(&around, true);
        paper.path(&path, &Look::drawn(pen_of(curve)));
    }
    let held = |at: (f64, f64)| held(&circle, at.0, at.1);
    let beyond = chart.cloud.draw(&mut paper, held, &mut taken);
    let within = Area {
        left: EDGE,
        right: width - EDGE,
        ..Area::around(circle.centre, 10.0, 2.0 * circle.outer + 40.0)
    };
    if let Some(gap) = &chart.gap {
        draw_gap(&mut paper, chart, gap, &circle, &mut taken);
    }
    let without = chart.cloud.label(&mut paper, held, &within, &mut taken);
    paper.y = circle.centre.1 + circle.outer + 32.0;
    bar(&mut paper, &circle, chart.usual.as_ref());
    key(&mut paper, chart);
    let mut notes = chart.notes.clone();
    notes.extend(beyond);
    notes.extend(without);
    paper.notes(&notes);
    paper.finish(&chart.title, &chart.description)
}

fn pen_of(curve: &Curve) -> Pen {
    Pen {
        dash_px: if curve.dashed { 5.0 } else { 0.0 },
        ..Pen::new(curve.ink, 1.3)
    }
}

pub(super) fn laid(chart: &Dial, paper: &Paper) -> Circle {
    let outer = (paper.width / 2.0 - EDGE - 36.0).min(LARGEST);
    let zero = ZERO * outer;
    let values = chart.cloud.counted();
    let mut largest = values.iter().fold(0.0, |a: f64, b| a.max(b.abs()));
    for curve in &chart.curves {
        largest = largest.max(curve.constant.abs() + curve.cos.hypot(curve.sin));
    }
    // Where readings lie nearer than is usual, most of all where nothing checks them, rounding is not spread out.
    largest = largest.max(chart.usual.as_ref().map_or(0.0, |u| u.half));
    let room = outer - zero - 10.0;
    Circle {
        centre: (paper.width / 2.0, paper.y + outer + 30.0),
        outer,
        zero,
        px_per_deg: room / if largest > 1e-9 { largest } else { 1.0 },
    }
}

/// A place between the centre and the outer circle, and which way it lies farther, if it does.
fn held(circle: &Circle, deg: f64, value: f64) -> ((f64, f64), Option<(f64, f64)>) {
    let radius = circle.radius(value);
    let most = circle.outer - 6.0;
    let least = 0.2 * circle.outer;
    let (sin, cos) = deg.to_radians().sin_cos();
    if radius > most {
        (circle.on(deg, most - 2.0), Some((cos, -sin)))
    } else if radius < least {
        (circle.on(deg, least), Some((-cos, sin)))
    } else {
        (circle.on(deg, radius), None)
    }
}

/// Zero circle, outer circle with ticks, figures, and the sense.
fn protractor(paper: &mut Paper, circle: &Circle) {
    let mut path = Path::default();
    path.circle(circle.centre, circle.zero);
    paper.path(&path, &Look::drawn(Pen::new(INK, 0.8)));
    let mut outer = Path::default();
    outer.circle(circle.centre, circle.outer);
    paper.path(&outer, &Look::drawn(BACK));
    let mut fine = Path::default();
    for k in 0..72 {
        let deg = 5.0 * f64::from(k);
        let long = match k {
            k if k % 6 == 0 => 8.0,
            k if k % 2 == 0 => 5.0,
            _ => 3.0,
        };
        fine.polyline(
            &[
                circle.on(deg, circle.outer),
                circle.on(deg, circle.outer - long),
            ],
            false,
        );
    }
    paper.path(&fine, &Look::drawn(THIN));
    for k in 0..12 {
        let deg = 30.0 * f64::from(k);
        let (x, y) = circle.on(deg, circle.outer + 14.0);
        let figures = format!("{deg:.0}°");
        // Beside the circle they stand outside it, not across it.
        let cos = deg.to_radians().cos();
        let (anchor, x) = match cos {
            c if c > 0.3 => (Anchor::Start, x - 6.0),
            c if c < -0.3 => (Anchor::End, x + 6.0),
            _ => (Anchor::Middle, x),
        };
        paper.words(&figures, (x, y + text::MIDDLE * SMALL), SMALL, anchor);
    }
    // From where angles count, and which way: a short arc with an arrow.
    let r = 0.13 * circle.outer;
    let arc: Vec<(f64, f64)> = (0..=30).map(|k| circle.on(8.0 * f64::from(k), r)).collect();
    let mut sense = Path::default();
    sense.polyline(&[circle.on(0.0, r - 5.0), circle.on(0.0, r + 5.0)], false);
    sense.polyline(&arc, false);
    let tip = arc[30];
    sense.polyline(
        &[circle.on(224.0, r + 4.0), tip, circle.on(224.0, r - 4.0)],
        false,
    );
    paper.path(&sense, &Look::drawn(Pen::new(INK, 0.9)));
    let mut cross = Path::default();
    let (x, y) = circle.centre;
    cross.polyline(&[(x - 3.0, y), (x + 3.0, y)], false);
    cross.polyline(&[(x, y - 3.0), (x, y + 3.0)], false);
    paper.path(&cross, &Look::drawn(THIN));
}

/// The middle of the widest part of the circle without marks, degrees.
fn emptiest(chart: &Dial) -> f64 {
    let places = chart.cloud.places();
    let mut all: Vec<f64> = places.map(|p| p.0.rem_euclid(360.0)).collect();
    all.sort_by(f64::total_cmp);
    let Some((first, last)) = all.first().zip(all.last()) else {
        return 45.0;
    };
    let round = (first + 360.0 - last, (last + first + 360.0) / 2.0);
    let widest = all
        .windows(2)
        .map(|w| (w[1] - w[0], (w[0] + w[1]) / 2.0))
        .fold(round, |a, b| if b.0 > a.0 + 1e-6 { b } else { a });
    widest.1.rem_euclid(360.0)
}

/// A dimension along a radius. Its words stand beside the dial where a wide sheet has room; the key has them
/// on any.
fn draw_gap(paper: &mut Paper, chart: &Dial, gap: &Gap, circle: &Circle, taken: &mut Vec<Area>) {
    let deg = emptiest(chart);
    let along = |value: f64| {
        let tilt = chart.curves.first().map_or(0.0, |c| c.at(deg) - c.constant);
        held(circle, deg, value + tilt).0
    };
    let (a, b) = (along(gap.from), along(gap.to));
    paper.dimension(a, b);
    for k in 0..=8 {
        let t = f64::from(k) / 8.0;
        let at = (a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1));
        taken.push(Area::around(at, 12.0, 12.0));
    }
    if paper.narrow() {
        return;
    }
    let side = if a.0 >= circle.centre.0 { 1.0 } else { -1.0 };
    let start = circle.centre.0 + side * (circle.outer + 50.0);
    let most = match side > 0.0 {
        true => paper.width - EDGE - start,
        false => start - EDGE,
    };
    let lines = text::wrap(&gap.words, SMALL, most.min(120.0));
    let outer = circle.on(deg, circle.outer);
    let farther = match circle.radius(gap.from) > circle.radius(gap.to) {
        true => a,
        false => b,
    };
    let y = outer.1.clamp(
        circle.centre.1 - circle.outer,
        circle.centre.1 + circle.outer,
    );
    paper.line(farther, outer, BACK);
    paper.line(outer, (start - side * 4.0, y), BACK);
    let anchor = if side > 0.0 {
        Anchor::Start
    } else {
        Anchor::End
    };
    let top = y - LINE * lines.len() as f64 / 2.0;
    for (k, line) in lines.iter().enumerate() {
        let y = top + (k as f64 + 0.5) * LINE + text::MIDDLE * SMALL;
        paper.words(line, (start, y), SMALL, anchor);
    }
    taken.extend(paper.taken.iter().rev().take(lines.len()).copied());
}

/// The radial scale: a bar of a round value, how many times larger it is, and what is usual.
fn bar(paper: &mut Paper, circle: &Circle, usual: Option<&Usual>) {
    let most = 70.0 / circle.px_per_deg;
    // The largest round value that has room.
    let round = (1..=5).map(|n| axis::ticks(0.0, most, n));
    let round = round.into_iter().find(|t| t.values.len() > 1);
    let (value, label) = match round {
        Some(ticks) => (ticks.values[1], ticks.label(ticks.values[1])),
        None => (most, axis::plain(most)),
    };
    let long = value * circle.px_per_deg;
    let y = paper.y + LINE / 2.0;
    paper.dimension((EDGE + 4.0, y), (EDGE + 4.0 + long, y));
    let times = circle.exaggeration();
    let times = match times {
        t if t >= 10.0 => axis::fixed(t, 0),
        t => axis::fixed(t, 2),
    };
    let words = format!(
        "{label} deg along a radius; outward is positive, and {times} times as large as angles along the zero circle"
    );
    let x = EDGE + 4.0 + long + 12.0;
    let lines = text::wrap(&words, SMALL, paper.width - EDGE - x);
    for line in &lines {
        let y = paper.y + LINE / 2.0 + text::MIDDLE * SMALL;
        paper.words(line, (x, y), SMALL, Anchor::Start);
        paper.y += LINE;
    }
    paper.y += 4.0;
    if let Some(usual) = usual {
        let half = usual.half * circle.px_per_deg;
        let long = 2.0 * half;
        // A bar longer than the sheet says nothing.
        let shown = long <= paper.width / 3.0;
        let y = paper.y + LINE / 2.0;
        let mut x = EDGE + 4.0;
        if shown {
            paper.line((x, y), (x + long, y), Pen::new(INK, 1.0));
            for end in [x, x + long] {
                paper.line((end, y - 3.5), (end, y + 3.5), Pen::new(INK, 1.0));
            }
            x += long + 12.0;
        }
        for line in text::wrap(&usual.words, SMALL, paper.width - EDGE - x) {
            let y = paper.y + LINE / 2.0 + text::MIDDLE * SMALL;
            paper.words(&line, (x, y), SMALL, Anchor::Start);
            paper.y += LINE;
        }
        paper.y += 4.0;
    }
}

fn key(paper: &mut Paper, chart: &Dial) {
    let mut entries = chart.cloud.key();
    for curve in &chart.curves {
        entries.push((Sample::Line(pen_of(curve)), curve.words.clone()));
    }
    entries.push((Sample::Line(Pen::new(INK, 0.8)), "zero".to_owned()));
    if let Some(gap) = &chart.gap {
        entries.push((Sample::Dimension, gap.words.clone()));
    }
    paper.key(&entries);
}
