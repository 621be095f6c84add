//! Paths of an SVG picture: lines, rectangles, circles.

use crate::drawing::svg::LARGEST_PX;
use crate::drawing::text::Area;

/// A path in tenths of a pixel, written as differences: short, and free of rounding that adds up.
#[derive(Debug, Clone, Default)]
pub struct Path {
    data: String,
    at: (i64, i64),
    spoilt: bool,
}

fn tenths(px: f64) -> Option<i64> {
    (px.abs() < LARGEST_PX).then(|| (px * 10.0).round() as i64)
}

fn push_tenths(into: &mut String, n: i64) {
    // A sign parts two numbers as well as a space does.
    if n >= 0 && into.ends_with(|c: char| c.is_ascii_digit()) {
        into.push(' ');
    }
    if n < 0 {
        into.push('-');
    }
    into.push_str(&(n.abs() / 10).to_string());
    if n % 10 != 0 {
        into.push('.');
        into.push_str(&(n.abs() % 10).to_string());
    }
}

impl Path {
    pub fn is_empty(&self) -> bool {
        self.data.is_empty()
    }

    /// Whether a coordinate could not be written; the picture is then spoilt too.
    pub fn is_spoilt(&self) -> bool {
        self.spoilt
    }

    /// What stands in the attribute `d`.
    pub fn data(&self) -> &str {
        &self.data
    }

    /// A line through the points; less than two points are nothing.
    pub fn polyline(&mut self, points: &[(f64, f64)], closed: bool) {
        let mut rounded: Vec<(i64, i64)> = Vec::with_capacity(points.len());
        for &(x, y) in points {
            let (Some(x), Some(y)) = (tenths(x), tenths(y)) else {
                self.spoilt = true;
                return;
            };
            if rounded.last() != Some(&(x, y)) {
                rounded.push((x, y));
            }
        }
        let [first, rest @ ..] = &rounded[..] else {
            return;
        };
        if rest.is_empty() {
            return;
        }
        self.data.push('M');
        push_tenths(&mut self.data, first.0);
        push_tenths(&mut self.data, first.1);
        self.data.push('l');
        self.at = *first;
        for &(x, y) in rest {
            push_tenths(&mut self.data, x - self.at.0);
            push_tenths(&mut self.data, y - self.at.1);
            self.at = (x, y);
        }
        if closed {
            self.data.push('z');
        }
    }

    pub fn rectangle(&mut self, area: &Area) {
        let edges = [area.left, area.top, area.right, area.bottom].map(tenths);
        let [Some(left), Some(top), Some(right), Some(bottom)] = edges else {
            self.spoilt = true;
            return;
        };
        self.data.push('M');
        push_tenths(&mut self.data, left);
        push_tenths(&mut self.data, top);
        for (letter, by) in [
            ('h', right - left),
            ('v', bottom - top),
            ('h', left - right),
        ] {
            self.data.push(letter);
            push_tenths(&mut self.data, by);
        }
        self.data.push('z');
    }

    /// A whole circle, as two arcs.
    pub fn circle(&mut self, centre: (f64, f64), radius_px: f64) {
        let all = [centre.0 - radius_px, centre.1, radius_px].map(tenths);
        let [Some(left), Some(y), Some(r)] = all else {
            self.spoilt = true;
            return;
        };
        self.data.push('M');
        push_tenths(&mut self.data, left);
        push_tenths(&mut self.data, y);
        for across in [2 * r, -2 * r] {
            self.data.push('a');
            for n in [r, r, 0, 10, 0, across, 0] {
                push_tenths(&mut self.data, n);
            }
        }
        self.data.push('z');
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_are_written_as_differences() {
        let mut path = Path::default();
        path.rectangle(&Area::new(1.0, 2.5, 10.0, 0.5));
        assert_eq!(path.data(), "M1 2.5h10v0.5h-10z");
        let mut path = Path::default();
        // Points that fall together in tenths are one; 0.04 off is nothing.
        path.polyline(&[(0.0, 0.0), (0.04, 0.0), (1.25, -1.0), (3.0, 0.0)], true);
        assert_eq!(path.data(), "M0 0l1.3-1 1.7 1z");
        let mut path = Path::default();
        path.polyline(&[(5.0, 5.0)], false);
        assert!(path.is_empty() && !path.is_spoilt());
        path.circle((10.0, 10.0), 2.0);
        assert_eq!(path.data(), "M8 10a2 2 0 1 0 4 0a2 2 0 1 0-4 0z");
    }

    #[test]
    fn what_is_not_finite_spoils_a_path() {
        for bad in [f64::NAN, f64::INFINITY, -1e7] {
            let mut path = Path::default();
            path.polyline(&[(0.0, 0.0), (bad, 1.0)], false);
            assert!(path.is_spoilt() && path.is_empty());
            let mut path = Path::default();
            path.rectangle(&Area::new(0.0, bad, 1.0, 1.0));
            assert!(path.is_spoilt());
        }
    }
}
