//! Names of what stands still and of points: written where there is room.

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::drawing::ink::INK;
use crate::drawing::ink::PAPER;
use crate::drawing::label;
use crate::drawing::svg::Fill;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::svg::Svg;
use crate::drawing::svg::Words;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;
use crate::pictures::scene::Scene;
use crate::pictures::scene::View;
use crate::pictures::scene::ground;
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
    let mut wanted: Vec<Named> = Vec::new();
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
    for (at, words) in [
        ((origin.0 + 26.0, origin.1), "x"),
        ((origin.0, origin.1 - 26.0), v_name),
    ] {
        wanted.push(Named {
            led: false,
            ..Named::mark(at, words)
        });
    }
    // Small things first: a large one has its name farther off, with a leader.
    if scene.view == View::Plan && !scene.faint {
        for (mark, at_mm) in cell.marks.iter().zip(&subject.found.marks_mm) {
            if let Some(at) = place(mark.frame, at_mm) {
                wanted.push(Named::mark(scene.to_px(&at), &mark.name));
            }
        }
        for spot in subject.spots {
            if let Some(at) = place(spot.frame, &spot.at_mm) {
                wanted.push(Named::mark(scene.to_px(&at), &spot.name));
            }
        }
    }
    for keep_out in &cell.keep_outs {
        let carried = table
            .as_ref()
            .filter(|_| keep_out.frame == Belongs::Platter);
        let outline = shapes::outline(&keep_out.shape, scene.view, carried);
        let inside = keep_out.frame == Belongs::Plate || table.is_some();
        if let (Some(room), true) = (bounds(scene, &outline), inside) {
            wanted.push(Named {
                room,
                edge: edge(scene, &outline),
                words: keep_out.name.clone(),
                led: true,
            });
        }
    }
    // The switch's triangle might have a name too.
    let marks: Vec<Area> = wanted
        .iter()
        .map(|w| w.room)
        .filter(|r| r.width() < 12.0)
        .chain(switch(scene))
        .collect();
    taken.extend(&marks);
    taken.extend(rim(scene));
    let lines = lines(scene);
    wanted.retain(|w| !written(svg, scene, w, &marks, &lines, taken));
    wanted.into_iter().map(|w| w.words).collect()
}

/// What is to have a name beside it.
struct Named {
    /// Its own room.
    room: Area,
    /// Places on its edge that a leader may end at; none for a small mark, whose leader ends at its room.
    edge: Vec<(f64, f64)>,
    words: String,
    /// Whether its name may stand off, with a leader.
    led: bool,
}

impl Named {
    fn mark(at: (f64, f64), words: &str) -> Named {
        Named {
            room: Area::around(at, 11.0, 11.0),
            edge: Vec::new(),
            words: words.to_owned(),
            led: true,
        }
    }

    /// From where a leader to a name goes, and where it ends.
    fn leader(&self, name: &Area) -> ((f64, f64), (f64, f64)) {
        let nearest = |p: (f64, f64)| {
            (
                p.0.clamp(name.left, name.right),
                p.1.clamp(name.top, name.bottom),
            )
        };
        if self.edge.is_empty() {
            let at = self.room.centre();
            let end = nearest(at);
            let length = (end.0 - at.0).hypot(end.1 - at.1).max(1e-9);
            let share = (6.0 / length).min(1.0);
            let from = (at.0 + share * (end.0 - at.0), at.1 + share * (end.1 - at.1));
            return (from, end);
        }
        let ends = self.edge.iter().map(|p| (*p, nearest(*p)));
        let far = |(a, b): &((f64, f64), (f64, f64))| (a.0 - b.0).hypot(a.1 - b.1);
        ends.min_by(|a, b| far(a).total_cmp(&far(b)))
            .unwrap_or((self.room.centre(), name.centre()))
    }
}

/// Writes a name beside its mark, with a leader where it stands off; whether there was room. Where another mark
/// is as near to the name, it would be read as that one's: the next place is tried. Places that cross a line
/// of the drawing are taken last, the line then covered.
fn written(
    svg: &mut Svg,
    scene: &Scene<'_>,
    named: &Named,
    marks: &[Area],
    lines: &[Area],
    taken: &mut Vec<Area>,
) -> bool {
    let letters = scene.letters_px;
    let size = (text::width_of(&named.words, letters), 1.17 * letters);
    let others: Vec<Area> = marks.iter().copied().filter(|m| *m != named.room).collect();
    let free = |room: &Area| scene.area.holds(room) && !taken.iter().any(|t| t.meets(room));
    let rooms = label::places(&named.room, size, &STEPS_PX);
    let rooms: Vec<Area> = rooms.filter(free).collect();
    let choice = |covers: bool| {
        rooms.iter().find_map(|room| {
            let (from, to) = named.leader(room);
            let off = (to.0 - from.0).hypot(to.1 - from.1);
            let alone = !others.iter().any(|o| o.grown(NEAR_PX).meets(room));
            if !named.led {
                return (off <= LEADER_PX).then_some((*room, None));
            }
            let leader = off > LEADER_PX || !alone;
            let crosses = label::without(&[from, to], &others) != [[from, to]];
            let clear = covers || !lines.iter().any(|l| l.meets(room));
            // Right beside its mark a name needs no leader where no other is near.
            let fine = clear && (!leader || (off > LEADER_PX && !crosses));
            fine.then_some((*room, leader.then_some((from, to))))
        })
    };
    let Some((room, leader)) = choice(false).or_else(|| choice(true)) else {
        return false;
    };
    taken.push(room);
    if let Some((from, to)) = leader {
        svg.line(from, to, &Look::drawn(Pen::new(INK, 0.6)));
    }
    if lines.iter().any(|l| l.meets(&room)) {
        svg.rectangle(
            &room.grown(-0.5),
            &Look::filled(Fill::Plain(PAPER)).faint(0.9),
        );
    }
    svg.words(&Words {
        text: &named.words,
        at: (room.left, room.top + 0.93 * letters),
        size_px: letters,
        anchor: Anchor::Start,
        upright: false,
    });
    true
}

/// Distances from a mark at which its name is tried, px.
const STEPS_PX: [f64; 4] = [1.0, 14.0, 26.0, 40.0];
/// Another mark nearer to a name than this could have it too, px.
const NEAR_PX: f64 = 6.0;
/// A name farther from its mark than this has a leader, px.
const LEADER_PX: f64 = 5.0;

/// Lines of the drawing that no name should cross: the plate's edges, how far the tip gets, the track.
fn lines(scene: &Scene<'_>) -> Vec<Area> {
    let plate = ground::plate_px(scene);
    let corners = [
        (plate.left, plate.top),
        (plate.right, plate.top),
        (plate.right, plate.bottom),
        (plate.left, plate.bottom),
        (plate.left, plate.top),
    ];
    let mut all = along(&corners);
    if !scene.faint {
        let reached = ground::reached(scene);
        let mut round: Vec<(f64, f64)> = reached.iter().map(|p| scene.flat_to_px(*p)).collect();
        round.extend(round.first().copied());
        all.extend(along(&round));
    }
    if let Some(track) = ground::track_px(scene) {
        all.extend(along(&track));
    }
    // Letters on a hatch are hard to read.
    let still = scene.subject.cell.keep_outs.iter();
    let hatched = still.filter(|k| k.frame == Belongs::Plate);
    all.extend(hatched.filter_map(|k| bounds(scene, &shapes::outline(&k.shape, scene.view, None))));
    all
}

/// Small rooms along a line.
fn along(points: &[(f64, f64)]) -> Vec<Area> {
    let mut all = Vec::new();
    for pair in points.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let steps = (((b.0 - a.0).hypot(b.1 - a.1) / 4.0) as usize).clamp(1, 400);
        all.extend((0..=steps).map(|k| {
            let t = k as f64 / steps as f64;
            Area::around((a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1)), 2.0, 2.0)
        }));
    }
    all
}

/// The edge of an outline, as far as it is in the picture.
fn edge(scene: &Scene<'_>, outline: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut round: Vec<(f64, f64)> = outline.iter().map(|p| scene.flat_to_px(*p)).collect();
    round.extend(round.first().copied());
    let places = along(&round).into_iter().map(|a| a.centre());
    places
        .filter(|p| scene.area.grown(1.0).holds(&Area::around(*p, 0.1, 0.1)))
        .collect()
}

/// The room of the switch's triangle.
fn switch(scene: &Scene<'_>) -> Option<Area> {
    let table = scene
        .subject
        .found
        .turntable
        .filter(|_| scene.view == View::Plan)?;
    let centre = scene.to_px(&table.at_mm);
    let r = scene.platter_mm * scene.px_per_mm + 7.0;
    let (sin, cos) = table.switch_rad.sin_cos();
    Some(Area::around(
        (centre.0 + r * cos, centre.1 - r * sin),
        13.0,
        13.0,
    ))
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
