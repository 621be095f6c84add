//! What stands still: plate with holes and marks, track with travel, table with its switch, keep-outs, how
//! far the arm stretches.

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::cell::Geometry;
use crate::cell::Shape;
use crate::drawing::ink::GREY;
use crate::drawing::ink::GROUND;
use crate::drawing::ink::INK;
use crate::drawing::ink::LIMIT;
use crate::drawing::path::Path;
use crate::drawing::svg::Fill;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::svg::Svg;
use crate::drawing::text::Area;
use crate::kinematics::ArmScene;
use crate::kinematics::MAX_JOINTS;
use crate::pictures::scene::Scene;
use crate::pictures::scene::View;
use crate::pictures::scene::extent;
use crate::pictures::scene::shapes;

/// More holes than this are not drawn one by one.
const MOST_HOLES: u32 = 3000;
/// Depth that the plate is drawn with in the elevation, mm: only its top face is known.
const PLATE_MM: f64 = 12.0;

/// A thin dashed line: what was drawn.
pub fn dashed() -> Look {
    Look::drawn(Pen {
        dash_px: 4.0,
        ..Pen::new(GREY, 1.1)
    })
}

pub fn draw(svg: &mut Svg, scene: &Scene<'_>) {
    svg.group("plate", |svg| plate(svg, scene));
    svg.group("keep-outs", |svg| keep_outs(svg, scene));
    let subject = &scene.subject;
    if !scene.faint {
        svg.group("stretch", |svg| stretch(svg, scene));
    }
    if let Some(drawn) = subject.drawn {
        svg.group("drawn", |svg| axes(svg, scene, drawn, &dashed(), false));
    }
    let solid = match scene.faint {
        true => Look::drawn(Pen::new(GREY, 1.0)),
        false => Look::drawn(Pen::new(INK, 1.4)),
    };
    svg.group("found", |svg| axes(svg, scene, subject.found, &solid, true));
    svg.group("marks", |svg| marks(svg, scene));
}

/// The plate on paper.
pub fn plate_px(scene: &Scene<'_>) -> Area {
    let plate = &scene.subject.cell.plate;
    let (px, py) = (plate.pitch_x_mm, plate.pitch_y_mm);
    let far = (
        px * (f64::from(plate.columns) - 0.5),
        py * (f64::from(plate.rows) - 0.5),
    );
    let (low, high) = match scene.view {
        View::Plan => ((-0.5 * px, -0.5 * py), far),
        View::Elevation => ((-0.5 * px, -PLATE_MM), (far.0, 0.0)),
    };
    let (a, b) = (scene.flat_to_px(low), scene.flat_to_px(high));
    Area::new(a.0, b.1, b.0 - a.0, a.1 - b.1)
}

fn plate(svg: &mut Svg, scene: &Scene<'_>) {
    let plate = &scene.subject.cell.plate;
    let (px, py) = (plate.pitch_x_mm, plate.pitch_y_mm);
    let thin = Look::filled(Fill::Plain(GROUND)).with_pen(Pen::new(INK, 0.7));
    svg.rectangle(&plate_px(scene), &thin);
    let pitch_px = px.min(py) * scene.px_per_mm;
    let many = plate.columns.saturating_mul(plate.rows) > MOST_HOLES;
    if scene.view == View::Plan && !many && pitch_px > 4.0 {
        let mut holes = Path::default();
        for row in 0..plate.rows {
            for column in 0..plate.columns {
                let at = scene.flat_to_px((f64::from(column) * px, f64::from(row) * py));
                holes.circle(at, (0.08 * pitch_px).clamp(0.6, 1.6));
            }
        }
        svg.path(&holes, &Look::filled(Fill::Plain(GREY)).faint(0.55));
    }
    // The origin hole, and which way the axes run.
    let origin = scene.flat_to_px((0.0, 0.0));
    let mut arrows = Path::default();
    arrows.circle(origin, 3.0);
    for (dx, dy) in [(26.0, 0.0), (0.0, -26.0)] {
        let tip = (origin.0 + dx, origin.1 + dy);
        arrows.polyline(&[origin, tip], false);
        let (bx, by) = (dx / 26.0 * 5.0, dy / 26.0 * 5.0);
        arrows.polyline(
            &[
                (tip.0 - bx + by * 0.6, tip.1 - by + bx * 0.6),
                tip,
                (tip.0 - bx - by * 0.6, tip.1 - by - bx * 0.6),
            ],
            false,
        );
    }
    svg.path(&arrows, &Look::drawn(Pen::new(INK, 1.0)));
}

fn keep_outs(svg: &mut Svg, scene: &Scene<'_>) {
    let look = Look::filled(Fill::Hatch).with_pen(Pen::new(LIMIT, 0.9));
    let still = scene.subject.cell.keep_outs.iter();
    for keep_out in still.filter(|k| k.frame == Belongs::Plate) {
        match &keep_out.shape {
            Shape::HalfSpace { at_mm, free } => wall(svg, scene, at_mm, free),
            shape => {
                let outline = shapes::outline(shape, scene.view, None);
                polygon(svg, scene, &outline, &look);
            }
        }
    }
}

/// A closed outline in mm of the view.
pub fn polygon(svg: &mut Svg, scene: &Scene<'_>, outline: &[(f64, f64)], look: &Look) {
    let points: Vec<(f64, f64)> = outline.iter().map(|p| scene.flat_to_px(*p)).collect();
    let mut path = Path::default();
    path.polyline(&points, true);
    svg.path(&path, look);
}

/// A wall that is seen on edge: a line with strokes on the barred side. One that is not says nothing in
/// this view.
fn wall(svg: &mut Svg, scene: &Scene<'_>, at_mm: &Vector3<f64>, free: &Vector3<f64>) {
    let (nu, nv) = scene.view.flat(free);
    let length = nu.hypot(nv);
    if length < 0.9 {
        return;
    }
    // On paper y runs downward.
    let (nx, ny) = (nu / length, -nv / length);
    let at = scene.to_px(at_mm);
    let area = scene.area;
    let centre = area.centre();
    let along = (-ny, nx);
    let middle = (centre.0 - at.0) * along.0 + (centre.1 - at.1) * along.1;
    let half = area.width().hypot(area.height());
    let place = |s: f64, out: f64| {
        (
            at.0 + along.0 * (middle + s) - nx * out,
            at.1 + along.1 * (middle + s) - ny * out,
        )
    };
    let mut path = Path::default();
    path.polyline(&[place(-half, 0.0), place(half, 0.0)], false);
    svg.path(&path, &Look::drawn(Pen::new(LIMIT, 1.6)));
    let mut strokes = Path::default();
    for k in 0..(2.0 * half / 9.0) as usize {
        let s = -half + 9.0 * k as f64;
        let ends = [place(s, 0.0), place(s + 6.0, 7.0)];
        if ends
            .iter()
            .all(|e| area.grown(12.0).holds(&Area::around(*e, 0.1, 0.1)))
        {
            strokes.polyline(&ends, false);
        }
    }
    svg.path(&strokes, &Look::drawn(Pen::new(LIMIT, 0.7)));
}

/// Where the arrow to the side of rising travel stands, and which way it points; None where the travel is too
/// short on paper.
pub fn travel_arrow(scene: &Scene<'_>) -> Option<((f64, f64), (f64, f64))> {
    let [a, b] = track_px(scene)?;
    let length = (b.0 - a.0).hypot(b.1 - a.1);
    (length > 60.0).then(|| {
        let middle = ((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0);
        (middle, ((b.0 - a.0) / length, (b.1 - a.1) / length))
    })
}

/// Ends of the travel as it was found.
pub fn track_px(scene: &Scene<'_>) -> Option<[(f64, f64); 2]> {
    let geometry = scene.subject.found;
    geometry.track.as_ref()?;
    let ends = extent::ends(&scene.subject);
    let [low, high] = ends[..] else { return None };
    Some([low, high].map(|s| scene.to_px(&ArmScene::carriage(geometry, s).carriage_mm)))
}

/// Track and table of a geometry.
fn axes(svg: &mut Svg, scene: &Scene<'_>, geometry: &Geometry, look: &Look, found: bool) {
    if geometry.track.is_some() {
        let carriages: Vec<ArmScene> = extent::ends(&scene.subject)
            .iter()
            .map(|s| ArmScene::carriage(geometry, *s))
            .collect();
        let places: Vec<(f64, f64)> = carriages
            .iter()
            .map(|c| scene.to_px(&c.carriage_mm))
            .collect();
        let mut path = Path::default();
        path.polyline(&places, false);
        for (carriage, at) in carriages.iter().zip(&places) {
            // Across the track as the view shows it.
            let across: Vector3<f64> = match scene.view {
                View::Plan => carriage.track_axes.column(1).into(),
                View::Elevation => carriage.track_axes.column(2).into(),
            };
            let (u, v) = scene.view.flat(&across);
            let end = |by: f64| (at.0 + by * u, at.1 - by * v);
            path.polyline(&[end(-7.0), end(7.0)], false);
        }
        svg.path(&path, look);
        if let Some((at, (dx, dy))) = travel_arrow(scene).filter(|_| found) {
            let mut head = Path::default();
            let back = (at.0 - 8.0 * dx, at.1 - 8.0 * dy);
            head.polyline(
                &[
                    (back.0 - 4.0 * dy, back.1 + 4.0 * dx),
                    at,
                    (back.0 + 4.0 * dy, back.1 - 4.0 * dx),
                ],
                true,
            );
            svg.path(&head, &Look::filled(Fill::Plain(INK)));
        }
    }
    let Some(table) = &geometry.turntable else {
        return;
    };
    let centre = scene.to_px(&table.at_mm);
    let r = scene.platter_mm * scene.px_per_mm;
    let mut path = Path::default();
    match scene.view {
        View::Plan => {
            path.circle(centre, r);
            let cross = 6.0;
            path.polyline(
                &[(centre.0 - cross, centre.1), (centre.0 + cross, centre.1)],
                false,
            );
            path.polyline(
                &[(centre.0, centre.1 - cross), (centre.0, centre.1 + cross)],
                false,
            );
            svg.path(&path, look);
            // The switch: a triangle that points at the platter's edge.
            let bearing = table.switch_rad;
            let place = |out: f64, aside: f64| {
                let (c, s) = (bearing.cos(), bearing.sin());
                (
                    centre.0 + (r + out) * c - aside * s,
                    centre.1 - (r + out) * s - aside * c,
                )
            };
            let mut switch = Path::default();
            switch.polyline(
                &[place(1.5, 0.0), place(12.0, 5.0), place(12.0, -5.0)],
                true,
            );
            let look = match found {
                true => Look::filled(Fill::Plain(INK)),
                false => *look,
            };
            svg.path(&switch, &look);
        }
        View::Elevation => {
            path.polyline(&[(centre.0 - r, centre.1), (centre.0 + r, centre.1)], false);
            path.polyline(&[centre, scene.flat_to_px((table.at_mm.x, 0.0))], false);
            svg.path(&path, look);
        }
    }
}

/// How far the tip gets: long dashes.
pub const REACH: Pen = Pen {
    dash_px: 9.0,
    ..Pen::new(GREY, 0.8)
};

fn stretch(svg: &mut Svg, scene: &Scene<'_>) {
    polygon(svg, scene, &reached(scene), &Look::drawn(REACH));
}

/// How far the tip gets over ground from anywhere on the track, the arm stretched out, mm of the view; nothing
/// in the elevation.
pub fn reached(scene: &Scene<'_>) -> Vec<(f64, f64)> {
    let geometry = scene.subject.found;
    if scene.view == View::Elevation || geometry.joints.is_empty() {
        return Vec::new();
    }
    let zero = [0.0; MAX_JOINTS];
    let r = extent::reach_mm(scene.subject.cell, geometry);
    let around = extent::ends(&scene.subject)
        .into_iter()
        .map(|s| ArmScene::new(geometry, s, &zero[..geometry.joints.len()]))
        .flat_map(|arm| {
            let (u, v) = scene.view.flat(&arm.joints[0].point_mm);
            (0..180).map(move |k| {
                let angle = std::f64::consts::TAU * f64::from(k) / 180.0;
                (u + r * angle.cos(), v + r * angle.sin())
            })
        });
    shapes::hull(around.collect())
}

/// Marks of the plate and points given in its frame.
fn marks(svg: &mut Svg, scene: &Scene<'_>) {
    let mut crosses = Path::default();
    let cell = scene.subject.cell;
    for (mark, at_mm) in cell.marks.iter().zip(&scene.subject.found.marks_mm) {
        if mark.frame == Belongs::Plate {
            cross(&mut crosses, scene.to_px(at_mm));
        }
    }
    svg.path(&crosses, &Look::drawn(Pen::new(INK, 1.1)));
    let mut diamonds = Path::default();
    for spot in scene
        .subject
        .spots
        .iter()
        .filter(|s| s.frame == Belongs::Plate)
    {
        diamond(&mut diamonds, scene.to_px(&spot.at_mm));
    }
    svg.path(&diamonds, &Look::drawn(Pen::new(INK, 1.1)));
}

/// A mark.
pub fn cross(path: &mut Path, (x, y): (f64, f64)) {
    path.polyline(&[(x - 4.0, y - 4.0), (x + 4.0, y + 4.0)], false);
    path.polyline(&[(x - 4.0, y + 4.0), (x + 4.0, y - 4.0)], false);
}

/// A point to be reached.
pub fn diamond(path: &mut Path, (x, y): (f64, f64)) {
    path.polyline(
        &[(x - 4.5, y), (x, y - 4.5), (x + 4.5, y), (x, y + 4.5)],
        true,
    );
}
