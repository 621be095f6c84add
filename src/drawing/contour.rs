//! Lines of equal value on a grid: marching squares with linear interpolation along the cells' edges
//! (the usual method; described for instance by C. Maple, Geometric design and space planning using
//! the marching squares and marching cube algorithms, 2003; the source is named from memory).

/// A line through points, in the units of the grid.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    pub points: Vec<(f64, f64)>,
    /// Whether the last point joins the first (which is not repeated).
    pub closed: bool,
}

/// No edge.
const NONE: usize = usize::MAX;

/// The lines on which the values are `level`. Values are row-major, y outer; a value equal to the
/// level counts as above it. Cells with a corner that is missing or not finite are skipped, and so
/// lines end there. Where the corners of a cell are above and below in turn, the mean of the four says
/// which pair hangs together. Nothing where the values do not fit the nodes.
pub fn contour(x: &[f64], y: &[f64], values: &[Option<f64>], level: f64) -> Vec<Line> {
    let (columns, rows) = (x.len(), y.len());
    if values.len() != columns * rows || columns < 2 || rows < 2 {
        return Vec::new();
    }
    // Edge 2(j·columns + i) runs from node (i, j) to (i + 1, j), the next one to (i, j + 1).
    let mut links = vec![[NONE; 2]; 2 * columns * rows];
    let mut join = |a: usize, b: usize| {
        for (from, to) in [(a, b), (b, a)] {
            let [first, second] = &mut links[from];
            if *first == NONE {
                *first = to;
            } else {
                *second = to;
            }
        }
    };
    let value = |i: usize, j: usize| values[j * columns + i].filter(|v| v.is_finite());
    for j in 0..rows - 1 {
        for i in 0..columns - 1 {
            let corners = [
                value(i, j),
                value(i + 1, j),
                value(i + 1, j + 1),
                value(i, j + 1),
            ];
            let [Some(a), Some(b), Some(c), Some(d)] = corners else {
                continue;
            };
            let [bottom, left] = [0, 1].map(|k| 2 * (j * columns + i) + k);
            let right = 2 * (j * columns + i + 1) + 1;
            let top = 2 * ((j + 1) * columns + i);
            let above = [a, b, c, d].map(|v| v >= level);
            match above {
                [p, q, r, s] if p == r && q == s && p != q => {
                    let mean = a / 4.0 + b / 4.0 + c / 4.0 + d / 4.0;
                    if (mean >= level) == p {
                        join(bottom, right);
                        join(top, left);
                    } else {
                        join(bottom, left);
                        join(right, top);
                    }
                }
                [p, q, r, s] => {
                    let crossed = [
                        (bottom, p != q),
                        (right, q != r),
                        (top, r != s),
                        (left, s != p),
                    ];
                    let mut crossed = crossed.iter().filter(|(_, yes)| *yes).map(|(e, _)| *e);
                    if let (Some(one), Some(other)) = (crossed.next(), crossed.next()) {
                        join(one, other);
                    }
                }
            }
        }
    }
    let point = |edge: usize| {
        let (i, j) = (edge / 2 % columns, edge / 2 / columns);
        let (k, l) = if edge.is_multiple_of(2) {
            (i + 1, j)
        } else {
            (i, j + 1)
        };
        let (from, to) = (value(i, j).unwrap_or(level), value(k, l).unwrap_or(level));
        let share = ((level - from) / (to - from)).clamp(0.0, 1.0);
        (x[i] + share * (x[k] - x[i]), y[j] + share * (y[l] - y[j]))
    };
    traced(&links)
        .into_iter()
        .map(|(edges, closed)| Line {
            points: edges.into_iter().map(point).collect(),
            closed,
        })
        .collect()
}

/// Chains of edges: first those with two ends, then the closed ones.
fn traced(links: &[[usize; 2]]) -> Vec<(Vec<usize>, bool)> {
    let mut seen = vec![false; links.len()];
    let mut chains = Vec::new();
    for closed in [false, true] {
        for start in 0..links.len() {
            let [first, second] = links[start];
            if seen[start] || first == NONE || (second == NONE) == closed {
                continue;
            }
            let mut chain = Vec::new();
            let mut at = start;
            // Ends, because every step marks an edge that was not marked.
            while at != NONE && !seen[at] {
                seen[at] = true;
                chain.push(at);
                let open = links[at].into_iter().find(|e| *e != NONE && !seen[*e]);
                at = open.unwrap_or(NONE);
            }
            chains.push((chain, closed));
        }
    }
    chains
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(n: usize, low: f64, high: f64) -> Vec<f64> {
        (0..n)
            .map(|k| low + (high - low) * k as f64 / (n - 1) as f64)
            .collect()
    }

    fn sampled(x: &[f64], y: &[f64], f: impl Fn(f64, f64) -> f64) -> Vec<Option<f64>> {
        y.iter()
            .flat_map(|y| x.iter().map(|x| Some(f(*x, *y))).collect::<Vec<_>>())
            .collect()
    }

    fn length(line: &Line) -> f64 {
        let mut points = line.points.clone();
        if line.closed {
            points.push(points[0]);
        }
        points
            .windows(2)
            .map(|w| (w[1].0 - w[0].0).hypot(w[1].1 - w[0].1))
            .sum()
    }

    #[test]
    fn a_plane_has_straight_lines() {
        // x + 2y = 3 on [0, 2] × [0, 2]: from (2, 0.5) to (0, 1.5), √5 long. Linear interpolation is
        // exact on a plane.
        let (x, y) = (grid(8, 0.0, 2.0), grid(5, 0.0, 2.0));
        let lines = contour(&x, &y, &sampled(&x, &y, |x, y| x + 2.0 * y), 3.0);
        assert_eq!(lines.len(), 1);
        assert!(!lines[0].closed);
        for (x, y) in &lines[0].points {
            assert!((x + 2.0 * y - 3.0).abs() < 1e-12);
        }
        assert!((length(&lines[0]) - 5f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_cone_has_circles() {
        // z = √(x² + y²), step 0.1, level 1. Between two nodes the straight line is off the cone by at
        // most h²/8 · max z″ = 0.01/8/0.9 (z″ ≤ 1/r, r ≥ 0.9 on a crossed edge), and z is the radius.
        let x = grid(31, -1.5, 1.5);
        let lines = contour(&x, &x, &sampled(&x, &x, f64::hypot), 1.0);
        assert_eq!(lines.len(), 1);
        assert!(lines[0].closed);
        for (x, y) in &lines[0].points {
            assert!((x.hypot(*y) - 1.0).abs() < 0.01 / 8.0 / 0.9);
        }
        assert!((length(&lines[0]) - std::f64::consts::TAU).abs() < 0.01);
    }

    #[test]
    fn a_missing_node_opens_the_line() {
        let x = grid(31, -1.5, 1.5);
        let mut values = sampled(&x, &x, f64::hypot);
        // The node (1, 0) lies on the circle: its four cells are left out.
        values[15 * 31 + 25] = None;
        let lines = contour(&x, &x, &values, 1.0);
        assert_eq!(lines.len(), 1);
        assert!(!lines[0].closed);
        for (x, y) in &lines[0].points {
            // On the rim of the hole at the nearest.
            assert!((x - 1.0).abs() > 0.099 || y.abs() > 0.099, "{x} {y}");
        }
        assert!(length(&lines[0]) < 6.1 && length(&lines[0]) > 5.9);
    }

    #[test]
    fn the_mean_resolves_a_saddle() {
        // Above at (0,0) and (1,1). Mean 0.5·(1 + m)/2 for corners 1, m, 1, m at level 0.5:
        // m = 0.2: mean 0.6, above, so the high corners hang together and the low ones are cut off.
        let x = [0.0, 1.0];
        let cut_off = |m: f64| {
            let lines = contour(&x, &x, &[Some(1.0), Some(m), Some(m), Some(1.0)], 0.5);
            assert_eq!(lines.len(), 2);
            // Which corners the lines pass near: the mean of each line's points.
            lines.iter().all(|l| {
                let (sx, sy) = l
                    .points
                    .iter()
                    .fold((0.0, 0.0), |s, p| (s.0 + p.0, s.1 + p.1));
                (sx / 2.0 > 0.5) != (sy / 2.0 > 0.5)
            })
        };
        assert!(cut_off(0.2));
        // m = −0.4: mean 0.3, below: now the high corners are cut off.
        assert!(!cut_off(-0.4));
    }

    #[test]
    fn nothing_from_nothing() {
        let x = [0.0, 1.0];
        assert!(contour(&x, &x, &[None; 4], 0.5).is_empty());
        assert!(contour(&x, &[0.0], &[Some(0.0), Some(1.0)], 0.5).is_empty());
        assert!(contour(&x, &x, &[Some(1.0); 3], 0.5).is_empty());
        assert!(contour(&x, &x, &[Some(1.0); 4], 0.5).is_empty());
    }
}
