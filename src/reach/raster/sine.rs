//! Sine and cosine of one angle at once, without the C library.

use std::f64::consts::PI;

use crate::reach::raster::lanes::ROUNDER;

/// π/2 in two parts, the first with 33 bits: few multiples of it are exact (Cody, Waite 1980).
const HALF_PI: [f64; 2] = [1.570_796_326_734_125_6, 6.077_100_506_506_192e-11];
/// Beyond this many rad the C library's functions are asked.
const NEAR_TURNS: f64 = 1e4;

/// Sine and cosine, off by less than 4e-16 up to a few turns: Taylor's series, cut after the 17th
/// power of at most π/4 (what is cut away of the cosine is below (π/4)¹⁸/18! = 2e-18).
#[inline(always)]
pub(super) fn sin_cos(x: f64) -> (f64, f64) {
    // NaN goes there too.
    if !(x.abs() < NEAR_TURNS) {
        return x.sin_cos();
    }
    let k = (x * (2.0 / PI) + ROUNDER) - ROUNDER;
    let r = (x - k * HALF_PI[0]) - k * HALF_PI[1];
    let z = r * r;
    const fn per_factorial(n: u32) -> f64 {
        let mut f = 1.0;
        let mut k = 2;
        while k <= n {
            f *= k as f64;
            k += 1;
        }
        if n % 4 < 2 { 1.0 / f } else { -1.0 / f }
    }
    const C: [f64; 18] = {
        let mut c = [0.0; 18];
        let mut k = 0;
        while k < 18 {
            c[k] = per_factorial(k as u32);
            k += 1;
        }
        c
    };
    let z2 = z * z;
    let sin = (C[3] + z * C[5])
        + z2 * ((C[7] + z * C[9]) + z2 * ((C[11] + z * C[13]) + z2 * (C[15] + z * C[17])));
    let sin = r + r * z * sin;
    let cos =
        (C[4] + z * C[6]) + z2 * ((C[8] + z * C[10]) + z2 * ((C[12] + z * C[14]) + z2 * C[16]));
    let cos = 1.0 - (0.5 * z - z2 * cos);
    match (k as i64) & 3 {
        0 => (sin, cos),
        1 => (cos, -sin),
        2 => (-sin, -cos),
        _ => (-cos, sin),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sine_and_cosine_are_those_of_the_library() {
        for k in -200_000..200_000 {
            let x = f64::from(k) * 1.37e-4;
            let (s, c) = sin_cos(x);
            let miss = (s - x.sin()).abs().max((c - x.cos()).abs());
            assert!(miss < 4e-16, "{x}: off by {miss:e}");
        }
        for x in [9.99e3, -9.99e3, 1e4, 1e9] {
            let (s, c) = sin_cos(x);
            assert!((s - x.sin()).abs().max((c - x.cos()).abs()) < 1e-12);
        }
    }
}
