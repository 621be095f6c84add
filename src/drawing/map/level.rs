//! A line across the field at one value of an axis, with its name.

use crate::drawing::axis;
use crate::drawing::ink::INK;
use crate::drawing::ink::PAPER;
use crate::drawing::map::Level;
use crate::drawing::map::MapPicture;
use crate::drawing::map::Mark;
use crate::drawing::map::marks;
use crate::drawing::map::sheet::SMALL_SIZE;
use crate::drawing::map::sheet::Sheet;
use crate::drawing::svg::Fill;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::svg::Svg;
use crate::drawing::svg::Words;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;

/// Between the line and its name.
const OFF: f64 = 3.0;
/// Half of what is kept free of other texts along the line.
const HALF: f64 = 2.0;
/// Pale on both sides, to be seen on dark bands and hatch.
const UNDER: Look = Look::drawn(Pen::new(PAPER, 4.4)).faint(0.9);
const DASHED: Look = Look::drawn(Pen {
    dash_px: 9.0,
    ..Pen::new(INK, 1.8)
});

/// The line on paper.
#[derive(Debug)]
pub struct Placed {
    from: (f64, f64),
    to: (f64, f64),
    label: String,
    /// None where there was no room.
    room: Option<Area>,
}

/// The line and a room for its name; what is out of view or has no room is noted.
pub fn place(picture: &MapPicture, sheet: &mut Sheet) -> Option<Placed> {
    let level = picture.level?;
    let span = if level.upright { &sheet.x } else { &sheet.y };
    let named = format!("{} (at {})", level.label, axis::plain(level.at));
    if !span.shows(level.at) {
        sheet.note(format!("Outside the picture: {named}."));
        return None;
    }
    let plot = sheet.plot;
    let at = span.scale.at(level.at);
    let (from, to) = match level.upright {
        true => ((at, plot.top), (at, plot.bottom)),
        false => ((plot.left, at), (plot.right, at)),
    };
    let label = text::cut_to(level.label, SMALL_SIZE, plot.width() - 8.0);
    let room = room(picture, sheet, &level, at, &label);
    match room {
        Some(room) => sheet.taken.push(room),
        None => sheet.note(format!("Marked without a name, for want of room: {named}.")),
    }
    sheet.taken.push(Area {
        left: from.0 - HALF,
        right: to.0 + HALF,
        top: from.1 - HALF,
        bottom: to.1 + HALF,
    });
    Some(Placed {
        from,
        to,
        label,
        room,
    })
}

/// Beside the line: at its ends first, then along it.
fn room(picture: &MapPicture, sheet: &Sheet, level: &Level, at: f64, label: &str) -> Option<Area> {
    let plot = sheet.plot.grown(-3.0);
    let (wide, high) = (text::width_of(label, SMALL_SIZE) + 6.0, SMALL_SIZE * 1.3);
    let shows = |m: &&Mark| sheet.x.shows(m.x) && sheet.y.shows(m.y);
    let shapes: Vec<Area> = picture
        .marks
        .iter()
        .filter(shows)
        .map(|m| marks::shape_room(m.kind, sheet.at(m.x, m.y)))
        .collect();
    const ALONG: [f64; 7] = [1.0, 0.0, 0.5, 0.75, 0.25, 0.87, 0.13];
    let places = ALONG.into_iter().flat_map(|share| {
        [-1.0, 1.0].map(|side| match level.upright {
            true => {
                let left = if side > 0.0 {
                    at + OFF
                } else {
                    at - OFF - wide
                };
                let top = plot.bottom - high - share * (plot.height() - high);
                Area::new(left, top, wide, high)
            }
            false => {
                let top = if side < 0.0 {
                    at - OFF - high
                } else {
                    at + OFF
                };
                let left = plot.left + share * (plot.width() - wide);
                Area::new(left, top, wide, high)
            }
        })
    });
    let free = |a: &Area| {
        let plot = plot.grown(1e-6);
        let within = a.left >= plot.left
            && a.right <= plot.right
            && a.top >= plot.top
            && a.bottom <= plot.bottom;
        within && !sheet.taken.iter().chain(&shapes).any(|t| t.meets(a))
    };
    places.into_iter().find(free)
}

/// The line, and its name on pale ground.
pub fn draw(svg: &mut Svg, placed: &Placed) {
    line(svg, placed.from, placed.to);
    let Some(room) = placed.room else { return };
    svg.rectangle(
        &room.grown(-0.5),
        &Look::filled(Fill::Plain(PAPER)).faint(0.85),
    );
    let (x, y) = room.centre();
    svg.words(&Words {
        text: &placed.label,
        at: (x, y + text::MIDDLE * SMALL_SIZE),
        size_px: SMALL_SIZE,
        anchor: Anchor::Middle,
        upright: false,
    });
}

/// In the field and in the key.
pub fn line(svg: &mut Svg, from: (f64, f64), to: (f64, f64)) {
    svg.line(from, to, &UNDER);
    svg.line(from, to, &DASHED);
}
