//! Something that turns about an axis, seen in a picture: the turn that brings it nearest to a place.
//!
//! It moves on the circle c + u cos δ + v sin δ; the picture shows an ellipse.

use std::f64::consts::PI;

use nalgebra::Vector2;
use nalgebra::Vector3;

/// Turns that are tried before the best ones are refined.
const SAMPLES: usize = 72;
/// A picture in which a thing moves less than this does not show its turn, mm.
const LEAST_MM: f64 = 1.0;
/// Turns that come as near as the best one by this share of the radius are as good: of them the one with
/// the smallest turn counts.
const ALIKE: f64 = 0.02;

/// The ellipse that a turning point draws in a picture, from where it is now (δ = 0).
#[derive(Debug, Clone, Copy)]
pub struct Circle {
    centre: Vector2<f64>,
    u: Vector2<f64>,
    v: Vector2<f64>,
}

impl Circle {
    /// Of a point about an axis through another one, with the directions of the view.
    pub fn new(
        point: &Vector3<f64>,
        axis: &Vector3<f64>,
        through: &Vector3<f64>,
        seen: impl Fn(&Vector3<f64>) -> Vector2<f64>,
    ) -> Circle {
        let centre = through + axis * axis.dot(&(point - through));
        let u = point - centre;
        Circle {
            centre: seen(&centre),
            u: seen(&u),
            v: seen(&axis.cross(&u)),
        }
    }

    fn at(&self, turn: f64) -> Vector2<f64> {
        self.centre + self.u * turn.cos() + self.v * turn.sin()
    }

    /// Distance squared and half its first two derivatives.
    fn miss(&self, turn: f64, to: &Vector2<f64>) -> (f64, f64, f64) {
        let (s, c) = turn.sin_cos();
        let off = self.centre + self.u * c + self.v * s - to;
        let slope = self.v * c - self.u * s;
        let bend = -(self.u * c + self.v * s);
        (
            off.norm_squared(),
            off.dot(&slope),
            slope.norm_squared() + off.dot(&bend),
        )
    }

    /// The turn from here, within `low` to `high` (rad) and half a turn either way, that brings the point
    /// nearest to a place; of turns that are as good, the smallest. `None` where the picture does not show
    /// the turn.
    pub fn nearest(&self, to: &Vector2<f64>, low: f64, high: f64) -> Option<f64> {
        let radius = self.u.norm().max(self.v.norm());
        if !(radius >= LEAST_MM) {
            return None;
        }
        // More than half a turn outside its limits it goes to the nearer one.
        if low > PI || high < -PI {
            return Some(if low > PI { low } else { high });
        }
        let (low, high) = (low.max(-PI), high.min(PI));
        if !(low < high) {
            return Some(low);
        }
        let step = (high - low) / SAMPLES as f64;
        let turn_of = |k: usize| low + step * k as f64;
        let tried: Vec<f64> = (0..=SAMPLES).map(|k| self.miss(turn_of(k), to).0).collect();
        let mut found: Vec<(f64, f64)> = Vec::new();
        for (k, here) in tried.iter().enumerate() {
            let before = k.checked_sub(1).and_then(|k| tried.get(k));
            let after = tried.get(k + 1);
            if before.is_none_or(|b| here <= b) && after.is_none_or(|a| here <= a) {
                let middle = turn_of(k);
                let turn = self.refined((middle - step).max(low), (middle + step).min(high), to);
                found.push(((self.at(turn) - to).norm(), turn));
            }
        }
        let best = found.iter().map(|f| f.0).fold(f64::INFINITY, f64::min);
        let alike = found.iter().filter(|f| f.0 <= best + ALIKE * radius);
        alike
            .map(|f| f.1)
            .min_by(|a, b| a.abs().total_cmp(&b.abs()))
    }

    /// The nearest turn between two, where there is one valley: thirds first, then Newton's steps.
    fn refined(&self, mut low: f64, mut high: f64, to: &Vector2<f64>) -> f64 {
        for _ in 0..24 {
            let third = (high - low) / 3.0;
            let (a, b) = (low + third, high - third);
            if self.miss(a, to).0 <= self.miss(b, to).0 {
                high = b;
            } else {
                low = a;
            }
        }
        let mut turn = 0.5 * (low + high);
        for _ in 0..4 {
            let (_, slope, bend) = self.miss(turn, to);
            let next = turn - slope / bend;
            if !(bend > 0.0 && low <= next && next <= high) {
                break;
            }
            turn = next;
        }
        // At the end of the range the valley lies beyond it.
        let ends = [low, turn, high];
        let best = ends
            .into_iter()
            .min_by(|a, b| self.miss(*a, to).0.total_cmp(&self.miss(*b, to).0));
        best.unwrap_or(turn)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flat(v: &Vector3<f64>) -> Vector2<f64> {
        Vector2::new(v.x, v.y)
    }

    /// By hand: a point 100 mm along x, turning about z; a place along (1, 1) is met best at 45°, one
    /// behind at ±180°, whichever the limits leave.
    #[test]
    fn seen_from_above_it_follows_the_bearing() {
        let circle = Circle::new(
            &Vector3::new(110.0, 20.0, 5.0),
            &Vector3::z(),
            &Vector3::new(10.0, 20.0, 0.0),
            flat,
        );
        let turn = |x: f64, y: f64, low: f64, high: f64| {
            circle.nearest(&Vector2::new(x, y), low, high).unwrap()
        };
        assert!((turn(310.0, 320.0, -3.0, 3.0) - PI / 4.0).abs() < 1e-12);
        assert!(turn(110.0, 20.0, -3.0, 3.0).abs() < 1e-12);
        assert!((turn(10.0, 120.0, -3.0, 1.0) - 1.0).abs() < 1e-9);
        assert!((turn(-400.0, 20.0, -1.0, PI) - PI).abs() < 1e-9);
    }

    /// By hand: seen along its plane it goes to and fro on 100 mm; half way is at ±60°, and from −20°
    /// the nearer one is −60°: a turn of −40°.
    #[test]
    fn seen_from_the_side_it_takes_the_nearer_of_two() {
        let from = (-20.0_f64).to_radians();
        let circle = Circle::new(
            &Vector3::new(100.0 * from.cos(), 100.0 * from.sin(), 0.0),
            &Vector3::z(),
            &Vector3::zeros(),
            |v| Vector2::new(v.x, v.z),
        );
        let turn = circle.nearest(&Vector2::new(50.0, 0.0), -3.0, 3.0).unwrap();
        assert!((turn + 40.0_f64.to_radians()).abs() < 1e-9, "{turn}");
        // Seen along the axis of a point on the axis: nothing moves.
        let still = Circle::new(&Vector3::z(), &Vector3::z(), &Vector3::zeros(), flat);
        assert_eq!(still.nearest(&Vector2::new(1.0, 0.0), -1.0, 1.0), None);
    }
}
