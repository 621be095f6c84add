//! How much room a text takes, estimated: the reader's fonts are not known.
//!
//! Widths are the larger of two common plain faces (DejaVu Sans and Liberation Sans, read from
//! their files), rounded up, so that a text is rather narrower than thought.

/// Share of the size that letters rise above the line they stand on, accents included.
const ASCENT: f64 = 0.93;
/// Share of the size that letters hang below it.
const DESCENT: f64 = 0.24;
/// From the line letters stand on to the middle of a figure, as a share of the size.
pub const MIDDLE: f64 = 0.36;

/// Where a text stands on its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

/// A rectangle on paper, in px, y downward.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Area {
    /// From the left upper corner.
    pub fn new(left: f64, top: f64, width: f64, height: f64) -> Area {
        Area {
            left,
            top,
            right: left + width,
            bottom: top + height,
        }
    }
    /// Around a point.
    pub fn around(at: (f64, f64), width: f64, height: f64) -> Area {
        Area::new(at.0 - width / 2.0, at.1 - height / 2.0, width, height)
    }
    pub fn width(&self) -> f64 {
        self.right - self.left
    }
    pub fn height(&self) -> f64 {
        self.bottom - self.top
    }
    pub fn centre(&self) -> (f64, f64) {
        (
            (self.left + self.right) / 2.0,
            (self.top + self.bottom) / 2.0,
        )
    }
    /// The same, larger on every side; smaller where `by` is negative.
    pub fn grown(&self, by: f64) -> Area {
        Area {
            left: self.left - by,
            top: self.top - by,
            right: self.right + by,
            bottom: self.bottom + by,
        }
    }
    /// Whether they share more than an edge.
    pub fn meets(&self, other: &Area) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }
    /// Whether the other lies wholly inside.
    pub fn holds(&self, other: &Area) -> bool {
        self.left <= other.left
            && self.top <= other.top
            && self.right >= other.right
            && self.bottom >= other.bottom
    }
}

/// Width of a character as a share of the size.
fn share(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | '\'' => 0.28,
        ' ' | ',' | '.' | '·' | 'I' => 0.32,
        '/' | ':' | ';' | '\\' | '|' | 'f' | '-' => 0.37,
        '(' | ')' | '[' | ']' | 't' | '!' | 'r' => 0.42,
        '"' | '*' | '`' | '°' | 'J' | 's' | 'z' | 'c' => 0.55,
        'w' | 'D' | 'G' | 'O' | 'Q' | 'H' | '&' => 0.82,
        'M' | '#' | '+' | '<' | '=' | '>' | '^' | '~' | '±' | '×' | '−' => 0.87,
        'm' | 'W' | '%' | '@' => 1.02,
        'a'..='z' | '0'..='9' | 'F' | 'L' | 'T' | '$' | '?' | '_' | '{' | '}' | '–' => 0.64,
        ' '..='~' => 0.78,
        '\u{1f000}'.. => 1.4,
        '\u{1100}'.. if !('\u{2000}'..='\u{2e7f}').contains(&c) => 1.1,
        _ => 1.02,
    }
}

/// Width of a text in px, rather too large than too small.
pub fn width_of(text: &str, size_px: f64) -> f64 {
    text.chars().map(share).sum::<f64>() * size_px
}

/// The room of a text that stands on (x, y). An upright text reads from below to above, and its
/// letters stand on a vertical line through the point.
pub fn area_of(text: &str, size_px: f64, at: (f64, f64), anchor: Anchor, upright: bool) -> Area {
    let width = width_of(text, size_px);
    let before = match anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => width / 2.0,
        Anchor::End => width,
    };
    let (above, below) = (ASCENT * size_px, DESCENT * size_px);
    if upright {
        Area::new(at.0 - above, at.1 + before - width, above + below, width)
    } else {
        Area::new(at.0 - before, at.1 - above, width, above + below)
    }
}

/// The text, or as much of it as fits with an ellipsis.
pub fn cut_to(text: &str, size_px: f64, most_px: f64) -> String {
    if width_of(text, size_px) <= most_px {
        return text.to_owned();
    }
    let mut left = most_px / size_px - share('…');
    let mut kept = String::new();
    for c in text.chars() {
        left -= share(c);
        if left < 0.0 || left.is_nan() {
            break;
        }
        kept.push(c);
    }
    kept.truncate(kept.trim_end().len());
    kept.push('…');
    kept
}

/// The text in lines that fit, broken at spaces; a word that is too long alone is cut.
pub fn wrap(text: &str, size_px: f64, most_px: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let word = cut_to(word, size_px, most_px);
        match lines.last_mut() {
            Some(line) if width_of(&format!("{line} {word}"), size_px) <= most_px => {
                line.push(' ');
                line.push_str(&word);
            }
            _ => lines.push(word),
        }
    }
    lines
}

/// The text in lines that fit, broken at spaces; a word that is too long alone is broken where it must be,
/// so that nothing is cut.
pub fn broken(text: &str, size: f64, most: f64) -> Vec<String> {
    let mut pieces = String::new();
    for word in text.split_whitespace() {
        let mut piece = String::new();
        for c in word.chars() {
            piece.push(c);
            if width_of(&piece, size) > most && piece.chars().count() > 1 {
                piece.pop();
                pieces.push_str(&piece);
                pieces.push(' ');
                piece = c.to_string();
            }
        }
        pieces.push_str(&piece);
        pieces.push(' ');
    }
    wrap(&pieces, size, most)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rooms_of_texts_by_hand() {
        // "10": two figures of 0.64 em at 10 px are 12.8 px wide, 9.3 above the line, 2.4 below.
        assert_eq!(width_of("10", 10.0), 12.8);
        let flat = area_of("10", 10.0, (100.0, 50.0), Anchor::End, false);
        assert_eq!((flat.left, flat.right), (87.2, 100.0));
        assert!((flat.top - 40.7).abs() < 1e-9 && (flat.bottom - 52.4).abs() < 1e-9);
        // Turned a quarter to the left about (100, 50), its end stays on the point: it lies below.
        let upright = area_of("10", 10.0, (100.0, 50.0), Anchor::End, true);
        assert!((upright.top - 50.0).abs() < 1e-9 && (upright.bottom - 62.8).abs() < 1e-9);
        assert!((upright.left - 90.7).abs() < 1e-9 && (upright.right - 102.4).abs() < 1e-9);
    }

    #[test]
    fn long_texts_are_cut_or_wrapped() {
        assert_eq!(cut_to("abc", 10.0, 19.0), "abc");
        // … takes 10.2 of 24 px, then a, b of 6.4 each fit in 13.8.
        assert_eq!(cut_to("abccccc", 10.0, 24.0), "ab…");
        assert_eq!(cut_to("abc", 10.0, 1.0), "…");
        let text = "a long line of words about nothing, and anextraordinarilylongwordindeed";
        let lines = wrap(text, 10.0, 90.0);
        assert!(lines.iter().all(|l| width_of(l, 10.0) <= 90.0), "{lines:?}");
        assert_eq!(wrap(text, 10.0, 1e4), [text]);
        assert!(wrap("", 10.0, 90.0).is_empty());
    }

    #[test]
    fn areas_that_only_touch_do_not_meet() {
        let a = Area::new(0.0, 0.0, 10.0, 10.0);
        assert!(!a.meets(&Area::new(10.0, 0.0, 5.0, 5.0)));
        assert!(a.meets(&Area::new(9.9, 9.9, 5.0, 5.0)));
        assert!(a.holds(&a) && !a.holds(&a.grown(0.1)) && a.grown(0.1).holds(&a));
    }
}
