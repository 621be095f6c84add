//! One row of stations, a vector of them at a time.

use pulp::Simd;
use pulp::WithSimd;

use crate::reach::raster::lanes::Lanes;
use crate::reach::raster::lanes::Num;
use crate::reach::raster::sweep::Best;
use crate::reach::raster::sweep::Sweep;
use crate::reach::raster::tilted::Tilted;

/// The margin of a node that the vectors leave to the general way: above all that there are.
pub(super) const UNSURE_RAD: f64 = 1e9;

/// Margins of one row.
pub(super) struct Line<'a> {
    pub track_mm: &'a [f64],
    pub margin_rad: &'a mut [f64],
    pub branch: &'a mut [u8],
}

impl<'a> Line<'a> {
    pub fn of<W: Way + ?Sized>(self, way: &'a W) -> Along<'a, W> {
        Along { line: self, way }
    }
}

/// How the margins of some travels are found.
pub(super) trait Way {
    fn take<N: Num>(&self, s: N, best: &mut Best<N>, unsure: &mut N);
}

impl Way for [Sweep] {
    #[inline(always)]
    fn take<N: Num>(&self, s: N, best: &mut Best<N>, _unsure: &mut N) {
        for sweep in self {
            sweep.take(s, best);
        }
    }
}

impl Way for Tilted {
    #[inline(always)]
    fn take<N: Num>(&self, s: N, best: &mut Best<N>, unsure: &mut N) {
        Tilted::take(self, s, best, unsure);
    }
}

/// A row and the way to go along it.
pub(super) struct Along<'a, W: ?Sized> {
    line: Line<'a>,
    way: &'a W,
}

impl<W: Way + ?Sized> WithSimd for Along<'_, W> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Line {
            track_mm,
            margin_rad,
            branch,
        } = self.line;
        let (whole, rest) = S::as_simd_f64s(track_mm);
        let (margins, margins_rest) = S::as_mut_simd_f64s(margin_rad);
        let (branches, branches_rest) = branch.split_at_mut(whole.len() * S::F64_LANES);
        let branches = branches.chunks_exact_mut(S::F64_LANES);
        for ((s, margin), branch) in whole.iter().zip(margins).zip(branches) {
            *margin = vector(simd, self.way, *s, branch);
        }
        if !rest.is_empty() {
            // The unused places hold travel 0, a station like any other.
            let s = simd.partial_load_f64s(rest);
            let margin = vector(simd, self.way, s, branches_rest);
            simd.partial_store_f64s(margins_rest, margin);
        }
    }
}

/// As many nodes as one vector holds, or fewer.
#[inline(always)]
fn vector<S: Simd, W: Way + ?Sized>(simd: S, way: &W, s: S::f64s, branch: &mut [u8]) -> S::f64s {
    let s = Lanes(simd, s);
    let mut best = Best::none(s);
    let mut unsure = s.all(0.0);
    way.take(s, &mut best, &mut unsure);
    let mut numbers = [0.0; 8];
    simd.partial_store_f64s(&mut numbers[..S::F64_LANES], best.branch.1);
    for (branch, number) in branch.iter_mut().zip(numbers) {
        *branch = number as u8;
    }
    s.all(0.5).below(unsure, s.all(UNSURE_RAD), best.margin).1
}
