//! Residuals of touches, counts and heights where they were taken: arrows on plan and elevation, each with
//! the ellipse that holds 95 of 100 such arrows, exaggerated by a stated factor.
//!
//! An ellipse takes the two directions of a view each by itself: that errors of them may go together is left
//! out, which turns and slims the true one.

use std::collections::BTreeSet;

use crate::bench::Bench;
use crate::drawing::Fault;
use crate::drawing::axis;
use crate::drawing::chart::marks::Shape;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::GREY;
use crate::drawing::ink::INK;
use crate::drawing::ink::LIMIT;
use crate::drawing::ink::PAPER;
use crate::drawing::label;
use crate::drawing::path::Path;
use crate::drawing::svg::Colour;
use crate::drawing::svg::Fill;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::svg::Svg;
use crate::drawing::svg::Words;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;
use crate::pictures::Picture;
use crate::pictures::aside;
use crate::pictures::marked::Marked;
use crate::pictures::scene::Entry;
use crate::pictures::scene::Over;
use crate::pictures::scene::Scene;
use crate::pictures::scene::Subject;
use crate::pictures::scene::View;
use crate::pictures::scene::of_ground;
use crate::pictures::seen::ONE;
use crate::pictures::seen::Seen;
use crate::pictures::seen::TWO;
use crate::pictures::seen::is_seen;
use crate::pictures::seen::kinds;
use crate::pictures::seen::seen;
use crate::pictures::seen::sentence;
use crate::readings::Reading;
use crate::registration::Document;

/// A typical arrow or ellipse is about so long on paper, as a share of the sheet's width.
const TYPICAL: f64 = 0.05;
/// An arrow is cut where it is longer than this share of the sheet's width.
const LONGEST: f64 = 0.12;
/// Ellipses that are drawn; more would hide each other.
const MOST_ELLIPSES: usize = 120;
/// Cut arrows that the description names.
const CUT_NAMED: usize = 20;
const LETTERS_PX: f64 = 11.0;

/// Arrows on a view; nothing where no reading is seen in it.
pub fn arrows(
    subject: &Subject<'_>,
    bench: &Bench,
    document: &Document,
    view: View,
) -> Result<Option<Picture>, Fault> {
    let seen = seen(subject, bench, document, view);
    if seen.is_empty() {
        return Ok(None);
    }
    let kinds = kinds(&seen, view);
    let (slug, heading) = match view {
        View::Plan => (
            "residuals-plan",
            format!("What {kinds} are off by, from above"),
        ),
        View::Elevation => (
            "residuals-elevation",
            format!("What {kinds} are off by, from the front"),
        ),
    };
    let heading = &heading;
    let common = Marked::of(document).none_marked(&document.readings);
    let mut sentence = sentence(&seen, view, common.as_deref());
    let files: BTreeSet<&str> = document.readings.iter().map(|r| r.file.as_str()).collect();
    let shows = |reading: &Reading| {
        let mut components = 0..reading.components();
        components.any(|k| is_seen(reading, k, subject.found, view).is_some())
    };
    if let Some(text) = aside::took_no_part(document, bench, shows, &files, &[]) {
        sentence.push(' ');
        sentence.push_str(&text);
    }
    let picture = Picture::new(slug, heading, &sentence, |width| {
        draw(subject, &seen, view, width, heading, &sentence)
    })?;
    Ok(Some(picture))
}

/// The largest of 1, 2, 5 times a power of ten that is not above `most`.
fn round_factor(most: f64) -> f64 {
    if !(most > 1e-6 && most < 1e9) {
        return 1.0;
    }
    let power = 10f64.powf(most.log10().floor());
    [5.0, 2.0, 1.0]
        .into_iter()
        .map(|k| k * power)
        .find(|f| *f <= most)
        .unwrap_or(power)
}

/// How many times larger than the cell the arrows are drawn: a typical one as long as that, and four of
/// five of those that are drawn heavier not cut.
fn exaggeration(seen: &[Seen], px_per_mm: f64, typical_px: f64, longest_px: f64) -> f64 {
    let mut sizes: Vec<f64> = seen
        .iter()
        .map(|s| {
            let sigma = s.sigma.0.max(s.sigma.1);
            // Never less than u: what nothing checks is rounding, which is not to be spread out.
            s.length().min(3.0 * TWO * sigma).max(TWO * sigma).max(s.u)
        })
        .filter(|l| *l > 0.0)
        .collect();
    sizes.sort_by(f64::total_cmp);
    let typical = sizes.get(sizes.len() * 3 / 4).copied().unwrap_or(1.0);
    let mut flagged: Vec<f64> = seen
        .iter()
        .filter(|s| s.flagged())
        .map(Seen::length)
        .collect();
    flagged.sort_by(f64::total_cmp);
    let whole = match (flagged.len() * 4).div_ceil(5) {
        0 => f64::INFINITY,
        k => longest_px / flagged[k - 1].max(1e-9),
    };
    round_factor((typical_px / typical).min(whole) / px_per_mm).max(1.0)
}

/// How far arrows, ellipses and bars go beyond the part of the sheet that the cell is drawn in, px.
fn beyond(scene: &Scene<'_>, seen: &[Seen], per_mm: f64, width_px: f64) -> (f64, f64) {
    let area = scene.area();
    let (mut above, mut below) = (0.0f64, 0.0f64);
    for s in seen {
        let y = scene.flat_to_px(s.at).1;
        // An ellipse as large as the sheet tells nothing more of how far it goes.
        let half = (upright_half(s) * per_mm).min(LONGEST * width_px);
        let share = (LONGEST * width_px / (s.length() * per_mm).max(1e-9)).min(1.0);
        let up = s.off.1 * per_mm * share;
        above = above.max(area.top - (y - half.max(up).max(8.0)));
        below = below.max(y + half.max(-up).max(8.0) - area.bottom);
    }
    // A place that is far off must not make the sheet endless.
    let most = HIGHEST * width_px;
    (above.min(most), below.min(most))
}

/// So much more room than the ground needs has what is drawn on it, as a share of the sheet's width.
const HIGHEST: f64 = 1.0;

/// Half the height of an ellipse or bar, mm.
fn upright_half(s: &Seen) -> f64 {
    if s.both() {
        TWO * s.sigma.1
    } else {
        ONE * s.sigma.1
    }
}

/// Whether an arrow is longer than it is drawn.
fn is_cut(s: &Seen, per_mm: f64, width_px: f64) -> bool {
    s.length() * per_mm > LONGEST * width_px
}

fn draw(
    subject: &Subject<'_>,
    seen: &[Seen],
    view: View,
    width_px: f64,
    title: &str,
    description: &str,
) -> Result<String, Fault> {
    let known = crate::pictures::scene::Known::default();
    let plain = Subject {
        drawn: None,
        spots: &[],
        known: &known,
        ..*subject
    };
    let scene = Scene::faint(plain, view, width_px);
    let factor = exaggeration(
        seen,
        scene.px_per_mm(),
        TYPICAL * width_px,
        LONGEST * width_px,
    );
    let per_mm = scene.px_per_mm() * factor;
    let (above, below) = beyond(&scene, seen, per_mm, width_px);
    let scene = scene.with_room(above, below);
    let cut: Vec<String> = seen
        .iter()
        .filter(|s| is_cut(s, per_mm, width_px))
        .map(|s| format!("{} {}", s.place, s.figure(s.length())))
        .collect();
    let mut description = format!(
        "{description} Arrows are drawn {} times larger than the cell. Each ellipse takes its two directions \
         each by itself.",
        axis::plain(factor)
    );
    if !cut.is_empty() {
        let more = match cut.len().saturating_sub(CUT_NAMED) {
            0 => String::new(),
            more => format!("; and {more} more"),
        };
        let named = cut[..cut.len().min(CUT_NAMED)].join("; ");
        description.push_str(&format!(" Drawn shorter than they are: {named}{more}."));
    }
    let mut entries = legend(seen, per_mm, width_px);
    entries.extend(of_ground(&scene));
    let rooms = along_arrows(&scene, seen, per_mm, width_px);
    let over = Over {
        key: &entries,
        rooms: &rooms,
    };
    scene.svg_with(title, &description, None, &over, |svg, taken| {
        let mut without = Vec::new();
        svg.group("ellipses", |svg| ellipses(svg, &scene, seen, per_mm));
        svg.group("arrows", |svg| heads(svg, &scene, seen, per_mm, width_px));
        svg.group("suspects", |svg| {
            without = suspects(svg, &scene, seen, taken, (per_mm, width_px));
        });
        scale(svg, &scene, factor);
        without
    })
}

/// What the marks mean, of those that occur.
fn legend(seen: &[Seen], per_mm: f64, width_px: f64) -> Vec<Entry> {
    let any = |is: fn(&Seen) -> bool| seen.iter().any(is);
    let mut all = Vec::new();
    if any(|s| !s.flagged() && !s.check) {
        let words = "arrow: what the result says, less what was read";
        all.push(Entry::new(|svg, at| sample(svg, at, BLUE, 1.3), words));
    }
    if any(Seen::flagged) {
        let words = "red and heavy: off beyond chance";
        all.push(Entry::new(|svg, at| sample(svg, at, LIMIT, 2.0), words));
    }
    if any(|s| s.suspect) {
        let ring: fn(&mut Svg, (f64, f64)) = |svg, at| {
            let mut path = Path::default();
            path.circle(at, 6.0);
            svg.path(&path, &Look::drawn(Pen::new(LIMIT, 1.4)));
        };
        all.push(Entry::new(ring, "ring: named as what does not fit"));
    }
    if any(Seen::outside) {
        let square: fn(&mut Svg, (f64, f64)) = |svg, at| {
            let mut path = Path::default();
            path.rectangle(&Area::around(at, SQUARE_PX, SQUARE_PX));
            svg.path(&path, &Look::drawn(Pen::new(INK, 1.0)));
        };
        let words = "square at the foot: ends outside its ellipse or bar";
        all.push(Entry::new(square, words));
    }
    if any(Seen::both) {
        let words = "ellipse: 95 % of such arrows end in it if all is well";
        let ellipse: fn(&mut Svg, (f64, f64)) = |svg, (x, y)| {
            let rim: Vec<(f64, f64)> = (0..36)
                .map(|k| std::f64::consts::TAU * f64::from(k) / 36.0)
                .map(|t| (x + 10.0 * t.cos(), y + 6.0 * t.sin()))
                .collect();
            let mut path = Path::default();
            path.polyline(&rim, true);
            svg.path(&path, &Look::drawn(Pen::new(GREY, 0.8)));
        };
        all.push(Entry::new(ellipse, words));
    }
    if any(|s| s.checked && !s.both()) {
        let words = match any(Seen::both) {
            true => "bar: the same (95 %) where one direction is checked",
            false => "bar: 95 % of such arrows end within it if all is well",
        };
        let bar: fn(&mut Svg, (f64, f64)) = |svg, (x, y)| {
            let mut path = Path::default();
            path.polyline(&[(x - 10.0, y), (x + 10.0, y)], false);
            for x in [x - 10.0, x + 10.0] {
                path.polyline(&[(x, y - 3.0), (x, y + 3.0)], false);
            }
            svg.path(&path, &Look::drawn(Pen::new(GREY, 0.8)));
        };
        all.push(Entry::new(bar, words));
    }
    if any(|s| !s.checked) {
        let dot: fn(&mut Svg, (f64, f64)) = |svg, at| {
            let mut path = Path::default();
            path.circle(at, 1.6);
            svg.path(&path, &Look::filled(Fill::Plain(BLUE)));
        };
        all.push(Entry::new(dot, "without ellipse or bar: nothing checks it"));
    }
    if any(|s| s.check) {
        let check: fn(&mut Svg, (f64, f64)) = |svg, at| {
            sample(svg, at, INK, 1.3);
            let mut path = Path::default();
            Shape::Hollow.add(&mut path, (at.0 - 10.0, at.1), DIAMOND_PX);
            svg.path(&path, &Shape::Hollow.look(INK));
        };
        let words =
            "diamond at the foot: check reading; its ellipse or bar is what was predicted (95 %)";
        all.push(Entry::new(check, words));
    }
    if seen.iter().any(|s| is_cut(s, per_mm, width_px)) {
        let cut: fn(&mut Svg, (f64, f64)) = |svg, (x, y)| {
            sample(svg, (x, y), INK, 1.3);
            let mut path = Path::default();
            for x in [x - 3.0, x + 1.0] {
                path.polyline(&[(x - 1.5, y + 4.0), (x + 1.5, y - 4.0)], false);
            }
            svg.path(&path, &Look::drawn(Pen::new(INK, 1.3)));
        };
        all.push(Entry::new(cut, "two strokes: longer than drawn"));
    }
    all
}

/// Side of the square at the foot of an arrow that ends outside, px.
const SQUARE_PX: f64 = 8.0;
/// Half of a check reading's diamond, px.
const DIAMOND_PX: f64 = 4.0;

/// An arrow for the key.
fn sample(svg: &mut Svg, (x, y): (f64, f64), ink: Colour, wide: f64) {
    svg.line(
        (x - 10.0, y),
        (x + 10.0, y),
        &Look::drawn(Pen::new(ink, wide)),
    );
    let mut head = Path::default();
    head.polyline(
        &[(x + 4.0, y - 2.3), (x + 10.0, y), (x + 4.0, y + 2.3)],
        true,
    );
    svg.path(&head, &Look::filled(Fill::Plain(ink)));
}

fn ellipses(svg: &mut Svg, scene: &Scene<'_>, seen: &[Seen], per_mm: f64) {
    let mut path = Path::default();
    let mut order: Vec<&Seen> = seen.iter().collect();
    order.sort_by(|a, b| b.share().total_cmp(&a.share()));
    for s in order.iter().take(MOST_ELLIPSES) {
        let (x, y) = scene.flat_to_px(s.at);
        if s.both() {
            let (a, b) = (TWO * s.sigma.0 * per_mm, TWO * s.sigma.1 * per_mm);
            let rim: Vec<(f64, f64)> = (0..36)
                .map(|k| std::f64::consts::TAU * f64::from(k) / 36.0)
                .map(|t| (x + a * t.cos(), y + b * t.sin()))
                .collect();
            path.polyline(&rim, true);
        } else if s.checked {
            let (a, b) = (ONE * s.sigma.0 * per_mm, ONE * s.sigma.1 * per_mm);
            path.polyline(&[(x - a, y - b), (x + a, y + b)], false);
            // Short strokes across its ends.
            let (cx, cy) = if a > b { (0.0, 3.0) } else { (3.0, 0.0) };
            for side in [-1.0, 1.0] {
                let (ex, ey) = (x + side * a, y + side * b);
                path.polyline(&[(ex - cx, ey - cy), (ex + cx, ey + cy)], false);
            }
        }
    }
    svg.path(&path, &Look::drawn(Pen::new(GREY, 0.8)));
}

fn heads(svg: &mut Svg, scene: &Scene<'_>, seen: &[Seen], per_mm: f64, width_px: f64) {
    let (mut squares, mut diamonds) = (Path::default(), Path::default());
    for s in seen {
        let from = scene.flat_to_px(s.at);
        if s.outside() {
            squares.rectangle(&Area::around(from, SQUARE_PX, SQUARE_PX));
        }
        if s.check {
            Shape::Hollow.add(&mut diamonds, from, DIAMOND_PX);
        }
    }
    svg.path(&diamonds, &Shape::Hollow.look(INK));
    // What is flagged is off beyond chance; a check reading took no part.
    for (sort, ink) in [(0, BLUE), (1, LIMIT), (2, INK)] {
        let wanted = sort == 1;
        let (mut shafts, mut points) = (Path::default(), Path::default());
        let of = |s: &&Seen| match (s.check, s.flagged()) {
            (true, _) => sort == 2,
            (_, flagged) => sort == i32::from(flagged),
        };
        for s in seen.iter().filter(of) {
            let from = scene.flat_to_px(s.at);
            let (dx, dy) = (s.off.0 * per_mm, -s.off.1 * per_mm);
            let length = dx.hypot(dy);
            points.circle(from, 1.6);
            if length < 0.8 {
                continue;
            }
            let cut = (LONGEST * width_px / length).min(1.0);
            let (ux, uy) = (dx / length, dy / length);
            let to = (from.0 + cut * dx, from.1 + cut * dy);
            shafts.polyline(&[from, to], false);
            if cut < 1.0 {
                // Longer than drawn: two strokes across.
                for back in [10.0, 14.0] {
                    let (x, y) = (to.0 - back * ux, to.1 - back * uy);
                    shafts.polyline(
                        &[
                            (x - 4.0 * uy - 1.5 * ux, y + 4.0 * ux - 1.5 * uy),
                            (x + 4.0 * uy + 1.5 * ux, y - 4.0 * ux + 1.5 * uy),
                        ],
                        false,
                    );
                }
            }
            let back = (6.0f64).min(0.6 * length * cut);
            let (bx, by) = (to.0 - back * ux, to.1 - back * uy);
            let half = 0.38 * back;
            points.polyline(
                &[
                    (bx - half * uy, by + half * ux),
                    to,
                    (bx + half * uy, by - half * ux),
                ],
                true,
            );
        }
        let wide = if wanted { 2.0 } else { 1.3 };
        svg.path(&shafts, &Look::drawn(Pen::new(ink, wide)));
        svg.path(&points, &Look::filled(Fill::Plain(ink)));
    }
    svg.path(&squares, &Look::drawn(Pen::new(INK, 1.0)));
}

/// Rooms along the arrows that are written beside.
fn along_arrows(scene: &Scene<'_>, seen: &[Seen], per_mm: f64, width_px: f64) -> Vec<Area> {
    let mut rooms = Vec::new();
    // Among very many only those that matter keep letters off.
    let few = seen.len() <= MOST_ELLIPSES;
    for s in seen
        .iter()
        .filter(|s| few || s.flagged() || is_cut(s, per_mm, width_px))
    {
        let from = scene.flat_to_px(s.at);
        rooms.push(Area::around(from, SQUARE_PX, SQUARE_PX));
        // Ellipses may have letters inside, a bar is a line.
        if !s.both() {
            let half = (upright_half(s) * per_mm).min(LONGEST * width_px);
            rooms.push(Area::around(from, 6.0, 2.0 * half));
        }
        let (dx, dy) = (s.off.0 * per_mm, -s.off.1 * per_mm);
        let length = dx.hypot(dy);
        let cut = (LONGEST * width_px / length.max(1e-9)).min(1.0);
        let steps = ((cut * length / 5.0) as usize).clamp(1, 100);
        for k in 0..=steps {
            let t = cut * k as f64 / steps as f64;
            rooms.push(Area::around((from.0 + t * dx, from.1 + t * dy), 6.0, 6.0));
        }
    }
    rooms
}

/// Rings round what does not fit, with its line and size in words; and the whole length of what is cut, by its
/// row. Gives what found no room, in sentences.
fn suspects(
    svg: &mut Svg,
    scene: &Scene<'_>,
    seen: &[Seen],
    taken: &mut Vec<Area>,
    (per_mm, width_px): (f64, f64),
) -> Vec<String> {
    let mut order: Vec<&Seen> = seen.iter().filter(|s| s.suspect).collect();
    order.sort_by(|a, b| b.share().total_cmp(&a.share()));
    let mut rings = Path::default();
    for s in &order {
        rings.circle(scene.flat_to_px(s.at), 7.0);
    }
    svg.path(&rings, &Look::drawn(Pen::new(LIMIT, 1.4)));
    taken.extend(
        order
            .iter()
            .map(|s| Area::around(scene.flat_to_px(s.at), 16.0, 16.0)),
    );
    let mut cut: Vec<&Seen> = seen
        .iter()
        .filter(|s| !s.suspect && is_cut(s, per_mm, width_px))
        .collect();
    cut.sort_by(|a, b| b.length().total_cmp(&a.length()));
    order.extend(cut);
    let mut without = [Vec::new(), Vec::new()];
    for s in order {
        let cut = is_cut(s, per_mm, width_px);
        let Some(words) = s.beside(cut) else { continue };
        let most = (0.55 * scene.area().width()).min(LONGEST_WORDS_PX);
        let lines = text::broken(&words, LETTERS_PX, most);
        let wide = lines
            .iter()
            .map(|l| text::width_of(l, LETTERS_PX))
            .fold(0.0, f64::max);
        let size = (wide + 2.0, LINE_PX * lines.len() as f64);
        let mut at = scene.flat_to_px(s.at);
        let mut mark = Area::around(at, 16.0, 16.0);
        if !s.suspect {
            // A figure alone belongs to the arrow's head.
            let long = LONGEST * width_px / s.length();
            at = (at.0 + long * s.off.0, at.1 - long * s.off.1);
            mark = Area::around(at, 8.0, 8.0);
        }
        let Some(room) = label::beside(&mark, size, &scene.area(), taken) else {
            without[usize::from(!s.suspect)].push(words);
            continue;
        };
        let end = (
            at.0.clamp(room.left, room.right),
            at.1.clamp(room.top, room.bottom),
        );
        let half = mark.width() / 2.0;
        let off = (end.0 - at.0).hypot(end.1 - at.1);
        if off > half + 5.0 {
            let share = half / off;
            let from = (at.0 + share * (end.0 - at.0), at.1 + share * (end.1 - at.1));
            svg.line(from, end, &Look::drawn(Pen::new(LIMIT, 0.7)));
        }
        svg.rectangle(&room, &Look::filled(Fill::Plain(PAPER)).faint(0.85));
        for (k, line) in lines.iter().enumerate() {
            let y = room.top + LINE_PX * k as f64 + 0.95 * LETTERS_PX;
            svg.words(&Words {
                text: line,
                at: (room.left + 1.0, y),
                size_px: LETTERS_PX,
                anchor: Anchor::Start,
                upright: false,
            });
        }
    }
    let [ringed, long] = without;
    [("Ringed", ringed), ("Longer than drawn", long)]
        .into_iter()
        .filter_map(|(what, list)| listed(what, &list))
        .collect()
}

/// What found no room in the drawing, in a sentence below it.
fn listed(what: &str, list: &[String]) -> Option<String> {
    let more = match list.len().saturating_sub(MOST_LISTED) {
        0 => String::new(),
        more => format!("; and {more} more"),
    };
    let named = list[..list.len().min(MOST_LISTED)].join("; ");
    (!list.is_empty()).then(|| format!("{what}: {named}{more}."))
}

/// Longest line beside an arrow, px, and from a line to the next.
const LONGEST_WORDS_PX: f64 = 230.0;
const LINE_PX: f64 = 1.25 * LETTERS_PX;
/// What is listed below of what found no room.
const MOST_LISTED: usize = 12;

/// How long a millimetre of an arrow is.
fn scale(svg: &mut Svg, scene: &Scene<'_>, factor: f64) {
    let per_mm = scene.px_per_mm() * factor;
    let most_mm = 0.2 * scene.area().width() / per_mm;
    let length_mm = round_factor(most_mm);
    let length = length_mm * per_mm;
    let (right, y) = (scene.area().right, scene.size_px().1 - 34.0);
    let mut bar = Path::default();
    bar.polyline(&[(right - length, y), (right, y)], false);
    bar.polyline(
        &[(right - length, y - 4.0), (right - length, y + 4.0)],
        false,
    );
    bar.polyline(&[(right, y - 4.0), (right, y + 4.0)], false);
    svg.path(&bar, &Look::drawn(Pen::new(INK, 1.3)));
    let words = format!(
        "arrows {} times larger: {} mm",
        axis::plain(factor),
        axis::plain(length_mm)
    );
    svg.words(&Words {
        text: &words,
        at: (right - length - 8.0, y + 0.36 * LETTERS_PX),
        size_px: LETTERS_PX,
        anchor: Anchor::End,
        upright: false,
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heavier_arrows_are_not_cut_and_rounding_is_not_spread_out() {
        let one = |length: f64, sigma: f64, suspect: bool| Seen {
            sigma: (sigma, sigma),
            suspect,
            ..Seen::by_hand((length, 0.0), 0.25)
        };
        // Ellipses of 2.448 · 0.2 = 0.49 mm at 1 px/mm, 36 px wanted: 73, rounded down to 50.
        let fine: Vec<Seen> = (0..8).map(|_| one(0.1, 0.2, false)).collect();
        assert_eq!(exaggeration(&fine, 1.0, 36.0, 86.4), 50.0);
        // Five do not fit, of 1, 2, 3, 4 and 40 mm: four of them are to end within 86.4 px: 21.6, so 20.
        let mut slips = fine.clone();
        slips.extend([1.0, 2.0, 3.0, 4.0, 40.0].map(|length| one(length, 0.2, true)));
        assert_eq!(exaggeration(&slips, 1.0, 36.0, 86.4), 20.0);
        let cut: Vec<f64> = slips
            .iter()
            .filter(|s| is_cut(s, 20.0, 720.0))
            .map(Seen::length)
            .collect();
        assert_eq!(cut, [40.0]);
        // Nothing checks these: u of 0.25 mm is what they are drawn by, 144, so 100.
        let unchecked: Vec<Seen> = (0..8).map(|_| one(1e-13, 0.0, false)).collect();
        assert_eq!(exaggeration(&unchecked, 1.0, 36.0, 86.4), 100.0);
    }
}
