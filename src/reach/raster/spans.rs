//! Which nodes of a row are reached, from the ends of the stretches where they are.
//!
//! The base level, joints 2 to 4 depend on the station through A² alone (see `level`). Where one
//! of them stands at a limit, or the arm is stretched or folded, the wrist W + iq lies on a
//! circle: about the shoulder with the length that belongs to the elbow's limit, about the elbow
//! joint with the upper link at its limit, about the end of the fore link with that at its limit.
//! Each circle is met at two q. Between those nothing changes, so that one posture tried in each
//! gap gives the ranges of A². Along the track A² = D² + C² is a parabola, and the heading passes
//! the limit ±η of joint 1 where D cos η ∓ C sin η = σ: the ends of the stretches are found by
//! square roots, without a look at the nodes.

use std::f64::consts::PI;

use crate::reach::limits::LIMIT_SLACK_RAD;
use crate::reach::raster::level::Along;
use crate::reach::raster::level::Lean;
use crate::reach::raster::level::Links;
use crate::reach::raster::sweep::Plane;

/// Most stretches' ends of one side in a row.
const MOST: usize = 64;

/// One lean and one side: where the tip may be.
#[derive(Debug, Clone)]
pub(super) struct Ring {
    /// Ranges of A² that joints 2 to 4 allow, mm², ascending.
    pub ranges: Vec<[f64; 2]>,
    /// +1 in front, −1 behind.
    pub side: f64,
    pub sigma_mm: f64,
}

impl Ring {
    pub fn new(links: &Links, lean: &Lean, height_mm: f64, side: f64) -> Self {
        let mut ring = Ring {
            ranges: Vec::new(),
            side,
            sigma_mm: lean.sigma_mm,
        };
        if links.still_margin(lean) < -LIMIT_SLACK_RAD {
            return ring;
        }
        let plane = Plane::of(links);
        // Where w is at an end of something.
        let mut ends = vec![0.0];
        for q in plane_ends(links, lean, height_mm) {
            let w = side * (q + lean.ahead_mm);
            if w > 0.0 {
                ends.push(w);
            }
        }
        ends.sort_by(f64::total_cmp);
        for pair in ends.windows(2) {
            let ahead = side * 0.5 * (pair[0] + pair[1]);
            let [up, down] = plane.margins(ahead - lean.ahead_mm, height_mm, lean.hand);
            if up.max(down) < -LIMIT_SLACK_RAD {
                continue;
            }
            match ring.ranges.last_mut() {
                Some(last) if last[1] == pair[0] => last[1] = pair[1],
                _ => ring.ranges.push([pair[0], pair[1]]),
            }
        }
        for range in &mut ring.ranges {
            *range = range.map(|w| w * w + lean.sigma_mm * lean.sigma_mm);
        }
        ring
    }
}

/// All q at which joints 2 to 4 may pass a limit or the arm is stretched or folded.
fn plane_ends(links: &Links, lean: &Lean, height_mm: f64) -> Vec<f64> {
    let (a, b) = (links.upper_mm, links.fore_mm);
    let mut out = Vec::new();
    // The wrist at a distance r from (up, ahead).
    let mut circle = |up: f64, ahead: f64, r: f64| {
        let h = height_mm - up;
        let square = r * r - h * h;
        if square >= 0.0 {
            let half = square.sqrt();
            out.extend([ahead - half, ahead + half]);
        }
    };
    circle(0.0, 0.0, a + b);
    circle(0.0, 0.0, (a - b).abs());
    let ends = |k: usize| {
        let (m, h) = (links.limits[k].middle, links.open(k));
        let open = h >= PI;
        [m - h, m + h].into_iter().filter(move |_| !open)
    };
    for v in ends(1) {
        let (s, c) = (links.upper_turn + links.signs[1] * v).sin_cos();
        circle(a * c, a * s, b);
    }
    for v in ends(2) {
        let bend = links.bend0 + links.signs[2] * v;
        circle(
            0.0,
            0.0,
            (a * a + b * b + 2.0 * a * b * bend.cos()).max(0.0).sqrt(),
        );
    }
    for v in ends(3) {
        let fore = lean.hand - links.signs[3] * v + links.upper_turn + links.bend0;
        let (s, c) = fore.sin_cos();
        circle(b * c, b * s, a);
    }
    out
}

/// An arc of headings: within its half width of where D = A.
#[derive(Debug, Clone, Copy)]
pub(super) struct Arc {
    pub along: Along,
    /// Half width with its slack, rad.
    pub open: f64,
    pub cos: f64,
    pub sin: f64,
}

impl Arc {
    /// `None` where the arc is the whole circle.
    pub fn new(along: Along, open: f64) -> Option<Self> {
        let (sin, cos) = open.sin_cos();
        (open < PI).then_some(Arc {
            along,
            open,
            cos,
            sin,
        })
    }
    /// Whether the arm heads into it. `w` is 0 or more.
    fn holds(&self, s: f64, sigma: f64, side_w: f64) -> bool {
        let (d, c) = self.at(s);
        let towards = sigma * d + side_w * c;
        self.open >= 0.0 && towards >= self.cos * (d * d + c * c)
    }
    fn at(&self, s: f64) -> (f64, f64) {
        let (d, c) = (&self.along.d, &self.along.c);
        (d[0] + s * d[1], c[0] + s * c[1])
    }
}

/// The nodes of a row, ascending.
#[derive(Debug, Clone, Copy)]
pub(super) struct Nodes<'a> {
    pub at: &'a [f64],
    /// Nodes for each mm, were they evenly spaced.
    pub per_mm: f64,
}

impl<'a> Nodes<'a> {
    pub fn new(at: &'a [f64]) -> Self {
        let span = match (at.first(), at.last()) {
            (Some(a), Some(b)) => b - a,
            _ => 0.0,
        };
        Nodes {
            at,
            per_mm: if span > 0.0 {
                (at.len() - 1) as f64 / span
            } else {
                0.0
            },
        }
    }

    /// How many nodes lie before `s`.
    fn before(&self, s: f64) -> usize {
        let n = self.at.len();
        // Casts of numbers out of range and of NaN end at 0 or at the top.
        let mut k = (((s - self.at[0]) * self.per_mm).ceil() as usize).min(n);
        for _ in 0..4 {
            if k > 0 && self.at[k - 1] >= s {
                k -= 1;
            } else if k < n && self.at[k] < s {
                k += 1;
            } else {
                return k;
            }
        }
        self.at.partition_point(|x| *x < s)
    }
}

/// Marks the nodes that one ring reaches in one row.
pub(super) fn mark(ring: &Ring, heading: &Along, arcs: &[Arc], nodes: &Nodes, out: &mut [bool]) {
    let n = nodes.at.len();
    if n == 0 || ring.ranges.is_empty() {
        return;
    }
    let (d, c) = (&heading.d, &heading.c);
    let pace = d[1] * d[1] + c[1] * c[1];
    let mut cuts = [0usize; MOST];
    let mut count = 1;
    // There is room: eight circles are met at 16 places at most, each passed twice along the track,
    // and two arcs have two ends each.
    let mut cut = |s: f64| {
        let k = nodes.before(s);
        if k > 0 && k < n && count < MOST {
            cuts[count] = k;
            count += 1;
        }
    };
    if pace > 0.0 {
        let middle = -(d[0] * d[1] + c[0] * c[1]) / pace;
        let across = (d[0] * c[1] - c[0] * d[1]) / pace;
        let across2 = across * across;
        for r2 in ring.ranges.iter().flatten() {
            let square = r2 / pace - across2;
            if square > 0.0 {
                let half = square.sqrt();
                cut(middle - half);
                cut(middle + half);
            }
        }
        for arc in arcs {
            let (d, c) = (&arc.along.d, &arc.along.c);
            for sin in [arc.sin, -arc.sin] {
                let on = |i: usize| d[i] * arc.cos - c[i] * sin;
                let pace = on(1);
                if pace != 0.0 {
                    cut((ring.sigma_mm - on(0)) / pace);
                }
            }
        }
    }
    let cuts = &mut cuts[..count];
    cuts.sort_unstable();
    for (k, from) in cuts.iter().enumerate() {
        let to = cuts.get(k + 1).copied().unwrap_or(n);
        if *from == to {
            continue;
        }
        let s = nodes.at[from + (to - from) / 2];
        let (x, y) = (d[0] + s * d[1], c[0] + s * c[1]);
        let a2 = x * x + y * y;
        let w = (a2 - ring.sigma_mm * ring.sigma_mm).max(0.0).sqrt();
        let within = ring.ranges.iter().any(|r| r[0] <= a2 && a2 <= r[1]);
        if within
            && arcs
                .iter()
                .all(|a| a.holds(s, ring.sigma_mm, ring.side * w))
        {
            out[*from..to].fill(true);
        }
    }
}
