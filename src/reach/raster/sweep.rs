//! Margins over one row of stations, several at once.

use crate::reach::raster::NO_BRANCH;
use crate::reach::raster::OUT_OF_REACH_RAD;
use crate::reach::raster::lanes::Num;
use crate::reach::raster::level::Along;
use crate::reach::raster::level::Links;

/// The arm's plane for one lean of the tool: from where the tip is ahead to the margins of joints
/// 2, 3 and 4. Formulas: `level`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Plane {
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
    pub fn of(links: &Links) -> Self {
        let (a, b) = (links.upper_mm, links.fore_mm);
        let limits = &links.limits;
        Plane {
            upper_mm: a,
            share: 0.5 / a,
            rest: 0.5 * (a * a - b * b) / a,
            shoulder: links.upper_turn + links.signs[1] * limits[1].middle,
            elbow: links.bend0 + links.signs[2] * limits[2].middle,
            wrist: links.upper_turn + links.bend0 - links.signs[3] * limits[3].middle,
            halves: [limits[1].half, limits[2].half, limits[3].half],
        }
    }

    /// Margins of the elbow up (+) and down (−), with the wrist W + iq = `up` + i·`ahead`, mm, and
    /// the hand turned by `hand`, rad.
    #[inline(always)]
    pub fn margins<N: Num>(&self, ahead: N, up: N, hand: N) -> [N; 2] {
        let d2 = ahead.times_plus(ahead, up * up);
        let g = d2.times_plus(up.all(self.share), up.all(self.rest));
        let h2 = g.times_from(g, d2);
        let h = h2.root();
        let toward = ahead.arc_around(up);
        let lift = h.arc(g);
        let bend = h.arc(g - up.all(self.upper_mm));
        let shoulder = toward - up.all(self.shoulder);
        let wrist = toward - up.all(self.wrist) - hand;
        let tip = lift - bend;
        let elbow = up.all(self.elbow);
        [
            self.least(h2, shoulder - lift, bend - elbow, wrist - tip),
            self.least(h2, shoulder + lift, bend + elbow, wrist + tip),
        ]
    }

    #[inline(always)]
    fn least<N: Num>(&self, h2: N, shoulder: N, elbow: N, wrist: N) -> N {
        let m = (h2.all(self.halves[0]) - shoulder.apart())
            .min(h2.all(self.halves[1]) - elbow.apart())
            .min(h2.all(self.halves[2]) - wrist.apart());
        h2.below(h2.all(0.0), h2.all(OUT_OF_REACH_RAD), m)
    }
}

/// One lean over a row.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sweep {
    pub plane: Plane,
    /// W and K, mm, and the turn of the hand.
    pub height_mm: f64,
    pub ahead_mm: f64,
    pub hand: f64,
    pub heading: Along,
    pub roll: Option<Along>,
    pub sigma_mm: f64,
    /// Margins are at most this.
    pub cap: f64,
    pub half1: f64,
    pub half5: f64,
    pub branch: f64,
}

/// D and C at some travels.
#[inline(always)]
fn on<N: Num>(along: &Along, s: N) -> [N; 2] {
    [
        s.times_plus(s.all(along.d[1]), s.all(along.d[0])),
        s.times_plus(s.all(along.c[1]), s.all(along.c[0])),
    ]
}

/// How far the heading is from the middle of a joint's limits, rad: the angle between n and V.
#[inline(always)]
fn aside<N: Num>([d, c]: [N; 2], sigma: N, side: N) -> N {
    let towards = sigma.times_plus(d, side * c);
    let across = side.times_from(d, sigma * c);
    across.abs().arc(towards)
}

/// The best branch so far, and its margin.
#[derive(Clone, Copy)]
pub(super) struct Best<N> {
    pub margin: N,
    pub branch: N,
}

impl<N: Num> Best<N> {
    #[inline(always)]
    pub fn none(like: N) -> Self {
        Best {
            margin: like.all(OUT_OF_REACH_RAD),
            branch: like.all(f64::from(NO_BRANCH)),
        }
    }
    #[inline(always)]
    pub fn take(&mut self, margin: N, branch: f64) {
        self.branch = self.margin.below(margin, margin.all(branch), self.branch);
        self.margin = self.margin.max(margin);
    }
}

impl Sweep {
    /// Takes the margins of all branches of this lean at some travels into the best so far.
    #[inline(always)]
    pub fn take<N: Num>(&self, s: N, best: &mut Best<N>) {
        let [d, c] = on(&self.heading, s);
        let sigma = s.all(self.sigma_mm);
        let w2 = d.times_plus(d, c * c) - sigma * sigma;
        let w = w2.root();
        self.side(s, [d, c], w2, w, self.branch, best);
        self.side(s, [d, c], w2, -w, self.branch + 4.0, best);
    }

    #[inline(always)]
    fn side<N: Num>(&self, s: N, heading: [N; 2], w2: N, side: N, branch: f64, best: &mut Best<N>) {
        let sigma = s.all(self.sigma_mm);
        let mut beside = s.all(self.half1) - aside(heading, sigma, side);
        if let Some(roll) = &self.roll {
            beside = beside.min(s.all(self.half5) - aside(on(roll, s), sigma, side));
        }
        beside = beside.min(s.all(self.cap));
        beside = w2.below(s.all(0.0), s.all(OUT_OF_REACH_RAD), beside);
        let [up, down] = self.plane.margins(
            side - s.all(self.ahead_mm),
            s.all(self.height_mm),
            s.all(self.hand),
        );
        best.take(up.min(beside), branch);
        best.take(down.min(beside), branch + 1.0);
    }
}
