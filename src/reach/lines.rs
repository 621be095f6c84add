//! Axes as lines in space: where they stand to one another, and turns about them.

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::frames::rot_about;
use crate::reach::trig::Wave;

/// Axes that are parallel by this much (sine of the angle) are so: registration never turns them
/// against each other.
pub(super) const PARALLEL: f64 = 1e-9;

/// A joint's axis at the zero posture, base frame.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    /// Unit vector.
    pub along: Vector3<f64>,
    /// A point of it, mm.
    pub at: Vector3<f64>,
}

impl Line {
    /// `Rot(along, at, θ) p`.
    pub fn turn(&self, rad: f64, p: &Vector3<f64>) -> Vector3<f64> {
        self.rotation(rad) * (p - self.at) + self.at
    }
    pub fn rotation(&self, rad: f64) -> Matrix3<f64> {
        rot_about(&self.along, rad)
    }
    /// The turn about the axis that brings one direction nearest to another; 0 where the axis does
    /// not see it.
    pub fn angle(&self, from: &Vector3<f64>, to: &Vector3<f64>) -> f64 {
        let h = &self.along;
        let sin = h.dot(&from.cross(to));
        let cos = from.dot(to) - h.dot(from) * h.dot(to);
        if sin == 0.0 && cos == 0.0 {
            return 0.0;
        }
        sin.atan2(cos)
    }
    /// `d · Rot(along, θ) v` as a wave of θ.
    pub fn seen(&self, d: &Vector3<f64>, v: &Vector3<f64>) -> Wave {
        let h = &self.along;
        let still = h.dot(v);
        Wave {
            k: d.dot(h) * still,
            c: d.dot(&(v - h * still)),
            s: d.dot(&h.cross(v)),
        }
    }
    /// A unit vector across the axis.
    pub fn across(&self) -> Vector3<f64> {
        let mut unit = Vector3::zeros();
        unit[self.along.iamin()] = 1.0;
        self.along.cross(&unit).normalize()
    }
    pub fn parallel(&self, o: &Line) -> bool {
        self.along.cross(&o.along).norm() < PARALLEL
    }
    /// The feet of the common perpendicular, on this line and on the other; for parallel lines the
    /// perpendicular through this line's own point.
    pub fn feet(&self, o: &Line) -> (Vector3<f64>, Vector3<f64>) {
        let n = self.along.cross(&o.along);
        let n2 = n.norm_squared();
        let between = o.at - self.at;
        if n2 < PARALLEL * PARALLEL {
            return (self.at, o.at - o.along * o.along.dot(&between));
        }
        let a = between.cross(&o.along).dot(&n) / n2;
        let b = between.cross(&self.along).dot(&n) / n2;
        (self.at + self.along * a, o.at + o.along * b)
    }
}

/// The point nearest to three lines, and how far it is from the farthest of them.
pub(super) fn meeting(lines: [&Line; 3]) -> Option<(Vector3<f64>, f64)> {
    let mut normal = Matrix3::zeros();
    let mut right = Vector3::zeros();
    for line in lines {
        let across = Matrix3::identity() - line.along * line.along.transpose();
        normal += across;
        right += across * line.at;
    }
    // Three rows of well-scaled projections: a small system, singular only for parallel lines.
    let point = normal.lu().solve(&right)?;
    let miss = lines
        .iter()
        .map(|l| (point - l.at).cross(&l.along).norm())
        .fold(0.0, f64::max);
    (point.iter().all(|x| x.is_finite())).then_some((point, miss))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: the x axis and a line along y at height 5 through (2, 7, 5).
    #[test]
    fn feet_stand_on_the_common_perpendicular() {
        let a = Line {
            along: Vector3::x(),
            at: Vector3::zeros(),
        };
        let b = Line {
            along: Vector3::y(),
            at: Vector3::new(2.0, 7.0, 5.0),
        };
        let (p, q) = a.feet(&b);
        assert!((p - Vector3::new(2.0, 0.0, 0.0)).norm() < 1e-12, "{p}");
        assert!((q - Vector3::new(2.0, 0.0, 5.0)).norm() < 1e-12, "{q}");
    }

    /// By hand: three lines through (1, 2, 3), the last moved by 0.3 mm across.
    #[test]
    fn three_lines_meet_or_miss() {
        let at = Vector3::new(1.0, 2.0, 3.0);
        let line = |along: Vector3<f64>, by: Vector3<f64>| Line {
            along: along.normalize(),
            at: at + by + along * 7.0,
        };
        let zero = Vector3::zeros();
        let (x, y) = (line(Vector3::x(), zero), line(Vector3::y(), zero));
        let (point, miss) = meeting([&x, &y, &line(Vector3::z(), zero)]).expect("a point");
        assert!((point - at).norm() < 1e-12 && miss < 1e-12);
        let aside = line(Vector3::z(), Vector3::new(0.3, 0.0, 0.0));
        let (_, miss) = meeting([&x, &y, &aside]).expect("a point");
        // Two lines pull each coordinate: the middle is 0.15 from both.
        assert!((miss - 0.15).abs() < 1e-12, "{miss}");
    }
}
