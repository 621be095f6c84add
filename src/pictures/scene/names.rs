//! Names of what stands still and of points: written where there is room.

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::drawing::svg::Svg;
use crate::drawing::text::Area;
use crate::pictures::scene::Scene;
use crate::pictures::scene::View;
use crate::pictures::scene::mover;
use crate::pictures::scene::shapes;
use crate::readings::stand::Stand;

/// Names of what is drawn, where there is room; in the plan only, the elevation has the same things in one
/// line behind each other. Those that found no room.
pub fn names(
    svg: &mut Svg,
    scene: &Scene<'_>,
    stand: Option<&Stand>,
    taken: &mut Vec<Area>,
) -> Vec<String> {
    let subject = &scene.subject;
    let cell = subject.cell;
    let mut wanted: Vec<(Area, String)> = Vec::new();
    let small = |at: (f64, f64)| Area::around(at, 11.0, 11.0);
    // The arm and what hangs on it stay readable.
    if let Some(stand) = stand {
        taken.extend(mover::rooms(scene, subject.found, stand));
    }
    let table = stand.and_then(|s| s.turntable(subject.found));
    let place = |frame: Belongs, at: &Vector3<f64>| match (frame, &table) {
        (Belongs::Plate, _) => Some(*at),
        (Belongs::Platter, Some(t)) => Some(t.centre_mm + t.platter_axes * at),
        (Belongs::Platter, None) => None,
    };
    let origin = scene.flat_to_px((0.0, 0.0));
    let v_name = if scene.view == View::Plan { "y" } else { "z" };
    wanted.push((
        Area::around((origin.0 + 26.0, origin.1), 10.0, 10.0),
        "x".to_owned(),
    ));
    wanted.push((
        Area::around((origin.0, origin.1 - 26.0), 10.0, 10.0),
        v_name.to_owned(),
    ));
    for keep_out in &cell.keep_outs {
        let carried = table
            .as_ref()
            .filter(|_| keep_out.frame == Belongs::Platter);
        let outline = shapes::outline(&keep_out.shape, scene.view, carried);
        let inside = keep_out.frame == Belongs::Plate || table.is_some();
        if let (Some(room), true) = (bounds(scene, &outline), inside) {
            wanted.push((room, keep_out.name.clone()));
        }
    }
    if scene.view == View::Plan && !scene.faint {
        for (mark, at_mm) in cell.marks.iter().zip(&subject.found.marks_mm) {
            if let Some(at) = place(mark.frame, at_mm) {
                wanted.push((small(scene.to_px(&at)), mark.name.clone()));
            }
        }
        for spot in subject.spots {
            if let Some(at) = place(spot.frame, &spot.at_mm) {
                wanted.push((small(scene.to_px(&at)), spot.name.clone()));
            }
        }
    }
    taken.extend(
        wanted
            .iter()
            .map(|(room, _)| *room)
            .filter(|r| r.width() < 12.0),
    );
    taken.extend(rim(scene));
    wanted.retain(|(room, words)| !scene.name(svg, room, words, taken));
    wanted.into_iter().map(|(_, words)| words).collect()
}

/// Rooms along the platter's edge, so that no name is written over it.
fn rim(scene: &Scene<'_>) -> Vec<Area> {
    let Some(table) = scene
        .subject
        .found
        .turntable
        .filter(|_| scene.view == View::Plan)
    else {
        return Vec::new();
    };
    let centre = scene.to_px(&table.at_mm);
    let r = scene.platter_mm * scene.px_per_mm;
    (0..72)
        .map(|k| std::f64::consts::TAU * f64::from(k) / 72.0)
        .map(|t| (centre.0 + r * t.cos(), centre.1 - r * t.sin()))
        .map(|at| Area::around(at, 4.0, 4.0))
        .collect()
}

/// The room of an outline, as much of it as is in the picture.
fn bounds(scene: &Scene<'_>, outline: &[(f64, f64)]) -> Option<Area> {
    let area = scene.area;
    let mut room: Option<Area> = None;
    for p in outline {
        let (x, y) = scene.flat_to_px(*p);
        let (x, y) = (
            x.clamp(area.left, area.right),
            y.clamp(area.top, area.bottom),
        );
        room = Some(match room {
            None => Area::new(x, y, 0.0, 0.0),
            Some(r) => Area {
                left: r.left.min(x),
                top: r.top.min(y),
                right: r.right.max(x),
                bottom: r.bottom.max(y),
            },
        });
    }
    room
}
