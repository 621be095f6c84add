//! Dimension lines for what was found, and the scale.
//!
//! Plan: places along x below, along y at the left, all from hole (0, 0). Elevation: heights over the
//! plate at the left. A dimension says the found value, how sure it is (one standard uncertainty), and the
//! drawing's value in brackets.

use std::collections::BTreeMap;

use nalgebra::Vector3;

use crate::drawing::axis;
use crate::drawing::ink::GREY;
use crate::drawing::ink::INK;
use crate::drawing::ink::PAPER;
use crate::drawing::path::Path;
use crate::drawing::svg::Fill;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::svg::Svg;
use crate::drawing::svg::Words;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;
use crate::pictures::scene::Scene;
use crate::pictures::scene::Subject;
use crate::pictures::scene::View;
use crate::registration::ParameterDocument;
use crate::report::number;

/// Room of one dimension line, px.
const ROW_PX: f64 = 22.0;
/// Room for the scale, px.
pub const SCALE_PX: f64 = 44.0;
/// Half of an oblique tick, px.
const TICK_PX: f64 = 3.5;
/// From this width on a dimension says the drawing's value too, px.
const ROOMY_PX: f64 = 500.0;

/// Values of a registration by name.
#[derive(Debug, Clone, Default)]
pub struct Known(BTreeMap<String, Value>);

/// A value that was found.
#[derive(Debug, Clone, Copy)]
struct Value {
    found: f64,
    u: f64,
    drawn: f64,
}

impl Known {
    /// Of a registration's unknowns.
    pub fn new(parameters: &[ParameterDocument]) -> Known {
        let each = parameters.iter().filter_map(|p| {
            let value = Value {
                found: p.value?,
                u: p.u?,
                drawn: p.nominal,
            };
            Some((p.name.clone(), value))
        });
        Known(each.collect())
    }

    /// `153.47 ± 0.09 (150)`, without the drawing's value where there is little room.
    fn words(&self, name: &str, roomy: bool) -> Option<String> {
        let value = self.0.get(name)?;
        let decimals = number::decimals_for(value.u);
        let found = axis::fixed(value.found, decimals);
        let found = format!("{found} ± {}", number::uncertainty(value.u));
        Some(match roomy {
            true => format!("{found} ({})", axis::plain(value.drawn)),
            false => found,
        })
    }
}

/// A length to be dimensioned.
struct Dimension {
    name: &'static str,
    /// Where it ends, plate frame, mm.
    end_mm: Vector3<f64>,
}

fn across(subject: &Subject<'_>, view: View) -> Vec<Dimension> {
    if view == View::Elevation {
        return Vec::new();
    }
    wanted(subject, "track.x", "turntable.x")
}

fn upright(subject: &Subject<'_>, view: View) -> Vec<Dimension> {
    match view {
        View::Plan => wanted(subject, "track.y", "turntable.y"),
        View::Elevation => wanted(subject, "track.z", "turntable.z"),
    }
}

fn wanted(subject: &Subject<'_>, track: &'static str, table: &'static str) -> Vec<Dimension> {
    let track_mm = subject.found.track.map(|t| t.mounting.at_mm);
    // Without a track the arm's foot stands on the plate itself.
    let (track, track_mm) = match (track_mm, track) {
        (None, "track.x") => ("mount.x", Some(subject.found.mount.at_mm)),
        (None, "track.y") => ("mount.y", Some(subject.found.mount.at_mm)),
        (None, "track.z") => ("mount.z", Some(subject.found.mount.at_mm)),
        found => (track, found.0),
    };
    let table_mm = subject.found.turntable.map(|t| t.at_mm);
    [(track, track_mm), (table, table_mm)]
        .into_iter()
        .filter(|(name, _)| subject.known.0.contains_key(*name))
        .filter_map(|(name, at)| Some(Dimension { name, end_mm: at? }))
        .collect()
}

/// Whether any dimension is drawn in a view.
pub fn any(subject: &Subject<'_>, view: View) -> bool {
    !across(subject, view).is_empty() || !upright(subject, view).is_empty()
}

/// Whether dimensions of a sheet say the drawing's values too: those across do where it is wide.
pub fn says_drawn(width_px: f64) -> bool {
    width_px >= ROOMY_PX
}

/// Room for dimension lines at the left and below, px.
pub fn room(subject: &Subject<'_>, view: View) -> (f64, f64) {
    let columns = upright(subject, view).len() as f64;
    let rows = across(subject, view).len() as f64;
    let some = |n: f64| if n > 0.0 { n * ROW_PX + 6.0 } else { 0.0 };
    (some(columns), some(rows))
}

pub fn draw(svg: &mut Svg, scene: &Scene<'_>, taken: &mut Vec<Area>) {
    svg.group("dimensions", |svg| {
        for (k, dimension) in across(&scene.subject, scene.view).iter().enumerate() {
            row(svg, scene, k, dimension, taken);
        }
        // From the outermost, whose extension lines pass the others: their words are written over those.
        let upright = upright(&scene.subject, scene.view);
        for (k, dimension) in upright.iter().enumerate().rev() {
            column(svg, scene, k, dimension, taken);
        }
    });
    svg.group("scale", |svg| scale(svg, scene));
}

fn looks() -> (Look, Look, Look) {
    (
        Look::drawn(Pen::new(INK, 0.7)),
        Look::drawn(Pen::new(INK, 1.3)),
        Look::drawn(Pen::new(GREY, 0.6)),
    )
}

fn ticks(at: [(f64, f64); 2]) -> Path {
    let mut path = Path::default();
    for (x, y) in at {
        path.polyline(
            &[(x - TICK_PX, y + TICK_PX), (x + TICK_PX, y - TICK_PX)],
            false,
        );
    }
    path
}

/// A dimension along x, below the drawing.
fn row(svg: &mut Svg, scene: &Scene<'_>, k: usize, dimension: &Dimension, taken: &mut Vec<Area>) {
    let roomy = scene.size_px.0 >= ROOMY_PX;
    let Some(words) = scene.subject.known.words(dimension.name, roomy) else {
        return;
    };
    let (line, tick, extension) = looks();
    let y = scene.area.bottom + (k as f64 + 1.0) * ROW_PX;
    let from = scene.flat_to_px((0.0, 0.0));
    let to = scene.to_px(&dimension.end_mm);
    for at in [from, to] {
        let top = at.1.min(scene.area.bottom) + 6.0;
        taken.push(Area::new(at.0 - 1.5, top, 3.0, y + 4.0 - top));
        svg.line((at.0, top), (at.0, y + 4.0), &extension);
    }
    svg.line((from.0, y), (to.0, y), &line);
    svg.path(&ticks([(from.0, y), (to.0, y)]), &tick);
    // Above the line where there is room between the ticks, else after it.
    let size = scene.letters_px;
    let wide = text::width_of(&words, size);
    let fits = (to.0 - from.0).abs() > wide + 10.0;
    let at = match fits {
        true => ((from.0 + to.0) / 2.0 - wide / 2.0, y - 3.5),
        false => {
            let start = from.0.max(to.0) + 8.0;
            (start.min(scene.size_px.0 - wide - 2.0), y + 0.36 * size)
        }
    };
    taken.push(text::area_of(&words, size, at, Anchor::Start, false));
    svg.words(&Words {
        text: &words,
        at,
        size_px: size,
        anchor: Anchor::Start,
        upright: false,
    });
}

/// A dimension along y or z, at the left of the drawing.
fn column(
    svg: &mut Svg,
    scene: &Scene<'_>,
    k: usize,
    dimension: &Dimension,
    taken: &mut Vec<Area>,
) {
    let (line, tick, extension) = looks();
    let x = scene.area.left - (k as f64 + 1.0) * ROW_PX + 10.0;
    let from = scene.flat_to_px((0.0, 0.0));
    let to = scene.to_px(&dimension.end_mm);
    for at in [from, to] {
        let right = at.0.max(scene.area.left) - 6.0;
        taken.push(Area::new(x - 4.0, at.1 - 1.5, right - x + 4.0, 3.0));
        svg.line((right, at.1), (x - 4.0, at.1), &extension);
    }
    svg.line((x, from.1), (x, to.1), &line);
    svg.path(&ticks([(x, from.1), (x, to.1)]), &tick);
    let size = scene.letters_px;
    let (top, bottom) = (from.1.min(to.1), from.1.max(to.1));
    // The whole where it fits beside the line, else before its end as far as the sheet has room.
    let room = scene.size_px.1 - 8.0;
    let mut words = None;
    for roomy in [says_drawn(scene.size_px.0), false] {
        let text = scene.subject.known.words(dimension.name, roomy);
        words = text;
        if words
            .as_ref()
            .is_some_and(|w| text::width_of(w, size) < (bottom - top - 10.0).max(top - 16.0))
        {
            break;
        }
    }
    let Some(words) = words else { return };
    let wide = text::width_of(&words, size);
    let fits = wide < bottom - top - 10.0;
    // An upright text starts below and runs upward.
    let start = match fits {
        true => (top + bottom) / 2.0 + wide / 2.0,
        false => (top - 8.0).max(wide + 8.0).min(room),
    };
    let at = match fits {
        true => (x - 3.5, start),
        false => (x + 0.36 * size, start),
    };
    let own = text::area_of(&words, size, at, Anchor::Start, true);
    if !fits {
        svg.rectangle(&own, &Look::filled(Fill::Plain(PAPER)));
    }
    taken.push(own);
    svg.words(&Words {
        text: &words,
        at,
        size_px: size,
        anchor: Anchor::Start,
        upright: true,
    });
}

/// A length in the drawing's scale: the sheet may be printed at any size.
fn scale(svg: &mut Svg, scene: &Scene<'_>) {
    let most_mm = 0.3 * scene.area.width() / scene.px_per_mm;
    let step = axis::ticks(0.0, most_mm, 1).step;
    let length_mm = [step, step / 2.0, step / 5.0, step / 10.0]
        .into_iter()
        .find(|l| *l <= most_mm)
        .unwrap_or(most_mm);
    let length = length_mm * scene.px_per_mm;
    let y = scene.size_px.1 - EDGE;
    let right = scene.area.right;
    let (line, tick, _) = looks();
    svg.line((right - length, y), (right, y), &line);
    svg.path(&ticks([(right - length, y), (right, y)]), &tick);
    let words = format!("{} mm", axis::plain(length_mm));
    svg.words(&Words {
        text: &words,
        at: (right - length - 8.0, y + 0.36 * scene.letters_px),
        size_px: scene.letters_px,
        anchor: Anchor::End,
        upright: false,
    });
    // On a telephone the scale needs the room.
    let view = match (scene.view, scene.size_px.0 >= ROOMY_PX) {
        (View::Plan, true) => "Plan, seen from above",
        (View::Elevation, true) => "Elevation, seen along +y",
        (View::Plan, false) => "Plan",
        (View::Elevation, false) => "Elevation",
    };
    svg.words(&Words {
        text: view,
        at: (scene.area.left, y + 0.36 * scene.letters_px),
        size_px: scene.letters_px,
        anchor: Anchor::Start,
        upright: false,
    });
}

/// Height of a line of names, in letters.
const LINE: f64 = 1.4;

/// The names that found no room in the drawing, in lines that the sheet is made longer by; nothing where
/// all did.
pub fn unnamed(scene: &Scene<'_>, names: &[String]) -> Vec<String> {
    if names.is_empty() {
        return Vec::new();
    }
    below(
        scene,
        &format!("Not written for want of room: {}.", names.join(", ")),
    )
}

/// A sentence below a drawing, in lines.
pub fn below(scene: &Scene<'_>, sentence: &str) -> Vec<String> {
    let most = scene.size_px.0 - 2.0 * EDGE;
    text::broken(sentence, scene.letters_px, most)
}

/// How much longer these lines make the sheet, px.
pub fn longer(scene: &Scene<'_>, lines: &[String]) -> f64 {
    // Half a line stays free at the foot.
    match lines.len() {
        0 => 0.0,
        n => LINE * scene.letters_px * (n as f64 + 0.5),
    }
}

/// Writes these lines below what the sheet has without them.
pub fn write_unnamed(svg: &mut Svg, scene: &Scene<'_>, lines: &[String]) {
    for (k, line) in lines.iter().enumerate() {
        let y = scene.size_px.1 + LINE * scene.letters_px * (k as f64 + 0.5);
        svg.words(&Words {
            text: line,
            at: (EDGE, y),
            size_px: scene.letters_px,
            anchor: Anchor::Start,
            upright: false,
        });
    }
}

/// Below the scale, px.
const EDGE: f64 = 16.0;
