//! The two inner loops, in whatever vector width the processor offers at run time.

use pulp::Simd;
use pulp::WithSimd;

/// Takes `height` further rows into a triangular factor by Householder reflections.
///
/// `tile` holds n + 1 columns of `height` values: the rows of J and, last, their residuals. `upper` is
/// row-major with n + 1 entries in a row: R and, last, Qᵀr. Reflection k touches row k of R and the tile,
/// u = (R_kk − β, tile column k), β = −sign(R_kk)·‖(R_kk, column)‖, H = I − 2uuᵀ/uᵀu (Golub, Van Loan, §5.1).
/// Two reflections are applied in one pass over the columns to their right: storing is what takes the time.
/// What is left in the tile afterwards is scratch.
pub(super) struct Absorb<'a> {
    pub tile: &'a mut [f64],
    pub height: usize,
    pub upper: &'a mut [f64],
    pub unknowns: usize,
}

/// H = I − gain·uuᵀ with u = (head, v); gain = 0 where there is nothing to reflect.
#[derive(Clone, Copy)]
struct Reflection {
    head: f64,
    gain: f64,
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
        let mut k = 0;
        while k + 1 < unknowns {
            let (rows, _) = upper[k * width..].split_at_mut(2 * width);
            let (row, next_row) = rows.split_at_mut(width);
            let (left, right) = tile.split_at_mut((k + 2) * height);
            let (v, w) = left[k * height..].split_at_mut(height);
            let v = S::as_simd_f64s(v).0;
            let first = reflection(simd, v, &mut row[k]);
            reflect(simd, first, v, &mut row[k + 1], S::as_mut_simd_f64s(w).0);
            let w = S::as_simd_f64s(w).0;
            let second = reflection(simd, w, &mut next_row[k + 1]);
            let both = Pair {
                first,
                second,
                v,
                w,
                vw: dot(simd, v, w),
            };
            let (tops, next_tops) = (&mut row[k + 2..], &mut next_row[k + 2..]);
            let fours = right.len() / height / 4 * 4;
            let (wide, narrow) = right.split_at_mut(fours * height);
            let (tops, tops_rest) = tops.split_at_mut(fours);
            let (next_tops, next_tops_rest) = next_tops.split_at_mut(fours);
            for ((columns, tops), next_tops) in wide
                .chunks_exact_mut(4 * height)
                .zip(tops.chunks_exact_mut(4))
                .zip(next_tops.chunks_exact_mut(4))
            {
                reflect_four(simd, &both, columns, tops, next_tops);
            }
            for ((column, top), next_top) in narrow
                .chunks_exact_mut(height)
                .zip(tops_rest)
                .zip(next_tops_rest)
            {
                reflect_one(simd, &both, column, top, next_top);
            }
            k += 2;
        }
        if k < unknowns {
            let row = &mut upper[k * width..];
            let (v, column) = tile[k * height..].split_at_mut(height);
            let v = S::as_simd_f64s(v).0;
            let last = reflection(simd, v, &mut row[k]);
            reflect(
                simd,
                last,
                v,
                &mut row[k + 1],
                S::as_mut_simd_f64s(&mut column[..height]).0,
            );
        }
    }
}

/// The reflection that takes (alpha, v) to (β, 0); alpha becomes β.
#[inline(always)]
fn reflection<S: Simd>(simd: S, v: &[S::f64s], alpha: &mut f64) -> Reflection {
    let below = dot(simd, v, v);
    if below == 0.0 {
        return Reflection {
            head: 0.0,
            gain: 0.0,
        };
    }
    let beta = -(*alpha * *alpha + below).sqrt().copysign(*alpha);
    let head = *alpha - beta;
    *alpha = beta;
    Reflection {
        head,
        gain: -1.0 / (beta * head),
    }
}

#[inline(always)]
fn reflect<S: Simd>(simd: S, by: Reflection, v: &[S::f64s], top: &mut f64, column: &mut [S::f64s]) {
    let t = (by.head * *top + dot(simd, v, column)) * by.gain;
    *top -= t * by.head;
    subtract(simd, t, v, column);
}

/// Two reflections to be applied one after the other.
struct Pair<'a, V> {
    first: Reflection,
    second: Reflection,
    v: &'a [V],
    w: &'a [V],
    /// vᵀw.
    vw: f64,
}

/// Reflects four adjacent columns with their entries in the two rows of R.
#[inline(always)]
fn reflect_four<S: Simd>(
    simd: S,
    by: &Pair<'_, S::f64s>,
    columns: &mut [f64],
    tops: &mut [f64],
    next: &mut [f64],
) {
    let height = columns.len() / 4;
    let (a, rest) = columns.split_at_mut(height);
    let (b, rest) = rest.split_at_mut(height);
    let (c, d) = rest.split_at_mut(height);
    let (a, b) = (S::as_mut_simd_f64s(a).0, S::as_mut_simd_f64s(b).0);
    let (c, d) = (S::as_mut_simd_f64s(c).0, S::as_mut_simd_f64s(d).0);
    let mut along_v = [simd.splat_f64s(0.0); 4];
    let mut along_w = along_v;
    for (((((v, w), a), b), c), d) in by.v.iter().zip(by.w).zip(&*a).zip(&*b).zip(&*c).zip(&*d) {
        for (j, value) in [*a, *b, *c, *d].into_iter().enumerate() {
            along_v[j] = simd.mul_add_e_f64s(*v, value, along_v[j]);
            along_w[j] = simd.mul_add_e_f64s(*w, value, along_w[j]);
        }
    }
    let mut minus_v = [simd.splat_f64s(0.0); 4];
    let mut minus_w = minus_v;
    for j in 0..4 {
        let (along_v, along_w) = (
            simd.reduce_sum_f64s(along_v[j]),
            simd.reduce_sum_f64s(along_w[j]),
        );
        let (t, u) = by.factors(along_v, along_w, &mut tops[j], &mut next[j]);
        minus_v[j] = simd.splat_f64s(-t);
        minus_w[j] = simd.splat_f64s(-u);
    }
    for (((((v, w), a), b), c), d) in by.v.iter().zip(by.w).zip(a).zip(b).zip(c).zip(d) {
        for (j, value) in [a, b, c, d].into_iter().enumerate() {
            let less = simd.mul_add_e_f64s(minus_v[j], *v, *value);
            *value = simd.mul_add_e_f64s(minus_w[j], *w, less);
        }
    }
}

/// Reflects one column.
#[inline(always)]
fn reflect_one<S: Simd>(
    simd: S,
    by: &Pair<'_, S::f64s>,
    column: &mut [f64],
    top: &mut f64,
    next: &mut f64,
) {
    let column = S::as_mut_simd_f64s(column).0;
    let (t, u) = by.factors(dot(simd, by.v, column), dot(simd, by.w, column), top, next);
    subtract(simd, t, by.v, column);
    subtract(simd, u, by.w, column);
}

impl<V> Pair<'_, V> {
    /// How much of v and w to take from a column with the products `along_v` and `along_w`; updates its entries in R.
    #[inline(always)]
    fn factors(&self, along_v: f64, along_w: f64, top: &mut f64, next: &mut f64) -> (f64, f64) {
        let t = (self.first.head * *top + along_v) * self.first.gain;
        let u = (self.second.head * *next + along_w - t * self.vw) * self.second.gain;
        *top -= t * self.first.head;
        *next -= u * self.second.head;
        (t, u)
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
