//! A key below a scene: what each sort of mark that occurs in it means.

use crate::drawing::svg::Svg;
use crate::drawing::svg::Words;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::pictures::scene::LETTERS_PX;

/// Room of a sample, with what parts it from its words, px.
const SAMPLE_PX: f64 = 30.0;
/// Between an entry and the next in its line, px.
const APART_PX: f64 = 16.0;
/// From a line to the next, px.
const LINE_PX: f64 = 16.0;
/// From the sheet's edge, px.
const EDGE_PX: f64 = 14.0;
/// Free above the key, px.
const ABOVE_PX: f64 = 4.0;

/// A mark and its words. The sample is drawn about its middle, at most 24 px wide and 14 px high.
#[derive(Clone)]
pub struct Entry {
    /// Draws the mark.
    pub sample: fn(&mut Svg, (f64, f64)),
    /// What it means.
    pub words: String,
}

impl Entry {
    /// An entry.
    pub fn new(sample: fn(&mut Svg, (f64, f64)), words: impl Into<String>) -> Entry {
        Entry {
            sample,
            words: words.into(),
        }
    }
}

/// Where an entry stands: its place from the left and of its first line, and its lines.
struct Placed<'a> {
    entry: &'a Entry,
    x: f64,
    line: usize,
    lines: Vec<String>,
}

/// Entries beside each other as far as a sheet of this width has room; how many lines they take.
fn placed(entries: &[Entry], width_px: f64) -> (Vec<Placed<'_>>, usize) {
    let (mut x, mut line) = (EDGE_PX, 0);
    let mut all = Vec::new();
    for entry in entries {
        let most = width_px - 2.0 * EDGE_PX - SAMPLE_PX;
        let lines = text::broken(&entry.words, LETTERS_PX, most);
        let wide = lines
            .iter()
            .map(|l| text::width_of(l, LETTERS_PX))
            .fold(0.0, f64::max);
        if x > EDGE_PX && x + SAMPLE_PX + wide > width_px - EDGE_PX {
            (x, line) = (EDGE_PX, line + 1);
        }
        let count = lines.len().max(1);
        all.push(Placed {
            entry,
            x,
            line,
            lines,
        });
        match count {
            1 => x += SAMPLE_PX + wide + APART_PX,
            // Nothing stands beside an entry of several lines.
            _ => (x, line) = (EDGE_PX, line + count),
        }
    }
    let lines = if x > EDGE_PX { line + 1 } else { line };
    (all, lines)
}

/// How much longer a key makes a sheet, px.
pub fn height_px(entries: &[Entry], width_px: f64) -> f64 {
    match placed(entries, width_px).1 {
        0 => 0.0,
        lines => ABOVE_PX + LINE_PX * (lines as f64 + 0.5),
    }
}

/// Draws it below `top`.
pub fn draw(svg: &mut Svg, entries: &[Entry], width_px: f64, top: f64) {
    for one in placed(entries, width_px).0 {
        let middle = |line: usize| top + ABOVE_PX + LINE_PX * (line as f64 + 0.5);
        (one.entry.sample)(svg, (one.x + SAMPLE_PX / 2.0 - 3.0, middle(one.line)));
        for (k, words) in one.lines.iter().enumerate() {
            svg.words(&Words {
                text: words,
                at: (
                    one.x + SAMPLE_PX,
                    middle(one.line + k) + text::MIDDLE * LETTERS_PX,
                ),
                size_px: LETTERS_PX,
                anchor: Anchor::Start,
                upright: false,
            });
        }
    }
}
