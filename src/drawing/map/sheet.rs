//! Where everything lies on the sheet: plot, key, axes, notes.

use crate::drawing::axis;
use crate::drawing::axis::Linear;
use crate::drawing::axis::Ticks;
use crate::drawing::ink::GREY;
use crate::drawing::ink::GROUND;
use crate::drawing::ink::INK;
use crate::drawing::ink::PAPER;
use crate::drawing::map::AxisOf;
use crate::drawing::map::MapPicture;
use crate::drawing::map::Room;
use crate::drawing::map::field::Field;
use crate::drawing::map::frame;
use crate::drawing::map::key;
use crate::drawing::scale::Bands;
use crate::drawing::svg::Fill;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::svg::Svg;
use crate::drawing::svg::Words;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;

/// From the sheet's edge to what is drawn.
pub const MARGIN: f64 = 26.0;
pub const TITLE_SIZE: f64 = 17.0;
pub const LABEL_SIZE: f64 = 12.5;
pub const SMALL_SIZE: f64 = 11.0;
/// From the plot to the line that carries ticks.
pub const AXIS_OFF: f64 = 11.0;
/// From that line to the tick's figures.
pub const TICK_ROOM: f64 = 8.0;
/// Between the edge of the plot and the outermost value.
pub const PAD: f64 = 15.0;
/// The plot's extent along an axis with one node is at most this, and that of the strip inside it.
const STRIP_PLOT: (f64, f64) = (380.0, 120.0);
pub const STRIP: f64 = 44.0;
const KEY_WIDTH: f64 = 168.0;
const TELEPHONE: f64 = 360.0;
const LINE_HEIGHT: f64 = 15.5;
/// Share of the nodes' span by which limits and marks may lie outside and still be shown.
const NEAR: f64 = 0.15;

/// One axis on paper.
#[derive(Debug, Clone)]
pub struct Span {
    pub scale: Linear,
    pub low: f64,
    pub high: f64,
    pub ticks: Ticks,
    /// One node: a strip.
    pub single: bool,
}

impl Span {
    /// Whether a value is in view.
    pub fn shows(&self, value: f64) -> bool {
        let slack = 1e-9 * (self.high - self.low);
        (self.low - slack..=self.high + slack).contains(&value)
    }
}

/// The sheet's parts.
#[derive(Debug)]
pub struct Sheet {
    pub plot: Area,
    pub x: Span,
    pub y: Span,
    pub key: Area,
    /// Rooms in the plot that are taken by marks and texts.
    pub taken: Vec<Area>,
    width: f64,
    title_width: f64,
    notes_top: f64,
    notes_width: f64,
    notes: Vec<String>,
}

/// Size of a plot with two axes, px: what is left of the sheet beside key, figures and labels.
fn plot_px(room: Room) -> (f64, f64) {
    match room {
        Room::Sheet => (610.0, 440.0),
        Room::Page => (352.0, 320.0),
        Room::Telephone => (188.0, 230.0),
    }
}

/// Lowest and highest value in view.
fn view(axis: &AxisOf, limits: Option<(f64, f64)>, marks: impl Iterator<Item = f64>) -> (f64, f64) {
    let low = axis.nodes.iter().copied().fold(f64::INFINITY, f64::min);
    let high = axis.nodes.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let room = NEAR * (high - low);
    let others = limits.into_iter().flat_map(|(a, b)| [a, b]).chain(marks);
    others
        .filter(|v| (low - room..=high + room).contains(v))
        .fold((low, high), |(l, h), v| (l.min(v), h.max(v)))
}

/// Ticks whose figures have room beside one another.
fn ticks(view: (f64, f64), length_px: f64) -> Ticks {
    let mut most = (length_px / 58.0) as usize;
    loop {
        let ticks = axis::ticks(view.0, view.1, most);
        let figures = ticks.values.iter().map(|v| ticks.label(*v));
        let widest = figures.fold(0.0, |w, t| f64::max(w, text::width_of(&t, SMALL_SIZE)));
        let apart = length_px * ticks.step / (view.1 - view.0);
        if ticks.values.len() < 2 || apart >= widest + 8.0 || most <= 1 {
            return ticks;
        }
        most -= 1;
    }
}

impl Sheet {
    pub fn new(picture: &MapPicture, field: &Field, bands: Option<&Bands>) -> Sheet {
        let (single_x, single_y) = (field.x.len() == 1, field.y.len() == 1);
        let level = |upright: bool| {
            let level = picture.level.filter(|l| l.upright == upright);
            level.map(|l| l.at).into_iter()
        };
        let view_x = view(
            &picture.x,
            picture.limits_x,
            picture.marks.iter().map(|m| m.x).chain(level(true)),
        );
        let view_y = view(
            &picture.y,
            picture.limits_y,
            picture.marks.iter().map(|m| m.y).chain(level(false)),
        );
        let room = plot_px(picture.room);
        let width = if single_x {
            STRIP_PLOT.0.min(room.0)
        } else {
            room.0
        };
        let height = if single_y { STRIP_PLOT.1 } else { room.1 };
        let ticks_x = ticks(view_x, width - 2.0 * PAD);
        let ticks_y = axis::ticks(view_y.0, view_y.1, (height / 42.0) as usize);
        let figures = ticks_y.values.iter().map(|v| ticks_y.label(*v));
        let widest = figures.fold(0.0, |w, t| f64::max(w, text::width_of(&t, SMALL_SIZE)));
        let left = match picture.y.label.is_empty() {
            // No axis stands there.
            true => MARGIN + AXIS_OFF,
            false => MARGIN + 1.7 * LABEL_SIZE + widest + TICK_ROOM + AXIS_OFF,
        };
        let top = MARGIN + TITLE_SIZE + 38.0;
        let plot = Area::new(left, top, width, height);
        let span = |view: (f64, f64), ticks, start, end, single| Span {
            scale: Linear::new(view.0, view.1, start, end),
            low: view.0,
            high: view.1,
            ticks,
            single,
        };
        let inner = plot.grown(-PAD);
        let x = span(view_x, ticks_x, inner.left, inner.right, single_x);
        let y = span(view_y, ticks_y, inner.bottom, inner.top, single_y);
        // Two labels may stand as one, side by side.
        let limits = frame::labels(picture.limits_y, &y);
        let limits: String = limits.into_iter().map(|(_, label)| label).collect();
        let beside = text::width_of(&limits, SMALL_SIZE).max(20.0);
        let below = plot.bottom + AXIS_OFF + TICK_ROOM + SMALL_SIZE + 2.2 * LABEL_SIZE + 14.0;
        let key_height = key::height(picture, bands);
        let (key, width, notes) = match picture.room {
            Room::Telephone => {
                let key = Area::new(MARGIN, below - 8.0, KEY_WIDTH, key_height);
                let width = (plot.right + beside + 12.0).max(TELEPHONE);
                let notes = (key.bottom + 26.0, width - 2.0 * MARGIN);
                (key, width, notes)
            }
            Room::Sheet | Room::Page => {
                let key_left = (plot.right + beside + 30.0).max(left + 330.0);
                let key = Area::new(key_left, top, KEY_WIDTH, key_height);
                (key, key.right + MARGIN, (below, key_left - MARGIN - 30.0))
            }
        };
        Sheet {
            plot,
            x,
            y,
            key,
            taken: Vec::new(),
            width,
            title_width: width - 2.0 * MARGIN,
            notes_top: notes.0,
            notes_width: notes.1,
            notes: picture.caption.to_vec(),
        }
    }

    /// Where a place of the map lies.
    pub fn at(&self, x: f64, y: f64) -> (f64, f64) {
        (self.x.scale.at(x), self.y.scale.at(y))
    }

    /// One more sentence below the picture.
    pub fn note(&mut self, sentence: String) {
        self.notes.push(sentence);
    }

    fn note_lines(&self) -> Vec<String> {
        let wrapped = |note: &String| {
            let lines = text::wrap(note, SMALL_SIZE, self.notes_width);
            if lines.is_empty() {
                vec![String::new()]
            } else {
                lines
            }
        };
        self.notes.iter().flat_map(wrapped).collect()
    }

    /// The empty sheet with its border and title.
    pub fn start(&self, picture: &MapPicture, description: &str) -> Svg {
        let lines = self.note_lines().len() as f64;
        let height = (self.notes_top + lines * LINE_HEIGHT).max(self.key.bottom) + MARGIN;
        let mut svg = Svg::new((self.width, height), PAPER, INK, picture.title, description);
        svg.hatch(GROUND, Pen::new(GREY, 0.8), 5.0);
        let border = Area::new(0.0, 0.0, self.width, height).grown(-7.0);
        svg.rectangle(&border, &Look::drawn(Pen::new(INK, 0.6)));
        svg.words(&Words {
            text: &text::cut_to(picture.title, TITLE_SIZE, self.title_width),
            at: (MARGIN, MARGIN + TITLE_SIZE - 2.0),
            size_px: TITLE_SIZE,
            anchor: Anchor::Start,
            upright: false,
        });
        svg.rectangle(&self.plot, &Look::filled(Fill::Plain(PAPER)));
        svg
    }

    /// Caption and notes, under a thin rule.
    pub fn write_notes(&self, svg: &mut Svg) {
        let lines = self.note_lines();
        if lines.is_empty() {
            return;
        }
        let rule = self.notes_top - 12.0;
        svg.line(
            (MARGIN, rule),
            (MARGIN + self.notes_width, rule),
            &Look::drawn(Pen::new(GREY, 0.5)),
        );
        for (k, line) in lines.iter().enumerate() {
            svg.words(&Words {
                text: line,
                at: (MARGIN, self.notes_top + (k as f64 + 0.6) * LINE_HEIGHT),
                size_px: SMALL_SIZE,
                anchor: Anchor::Start,
                upright: false,
            });
        }
    }
}
