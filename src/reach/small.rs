//! Small dense systems on the stack: at most seven joints and six conditions.

use crate::kinematics::MAX_JOINTS;

/// Most conditions that a target sets.
pub(super) const MAX_ROWS: usize = 6;
/// One row a condition, one column a joint.
pub(super) type Rows = [[f64; MAX_JOINTS]; MAX_ROWS];
/// One value a joint, rad; only the first ones are used.
pub(super) type Posture = [f64; MAX_JOINTS];

/// Solves `a x = b` of size `n` by elimination with row pivots; `None` where singular.
pub(super) fn solve_square(
    a: &mut [[f64; MAX_JOINTS]; MAX_JOINTS],
    b: &mut [f64; MAX_JOINTS],
    n: usize,
) -> Option<()> {
    for k in 0..n {
        let mut p = k;
        for i in k + 1..n {
            if a[i][k].abs() > a[p][k].abs() {
                p = i;
            }
        }
        // NaN lands here too.
        if !(a[p][k].abs() > 1e-14) {
            return None;
        }
        a.swap(k, p);
        b.swap(k, p);
        let inverse = 1.0 / a[k][k];
        for i in k + 1..n {
            let f = a[i][k] * inverse;
            if f != 0.0 {
                let pivot_row = a[k];
                for (x, y) in a[i][k + 1..n].iter_mut().zip(&pivot_row[k + 1..n]) {
                    *x -= f * y;
                }
                b[i] -= f * b[k];
            }
        }
    }
    for k in (0..n).rev() {
        let mut sum = b[k];
        for j in k + 1..n {
            sum -= a[k][j] * b[j];
        }
        b[k] = sum / a[k][k];
    }
    Some(())
}

fn dot(a: &Posture, b: &Posture) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// `J = L Q` with orthonormal rows of Q, and the rest of the space.
pub(super) struct RowSpace {
    lower: [[f64; MAX_ROWS]; MAX_ROWS],
    q: Rows,
    rows: usize,
    /// Orthonormal directions that J does not see.
    pub null: [Posture; MAX_JOINTS],
    /// How many.
    pub spare: usize,
}

impl RowSpace {
    /// Splits the space of `joints` columns; `None` where the rows are (nearly) dependent.
    pub fn of(j: &Rows, rows: usize, joints: usize) -> Option<Self> {
        let mut s = RowSpace {
            lower: [[0.0; MAX_ROWS]; MAX_ROWS],
            q: [[0.0; MAX_JOINTS]; MAX_ROWS],
            rows,
            null: [[0.0; MAX_JOINTS]; MAX_JOINTS],
            spare: 0,
        };
        for i in 0..rows {
            let mut v = [0.0; MAX_JOINTS];
            v[..joints].copy_from_slice(&j[i][..joints]);
            let size = dot(&v, &v).sqrt();
            for _ in 0..2 {
                for k in 0..i {
                    let f = dot(&v, &s.q[k]);
                    s.lower[i][k] += f;
                    for (x, y) in v.iter_mut().zip(&s.q[k]) {
                        *x -= f * y;
                    }
                }
            }
            let left = dot(&v, &v).sqrt();
            if !(left > 1e-9 * size) {
                return None;
            }
            s.lower[i][i] = left;
            s.q[i] = v.map(|x| x / left);
        }
        for unit in 0..joints {
            if rows + s.spare == joints {
                break;
            }
            let mut v = [0.0; MAX_JOINTS];
            v[unit] = 1.0;
            for _ in 0..2 {
                for w in s.q[..rows].iter().chain(&s.null[..s.spare]) {
                    let f = dot(&v, w);
                    for (x, y) in v.iter_mut().zip(w) {
                        *x -= f * y;
                    }
                }
            }
            let left = dot(&v, &v).sqrt();
            if left > 0.2 / joints as f64 {
                s.null[s.spare] = v.map(|x| x / left);
                s.spare += 1;
            }
        }
        Some(s)
    }

    /// The shortest step d with `J d = r`.
    pub fn shortest(&self, r: &[f64; MAX_ROWS]) -> Posture {
        let mut y = [0.0; MAX_ROWS];
        let mut d = [0.0; MAX_JOINTS];
        for i in 0..self.rows {
            let mut sum = r[i];
            for k in 0..i {
                sum -= self.lower[i][k] * y[k];
            }
            y[i] = sum / self.lower[i][i];
            for (x, q) in d.iter_mut().zip(&self.q[i]) {
                *x += y[i] * q;
            }
        }
        d
    }
}

/// Most spare directions: seven joints, three conditions.
pub(super) const MAX_SPARE: usize = 4;
/// Most lines of [`largest_minimum`]: two limits a joint.
pub(super) const LINES: usize = 2 * MAX_JOINTS;

/// Maximises `t + gain · y` with `t ≤ height + slope · y` for every line, over the box
/// `|y_k| ≤ reach`. Simplex with Bland's rule (it cannot cycle), bounded anyway. Returns y.
pub(super) fn largest_minimum(
    slopes: &[[f64; MAX_SPARE]],
    heights: &[f64],
    gain: &[f64; MAX_SPARE],
    spare: usize,
    reach: f64,
) -> [f64; MAX_SPARE] {
    const WIDTH: usize = MAX_SPARE + 1 + LINES + MAX_SPARE + 1;
    const HEIGHT: usize = LINES + MAX_SPARE + 1;
    let lines = slopes.len().min(LINES);
    // Unknowns x = y + reach ≥ 0 and t above the lowest line at that corner: the corner is a start.
    let at_corner = |i: usize| heights[i] - slopes[i][..spare].iter().sum::<f64>() * reach;
    let offset = (0..lines).map(at_corner).fold(f64::INFINITY, f64::min);
    let (rows, vars) = (lines + spare, spare + 1);
    let last = vars + rows;
    let mut t = [[0.0; WIDTH]; HEIGHT];
    let mut basis = [0usize; HEIGHT];
    for i in 0..lines {
        for k in 0..spare {
            t[i][k] = -slopes[i][k];
        }
        t[i][spare] = 1.0;
        t[i][last] = at_corner(i) - offset;
    }
    for k in 0..spare {
        t[lines + k][k] = 1.0;
        t[lines + k][last] = 2.0 * reach;
        t[rows][k] = -gain[k];
    }
    t[rows][spare] = -1.0;
    for i in 0..rows {
        t[i][vars + i] = 1.0;
        basis[i] = vars + i;
    }
    for _ in 0..80 {
        let Some(enter) = (0..last).find(|&c| t[rows][c] < -1e-13) else {
            break;
        };
        let mut leave = None;
        let mut best = f64::INFINITY;
        for (i, row) in t.iter().enumerate().take(rows) {
            if row[enter] > 1e-13 && row[last] / row[enter] < best {
                best = row[last] / row[enter];
                leave = Some(i);
            }
        }
        let Some(leave) = leave else { break };
        let scale = 1.0 / t[leave][enter];
        for x in &mut t[leave][..=last] {
            *x *= scale;
        }
        let pivot_row = t[leave];
        for (i, row) in t.iter_mut().enumerate().take(rows + 1) {
            let f = row[enter];
            if i != leave && f != 0.0 {
                for (x, p) in row[..=last].iter_mut().zip(&pivot_row[..=last]) {
                    *x -= f * p;
                }
            }
        }
        basis[leave] = enter;
    }
    let mut y = [0.0; MAX_SPARE];
    for (i, b) in basis.iter().enumerate().take(rows) {
        if *b < spare {
            y[*b] = t[i][last];
        }
    }
    for x in y.iter_mut().take(spare) {
        *x = (*x - reach).clamp(-reach, reach);
    }
    y
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_largest_minimum_of_two_lines_is_where_they_cross() {
        // By hand: 1 + y and 2 − 3y cross at y = 0.25.
        let y = largest_minimum(
            &[[1.0, 0.0, 0.0, 0.0], [-3.0, 0.0, 0.0, 0.0]],
            &[1.0, 2.0],
            &[0.0; MAX_SPARE],
            1,
            1.0,
        );
        assert!((y[0] - 0.25).abs() < 1e-12, "{y:?}");
    }

    #[test]
    fn the_spare_space_is_not_seen_and_the_shortest_step_meets_the_rows() {
        let mut j = [[0.0; MAX_JOINTS]; MAX_ROWS];
        j[0] = [1.0, 2.0, 3.0, 4.0, 0.0, 0.0, 0.0];
        j[1] = [0.0, -1.0, 0.5, 2.0, 0.0, 0.0, 0.0];
        let space = RowSpace::of(&j, 2, 4).expect("independent rows");
        assert_eq!(space.spare, 2);
        let d = space.shortest(&[3.0, -2.0, 0.0, 0.0, 0.0, 0.0]);
        assert!((dot(&j[0], &d) - 3.0).abs() < 1e-12 && (dot(&j[1], &d) + 2.0).abs() < 1e-12);
        for v in &space.null[..2] {
            assert!(dot(&j[0], v).abs() < 1e-12 && dot(&j[1], v).abs() < 1e-12);
        }
    }
}
