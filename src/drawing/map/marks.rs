//! Marks of stations: a shape for each kind, a label beside it.

use crate::drawing::axis;
use crate::drawing::ink::INK;
use crate::drawing::ink::PAPER;
use crate::drawing::label;
use crate::drawing::map::Kind;
use crate::drawing::map::MapPicture;
use crate::drawing::map::sheet::SMALL_SIZE;
use crate::drawing::map::sheet::Sheet;
use crate::drawing::path::Path;
use crate::drawing::svg::Fill;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::svg::Svg;
use crate::drawing::svg::Words;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;

/// Longest label in the plot.
const LABEL_PX: f64 = 150.0;
/// Most marks named in one note.
const MOST_NAMED: usize = 12;

/// A mark on paper.
#[derive(Debug)]
pub struct Placed {
    at: (f64, f64),
    kind: Kind,
    label: String,
    /// None where there was no room.
    room: Option<Area>,
}

/// Room of a mark's shape.
pub fn shape_room(kind: Kind, at: (f64, f64)) -> Area {
    let side = match kind {
        Kind::Best | Kind::Asked => 25.0,
        Kind::Elsewhere => 17.0,
        Kind::Taught => 15.0,
        Kind::Station => 12.0,
    };
    Area::around(at, side, side)
}

/// Shapes and labels, the best stations first. What is out of view or has no room is noted.
pub fn place(picture: &MapPicture, sheet: &mut Sheet) -> Vec<Placed> {
    let mut order: Vec<usize> = (0..picture.marks.len()).collect();
    order.sort_by_key(|k| picture.marks[*k].kind);
    let mut placed = Vec::new();
    let mut outside = Vec::new();
    let named = |k: usize| {
        let mark = &picture.marks[k];
        let [x, y] = [mark.x, mark.y].map(axis::plain);
        match (picture.x.label.is_empty(), picture.y.label.is_empty()) {
            (true, _) => format!("{} at {y}", mark.label),
            (_, true) => format!("{} at {x}", mark.label),
            _ => format!("{} at {x}, {y}", mark.label),
        }
    };
    for k in order {
        let mark = &picture.marks[k];
        if sheet.x.shows(mark.x) && sheet.y.shows(mark.y) {
            let at = sheet.at(mark.x, mark.y);
            sheet.taken.push(shape_room(mark.kind, at));
            placed.push((k, at));
        } else {
            outside.push(named(k));
        }
    }
    let within = sheet.plot.grown(-3.0);
    let mut crowded = Vec::new();
    let mut marks = Vec::new();
    for (k, at) in placed {
        let mark = &picture.marks[k];
        let label = text::cut_to(mark.label, SMALL_SIZE, LABEL_PX);
        let size = (text::width_of(&label, SMALL_SIZE) + 6.0, SMALL_SIZE * 1.3);
        let shape = shape_room(mark.kind, at);
        let blank = label.trim().is_empty();
        let room = (!blank)
            .then(|| label::beside(&shape, size, &within, &mut sheet.taken))
            .flatten();
        if room.is_none() && !blank {
            crowded.push(named(k));
        }
        marks.push(Placed {
            at,
            kind: mark.kind,
            label,
            room,
        });
    }
    for (what, names) in [
        ("Outside the picture", outside),
        ("Marked without a name, for want of room", crowded),
    ] {
        if !names.is_empty() {
            let more = names.len().saturating_sub(MOST_NAMED);
            let mut text = names[..names.len() - more].join("; ");
            if more > 0 {
                text.push_str(&format!("; and {more} more"));
            }
            sheet.note(format!("{what}: {text}."));
        }
    }
    marks
}

/// Shapes, leaders to labels that stand far off, and labels on pale ground.
pub fn draw(svg: &mut Svg, marks: &[Placed]) {
    for mark in marks {
        let Some(room) = mark.room else { continue };
        let shape = shape_room(mark.kind, mark.at);
        if !room.grown(6.0).meets(&shape) {
            // To the nearest point of the label.
            let end = (
                mark.at.0.clamp(room.left, room.right),
                mark.at.1.clamp(room.top, room.bottom),
            );
            svg.line(mark.at, end, &Look::drawn(Pen::new(INK, 0.7)));
        }
    }
    // The best on top.
    for mark in marks.iter().rev() {
        shape(svg, mark.kind, mark.at);
    }
    for mark in marks {
        let Some(room) = mark.room else { continue };
        svg.rectangle(
            &room.grown(-0.5),
            &Look::filled(Fill::Plain(PAPER)).faint(0.85),
        );
        let (x, y) = room.centre();
        svg.words(&Words {
            text: &mark.label,
            at: (x, y + text::MIDDLE * SMALL_SIZE),
            size_px: SMALL_SIZE,
            anchor: Anchor::Middle,
            upright: false,
        });
    }
}

/// Best, and best as asked: a ring with four bars outward and a dot. Elsewhere: an open diamond. Taught: a
/// triangle with a dot, as a fixed point in a survey. Station: a small square. All with a pale edge, to be seen on dark bands and hatch.
pub fn shape(svg: &mut Svg, kind: Kind, at: (f64, f64)) {
    let (x, y) = at;
    let mut path = Path::default();
    let mut dot = Path::default();
    let filled = match kind {
        Kind::Best | Kind::Asked => {
            path.circle(at, 7.0);
            for (dx, dy) in [(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)] {
                let bar = [(x + 7.0 * dx, y + 7.0 * dy), (x + 12.0 * dx, y + 12.0 * dy)];
                path.polyline(&bar, false);
            }
            dot.circle(at, 2.0);
            PAPER
        }
        Kind::Elsewhere => {
            path.polyline(
                &[(x, y - 8.0), (x + 8.0, y), (x, y + 8.0), (x - 8.0, y)],
                true,
            );
            PAPER
        }
        Kind::Taught => {
            path.polyline(
                &[(x, y - 7.0), (x + 6.5, y + 4.5), (x - 6.5, y + 4.5)],
                true,
            );
            dot.circle(at, 1.2);
            PAPER
        }
        Kind::Station => {
            path.rectangle(&Area::around(at, 7.0, 7.0));
            INK
        }
    };
    svg.path(&path, &Look::drawn(Pen::new(PAPER, 4.6)).faint(0.9));
    svg.path(
        &path,
        &Look::filled(Fill::Plain(filled)).with_pen(Pen::new(INK, 1.6)),
    );
    svg.path(&dot, &Look::filled(Fill::Plain(INK)));
}
