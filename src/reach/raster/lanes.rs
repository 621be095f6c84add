//! Several numbers at once, in whatever vector width the processor offers at run time, and the
//! arctangent of them.

use std::f64::consts::FRAC_PI_2;
use std::f64::consts::FRAC_PI_4;
use std::f64::consts::PI;
use std::f64::consts::TAU;
use std::ops::Add;
use std::ops::Mul;
use std::ops::Neg;
use std::ops::Sub;

use pulp::Simd;
use wide::CmpLt;
use wide::f64x4;

/// tan(π/8) = √2 − 1.
const TAN_EIGHTH: f64 = 0.414_213_562_373_095_05;

/// atan x = x·Σ cₖ x²ᵏ for |x| ≤ tan(π/8): the Chebyshev series
/// atan(kx) = 2 Σ (−1)ʲ ρ²ʲ⁺¹/(2j+1) T₂ⱼ₊₁(x), ρ = tan(π/16) for k = tan(π/8), cut after ten terms
/// and written out in powers. What is cut away is at most 2ρ²¹/21/(1 − ρ²) = 1.9e-16.
const ATAN: [f64; 10] = [
    0.999_999_999_999_990_6,
    -0.333_333_333_329_281_4,
    0.199_999_999_484_687_58,
    -0.142_857_112_726_588_63,
    0.111_110_139_041_371_58,
    -0.090_890_131_147_222_66,
    0.076_689_139_060_161_52,
    -0.064_814_154_123_893_14,
    0.049_533_201_599_576_07,
    -0.024_441_523_691_688_016,
];

/// Adding and taking away this rounds to a whole number (1.5·2⁵²).
pub(super) const ROUNDER: f64 = 6_755_399_441_055_744.0;

/// A number, or several worked on at once. No closures here and in what is built on it: they
/// would not be compiled for the vectors chosen at run time.
pub(super) trait Num:
    Copy + Add<Output = Self> + Sub<Output = Self> + Mul<Output = Self> + Neg<Output = Self>
{
    /// The same number everywhere, beside this one.
    fn all(self, x: f64) -> Self;
    /// `self·a + b`, in one operation where the processor is known to have it.
    fn times_plus(self, a: Self, b: Self) -> Self;
    /// `b − self·a`, likewise.
    fn times_from(self, a: Self, b: Self) -> Self;
    fn over(self, o: Self) -> Self;
    fn min(self, o: Self) -> Self;
    fn max(self, o: Self) -> Self;
    fn abs(self) -> Self;
    /// The root; 0 of negative numbers.
    fn root(self) -> Self;
    /// `yes` where `self < limit`, else `no`.
    fn below(self, limit: Self, yes: Self, no: Self) -> Self;
    /// The largest of them.
    fn most(self) -> f64;

    /// atan2(`self`, `x`) for `self` ≥ 0: 0 to π, off by less than 1e-15. 0 where both are 0.
    #[inline(always)]
    fn arc(self, x: Self) -> Self {
        let ax = x.abs();
        let low = self.min(ax);
        let high = self.max(ax).max(self.all(f64::MIN_POSITIVE));
        // Beyond π/8: atan t = π/4 + atan((t − 1)/(t + 1)).
        let bend = high * self.all(TAN_EIGHTH);
        let top = low.below(bend, low, low - high);
        let bottom = low.below(bend, high, low + high);
        let add = low.below(bend, self.all(0.0), self.all(FRAC_PI_4));
        let t = top.over(bottom);
        let t2 = t * t;
        let t4 = t2 * t2;
        // Two chains at once: even and odd powers of t².
        let even = self
            .all(ATAN[8])
            .times_plus(t4, self.all(ATAN[6]))
            .times_plus(t4, self.all(ATAN[4]))
            .times_plus(t4, self.all(ATAN[2]))
            .times_plus(t4, self.all(ATAN[0]));
        let odd = self
            .all(ATAN[9])
            .times_plus(t4, self.all(ATAN[7]))
            .times_plus(t4, self.all(ATAN[5]))
            .times_plus(t4, self.all(ATAN[3]))
            .times_plus(t4, self.all(ATAN[1]));
        let r = odd.times_plus(t2, even).times_plus(t, add);
        let r = ax.below(self, self.all(FRAC_PI_2) - r, r);
        x.below(self.all(0.0), self.all(PI) - r, r)
    }

    /// atan2(`self`, `x`) of any sign.
    #[inline(always)]
    fn arc_around(self, x: Self) -> Self {
        let r = self.abs().arc(x);
        self.below(self.all(0.0), -r, r)
    }

    /// An angle of a few turns with full turns taken off: −π to π.
    #[inline(always)]
    fn wrapped(self) -> Self {
        let rounder = self.all(ROUNDER);
        let turns = self.times_plus(self.all(1.0 / TAU), rounder) - rounder;
        turns.times_from(self.all(TAU), self)
    }

    /// The size of that.
    #[inline(always)]
    fn apart(self) -> Self {
        self.wrapped().abs()
    }
}

/// Four of them.
pub(super) trait Quad: Num {
    /// What is needed to make the first.
    type Kind: Copy;
    fn of(kind: Self::Kind, x: [f64; 4]) -> Self;
    fn parts(self) -> [f64; 4];
}

/// As many numbers as one vector of this processor holds.
#[derive(Clone, Copy)]
pub(super) struct Lanes<S: Simd>(pub S, pub S::f64s);

/// Four numbers in the vectors that every processor of this family has.
#[derive(Clone, Copy)]
pub(super) struct Four(pub f64x4);

macro_rules! operators {
    ($($trait:ident $name:ident $method:ident $op:tt)*) => {$(
        impl<S: Simd> $trait for Lanes<S> {
            type Output = Self;
            #[inline(always)]
            fn $name(self, o: Self) -> Self {
                Lanes(self.0, self.0.$method(self.1, o.1))
            }
        }
        impl $trait for Four {
            type Output = Self;
            #[inline(always)]
            fn $name(self, o: Self) -> Self {
                Four(self.0 $op o.0)
            }
        }
    )*};
}
operators!(Add add add_f64s + Sub sub sub_f64s - Mul mul mul_f64s *);

impl<S: Simd> Neg for Lanes<S> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Lanes(self.0, self.0.neg_f64s(self.1))
    }
}
impl Neg for Four {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Four(-self.0)
    }
}

impl<S: Simd> Lanes<S> {
    #[inline(always)]
    pub fn splat(simd: S, x: f64) -> Self {
        Lanes(simd, simd.splat_f64s(x))
    }
}

impl<S: Simd> Num for Lanes<S> {
    #[inline(always)]
    fn all(self, x: f64) -> Self {
        Self::splat(self.0, x)
    }
    #[inline(always)]
    fn times_plus(self, a: Self, b: Self) -> Self {
        Lanes(self.0, self.0.mul_add_e_f64s(self.1, a.1, b.1))
    }
    #[inline(always)]
    fn times_from(self, a: Self, b: Self) -> Self {
        Lanes(self.0, self.0.negate_mul_add_e_f64s(self.1, a.1, b.1))
    }
    #[inline(always)]
    fn over(self, o: Self) -> Self {
        Lanes(self.0, self.0.div_f64s(self.1, o.1))
    }
    #[inline(always)]
    fn min(self, o: Self) -> Self {
        Lanes(self.0, self.0.min_f64s(self.1, o.1))
    }
    #[inline(always)]
    fn max(self, o: Self) -> Self {
        Lanes(self.0, self.0.max_f64s(self.1, o.1))
    }
    #[inline(always)]
    fn abs(self) -> Self {
        Lanes(self.0, self.0.abs_f64s(self.1))
    }
    #[inline(always)]
    fn root(self) -> Self {
        let floor = Num::max(self, self.all(0.0));
        Lanes(self.0, self.0.sqrt_f64s(floor.1))
    }
    #[inline(always)]
    fn below(self, limit: Self, yes: Self, no: Self) -> Self {
        let mask = self.0.less_than_f64s(self.1, limit.1);
        Lanes(self.0, self.0.select_f64s(mask, yes.1, no.1))
    }
    #[inline(always)]
    fn most(self) -> f64 {
        self.0.reduce_max_f64s(self.1)
    }
}

impl Num for Four {
    #[inline(always)]
    fn all(self, x: f64) -> Self {
        Four(f64x4::splat(x))
    }
    #[inline(always)]
    fn times_plus(self, a: Self, b: Self) -> Self {
        Four(self.0 * a.0 + b.0)
    }
    #[inline(always)]
    fn times_from(self, a: Self, b: Self) -> Self {
        Four(b.0 - self.0 * a.0)
    }
    #[inline(always)]
    fn over(self, o: Self) -> Self {
        Four(self.0 / o.0)
    }
    #[inline(always)]
    fn min(self, o: Self) -> Self {
        Four(self.0.fast_min(o.0))
    }
    #[inline(always)]
    fn max(self, o: Self) -> Self {
        Four(self.0.fast_max(o.0))
    }
    #[inline(always)]
    fn abs(self) -> Self {
        Four(self.0.abs())
    }
    #[inline(always)]
    fn root(self) -> Self {
        Four(self.0.fast_max(f64x4::ZERO).sqrt())
    }
    #[inline(always)]
    fn below(self, limit: Self, yes: Self, no: Self) -> Self {
        Four(self.0.cmp_lt(limit.0).blend(yes.0, no.0))
    }
    #[inline(always)]
    fn most(self) -> f64 {
        let [a, b, c, d] = self.0.to_array();
        f64::max(f64::max(a, b), f64::max(c, d))
    }
}

impl Quad for Four {
    type Kind = ();
    #[inline(always)]
    fn of(_: (), x: [f64; 4]) -> Self {
        Four(f64x4::new(x))
    }
    #[inline(always)]
    fn parts(self) -> [f64; 4] {
        self.0.to_array()
    }
}

/// For vectors of four; of shorter ones only the first numbers are taken.
impl<S: Simd> Quad for Lanes<S> {
    type Kind = S;
    #[inline(always)]
    fn of(simd: S, x: [f64; 4]) -> Self {
        match S::as_simd_f64s(&x).0 {
            [v, ..] => Lanes(simd, *v),
            [] => Lanes::splat(simd, x[0]),
        }
    }
    #[inline(always)]
    fn parts(self) -> [f64; 4] {
        let mut out = [0.0; 4];
        if let [v, ..] = S::as_mut_simd_f64s(&mut out).0 {
            *v = self.1;
        }
        out
    }
}

impl Num for f64 {
    #[inline(always)]
    fn all(self, x: f64) -> Self {
        x
    }
    #[inline(always)]
    fn times_plus(self, a: Self, b: Self) -> Self {
        self * a + b
    }
    #[inline(always)]
    fn times_from(self, a: Self, b: Self) -> Self {
        b - self * a
    }
    #[inline(always)]
    fn over(self, o: Self) -> Self {
        self / o
    }
    #[inline(always)]
    fn min(self, o: Self) -> Self {
        if self < o { self } else { o }
    }
    #[inline(always)]
    fn max(self, o: Self) -> Self {
        if self > o { self } else { o }
    }
    #[inline(always)]
    fn abs(self) -> Self {
        f64::abs(self)
    }
    #[inline(always)]
    fn root(self) -> Self {
        Num::max(self, 0.0).sqrt()
    }
    #[inline(always)]
    fn below(self, limit: Self, yes: Self, no: Self) -> Self {
        if self < limit { yes } else { no }
    }
    #[inline(always)]
    fn most(self) -> f64 {
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use pulp::Arch;
    use pulp::WithSimd;

    /// Arctangents and wrapped sizes of pairs, one vector after another.
    struct Arcs<'a> {
        y: &'a [f64],
        x: &'a [f64],
        out: &'a mut [[f64; 2]],
    }
    impl WithSimd for Arcs<'_> {
        type Output = ();
        #[inline(always)]
        fn with_simd<S: Simd>(self, simd: S) {
            for ((y, x), out) in self.y.iter().zip(self.x).zip(self.out) {
                let (y, x) = (Lanes::splat(simd, *y), Lanes::splat(simd, *x));
                out[0] = simd.reduce_max_f64s(y.arc_around(x).1);
                out[1] = simd.reduce_max_f64s(y.apart().1);
            }
        }
    }

    /// In the widest vectors, without any, and in fours.
    fn arcs(y: &[f64], x: &[f64]) -> [Vec<[f64; 2]>; 3] {
        let mut out = [(); 3].map(|()| vec![[0.0; 2]; y.len()]);
        let [wide, plain, four] = &mut out;
        Arch::new().dispatch(Arcs { y, x, out: wide });
        for (k, (y, x)) in y.iter().zip(x).enumerate() {
            plain[k] = [y.arc_around(*x), y.apart()];
            let (y, x) = (Four(f64x4::splat(*y)), Four(f64x4::splat(*x)));
            let (a, b) = (y.arc_around(x).0.to_array(), y.apart().0.to_array());
            four[k] = [a[k % 4], b[k % 4]];
        }
        out
    }

    #[test]
    fn the_arctangent_keeps_its_bound_all_around() {
        // Against the C library's, itself good to a unit of the last digit (4.4e-16 at π).
        let (mut y, mut x) = (Vec::new(), Vec::new());
        for k in 0..400_000 {
            let a = f64::from(k) * (TAU / 400_000.0) - PI;
            let length = 10f64.powi(k % 13 - 6);
            y.push(length * a.sin());
            x.push(length * a.cos());
        }
        for e in -300..300 {
            for s in [1.0, -1.0] {
                y.push(s * 10f64.powi(e));
                x.push(-s);
                y.push(s * 10f64.powi(e));
                x.push(1.0);
            }
        }
        // On both sides of every seam: π/8, π/4, 3π/8, …
        for k in 1..16 {
            for d in [-1e-15, 0.0, 1e-15] {
                let a = f64::from(k) * (PI / 8.0) + d;
                y.push(a.sin());
                x.push(a.cos());
            }
        }
        for out in arcs(&y, &x) {
            for ((y, x), got) in y.iter().zip(&x).zip(&out) {
                let miss = (got[0] - y.atan2(*x)).abs();
                assert!(miss < 1.5e-15, "atan2({y}, {x}): off by {miss:e}");
            }
        }
        for out in arcs(&[0.0, 0.0, 2.0, -2.0], &[0.0, 1.0, 0.0, 0.0]) {
            assert_eq!(out[0][0], 0.0);
            assert_eq!(out[1][0], 0.0);
            assert_eq!(out[2][0], FRAC_PI_2);
            assert_eq!(out[3][0], -FRAC_PI_2);
        }
    }

    #[test]
    fn full_turns_are_taken_off() {
        let angles: Vec<f64> = (-4000..4000).map(|k| f64::from(k) * 0.0051).collect();
        for out in arcs(&angles, &angles) {
            for (a, got) in angles.iter().zip(&out) {
                let want = crate::units::wrap_rad(*a).abs();
                assert!((got[1] - want).abs() < 1e-14, "{a}: {} {want}", got[1]);
            }
        }
    }
}
