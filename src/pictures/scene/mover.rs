//! What moves with the axes: carriage, arm and tool, platter with its notches, what turns with it.

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::cell::Geometry;
use crate::cell::On;
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
use crate::kinematics::ArmScene;
use crate::kinematics::TableScene;
use crate::pictures::scene::Scene;
use crate::pictures::scene::View;
use crate::pictures::scene::ground::cross;
use crate::pictures::scene::ground::dashed;
use crate::pictures::scene::ground::diamond;
use crate::pictures::scene::ground::polygon;
use crate::pictures::scene::shapes;
use crate::readings::stand::Stand;

/// Half the carriage where nothing is known of it, mm.
const CARRIAGE_MM: f64 = 45.0;
/// Links shorter than this on paper are not drawn as lines of their own, px.
const SHORT_PX: f64 = 0.5;

/// Everything that moves, in `geometry`; the arm as drawn beside it, dashed, where the scene has one.
pub fn draw(svg: &mut Svg, scene: &Scene<'_>, geometry: &Geometry, stand: &Stand) {
    if let Some(table) = stand.turntable(geometry) {
        platter(svg, scene, geometry, &table);
    }
    if let Some(drawn) = scene.subject.drawn.filter(|d| *d != geometry) {
        let arm = stand.arm(drawn, drawn.joints.len());
        let mut path = Path::default();
        path.polyline(&bones(scene, &arm), false);
        svg.path(&path, &dashed());
    }
    let arm = stand.arm(geometry, geometry.joints.len());
    carriage(svg, scene, geometry, &arm);
    bodies(svg, scene, geometry, &arm);
    links(svg, scene, &arm);
}

fn platter(svg: &mut Svg, scene: &Scene<'_>, geometry: &Geometry, table: &TableScene) {
    let cell = scene.subject.cell;
    let r = scene.platter_mm;
    let at = |x: f64, y: f64, z: f64| {
        scene.to_px(&(table.centre_mm + table.platter_axes * Vector3::new(x, y, z)))
    };
    let keep_out = Look::filled(Fill::Hatch).with_pen(Pen::new(LIMIT, 0.9));
    for body in cell
        .keep_outs
        .iter()
        .filter(|k| k.frame == Belongs::Platter)
    {
        let outline = shapes::outline(&body.shape, scene.view, Some(table));
        polygon(svg, scene, &outline, &keep_out);
    }
    if scene.view == View::Plan {
        // Notches as short strokes inward; notch 0, where the index is, longer and with a dot.
        let mut strokes = Path::default();
        let notches = cell.turntable.iter().flat_map(|t| &t.notches_rad);
        for (k, angle) in notches.enumerate() {
            let (c, s) = (angle.cos(), angle.sin());
            let inner = if k == 0 { 0.8 } else { 0.92 };
            strokes.polyline(
                &[at(inner * r * c, inner * r * s, 0.0), at(r * c, r * s, 0.0)],
                false,
            );
            if k == 0 {
                strokes.circle(at(0.74 * r * c, 0.74 * r * s, 0.0), 2.0);
            }
        }
        svg.path(&strokes, &Look::drawn(Pen::new(INK, 1.3)));
    }
    let (mut crosses, mut diamonds) = (Path::default(), Path::default());
    for (mark, p) in cell.marks.iter().zip(&geometry.marks_mm) {
        if mark.frame == Belongs::Platter {
            cross(&mut crosses, at(p.x, p.y, p.z));
        }
    }
    for spot in scene
        .subject
        .spots
        .iter()
        .filter(|s| s.frame == Belongs::Platter)
    {
        let p = spot.at_mm;
        diamond(&mut diamonds, at(p.x, p.y, p.z));
    }
    svg.path(&crosses, &Look::drawn(Pen::new(INK, 1.1)));
    svg.path(&diamonds, &Look::drawn(Pen::new(INK, 1.1)));
}

/// The carriage as far as its features are known.
fn carriage(svg: &mut Svg, scene: &Scene<'_>, geometry: &Geometry, arm: &ArmScene) {
    if geometry.track.is_none() {
        return;
    }
    let mount = geometry.mount.at_mm;
    let mut low = mount - Vector3::new(CARRIAGE_MM, CARRIAGE_MM, 8.0);
    let mut high = mount + Vector3::new(CARRIAGE_MM, CARRIAGE_MM, 0.0);
    for feature in &geometry.features_mm {
        low = low.inf(feature);
        high = high.sup(feature);
    }
    let corners = (0..8).map(|k| {
        let pick = |bit: u8, a: f64, b: f64| if k & bit == 0 { a } else { b };
        let corner = Vector3::new(
            pick(1, low.x, high.x),
            pick(2, low.y, high.y),
            pick(4, low.z, high.z),
        );
        scene
            .view
            .flat(&(arm.carriage_mm + arm.track_axes * corner))
    });
    let outline = shapes::hull(corners.collect());
    let look = Look::filled(Fill::Plain(PAPER)).with_pen(Pen::new(INK, 1.2));
    polygon(svg, scene, &outline, &look);
    let mut path = Path::default();
    path.circle(scene.to_px(&arm.carriage_mm), 2.0);
    svg.path(&path, &Look::drawn(Pen::new(INK, 1.0)));
}

/// The capsules that the cell tells of the arm, as outlines.
fn bodies(svg: &mut Svg, scene: &Scene<'_>, geometry: &Geometry, arm: &ArmScene) {
    let look = Look::drawn(Pen::new(BLUE, 0.8)).faint(0.6);
    for body in &scene.subject.cell.bodies {
        let carried = |p: &Vector3<f64>| match body.on {
            On::Carriage => arm.carriage_mm + arm.track_axes * p,
            On::Base => arm.base_mm + arm.base_axes * p,
            On::Link(k) if k < arm.solved => {
                let joint = &arm.joints[k];
                joint.point_mm + joint.axes * (p - geometry.joints[k].through_mm)
            }
            On::Link(_) | On::Flange => arm.flange_mm + arm.flange_axes * p,
            On::Tool => arm.tip_mm + arm.tool_axes * p,
        };
        let ends = [carried(&body.from_mm), carried(&body.to_mm)].map(|p| scene.view.flat(&p));
        let rim = ends.iter().flat_map(|(u, v)| {
            (0..24).map(move |k| {
                let angle = std::f64::consts::TAU * f64::from(k) / 24.0;
                (
                    u + body.radius_mm * angle.cos(),
                    v + body.radius_mm * angle.sin(),
                )
            })
        });
        polygon(svg, scene, &shapes::hull(rim.collect()), &look);
    }
}

/// Base, axis points, flange and tip on paper.
fn bones(scene: &Scene<'_>, arm: &ArmScene) -> Vec<(f64, f64)> {
    let joints = arm.joints[..arm.solved].iter().map(|j| j.point_mm);
    let all = [arm.base_mm].into_iter().chain(joints);
    all.chain([arm.flange_mm, arm.tip_mm])
        .map(|p| scene.to_px(&p))
        .collect()
}

fn links(svg: &mut Svg, scene: &Scene<'_>, arm: &ArmScene) {
    if arm.solved == 0 {
        return;
    }
    let places = bones(scene, arm);
    let tool = places.len() - 2;
    let mut path = Path::default();
    path.polyline(&places[..=tool], false);
    svg.path(&path, &Look::drawn(Pen::new(BLUE, 3.4)));
    let mut thin = Path::default();
    thin.polyline(&places[tool..], false);
    svg.path(&thin, &Look::drawn(Pen::new(BLUE, 1.6)));
    let mut pivots = Path::default();
    let mut last: Option<(f64, f64)> = None;
    for at in &places[1..tool] {
        if last.is_none_or(|l| (l.0 - at.0).hypot(l.1 - at.1) > SHORT_PX) {
            pivots.circle(*at, 3.2);
        }
        last = Some(*at);
    }
    svg.path(
        &pivots,
        &Look::filled(Fill::Plain(PAPER)).with_pen(Pen::new(BLUE, 1.5)),
    );
    let tip = scene.to_px(&arm.tip_mm);
    let mut mark = Path::default();
    mark.circle(tip, 2.2);
    svg.path(&mark, &Look::filled(Fill::Plain(INK)));
    let mut ring = Path::default();
    ring.circle(tip, 5.0);
    svg.path(&ring, &Look::drawn(Pen::new(GREY, 0.9)));
}

/// Rooms along the arm, so that no text is written over it.
pub fn rooms(scene: &Scene<'_>, geometry: &Geometry, stand: &Stand) -> Vec<Area> {
    let arm = stand.arm(geometry, geometry.joints.len());
    let places = bones(scene, &arm);
    let mut rooms = Vec::new();
    for pair in places.windows(2) {
        let length = (pair[1].0 - pair[0].0).hypot(pair[1].1 - pair[0].1);
        let steps = ((length / 6.0) as usize).clamp(1, 200);
        for k in 0..=steps {
            let t = k as f64 / steps as f64;
            let at = (
                pair[0].0 + t * (pair[1].0 - pair[0].0),
                pair[0].1 + t * (pair[1].1 - pair[0].1),
            );
            rooms.push(Area::around(at, 7.0, 7.0));
        }
    }
    rooms
}
