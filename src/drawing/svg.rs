//! A small writer of SVG text (SVG 1.1, the part that every viewer knows).
//!
//! Elements are opened and closed here, so that tags always balance; texts and attributes are
//! escaped; a number that is not finite spoils the whole picture, which is then not handed out.

use crate::drawing::Fault;
use crate::drawing::path::Path;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;

/// Largest coordinate that is written, in px.
pub(super) const LARGEST_PX: f64 = 1e6;

/// sRGB, 8 bits each.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Colour(pub [u8; 3]);

/// What an area is filled with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fill {
    Nothing,
    Plain(Colour),
    /// Slanting lines, for what must be told without colour.
    Hatch,
}

/// A drawn line; no dash where `dash_px` is 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pen {
    pub colour: Colour,
    pub width_px: f64,
    pub dash_px: f64,
}

impl Pen {
    pub const fn new(colour: Colour, width_px: f64) -> Pen {
        Pen {
            colour,
            width_px,
            dash_px: 0.0,
        }
    }
}

/// How a shape looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    pub fill: Fill,
    pub pen: Option<Pen>,
    /// From 0 (not seen) to 1.
    pub opacity: f64,
    /// Edges on whole pixels, so that areas that touch leave no seam.
    pub crisp: bool,
}

impl Look {
    pub const fn filled(fill: Fill) -> Look {
        Look {
            fill,
            pen: None,
            opacity: 1.0,
            crisp: false,
        }
    }
    pub const fn drawn(pen: Pen) -> Look {
        Look {
            fill: Fill::Nothing,
            pen: Some(pen),
            opacity: 1.0,
            crisp: false,
        }
    }
    pub const fn with_pen(self, pen: Pen) -> Look {
        Look {
            pen: Some(pen),
            ..self
        }
    }
    pub const fn faint(self, opacity: f64) -> Look {
        Look { opacity, ..self }
    }
    pub const fn crisp(self) -> Look {
        Look {
            crisp: true,
            ..self
        }
    }
}

/// A text on its point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Words<'a> {
    pub text: &'a str,
    pub at: (f64, f64),
    pub size_px: f64,
    pub anchor: Anchor,
    /// Reads from below to above.
    pub upright: bool,
}

/// A picture being written.
#[derive(Debug)]
pub struct Svg {
    out: String,
    key: String,
    spoilt: bool,
}

/// A short name that differs where the text differs (FNV-1a, 32 bits), so that several pictures can
/// stand in one page without sharing the names of their parts.
fn key_of(text: &str) -> String {
    let hash = text.bytes().fold(0x811c_9dc5_u32, |hash, byte| {
        (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193)
    });
    format!("n{hash:08x}")
}

/// Text that may stand between tags and in double quotes. Characters that XML 1.0 (2.2) does not
/// know become U+FFFD; a line break becomes a space.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' | '\r' => out.push(' '),
            // Marks that turn the direction of what follows would reach beyond this text.
            '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => out.push('\u{fffd}'),
            '\u{fffe}' | '\u{ffff}' => out.push('\u{fffd}'),
            c if c.is_control() => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

/// A number with at most two decimals and no trailing zeros; None where it is not finite or too
/// large for a coordinate.
pub fn short(value: f64) -> Option<String> {
    if !value.is_finite() || value.abs() >= LARGEST_PX {
        return None;
    }
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    Some(if text == "-0" { "0" } else { text }.to_owned())
}

impl Svg {
    /// A sheet with its own background. `title` and `description` are for readers who do not see it;
    /// `ink` is the colour of texts.
    pub fn new(
        size_px: (f64, f64),
        paper: Colour,
        ink: Colour,
        title: &str,
        description: &str,
    ) -> Svg {
        // One picture may stand in a page in two widths.
        let key = format!("{title}\n{description}\n{}", size_px.0);
        Svg::named(&key, size_px, paper, ink, title, description)
    }

    /// A piece of a picture that was or will be made with [`Svg::named`] from the same key.
    pub fn part(key: &str) -> Svg {
        Svg {
            out: String::new(),
            key: key_of(key),
            spoilt: false,
        }
    }

    /// A sheet whose parts have names that depend on `key` alone.
    pub fn named(
        key: &str,
        size_px: (f64, f64),
        paper: Colour,
        ink: Colour,
        title: &str,
        description: &str,
    ) -> Svg {
        let mut svg = Svg::part(key);
        svg.out
            .push_str("<svg xmlns=\"http://www.w3.org/2000/svg\"");
        svg.number("width", size_px.0);
        svg.number("height", size_px.1);
        let (width, height) = (svg.written(size_px.0), svg.written(size_px.1));
        svg.attribute("viewBox", &format!("0 0 {width} {height}"));
        let key = svg.key.clone();
        svg.attribute("role", "img");
        svg.attribute("aria-labelledby", &format!("{key}t {key}d"));
        svg.attribute("font-family", "sans-serif");
        svg.colour("fill", ink);
        svg.out.push_str(">\n");
        for (tag, letter, text) in [("title", 't', title), ("desc", 'd', description)] {
            let text = escaped(text);
            svg.out
                .push_str(&format!("<{tag} id=\"{key}{letter}\">{text}</{tag}>\n"));
        }
        svg.rectangle(
            &Area::new(0.0, 0.0, size_px.0, size_px.1),
            &Look::filled(Fill::Plain(paper)),
        );
        svg
    }

    /// Makes [`Fill::Hatch`] known: lines at 45° on a ground.
    pub fn hatch(&mut self, ground: Colour, pen: Pen, every_px: f64) {
        let every = self.written(every_px);
        self.out.push_str(&format!(
            "<defs><pattern id=\"{}h\" width=\"{every}\" height=\"{every}\" \
             patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">",
            self.key
        ));
        self.rectangle(
            &Area::new(0.0, 0.0, every_px, every_px),
            &Look::filled(Fill::Plain(ground)),
        );
        let middle = every_px / 2.0;
        self.line((middle, 0.0), (middle, every_px), &Look::drawn(pen));
        self.out.push_str("</pattern></defs>\n");
    }

    /// What `inside` writes, as one group with a name for readers of the text.
    pub fn group(&mut self, name: &str, inside: impl FnOnce(&mut Svg)) {
        self.out.push_str("<g");
        self.attribute("class", name);
        self.out.push_str(">\n");
        inside(self);
        self.out.push_str("</g>\n");
    }

    /// What `inside` draws, as far as it lies in an area. At most one such area in a picture.
    pub fn clipped(&mut self, area: &Area, inside: impl FnOnce(&mut Svg)) {
        let name = format!("{}c", self.key);
        self.out.push_str(&format!("<clipPath id=\"{name}\">"));
        self.rectangle(area, &Look::filled(Fill::Nothing));
        self.out.push_str("</clipPath>\n<g");
        self.attribute("clip-path", &format!("url(#{name})"));
        self.out.push_str(">\n");
        inside(self);
        self.out.push_str("</g>\n");
    }

    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), look: &Look) {
        self.out.push_str("<line");
        for (name, value) in [("x1", from.0), ("y1", from.1), ("x2", to.0), ("y2", to.1)] {
            self.number(name, value);
        }
        self.close_with(look);
    }

    pub fn rectangle(&mut self, area: &Area, look: &Look) {
        self.out.push_str("<rect");
        self.number("x", area.left);
        self.number("y", area.top);
        self.number("width", area.width());
        self.number("height", area.height());
        self.close_with(look);
    }

    /// A path; nothing where it is empty.
    pub fn path(&mut self, path: &Path, look: &Look) {
        self.spoilt |= path.is_spoilt();
        if path.is_empty() {
            return;
        }
        self.out.push_str("<path");
        self.attribute("d", path.data());
        self.close_with(look);
    }

    /// A text; nothing where it is blank.
    pub fn words(&mut self, words: &Words) {
        if words.text.trim().is_empty() {
            return;
        }
        self.out.push_str("<text");
        self.number("x", words.at.0);
        self.number("y", words.at.1);
        self.number("font-size", words.size_px);
        match words.anchor {
            Anchor::Start => {}
            Anchor::Middle => self.attribute("text-anchor", "middle"),
            Anchor::End => self.attribute("text-anchor", "end"),
        }
        if words.upright {
            let (x, y) = (self.written(words.at.0), self.written(words.at.1));
            self.attribute("transform", &format!("rotate(-90 {x} {y})"));
        }
        self.out.push('>');
        self.out.push_str(&escaped(words.text));
        self.out.push_str("</text>\n");
    }

    /// The text of a piece, or why there is none.
    pub fn finish_part(self) -> Result<String, Fault> {
        match self.spoilt {
            true => Err(Fault::Unplaceable),
            false => Ok(self.out),
        }
    }

    /// The whole text, or why there is none.
    pub fn finish(mut self) -> Result<String, Fault> {
        self.out.push_str("</svg>\n");
        if self.spoilt {
            return Err(Fault::Unplaceable);
        }
        Ok(self.out)
    }

    fn written(&mut self, value: f64) -> String {
        short(value).unwrap_or_else(|| {
            self.spoilt = true;
            "0".to_owned()
        })
    }

    fn number(&mut self, name: &str, value: f64) {
        let text = self.written(value);
        self.attribute(name, &text);
    }

    fn attribute(&mut self, name: &str, value: &str) {
        self.out.push(' ');
        self.out.push_str(name);
        self.out.push_str("=\"");
        self.out.push_str(&escaped(value));
        self.out.push('"');
    }

    fn colour(&mut self, name: &str, colour: Colour) {
        let [r, g, b] = colour.0;
        self.attribute(name, &format!("#{r:02x}{g:02x}{b:02x}"));
    }

    fn close_with(&mut self, look: &Look) {
        match look.fill {
            Fill::Nothing => self.attribute("fill", "none"),
            Fill::Plain(colour) => self.colour("fill", colour),
            Fill::Hatch => {
                let name = format!("url(#{}h)", self.key);
                self.attribute("fill", &name);
            }
        }
        if let Some(pen) = look.pen {
            self.colour("stroke", pen.colour);
            self.number("stroke-width", pen.width_px);
            if pen.dash_px > 0.0 {
                self.number("stroke-dasharray", pen.dash_px);
            }
        }
        if look.opacity < 1.0 {
            self.number("opacity", look.opacity);
        }
        if look.crisp {
            self.attribute("shape-rendering", "crispEdges");
        }
        self.out.push_str("/>\n");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_finite() {
        let all: Vec<_> = [0.0, -0.001, 1.5, 100.0, -2.346, 1e-9]
            .iter()
            .map(|v| short(*v).unwrap())
            .collect();
        assert_eq!(all, ["0", "0", "1.5", "100", "-2.35", "0"]);
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e6] {
            assert_eq!(short(bad), None);
        }
    }

    #[test]
    fn texts_are_escaped() {
        assert_eq!(
            escaped("a<b> & \"c\" 'd'\n\u{1}\u{ffff}"),
            "a&lt;b&gt; &amp; &quot;c&quot; &#39;d&#39; \u{fffd}\u{fffd}"
        );
    }

    #[test]
    fn one_bad_number_spoils_the_picture() {
        let (white, black) = (Colour([255; 3]), Colour([0; 3]));
        let sheet = || Svg::new((10.0, 10.0), white, black, "t", "d");
        assert!(sheet().finish().is_ok());
        let mut svg = sheet();
        svg.line(
            (0.0, f64::NAN),
            (1.0, 1.0),
            &Look::drawn(Pen::new(black, 1.0)),
        );
        assert_eq!(svg.finish(), Err(Fault::Unplaceable));
        let mut path = Path::default();
        path.circle((f64::INFINITY, 0.0), 1.0);
        let mut svg = sheet();
        svg.path(&path, &Look::filled(Fill::Nothing));
        assert_eq!(svg.finish(), Err(Fault::Unplaceable));
    }
}
