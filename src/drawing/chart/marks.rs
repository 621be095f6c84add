//! Shapes of marks, and the labels of those that stand out.

use crate::drawing::chart::paper::Paper;
use crate::drawing::chart::paper::SMALL;
use crate::drawing::ink::INK;
use crate::drawing::ink::LIMIT;
use crate::drawing::ink::PAPER;
use crate::drawing::label;
use crate::drawing::path::Path;
use crate::drawing::svg::Colour;
use crate::drawing::svg::Fill;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;
use crate::drawing::text::broken;

/// More marks than this are drawn smaller, and no longer keep labels off.
pub const MANY: usize = 400;
/// Most marks with a label.
const MOST_LABELS: usize = 14;
/// Longest line of a label.
const LABEL_PX: f64 = 240.0;

/// Shape of a mark; each is told without ink.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// A filled triangle, point upward.
    Up,
    /// An open triangle, point downward.
    Down,
    /// An open square.
    Square,
    /// Two crossed strokes.
    Cross,
    /// A filled diamond.
    Diamond,
    /// An open diamond.
    Hollow,
    /// A small filled square.
    Dot,
    /// An open triangle, point upward.
    Peak,
}

impl Shape {
    /// Adds its outline to a path.
    pub fn add(self, path: &mut Path, at: (f64, f64), r: f64) {
        let (x, y) = at;
        match self {
            Shape::Up | Shape::Peak => path.polyline(
                &[(x, y - r), (x + r, y + 0.8 * r), (x - r, y + 0.8 * r)],
                true,
            ),
            Shape::Down => path.polyline(
                &[(x, y + r), (x + r, y - 0.8 * r), (x - r, y - 0.8 * r)],
                true,
            ),
            Shape::Square => path.rectangle(&Area::around(at, 1.6 * r, 1.6 * r)),
            Shape::Dot => path.rectangle(&Area::around(at, r, r)),
            Shape::Cross => {
                let s = 0.8 * r;
                path.polyline(&[(x - s, y - s), (x + s, y + s)], false);
                path.polyline(&[(x - s, y + s), (x + s, y - s)], false);
            }
            Shape::Diamond | Shape::Hollow => {
                path.polyline(&[(x, y - r), (x + r, y), (x, y + r), (x - r, y)], true)
            }
        }
    }

    /// How it is filled and drawn.
    pub fn look(self, ink: Colour) -> Look {
        let pen = Pen::new(ink, 1.2);
        match self {
            Shape::Up | Shape::Diamond | Shape::Dot => Look::filled(Fill::Plain(ink)),
            Shape::Down | Shape::Square | Shape::Hollow | Shape::Peak => {
                Look::filled(Fill::Plain(PAPER)).with_pen(pen)
            }
            Shape::Cross => Look::drawn(pen),
        }
    }
}

/// Marks that look alike.
#[derive(Debug, Clone, PartialEq)]
pub struct Class {
    /// In the key.
    pub words: String,
    /// Their shape.
    pub shape: Shape,
    /// Their ink.
    pub ink: Colour,
    /// Their places, in the chart's values.
    pub points: Vec<(f64, f64)>,
}

/// A mark that stands out, by its place in the chart's values.
#[derive(Debug, Clone, PartialEq)]
pub struct Tag {
    /// Where.
    pub at: (f64, f64),
    /// What it is, short.
    pub label: String,
}

/// Half of a mark's width, by how many there are.
pub(super) fn radius(count: usize) -> f64 {
    if count > MANY { 2.6 } else { 4.2 }
}

/// Draws a class at its places on paper, as one path.
pub(super) fn draw(paper: &mut Paper, shape: Shape, ink: Colour, at: &[(f64, f64)], r: f64) {
    let mut path = Path::default();
    for place in at {
        shape.add(&mut path, *place, r);
    }
    paper.path(&path, &shape.look(ink));
}

/// A place brought into the area, and the way that it was brought from, if it was.
pub(super) fn kept_inside(at: (f64, f64), area: &Area) -> ((f64, f64), Option<(f64, f64)>) {
    let inside = (
        at.0.clamp(area.left, area.right),
        at.1.clamp(area.top, area.bottom),
    );
    let off = (at.0 - inside.0, at.1 - inside.1);
    let size = off.0.hypot(off.1);
    match size > 0.5 {
        true => (inside, Some((off.0 / size, off.1 / size))),
        false => (at, None),
    }
}

/// Where a mark is drawn before the chevrons at this place, if there are any.
pub(super) fn before(at: (f64, f64), way: Option<(f64, f64)>) -> (f64, f64) {
    let (x, y) = way.unwrap_or((0.0, 0.0));
    (at.0 - 10.0 * x, at.1 - 10.0 * y)
}

/// Two chevrons that say that a mark lies farther out this way than is drawn.
pub(super) fn farther(path: &mut Path, at: (f64, f64), way: (f64, f64)) {
    let across = (-way.1, way.0);
    for off in [0.0, 4.0] {
        let tip = (at.0 + off * way.0, at.1 + off * way.1);
        let back = (tip.0 - 4.0 * way.0, tip.1 - 4.0 * way.1);
        path.polyline(
            &[
                (back.0 + 4.0 * across.0, back.1 + 4.0 * across.1),
                tip,
                (back.0 - 4.0 * across.0, back.1 - 4.0 * across.1),
            ],
            false,
        );
    }
}

/// What the chevrons of a chart mean, where it has some.
pub(super) fn beyond(outside: &Path) -> Option<String> {
    (!outside.is_empty()).then(|| {
        "A mark with two chevrons lies farther out that way than the drawing reaches.".to_owned()
    })
}

/// Labels marks, with a ring round each where they are `ringed`, where there is room within `within`, clear of all in `taken`;
/// gives the labels that found none.
pub(super) fn tags(
    paper: &mut Paper,
    tags: &[(String, (f64, f64))],
    ringed: bool,
    within: &Area,
    taken: &mut Vec<Area>,
) -> Vec<String> {
    let mut rings = Path::default();
    for (_, at) in tags {
        if ringed {
            rings.circle(*at, 7.0);
        }
        taken.push(Area::around(*at, 15.0, 15.0));
    }
    let ring = Look::drawn(Pen::new(LIMIT, 1.5));
    let leader = Pen::new(if ringed { LIMIT } else { INK }, 0.7);
    let mut without = Vec::new();
    let mut labels = Vec::new();
    for (k, (label, at)) in tags.iter().enumerate() {
        let lines = broken(label, SMALL, LABEL_PX.min(within.width() - 40.0));
        let wide = lines
            .iter()
            .map(|l| text::width_of(l, SMALL))
            .fold(0.0, f64::max);
        let size = (wide + 6.0, 1.3 * SMALL * lines.len() as f64);
        let mark = Area::around(*at, 15.0, 15.0);
        let room = (k < MOST_LABELS)
            .then(|| label::beside(&mark, size, within, taken))
            .flatten();
        match room {
            Some(room) => labels.push((lines, room, *at)),
            None => without.push(label.clone()),
        }
    }
    for (_, room, at) in &labels {
        if !room.grown(6.0).meets(&Area::around(*at, 15.0, 15.0)) {
            let end = (
                at.0.clamp(room.left, room.right),
                at.1.clamp(room.top, room.bottom),
            );
            let length = (end.0 - at.0).hypot(end.1 - at.1);
            let from = (
                at.0 + 7.0 * (end.0 - at.0) / length,
                at.1 + 7.0 * (end.1 - at.1) / length,
            );
            paper.line(from, end, leader);
        }
    }
    paper.path(&rings, &ring);
    for (lines, room, _) in &labels {
        paper.rectangle(
            &room.grown(-0.5),
            &Look::filled(Fill::Plain(PAPER)).faint(0.85),
        );
        for (k, line) in lines.iter().enumerate() {
            let y = room.top + (k as f64 + 0.5) * 1.3 * SMALL + text::MIDDLE * SMALL;
            paper.words(line, (room.centre().0, y), SMALL, Anchor::Middle);
        }
    }
    without
}

/// A sentence that names marks whose label found no room.
pub(super) fn unlabelled(what: &str, without: &[String], most: usize) -> Option<String> {
    if without.is_empty() {
        return None;
    }
    let named = without.len().min(most);
    let mut text = format!(
        "{what} without a label, for want of room: {}",
        without[..named].join("; ")
    );
    if without.len() > named {
        text.push_str(&format!("; and {} more", without.len() - named));
    }
    text.push('.');
    Some(text)
}
