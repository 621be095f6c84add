//! Axes as dimension lines, limits of travel as heavy lines with short strokes on the barred side.

use crate::drawing::axis;
use crate::drawing::ink::GREY;
use crate::drawing::ink::INK;
use crate::drawing::ink::LIMIT;
use crate::drawing::map::MapPicture;
use crate::drawing::map::sheet::AXIS_OFF;
use crate::drawing::map::sheet::LABEL_SIZE;
use crate::drawing::map::sheet::MARGIN;
use crate::drawing::map::sheet::SMALL_SIZE;
use crate::drawing::map::sheet::Sheet;
use crate::drawing::map::sheet::Span;
use crate::drawing::map::sheet::TICK_ROOM;
use crate::drawing::path::Path;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::svg::Svg;
use crate::drawing::svg::Words;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;

/// Half of an oblique tick, across and up.
const TICK: f64 = 3.5;
/// Between strokes on the barred side of a limit.
const STROKE_EVERY: f64 = 9.0;
const STROKE: f64 = 7.0;
/// Between a limit and a text on its free side.
const CLEAR: f64 = 3.0;

/// Faint lines over the plot, the plot's edge, and the two axes.
pub fn axes(svg: &mut Svg, picture: &MapPicture, sheet: &Sheet) {
    let plot = sheet.plot;
    let grid = Look::drawn(Pen::new(INK, 0.5)).faint(0.18);
    let thin = Look::drawn(Pen::new(INK, 0.6));
    let tick = Look::drawn(Pen::new(INK, 1.3));
    let extension = Look::drawn(Pen::new(GREY, 0.5));
    for value in &sheet.x.ticks.values {
        let x = sheet.x.scale.at(*value);
        svg.line((x, plot.top), (x, plot.bottom), &grid);
    }
    let upright = !picture.y.label.is_empty();
    for value in sheet.y.ticks.values.iter().filter(|_| upright) {
        let y = sheet.y.scale.at(*value);
        svg.line((plot.left, y), (plot.right, y), &grid);
    }
    svg.rectangle(&plot, &thin);

    let y = plot.bottom + AXIS_OFF;
    svg.line((plot.left, y), (plot.right, y), &thin);
    for value in &sheet.x.ticks.values {
        let x = sheet.x.scale.at(*value);
        svg.line((x, plot.bottom + 2.0), (x, y + 3.0), &extension);
        svg.line((x - TICK, y + TICK), (x + TICK, y - TICK), &tick);
        svg.words(&Words {
            text: &sheet.x.ticks.label(*value),
            at: (x, y + TICK_ROOM + SMALL_SIZE - 1.0),
            size_px: SMALL_SIZE,
            anchor: Anchor::Middle,
            upright: false,
        });
    }
    along(svg, picture, sheet);
    if !upright {
        return;
    }
    let x = plot.left - AXIS_OFF;
    svg.line((x, plot.top), (x, plot.bottom), &thin);
    for value in &sheet.y.ticks.values {
        let y = sheet.y.scale.at(*value);
        svg.line((plot.left - 2.0, y), (x - 3.0, y), &extension);
        svg.line((x - TICK, y + TICK), (x + TICK, y - TICK), &tick);
        svg.words(&Words {
            text: &sheet.y.ticks.label(*value),
            at: (x - TICK_ROOM, y + text::MIDDLE * SMALL_SIZE),
            size_px: SMALL_SIZE,
            anchor: Anchor::End,
            upright: false,
        });
    }
    let centre = plot.centre();
    svg.words(&Words {
        text: &text::cut_to(picture.y.label, LABEL_SIZE, plot.height() + 40.0),
        at: (MARGIN + LABEL_SIZE - 3.0, centre.1),
        size_px: LABEL_SIZE,
        anchor: Anchor::Middle,
        upright: true,
    });
}

/// The label of the axis along the sheet.
fn along(svg: &mut Svg, picture: &MapPicture, sheet: &Sheet) {
    let plot = sheet.plot;
    let centre = plot.centre();
    svg.words(&Words {
        text: &text::cut_to(picture.x.label, LABEL_SIZE, plot.width() + 60.0),
        at: (
            centre.0,
            plot.bottom + AXIS_OFF + TICK_ROOM + SMALL_SIZE + 1.5 * LABEL_SIZE,
        ),
        size_px: LABEL_SIZE,
        anchor: Anchor::Middle,
        upright: false,
    });
}

/// The limits of one axis that are in view, the lower one first; none on a strip's short side.
fn in_view(limits: Option<(f64, f64)>, span: &Span) -> Vec<(f64, bool)> {
    let Some((a, b)) = limits.filter(|_| !span.single) else {
        return Vec::new();
    };
    [(a.min(b), true), (a.max(b), false)]
        .into_iter()
        .filter(|(v, _)| span.shows(*v))
        .collect()
}

/// Whether any limit is drawn.
pub fn any_limit(picture: &MapPicture, sheet: &Sheet) -> bool {
    !in_view(picture.limits_x, &sheet.x).is_empty()
        || !in_view(picture.limits_y, &sheet.y).is_empty()
}

/// Says of limits that are given but not drawn where they lie.
pub fn note_limits(picture: &MapPicture, sheet: &mut Sheet) {
    let both = [
        (picture.limits_x, &sheet.x, picture.x.label),
        (picture.limits_y, &sheet.y, picture.y.label),
    ];
    let mut notes = Vec::new();
    for (limits, span, label) in both {
        let drawn = in_view(limits, span);
        let Some((a, b)) = limits else { continue };
        let missing: Vec<String> = [a.min(b), a.max(b)]
            .iter()
            .filter(|v| !drawn.iter().any(|(d, _)| d == *v))
            .map(|v| axis::plain(*v))
            .collect();
        if !missing.is_empty() {
            notes.push(format!(
                "Not in the picture: limit of travel at {} ({label}).",
                missing.join(" and ")
            ));
        }
    }
    for note in notes {
        sheet.note(note);
    }
}

/// Keeps texts off the limits and what lies beyond them.
pub fn keep_clear(picture: &MapPicture, sheet: &mut Sheet) {
    let plot = sheet.plot;
    let mut rooms = Vec::new();
    for (value, lower) in in_view(picture.limits_x, &sheet.x) {
        let x = sheet.x.scale.at(value);
        rooms.push(if lower {
            Area {
                right: x + CLEAR,
                ..plot
            }
        } else {
            Area {
                left: x - CLEAR,
                ..plot
            }
        });
    }
    for (value, lower) in in_view(picture.limits_y, &sheet.y) {
        let y = sheet.y.scale.at(value);
        rooms.push(if lower {
            Area {
                top: y - CLEAR,
                ..plot
            }
        } else {
            Area {
                bottom: y + CLEAR,
                ..plot
            }
        });
    }
    sheet.taken.extend(rooms);
}

/// Labels of the limits that are in view, with their values.
pub fn labels(limits: Option<(f64, f64)>, span: &Span) -> Vec<(f64, String)> {
    in_view(limits, span)
        .into_iter()
        .map(|(v, _)| (v, format!("limit {}", axis::plain(v))))
        .collect()
}

/// Heavy lines with their labels outside the plot.
pub fn limits(svg: &mut Svg, picture: &MapPicture, sheet: &Sheet) {
    let plot = sheet.plot;
    let heavy = Look::drawn(Pen::new(LIMIT, 2.4));
    let stroke = Look::drawn(Pen::new(LIMIT, 0.8));
    let mut strokes = Path::default();
    for (value, lower) in in_view(picture.limits_x, &sheet.x) {
        let x = sheet.x.scale.at(value);
        svg.line((x, plot.top), (x, plot.bottom), &heavy);
        svg.line((x, plot.top), (x, plot.top - 6.0), &stroke);
        let out = if lower { -STROKE } else { STROKE };
        for k in 0..(plot.height() / STROKE_EVERY) as usize {
            let y = plot.top + (k as f64 + 0.2) * STROKE_EVERY;
            strokes.polyline(&[(x, y), (x + out, y + STROKE)], false);
        }
    }
    for (x, label) in joined(labels(picture.limits_x, &sheet.x), &sheet.x, 1.0) {
        svg.words(&Words {
            text: &label,
            at: (x, plot.top - 10.0),
            size_px: SMALL_SIZE,
            anchor: Anchor::Middle,
            upright: false,
        });
    }
    for (value, lower) in in_view(picture.limits_y, &sheet.y) {
        let y = sheet.y.scale.at(value);
        svg.line((plot.left, y), (plot.right, y), &heavy);
        svg.line((plot.right, y), (plot.right + 6.0, y), &stroke);
        let out = if lower { STROKE } else { -STROKE };
        for k in 0..(plot.width() / STROKE_EVERY) as usize {
            let x = plot.left + (k as f64 + 0.2) * STROKE_EVERY;
            strokes.polyline(&[(x, y), (x + STROKE, y + out)], false);
        }
    }
    for (y, label) in joined(labels(picture.limits_y, &sheet.y), &sheet.y, 0.0) {
        svg.words(&Words {
            text: &label,
            at: (plot.right + 9.0, y + text::MIDDLE * SMALL_SIZE),
            size_px: SMALL_SIZE,
            anchor: Anchor::Start,
            upright: false,
        });
    }
    svg.path(&strokes, &stroke);
}

/// Labels at their places on paper; two that would touch become one between them. `across` is 1 where
/// they stand side by side, 0 where one stands above the other.
fn joined(labels: Vec<(f64, String)>, span: &Span, across: f64) -> Vec<(f64, String)> {
    let labels: Vec<(f64, String)> = labels
        .into_iter()
        .map(|(v, label)| (span.scale.at(v), label))
        .collect();
    let [(a, one), (b, other)] = &labels[..] else {
        return labels;
    };
    let wide = text::width_of(one, SMALL_SIZE).max(text::width_of(other, SMALL_SIZE)) + 6.0;
    let needed = across * wide + (1.0 - across) * 1.3 * SMALL_SIZE;
    if (a - b).abs() >= needed {
        return labels;
    }
    let second = other.trim_start_matches("limit ");
    vec![((a + b) / 2.0, format!("{one}, {second}"))]
}
