//! Margins over one row of stations, several at once.

use crate::reach::raster::OUT_OF_REACH_RAD;
use crate::reach::raster::lanes::Num;
use crate::reach::raster::level::Along;
use crate::reach::raster::level::Lean;
use crate::reach::raster::level::Links;

/// The arm's plane for one lean of the tool: from where the tip is ahead to the margins of joints
/// 2, 3 and 4. Formulas: `level`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Plane {
    /// W, mm.
    pub height_mm: f64,
    /// K, mm.
    pub ahead_mm: f64,
    pub upper_mm: f64,
    /// g = d²·`share` + `rest`.
    pub share: f64,
    pub rest: f64,
    /// Middles of joints 2 and 4 seen from arg(W + iq), of joint 3 from the bend.
    pub shoulder: f64,
    pub elbow: f64,
    pub wrist: f64,
    pub halves: [f64; 3],
}

impl Plane {
    pub fn new(links: &Links, lean: &Lean, tip_z_mm: f64) -> Self {
        let (a, b) = (links.upper_mm, links.fore_mm);
        let limits = &links.limits;
        Plane {
            height_mm: tip_z_mm + lean.shift_mm.z + lean.drop_mm,
            ahead_mm: lean.ahead_mm,
            upper_mm: a,
            share: 0.5 / a,
            rest: 0.5 * (a * a - b * b) / a,
            shoulder: links.upper_turn + links.signs[1] * limits[1].middle,
            elbow: links.bend0 + links.signs[2] * limits[2].middle,
            wrist: lean.hand + links.upper_turn + links.bend0 - links.signs[3] * limits[3].middle,
            halves: [limits[1].half, limits[2].half, limits[3].half],
        }
    }

    /// Margins of the elbow up (+) and down (−), with the tip `ahead` of joint 1 in the plane, mm.
    #[inline(always)]
    pub fn margins<N: Num>(&self, ahead: N) -> [N; 2] {
        let all = |x: f64| ahead.all(x);
        let q = ahead - all(self.ahead_mm);
        let w = all(self.height_mm);
        let d2 = q.times_plus(q, w * w);
        let g = d2.times_plus(all(self.share), all(self.rest));
        let h2 = g.times_from(g, d2);
        let h = h2.root();
        let toward = q.arc_around(w);
        let lift = h.arc(g);
        let bend = h.arc(g - all(self.upper_mm));
        let shoulder = toward - all(self.shoulder);
        let wrist = toward - all(self.wrist);
        let tip = lift - bend;
        let none = all(OUT_OF_REACH_RAD);
        let least = |s: N, e: N, w: N| {
            let m = (all(self.halves[0]) - s.apart())
                .min(all(self.halves[1]) - e.apart())
                .min(all(self.halves[2]) - w.apart());
            h2.below(all(0.0), none, m)
        };
        let elbow = all(self.elbow);
        [
            least(shoulder - lift, bend - elbow, wrist - tip),
            least(shoulder + lift, bend + elbow, wrist + tip),
        ]
    }
}

/// One lean over a row.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sweep {
    pub plane: Plane,
    pub heading: Along,
    pub roll: Option<Along>,
    pub sigma_mm: f64,
    /// Margins are at most this.
    pub cap: f64,
    pub half1: f64,
    pub half5: f64,
    pub branch: f64,
}

impl Sweep {
    /// Takes the margins of all branches of this lean at some travels into the best so far.
    #[inline(always)]
    pub fn take<N: Num>(&self, s: N, best: &mut N, branch: &mut N) {
        let all = |x: f64| s.all(x);
        let on = |l: &[f64; 2]| s.times_plus(all(l[1]), all(l[0]));
        let (d, c) = (on(&self.heading.d), on(&self.heading.c));
        let sigma = all(self.sigma_mm);
        let w2 = d.times_plus(d, c * c) - sigma * sigma;
        let w = w2.root();
        for (k, side) in [w, -w].into_iter().enumerate() {
            let towards = sigma.times_plus(d, side * c);
            let across = side.times_from(d, sigma * c);
            let mut beside = all(self.half1) - across.abs().arc(towards);
            if let Some(roll) = &self.roll {
                let (d, c) = (on(&roll.d), on(&roll.c));
                let towards = sigma.times_plus(d, side * c);
                let across = side.times_from(d, sigma * c);
                beside = beside.min(all(self.half5) - across.abs().arc(towards));
            }
            beside = beside.min(all(self.cap));
            beside = w2.below(all(0.0), all(OUT_OF_REACH_RAD), beside);
            for (elbow, margin) in self.plane.margins(side).into_iter().enumerate() {
                let margin = margin.min(beside);
                let number = all(self.branch + (4 * k + elbow) as f64);
                *branch = best.below(margin, number, *branch);
                *best = best.max(margin);
            }
        }
    }
}
