//! Angles at which a sum of sines and cosines vanishes: what the closed forms come down to.

use std::f64::consts::FRAC_PI_4;
use std::f64::consts::PI;

use nalgebra::Matrix4;
use nalgebra::Schur;

/// A root this far (rad) off the real angles is taken for a real one that rounding has moved: two
/// roots that meet at an end of reach come out as a pair beside it. What is no root is told later,
/// when the posture is polished.
const NEARLY_REAL_RAD: f64 = 2e-3;
/// The same for a cosine beyond 1.
const BEYOND: f64 = 2e-6;

/// `k + c cos θ + s sin θ`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wave {
    pub k: f64,
    pub c: f64,
    pub s: f64,
}

impl Wave {
    pub fn constant(k: f64) -> Self {
        Wave { k, c: 0.0, s: 0.0 }
    }
    pub fn plus(self, o: Wave) -> Self {
        Wave {
            k: self.k + o.k,
            c: self.c + o.c,
            s: self.s + o.s,
        }
    }
    pub fn times(self, f: f64) -> Self {
        Wave {
            k: self.k * f,
            c: self.c * f,
            s: self.s * f,
        }
    }
    pub fn at(self, rad: f64) -> f64 {
        let (s, c) = rad.sin_cos();
        self.k + self.c * c + self.s * s
    }
    /// The product of two.
    pub fn by(self, o: Wave) -> Wave2 {
        Wave2 {
            k: self.k * o.k + 0.5 * (self.c * o.c + self.s * o.s),
            c: self.k * o.c + self.c * o.k,
            s: self.k * o.s + self.s * o.k,
            c2: 0.5 * (self.c * o.c - self.s * o.s),
            s2: 0.5 * (self.c * o.s + self.s * o.c),
        }
    }
    /// Angles at which it vanishes: none or two (equal ones where it only touches).
    pub fn zeros(self) -> Angles {
        let size = self.c.hypot(self.s);
        let mut out = Angles::default();
        // A wave without height says nothing of the angle.
        if !(size > 1e-12 * (1.0 + self.k.abs())) {
            return out;
        }
        let cos = -self.k / size;
        if !(cos.abs() <= 1.0 + BEYOND) {
            return out;
        }
        let (middle, half) = (self.s.atan2(self.c), cos.clamp(-1.0, 1.0).acos());
        out.push(middle + half);
        out.push(middle - half);
        out
    }
}

/// `k + c cos θ + s sin θ + c2 cos 2θ + s2 sin 2θ`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wave2 {
    pub k: f64,
    pub c: f64,
    pub s: f64,
    pub c2: f64,
    pub s2: f64,
}

/// At most four angles, rad, not wrapped.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Angles {
    rad: [f64; 4],
    count: usize,
}

impl Angles {
    fn push(&mut self, rad: f64) {
        if rad.is_finite() && self.count < 4 {
            self.rad[self.count] = rad;
            self.count += 1;
        }
    }
    pub fn as_slice(&self) -> &[f64] {
        &self.rad[..self.count]
    }
}

impl Wave2 {
    pub fn plus(self, o: Wave2) -> Self {
        self.minus(o.times(-1.0))
    }
    pub fn minus(self, o: Wave2) -> Self {
        Wave2 {
            k: self.k - o.k,
            c: self.c - o.c,
            s: self.s - o.s,
            c2: self.c2 - o.c2,
            s2: self.s2 - o.s2,
        }
    }
    pub fn times(self, f: f64) -> Self {
        Wave2 {
            k: self.k * f,
            c: self.c * f,
            s: self.s * f,
            c2: self.c2 * f,
            s2: self.s2 * f,
        }
    }
    fn at(self, rad: f64) -> (f64, f64) {
        let (s, c) = rad.sin_cos();
        let (s2, c2) = (2.0 * s * c, c * c - s * s);
        (
            self.k + self.c * c + self.s * s + self.c2 * c2 + self.s2 * s2,
            -self.c * s + self.s * c - 2.0 * self.c2 * s2 + 2.0 * self.s2 * c2,
        )
    }
    /// The same of θ − `rad`: at θ' + rad.
    fn shifted(self, rad: f64) -> Self {
        let (s, c) = rad.sin_cos();
        let (s2, c2) = (2.0 * rad).sin_cos();
        Wave2 {
            k: self.k,
            c: self.c * c + self.s * s,
            s: self.s * c - self.c * s,
            c2: self.c2 * c2 + self.s2 * s2,
            s2: self.s2 * c2 - self.c2 * s2,
        }
    }
    /// Angles at which it vanishes, at most four. With t = tan(θ/2) it is a quartic (Pieper 1968);
    /// its roots are the eigenvalues of the companion matrix. The circle is turned so that no root
    /// lies at infinity.
    pub fn zeros(self) -> Angles {
        let mut out = Angles::default();
        let size = self.k.abs() + self.c.abs() + self.s.abs() + self.c2.abs() + self.s2.abs();
        if !(size.is_finite() && size > 0.0) {
            return out;
        }
        let mut turn = 0.0;
        let mut lead = 0.0;
        for i in 0..8 {
            let candidate = f64::from(i) * FRAC_PI_4;
            let value = self.at(candidate + PI).0.abs();
            if value > lead {
                (turn, lead) = (candidate, value);
            }
        }
        if !(lead > 1e-12 * size) {
            return out;
        }
        let w = self.shifted(turn);
        let a4 = w.k - w.c + w.c2;
        let rest = [
            (w.k + w.c + w.c2) / a4,
            (2.0 * w.s + 4.0 * w.s2) / a4,
            (2.0 * w.k - 6.0 * w.c2) / a4,
            (2.0 * w.s - 4.0 * w.s2) / a4,
        ];
        #[rustfmt::skip]
        let companion = Matrix4::new(
            0.0, 0.0, 0.0, -rest[0],
            1.0, 0.0, 0.0, -rest[1],
            0.0, 1.0, 0.0, -rest[2],
            0.0, 0.0, 1.0, -rest[3],
        );
        let Some(schur) = Schur::try_new(companion, 1e-15, 400) else {
            return out;
        };
        for root in schur.complex_eigenvalues().iter() {
            let off = 2.0 * root.im.abs() / (1.0 + root.re * root.re);
            if off > NEARLY_REAL_RAD {
                continue;
            }
            let mut rad = 2.0 * root.re.atan() + turn;
            for _ in 0..3 {
                let (value, slope) = self.at(rad);
                let step = value / slope;
                // Where two roots meet there is no slope to go by.
                if !(step.abs() < 1e-3) {
                    break;
                }
                rad -= step;
            }
            out.push(rad);
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::wrap_rad;

    /// By construction: the product of (cos(θ − a) − cos u) and (cos(θ − b) − cos v) vanishes at
    /// a ± u and b ± v.
    #[test]
    fn the_four_zeros_of_a_product_are_those_it_was_made_of() {
        let mut random = fastrand::Rng::with_seed(4);
        for _ in 0..2000 {
            let mut angle = |size: f64| (2.0 * random.f64() - 1.0) * size;
            let (a, b) = (angle(PI), angle(PI));
            let (u, v) = (angle(PI).abs(), angle(PI).abs());
            let factor = |m: f64, h: f64| Wave {
                k: -h.cos(),
                c: m.cos(),
                s: m.sin(),
            };
            let known = [a + u, a - u, b + v, b - v];
            let apart = |i: usize| {
                (0..4)
                    .filter(|k| *k != i)
                    .map(|k| wrap_rad(known[i] - known[k]).abs())
                    .fold(f64::INFINITY, f64::min)
            };
            let found = factor(a, u).by(factor(b, v)).zeros();
            for (i, rad) in known.iter().enumerate() {
                let near = found
                    .as_slice()
                    .iter()
                    .map(|f| wrap_rad(f - rad).abs())
                    .fold(f64::INFINITY, f64::min);
                // Roots that nearly meet are known to the root of rounding.
                let tolerance = if apart(i) > 1e-2 { 1e-9 } else { 1e-3 };
                assert!(near < tolerance, "{rad} of {known:?}: {found:?}");
            }
        }
    }

    /// By hand: 1 − 2 cos θ vanishes at ±60°; 3 + cos θ nowhere; 1 + cos θ touches at 180°.
    #[test]
    fn a_single_wave_has_two_zeros_or_none() {
        let wave = |k, c| Wave { k, c, s: 0.0 };
        let two = wave(1.0, -2.0).zeros();
        for rad in two.as_slice() {
            assert!((wrap_rad(*rad).abs() - PI / 3.0).abs() < 1e-12, "{rad}");
        }
        assert_eq!(two.as_slice().len(), 2);
        assert!(wave(3.0, 1.0).zeros().as_slice().is_empty());
        assert!((wave(1.0, 1.0).zeros().as_slice()[0].abs() - PI).abs() < 1e-7);
        assert!(Wave::constant(0.0).zeros().as_slice().is_empty());
    }
}
