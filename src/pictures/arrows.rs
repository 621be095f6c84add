//! Residuals of touches, counts and heights where they were taken: arrows on plan and elevation, each with
//! the ellipse that holds 95 of 100 such arrows, exaggerated by a stated factor.

use crate::bench::Bench;
use crate::drawing::Fault;
use crate::drawing::axis;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::GREY;
use crate::drawing::ink::INK;
use crate::drawing::ink::LIMIT;
use crate::drawing::label;
use crate::drawing::path::Path;
use crate::drawing::svg::Fill;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::svg::Svg;
use crate::drawing::svg::Words;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;
use crate::pictures::Picture;
use crate::pictures::scene::Scene;
use crate::pictures::scene::Subject;
use crate::pictures::scene::View;
use crate::registration::Document;
use crate::report::number;

/// Radius of the 95 % ellipse of two normal errors in units of their standard deviation: √5.991 (the 95 %
/// point of chi square with two degrees of freedom is −2 ln 0.05).
const TWO: f64 = 2.447_746_830_680_816;
/// The same of one error.
const ONE: f64 = 1.959_963_984_540_054;
/// A typical arrow or ellipse is about so long on paper, as a share of the sheet's width.
const TYPICAL: f64 = 0.05;
/// An arrow is cut where it is longer than this share of the sheet's width.
const LONGEST: f64 = 0.12;
/// Ellipses that are drawn; more would hide each other.
const MOST_ELLIPSES: usize = 120;
const LETTERS_PX: f64 = 11.0;

/// One reading's residuals as a view shows them.
#[derive(Debug, Clone)]
struct Seen {
    place: String,
    /// Where, mm in the view.
    at: (f64, f64),
    /// Its residual, mm in the view.
    off: (f64, f64),
    /// Standard deviation that the residual has along the view's two directions, mm; 0: not read.
    sigma: (f64, f64),
    /// Named as what does not fit.
    suspect: bool,
    /// Does not fit either, but others explain it.
    pulled: bool,
}

impl Seen {
    fn length(&self) -> f64 {
        self.off.0.hypot(self.off.1)
    }
    fn both(&self) -> bool {
        self.sigma.0 > 0.0 && self.sigma.1 > 0.0
    }
    /// How far out, in units of the ellipse or bar: up to 1 is inside.
    fn share(&self) -> f64 {
        let part = |off: f64, sigma: f64| if sigma > 0.0 { off / sigma } else { 0.0 };
        let size = part(self.off.0, self.sigma.0).hypot(part(self.off.1, self.sigma.1));
        size / if self.both() { TWO } else { ONE }
    }
}

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
    let (slug, heading) = match view {
        View::Plan => (
            "residuals-plan",
            "What touches and counts are off by, from above",
        ),
        View::Elevation => (
            "residuals-elevation",
            "What heights and touches are off by, from the front",
        ),
    };
    let sentence = sentence(&seen, view);
    let picture = Picture::new(slug, heading, &sentence, |width| {
        draw(subject, &seen, view, width, heading, &sentence)
    })?;
    Ok(Some(picture))
}

fn seen(subject: &Subject<'_>, bench: &Bench, document: &Document, view: View) -> Vec<Seen> {
    let mut all: Vec<Seen> = Vec::new();
    let mut rows = document.readings.iter().peekable();
    while let Some(first) = rows.next() {
        let mut of_row = vec![first];
        while let Some(next) = rows.next_if(|r| r.file == first.file && r.line == first.line) {
            of_row.push(next);
        }
        let taken = bench
            .taken
            .iter()
            .find(|t| *t.file == *first.file && t.line == first.line);
        let Some(taken) = taken else { continue };
        let mut one: Option<Seen> = None;
        for (k, r) in of_row.iter().enumerate() {
            let Some((place, direction)) = taken.reading.seen_at(subject.found, k) else {
                continue;
            };
            let (u, v) = view.flat(&direction);
            // The elevation shows heights only: what lies across is in the plan.
            if u.hypot(v) < 0.5 || view == View::Elevation && v.abs() < 0.5 {
                continue;
            }
            let one = one.get_or_insert_with(|| Seen {
                place: format!("{} line {}", short(&r.file), r.line),
                at: view.flat(&place),
                off: (0.0, 0.0),
                sigma: (0.0, 0.0),
                suspect: false,
                pulled: false,
            });
            let sigma = r.u * r.redundancy.max(0.0).sqrt();
            one.off.0 += r.residual * u;
            one.off.1 += r.residual * v;
            one.sigma.0 = one.sigma.0.hypot(sigma * u);
            one.sigma.1 = one.sigma.1.hypot(sigma * v);
            let named = named(document, &r.file, r.line);
            one.suspect |= r.suspect && named;
            one.pulled |= r.suspect && !named;
        }
        all.extend(one);
    }
    all
}

/// Whether a row is among those that the search for suspects named; all are where it named none.
fn named(document: &Document, file: &str, line: usize) -> bool {
    let of_rows = document.suspects.iter().filter(|s| s.line.is_some());
    let mut rows = of_rows.map(|s| (s.file.as_str(), s.line)).peekable();
    rows.peek().is_none() || rows.any(|row| row == (file, Some(line)))
}

/// A file's name without its folder.
fn short(file: &str) -> &str {
    file.rsplit('/').next().unwrap_or(file)
}

fn millimetres(mm: f64, sigma: f64) -> String {
    let decimals = number::decimals_for(sigma).min(2);
    format!("{} mm", number::fixed(mm, decimals))
}

fn sentence(seen: &[Seen], view: View) -> String {
    let outside = seen.iter().filter(|s| s.share() > 1.0).count();
    let suspects: Vec<&Seen> = seen.iter().filter(|s| s.suspect).collect();
    let worst = seen.iter().max_by(|a, b| a.length().total_cmp(&b.length()));
    let largest = worst.map_or(String::new(), |w| {
        format!(
            " The largest is {} at {}.",
            millimetres(w.length(), w.sigma.0.max(w.sigma.1)),
            w.place
        )
    });
    let what = match (view, seen.len()) {
        (View::Plan, 1) => "arrow",
        (View::Plan, _) => "arrows",
        (View::Elevation, 1) => "height",
        (View::Elevation, _) => "heights",
    };
    let usual = match outside {
        0 => "all end inside their ellipse or bar".to_owned(),
        1 => "one ends outside its ellipse or bar; about 1 in 20 does so by chance".to_owned(),
        n => format!("{n} end outside their ellipse or bar; about 1 in 20 does so by chance"),
    };
    let stands_out = match suspects.len() {
        0 => String::new(),
        1 => format!("One reading does not fit: {}. ", suspects[0].place),
        n => format!(
            "{n} readings do not fit (ringed): {}{}. ",
            suspects
                .iter()
                .take(4)
                .map(|s| s.place.as_str())
                .collect::<Vec<_>>()
                .join(", "),
            if n > 4 { " and more" } else { "" }
        ),
    };
    let pulled = match seen.iter().filter(|s| s.pulled).count() {
        0 => String::new(),
        1 => "1 more is off beyond chance and may be pulled along. ".to_owned(),
        n => format!("{n} more are off beyond chance and may be pulled along. "),
    };
    format!(
        "{stands_out}{pulled}Of {} {what} {usual}.{largest}",
        seen.len()
    )
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

/// How many times larger than the cell the arrows are drawn.
fn exaggeration(seen: &[Seen], px_per_mm: f64, typical_px: f64) -> f64 {
    let mut sizes: Vec<f64> = seen
        .iter()
        .map(|s| {
            s.length()
                .min(3.0 * TWO * s.sigma.0.max(s.sigma.1))
                .max(TWO * s.sigma.0.max(s.sigma.1))
        })
        .filter(|l| *l > 0.0)
        .collect();
    sizes.sort_by(f64::total_cmp);
    let typical = sizes.get(sizes.len() * 3 / 4).copied().unwrap_or(1.0);
    round_factor(typical_px / (typical * px_per_mm)).max(1.0)
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
    let factor = exaggeration(seen, scene.px_per_mm(), TYPICAL * width_px);
    let description = format!(
        "{description} Arrows are drawn {} times larger than the cell.",
        axis::plain(factor)
    );
    scene.svg_with(title, &description, None, |svg, taken| {
        let per_mm = scene.px_per_mm() * factor;
        svg.group("ellipses", |svg| ellipses(svg, &scene, seen, per_mm));
        svg.group("arrows", |svg| heads(svg, &scene, seen, per_mm, width_px));
        taken.extend(along_arrows(&scene, seen, per_mm, width_px));
        svg.group("suspects", |svg| suspects(svg, &scene, seen, taken));
        key(svg, &scene, factor);
    })
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
        } else {
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
    for (wanted, ink) in [(false, BLUE), (true, LIMIT)] {
        let (mut shafts, mut points) = (Path::default(), Path::default());
        for s in seen.iter().filter(|s| (s.suspect || s.pulled) == wanted) {
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
}

/// Rooms along the arrows that are written beside.
fn along_arrows(scene: &Scene<'_>, seen: &[Seen], per_mm: f64, width_px: f64) -> Vec<Area> {
    let mut rooms = Vec::new();
    for s in seen.iter().filter(|s| s.suspect || s.pulled) {
        let from = scene.flat_to_px(s.at);
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

/// Rings round what does not fit, with its line and size in words.
fn suspects(svg: &mut Svg, scene: &Scene<'_>, seen: &[Seen], taken: &mut Vec<Area>) {
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
    for s in order.iter().take(12) {
        let words = format!(
            "{}: {}",
            s.place,
            millimetres(s.length(), s.sigma.0.max(s.sigma.1))
        );
        let size = (text::width_of(&words, LETTERS_PX), 1.17 * LETTERS_PX);
        let mark = Area::around(scene.flat_to_px(s.at), 16.0, 16.0);
        let Some(room) = label::beside(&mark, size, &scene.area(), taken) else {
            continue;
        };
        svg.words(&Words {
            text: &words,
            at: (room.left, room.top + 0.93 * LETTERS_PX),
            size_px: LETTERS_PX,
            anchor: Anchor::Start,
            upright: false,
        });
    }
}

/// How long a millimetre of an arrow is.
fn key(svg: &mut Svg, scene: &Scene<'_>, factor: f64) {
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
