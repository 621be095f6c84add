//! The two inner loops, in whatever vector width the processor offers at run time.

use pulp::Simd;
use pulp::WithSimd;

/// Takes `height` further rows into a triangular factor by Householder reflections.
///
/// `tile` holds n + 1 columns of `height` values: the rows of J and, last, their residuals. `upper` is
/// row-major with n + 1 entries in a row: R and, last, Qᵀr. Reflection k touches row k of R and the tile,
/// u = (R_kk − β, tile column k), β = −sign(R_kk)·‖(R_kk, column)‖, H = I − 2uuᵀ/uᵀu (Golub, Van Loan, §5.1).
/// What is left in the tile afterwards is scratch.
pub(super) struct Absorb<'a> {
    pub tile: &'a mut [f64],
    pub height: usize,
    pub upper: &'a mut [f64],
    pub unknowns: usize,
}

impl WithSimd for Absorb<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Absorb {
            tile,
            height,
            upper,
            unknowns,
        } = self;
        let width = unknowns + 1;
        for k in 0..unknowns {
            let (left, right) = tile.split_at_mut((k + 1) * height);
            let v = S::as_simd_f64s(&left[k * height..]).0;
            let row = &mut upper[k * width + k..(k + 1) * width];
            let below = dot(simd, v, v);
            if below == 0.0 {
                continue;
            }
            let alpha = row[0];
            let beta = -(alpha * alpha + below).sqrt().copysign(alpha);
            let head = alpha - beta;
            let gain = -1.0 / (beta * head);
            row[0] = beta;
            let mut heads = row[1..].chunks_exact_mut(4);
            let mut columns = right.chunks_exact_mut(4 * height);
            for (heads, four) in heads.by_ref().zip(columns.by_ref()) {
                reflect_four(simd, v, head, gain, heads, four, height);
            }
            let rest = columns.into_remainder();
            for (top, column) in heads
                .into_remainder()
                .iter_mut()
                .zip(rest.chunks_exact_mut(height))
            {
                let column = S::as_mut_simd_f64s(column).0;
                let t = (head * *top + dot(simd, v, column)) * gain;
                *top -= t * head;
                subtract(simd, t, v, column);
            }
        }
    }
}

#[inline(always)]
fn reflect_four<S: Simd>(
    simd: S,
    v: &[S::f64s],
    head: f64,
    gain: f64,
    tops: &mut [f64],
    four: &mut [f64],
    height: usize,
) {
    let (a, rest) = four.split_at_mut(height);
    let (b, rest) = rest.split_at_mut(height);
    let (c, d) = rest.split_at_mut(height);
    let a = &mut S::as_mut_simd_f64s(a).0[..v.len()];
    let b = &mut S::as_mut_simd_f64s(b).0[..v.len()];
    let c = &mut S::as_mut_simd_f64s(c).0[..v.len()];
    let d = &mut S::as_mut_simd_f64s(d).0[..v.len()];
    let zero = simd.splat_f64s(0.0);
    let mut even = [zero; 4];
    let mut odd = [zero; 4];
    let half = v.len() / 2;
    for i in 0..half {
        let (p, q) = (2 * i, 2 * i + 1);
        even[0] = simd.mul_add_e_f64s(v[p], a[p], even[0]);
        even[1] = simd.mul_add_e_f64s(v[p], b[p], even[1]);
        even[2] = simd.mul_add_e_f64s(v[p], c[p], even[2]);
        even[3] = simd.mul_add_e_f64s(v[p], d[p], even[3]);
        odd[0] = simd.mul_add_e_f64s(v[q], a[q], odd[0]);
        odd[1] = simd.mul_add_e_f64s(v[q], b[q], odd[1]);
        odd[2] = simd.mul_add_e_f64s(v[q], c[q], odd[2]);
        odd[3] = simd.mul_add_e_f64s(v[q], d[q], odd[3]);
    }
    if v.len() % 2 == 1 {
        let p = v.len() - 1;
        even[0] = simd.mul_add_e_f64s(v[p], a[p], even[0]);
        even[1] = simd.mul_add_e_f64s(v[p], b[p], even[1]);
        even[2] = simd.mul_add_e_f64s(v[p], c[p], even[2]);
        even[3] = simd.mul_add_e_f64s(v[p], d[p], even[3]);
    }
    let mut minus = [zero; 4];
    for j in 0..4 {
        let along = simd.reduce_sum_f64s(simd.add_f64s(even[j], odd[j]));
        let t = (head * tops[j] + along) * gain;
        tops[j] -= t * head;
        minus[j] = simd.splat_f64s(-t);
    }
    for i in 0..v.len() {
        a[i] = simd.mul_add_e_f64s(minus[0], v[i], a[i]);
        b[i] = simd.mul_add_e_f64s(minus[1], v[i], b[i]);
        c[i] = simd.mul_add_e_f64s(minus[2], v[i], c[i]);
        d[i] = simd.mul_add_e_f64s(minus[3], v[i], d[i]);
    }
}

#[inline(always)]
fn dot<S: Simd>(simd: S, a: &[S::f64s], b: &[S::f64s]) -> f64 {
    let zero = simd.splat_f64s(0.0);
    let mut sums = [zero; 4];
    let (a4, a1) = pulp::as_arrays::<4, _>(a);
    let (b4, b1) = pulp::as_arrays::<4, _>(b);
    for (a, b) in a4.iter().zip(b4) {
        for j in 0..4 {
            sums[j] = simd.mul_add_e_f64s(a[j], b[j], sums[j]);
        }
    }
    for (a, b) in a1.iter().zip(b1) {
        sums[0] = simd.mul_add_e_f64s(*a, *b, sums[0]);
    }
    simd.reduce_sum_f64s(simd.add_f64s(
        simd.add_f64s(sums[0], sums[1]),
        simd.add_f64s(sums[2], sums[3]),
    ))
}

#[inline(always)]
fn subtract<S: Simd>(simd: S, t: f64, v: &[S::f64s], column: &mut [S::f64s]) {
    let minus = simd.splat_f64s(-t);
    for (c, v) in column.iter_mut().zip(v) {
        *c = simd.mul_add_e_f64s(minus, *v, *c);
    }
}

/// Σ_k ((J R⁻¹)_ik)² for each row i of a tile; `tile` is overwritten by J R⁻¹, `sums` gets `height` values.
///
/// Forward substitution row by row, written column by column so that eight rows advance together.
pub(super) struct RowSolve<'a> {
    pub tile: &'a mut [f64],
    pub height: usize,
    pub upper: &'a [f64],
    pub unknowns: usize,
    pub sums: &'a mut [f64],
}

impl WithSimd for RowSolve<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let RowSolve {
            tile,
            height,
            upper,
            unknowns,
            sums,
        } = self;
        let width = unknowns + 1;
        let sums = S::as_mut_simd_f64s(&mut sums[..height]).0;
        sums.fill(simd.splat_f64s(0.0));
        for k in 0..unknowns {
            let (done, now) = tile.split_at_mut(k * height);
            let now = S::as_mut_simd_f64s(&mut now[..height]).0;
            for (i, column) in done.chunks_exact(height).enumerate() {
                subtract(simd, upper[i * width + k], S::as_simd_f64s(column).0, now);
            }
            let inverse = simd.splat_f64s(1.0 / upper[k * width + k]);
            for (value, sum) in now.iter_mut().zip(sums.iter_mut()) {
                *value = simd.mul_f64s(*value, inverse);
                *sum = simd.mul_add_e_f64s(*value, *value, *sum);
            }
        }
    }
}
