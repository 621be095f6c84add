//! What the marks of a plan or an elevation mean: an entry of the key for each sort that occurs.

use crate::cell::Belongs;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::GREY;
use crate::drawing::ink::INK;
use crate::drawing::ink::LIMIT;
use crate::drawing::ink::PAPER;
use crate::drawing::path::Path;
use crate::drawing::svg::Fill;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::svg::Svg;
use crate::drawing::text::Area;
use crate::pictures::scene::Entry;
use crate::pictures::scene::Scene;
use crate::pictures::scene::View;
use crate::pictures::scene::dims;
use crate::pictures::scene::ground;

/// Entries for all that a whole scene shows, the arm and what moves too.
pub fn entries(scene: &Scene<'_>) -> Vec<Entry> {
    let subject = &scene.subject;
    let cell = subject.cell;
    let plan = scene.view == View::Plan;
    let mut all = Vec::new();
    if !subject.found.joints.is_empty() {
        all.push(Entry::new(arm, "arm, a ring at each axis"));
        all.push(Entry::new(tip, "tip"));
    }
    if !cell.bodies.is_empty() {
        all.push(Entry::new(
            body,
            "outline of the arm's bodies, as cell.toml tells them",
        ));
    }
    if subject.found.track.is_some() {
        all.push(Entry::new(
            carriage,
            "carriage; small ring: where it stands on the track",
        ));
    }
    if let (Some(track), true) = (&subject.found.track, ground::travel_arrow(scene).is_some()) {
        let way = if track.sense < 0.0 { "fall" } else { "rise" };
        let words = format!("on the track: readings {way} this way");
        all.push(Entry::new(travel, words));
    }
    if subject.found.turntable.is_some() && plan {
        all.push(Entry::new(switch, "switch of the turntable"));
        if cell.turntable.iter().any(|t| !t.notches_rad.is_empty()) {
            all.push(Entry::new(
                notch,
                "notch 0 (the other notches: short strokes)",
            ));
        }
    }
    if !cell.marks.is_empty() {
        all.push(Entry::new(mark, "mark"));
    }
    if !subject.spots.is_empty() {
        all.push(Entry::new(point, "point"));
    }
    if !cell.keep_outs.is_empty() {
        all.push(Entry::new(keep_out, "keep-out"));
    }
    if plan && !subject.found.joints.is_empty() {
        all.push(Entry::new(
            reach,
            "how far the tip gets, the arm stretched out",
        ));
    }
    if subject.drawn.is_some() {
        all.push(Entry::new(drawn, "short dashes: the drawing (cell.toml)"));
    }
    if dims::any(subject, scene.view) {
        let from = if plan {
            "from hole (0, 0)"
        } else {
            "over the plate"
        };
        let brackets = match dims::says_drawn(scene.size_px.0) {
            true => " (in brackets: the drawing's value)",
            false => "",
        };
        let words = format!("mm {from}: found ± one standard uncertainty{brackets}");
        all.push(Entry::new(dimension, words));
    }
    all
}

/// What stands still in a scene that something else is drawn on.
pub fn of_ground(scene: &Scene<'_>) -> Vec<Entry> {
    let cell = scene.subject.cell;
    let mut all = Vec::new();
    if cell.marks.iter().any(|m| m.frame == Belongs::Plate) {
        all.push(Entry::new(mark, "mark"));
    }
    if let (Some(track), true) = (
        &scene.subject.found.track,
        ground::travel_arrow(scene).is_some(),
    ) {
        let way = if track.sense < 0.0 { "fall" } else { "rise" };
        let words = format!("on the track: readings {way} this way");
        all.push(Entry::new(travel, words));
    }
    if scene.subject.found.turntable.is_some() && scene.view == View::Plan {
        all.push(Entry::new(switch, "switch of the turntable"));
    }
    if cell.keep_outs.iter().any(|k| k.frame == Belongs::Plate) {
        all.push(Entry::new(keep_out, "keep-out"));
    }
    all
}

fn line(svg: &mut Svg, (x, y): (f64, f64), pen: Pen) {
    svg.line((x - 11.0, y), (x + 11.0, y), &Look::drawn(pen));
}

fn arm(svg: &mut Svg, at: (f64, f64)) {
    line(svg, at, Pen::new(BLUE, 3.4));
    let mut ring = Path::default();
    ring.circle(at, 3.2);
    svg.path(
        &ring,
        &Look::filled(Fill::Plain(PAPER)).with_pen(Pen::new(BLUE, 1.5)),
    );
}

fn tip(svg: &mut Svg, at: (f64, f64)) {
    let (mut dot, mut ring) = (Path::default(), Path::default());
    dot.circle(at, 2.2);
    ring.circle(at, 5.0);
    svg.path(&dot, &Look::filled(Fill::Plain(INK)));
    svg.path(&ring, &Look::drawn(Pen::new(GREY, 0.9)));
}

fn body(svg: &mut Svg, at: (f64, f64)) {
    let mut path = Path::default();
    path.circle(at, 5.5);
    svg.path(&path, &Look::drawn(Pen::new(BLUE, 0.8)).faint(0.6));
}

fn carriage(svg: &mut Svg, at: (f64, f64)) {
    let room = Area::around(at, 16.0, 12.0);
    svg.rectangle(
        &room,
        &Look::filled(Fill::Plain(PAPER)).with_pen(Pen::new(INK, 1.2)),
    );
    let mut ring = Path::default();
    ring.circle(at, 2.0);
    svg.path(&ring, &Look::drawn(Pen::new(INK, 1.0)));
}

fn travel(svg: &mut Svg, at: (f64, f64)) {
    line(svg, at, Pen::new(INK, 1.4));
    let mut head = Path::default();
    let (x, y) = at;
    head.polyline(
        &[(x - 4.0, y - 4.0), (x + 4.0, y), (x - 4.0, y + 4.0)],
        true,
    );
    svg.path(&head, &Look::filled(Fill::Plain(INK)));
}

fn switch(svg: &mut Svg, (x, y): (f64, f64)) {
    let mut head = Path::default();
    head.polyline(
        &[(x - 5.0, y - 5.0), (x + 5.0, y), (x - 5.0, y + 5.0)],
        true,
    );
    svg.path(&head, &Look::filled(Fill::Plain(INK)));
    // The platter's edge that it points at.
    svg.line(
        (x + 7.0, y - 6.0),
        (x + 7.0, y + 6.0),
        &Look::drawn(Pen::new(INK, 1.4)),
    );
}

fn notch(svg: &mut Svg, (x, y): (f64, f64)) {
    let mut path = Path::default();
    path.polyline(&[(x - 3.0, y), (x + 9.0, y)], false);
    path.circle((x - 7.0, y), 2.0);
    svg.path(&path, &Look::drawn(Pen::new(INK, 1.3)));
}

fn mark(svg: &mut Svg, at: (f64, f64)) {
    let mut path = Path::default();
    ground::cross(&mut path, at);
    svg.path(&path, &Look::drawn(Pen::new(INK, 1.1)));
}

fn point(svg: &mut Svg, at: (f64, f64)) {
    let mut path = Path::default();
    ground::diamond(&mut path, at);
    svg.path(&path, &Look::drawn(Pen::new(INK, 1.1)));
}

fn keep_out(svg: &mut Svg, at: (f64, f64)) {
    let look = Look::filled(Fill::Hatch).with_pen(Pen::new(LIMIT, 0.9));
    svg.rectangle(&Area::around(at, 20.0, 10.0), &look);
}

fn reach(svg: &mut Svg, at: (f64, f64)) {
    line(svg, at, ground::REACH);
}

fn drawn(svg: &mut Svg, (x, y): (f64, f64)) {
    svg.line((x - 11.0, y), (x + 11.0, y), &ground::dashed());
}

fn dimension(svg: &mut Svg, (x, y): (f64, f64)) {
    line(svg, (x, y), Pen::new(INK, 0.7));
    for x in [x - 11.0, x + 11.0] {
        let tick = Look::drawn(Pen::new(INK, 1.3));
        svg.line((x - 3.0, y + 3.0), (x + 3.0, y - 3.0), &tick);
    }
}
