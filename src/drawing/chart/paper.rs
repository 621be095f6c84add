//! The sheet of a chart: it grows downward while it is drawn on, and keys and notes flow in lines.

use crate::drawing::Fault;
use crate::drawing::axis;
use crate::drawing::axis::Linear;
use crate::drawing::axis::Ticks;
use crate::drawing::chart::marks::Shape;
use crate::drawing::ink::GREY;
use crate::drawing::ink::GROUND;
use crate::drawing::ink::INK;
use crate::drawing::ink::PAPER;
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

/// From the sheet's edge to what is drawn.
pub const EDGE: f64 = 12.0;
/// Size of labels.
pub const LABEL: f64 = 12.5;
/// Size of figures and notes.
pub const SMALL: f64 = 11.0;
/// From one line of text to the next.
pub const LINE: f64 = 15.5;
/// From a plot to the line that carries ticks.
pub const AXIS_OFF: f64 = 9.0;
/// From that line to the ticks' figures.
pub const TICK_ROOM: f64 = 7.0;
/// Half of an oblique tick, across and up.
const TICK: f64 = 3.5;

/// Lines of an axis and of dimensions.
pub const THIN: Pen = Pen::new(INK, 0.6);
/// Oblique ticks.
pub const STROKE: Pen = Pen::new(INK, 1.3);
/// Extension lines.
pub const BACK: Pen = Pen::new(GREY, 0.5);

#[derive(Debug)]
enum Piece {
    Line((f64, f64), (f64, f64), Look),
    Path(Path, Look),
    Rectangle(Area, Look),
    Text {
        text: String,
        at: (f64, f64),
        size: f64,
        anchor: Anchor,
        upright: bool,
    },
}

/// What stands before words in a key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sample {
    /// A mark.
    Mark(Shape, Colour),
    /// A ring round a mark.
    Ring(Colour),
    /// A line.
    Line(Pen),
    /// A small bar.
    Bar(Fill),
    /// An upright bar with feet, for what is usual.
    Bracket,
    /// A dimension line.
    Dimension,
}

/// A sheet that is being drawn on.
#[derive(Debug)]
pub struct Paper {
    /// Of the sheet, px.
    pub width: f64,
    /// How far down it is used.
    pub y: f64,
    pieces: Vec<Piece>,
    /// Rooms of texts.
    pub taken: Vec<Area>,
}

impl Paper {
    pub fn new(width: f64) -> Paper {
        Paper {
            width,
            y: EDGE,
            pieces: Vec::new(),
            taken: Vec::new(),
        }
    }

    /// Whether it is for a small screen.
    pub fn narrow(&self) -> bool {
        self.width < 520.0
    }

    /// Between the edges.
    pub fn inner(&self) -> f64 {
        self.width - 2.0 * EDGE
    }

    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), pen: Pen) {
        self.pieces.push(Piece::Line(from, to, Look::drawn(pen)));
    }

    pub fn path(&mut self, path: &Path, look: &Look) {
        self.pieces.push(Piece::Path(path.clone(), *look));
    }

    pub fn rectangle(&mut self, area: &Area, look: &Look) {
        self.pieces.push(Piece::Rectangle(*area, *look));
    }

    pub fn words(&mut self, text: &str, at: (f64, f64), size: f64, anchor: Anchor) {
        self.put(text, at, size, anchor, false);
    }

    /// Reads from below to above.
    pub fn upright(&mut self, text: &str, at: (f64, f64), size: f64, anchor: Anchor) {
        self.put(text, at, size, anchor, true);
    }

    fn put(&mut self, text: &str, at: (f64, f64), size: f64, anchor: Anchor, upright: bool) {
        if text.trim().is_empty() {
            return;
        }
        self.taken
            .push(text::area_of(text, size, at, anchor, upright));
        self.pieces.push(Piece::Text {
            text: text.to_owned(),
            at,
            size,
            anchor,
            upright,
        });
    }

    /// An oblique tick of a dimension line.
    pub fn tick(&mut self, at: (f64, f64)) {
        let (x, y) = at;
        self.line((x - TICK, y + TICK), (x + TICK, y - TICK), STROKE);
    }

    /// A dimension line with oblique ticks at its ends.
    pub fn dimension(&mut self, from: (f64, f64), to: (f64, f64)) {
        self.line(from, to, THIN);
        self.tick(from);
        self.tick(to);
    }

    /// Text in lines from the left edge, below what is there.
    pub fn paragraph(&mut self, text: &str, size: f64) {
        for line in text::broken(text, size, self.inner()) {
            let y = self.y + size;
            self.words(&line, (EDGE, y), size, Anchor::Start);
            self.y += LINE * size / SMALL;
        }
    }

    /// Sentences under a thin rule; nothing where there are none.
    pub fn notes(&mut self, notes: &[String]) {
        if notes.iter().all(|n| n.trim().is_empty()) {
            return;
        }
        self.y += 6.0;
        self.line((EDGE, self.y), (self.width - EDGE, self.y), BACK);
        self.y += 6.0;
        for note in notes {
            self.paragraph(note, SMALL);
        }
    }

    /// Samples with their words, side by side as far as there is room.
    pub fn key(&mut self, entries: &[(Sample, String)]) {
        const SAMPLE: f64 = 24.0;
        const APART: f64 = 18.0;
        let mut x = EDGE;
        let mut any = false;
        for (sample, words) in entries {
            let lines = text::broken(words, SMALL, self.inner() - SAMPLE);
            let wide = lines
                .iter()
                .map(|l| text::width_of(l, SMALL))
                .fold(0.0, f64::max);
            if any && x + SAMPLE + wide > self.width - EDGE {
                x = EDGE;
                self.y += LINE + 2.0;
            }
            let middle = (x + 9.0, self.y + LINE / 2.0);
            self.sample(*sample, middle);
            for (k, line) in lines.iter().enumerate() {
                if k > 0 {
                    self.y += LINE;
                }
                let y = self.y + LINE / 2.0 + text::MIDDLE * SMALL;
                self.words(line, (x + SAMPLE, y), SMALL, Anchor::Start);
            }
            x = match lines.len() {
                1 => x + SAMPLE + wide + APART,
                _ => self.width,
            };
            any = true;
        }
        if any {
            self.y += LINE + 2.0;
        }
    }

    fn sample(&mut self, sample: Sample, at: (f64, f64)) {
        let (x, y) = at;
        match sample {
            Sample::Mark(shape, ink) => {
                let mut path = Path::default();
                shape.add(&mut path, at, 4.2);
                self.path(&path, &shape.look(ink));
            }
            Sample::Ring(ink) => {
                let mut path = Path::default();
                path.circle(at, 6.0);
                self.path(&path, &Look::drawn(Pen::new(ink, 1.5)));
            }
            Sample::Line(pen) => self.line((x - 9.0, y), (x + 9.0, y), pen),
            Sample::Bar(fill) => self.rectangle(
                &Area::around(at, 18.0, 8.0),
                &Look::filled(fill).with_pen(Pen::new(INK, 0.7)),
            ),
            Sample::Bracket => self.bracket(x, (y - 6.0, y + 6.0), INK),
            Sample::Dimension => self.dimension((x - 6.0, y), (x + 6.0, y)),
        }
    }

    /// An upright bar with feet.
    pub fn bracket(&mut self, x: f64, (top, bottom): (f64, f64), ink: Colour) {
        let pen = Pen::new(ink, 1.0);
        self.line((x, top), (x, bottom), pen);
        for y in [top, bottom] {
            self.line((x - 3.5, y), (x + 3.5, y), pen);
        }
    }

    /// An axis along the bottom of a plot, with its figures and its label; `self.y` goes below.
    pub fn axis_below(
        &mut self,
        scale: &Linear,
        ticks: &Ticks,
        ends: (f64, f64),
        bottom: f64,
        label: &str,
    ) {
        let marks: Vec<(f64, String)> = ticks
            .values
            .iter()
            .map(|v| (scale.at(*v), ticks.label(*v)))
            .collect();
        self.marks_below(&marks, ends, bottom, label);
    }

    /// The same, with ticks at given places.
    pub fn marks_below(
        &mut self,
        marks: &[(f64, String)],
        ends: (f64, f64),
        bottom: f64,
        label: &str,
    ) {
        let y = bottom + AXIS_OFF;
        self.line((ends.0, y), (ends.1, y), THIN);
        for (x, figures) in marks {
            let x = *x;
            self.line((x, bottom + 2.0), (x, y + 3.0), BACK);
            self.tick((x, y));
            let half = text::width_of(figures, SMALL) / 2.0;
            // Figures at the ends stay on the sheet.
            let middle = x.min(self.width - EDGE - half).max(EDGE + half);
            let at = (middle, y + TICK_ROOM + SMALL - 1.0);
            self.words(figures, at, SMALL, Anchor::Middle);
        }
        self.y = y + TICK_ROOM + SMALL + 4.0;
        let middle = (ends.0 + ends.1) / 2.0;
        for line in text::broken(label, LABEL, self.inner()) {
            let half = text::width_of(&line, LABEL) / 2.0;
            let x = middle.min(self.width - EDGE - half).max(EDGE + half);
            self.words(&line, (x, self.y + LABEL), LABEL, Anchor::Middle);
            self.y += LINE + 1.5;
        }
        self.y += 6.0;
    }

    /// An axis along the left side of a plot.
    pub fn axis_left(&mut self, scale: &Linear, ticks: &Ticks, ends: (f64, f64), left: f64) {
        let x = left - AXIS_OFF;
        self.line((x, ends.0), (x, ends.1), THIN);
        for value in &ticks.values {
            let y = scale.at(*value);
            self.line((left - 2.0, y), (x - 3.0, y), BACK);
            self.tick((x, y));
            let at = (x - TICK_ROOM, y + text::MIDDLE * SMALL);
            self.words(&ticks.label(*value), at, SMALL, Anchor::End);
        }
    }

    /// Writes it down.
    pub fn finish(self, title: &str, description: &str) -> Result<String, Fault> {
        let size = (self.width, (self.y + EDGE).ceil());
        let mut svg = Svg::new(size, PAPER, INK, title, description);
        let hatched = self.pieces.iter().any(|p| match p {
            Piece::Path(_, look) | Piece::Rectangle(_, look) => look.fill == Fill::Hatch,
            _ => false,
        });
        if hatched {
            svg.hatch(GROUND, Pen::new(GREY, 0.8), 5.0);
        }
        for piece in &self.pieces {
            match piece {
                Piece::Line(from, to, look) => svg.line(*from, *to, look),
                Piece::Path(path, look) => svg.path(path, look),
                Piece::Rectangle(area, look) => svg.rectangle(area, look),
                Piece::Text {
                    text,
                    at,
                    size,
                    anchor,
                    upright,
                } => svg.words(&Words {
                    text,
                    at: *at,
                    size_px: *size,
                    anchor: *anchor,
                    upright: *upright,
                }),
            }
        }
        svg.finish()
    }
}

/// Width that the figures of an axis take.
pub fn widest(ticks: &Ticks) -> f64 {
    let figures = ticks.values.iter().map(|v| ticks.label(*v));
    figures.fold(0.0, |w, t| f64::max(w, text::width_of(&t, SMALL)))
}

/// Ticks whose figures have room beside one another.
pub fn ticks_along(view: (f64, f64), length_px: f64) -> Ticks {
    let mut most = ((length_px / 52.0) as usize).max(1);
    loop {
        let ticks = axis::ticks(view.0, view.1, most);
        let apart = length_px * ticks.step / (view.1 - view.0);
        if ticks.values.len() < 2 || apart >= widest(&ticks) + 8.0 {
            return ticks;
        }
        if most == 1 {
            // Not even two have room: the first one alone.
            return Ticks {
                values: ticks.values[..1].to_vec(),
                ..ticks
            };
        }
        most -= 1;
    }
}
