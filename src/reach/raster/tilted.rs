//! The closed form where base, track or table are out of plumb or the tool is off the roll axis.
//!
//! In the arm's plane the up of the point's frame has the part u = (u_z, u·e), of length `share`;
//! the tool's z is turned to stand at the wanted angle from it. All that the joints 1 to 4 have to
//! bring about then follows in closed form from joint 5 alone, which carries tip and tool's z
//! round the roll axis. So one number is sought: the value of joint 5 at which the roll is as
//! wanted. Each pass measures the roll and turns joint 5 by what is missing; what the tilts bring
//! in beside shrinks by a factor of about tilt·offset/reach a pass. Sines and cosines are carried
//! throughout, no angle is taken before the margins. Where that does not settle, or the tip passes
//! too near joint 1, the node is left to the polished general way.

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::kinematics::ArmScene;
use crate::reach::Solver;
use crate::reach::Wanted;
use crate::reach::conditions::Reference;
use crate::reach::limits::LIMIT_SLACK_RAD;
use crate::reach::pattern::Pattern;
use crate::reach::plan::Plan;
use crate::reach::raster::OUT_OF_REACH_RAD;
use crate::reach::raster::lanes::Num;
use crate::reach::raster::level::Links;
use crate::reach::raster::sweep::Best;
use crate::reach::raster::sweep::Plane;

/// Most passes.
const PASSES: usize = 14;
/// Settled where the roll is missed by less than this, rad.
const SETTLED: f64 = 1e-12;

/// A vector fixed to the tool while joint 5 turns, arm at 0: `still + cos·c + sin·s`. Components:
/// along n, along z, along e.
#[derive(Debug, Clone, Copy)]
struct Carried {
    still: [f64; 3],
    cos: [f64; 3],
    sin: [f64; 3],
}

impl Carried {
    fn new(pattern: &Pattern, v: &Vector3<f64>, axis: &Vector3<f64>) -> Self {
        let parts = |v: &Vector3<f64>| [v.dot(&pattern.n), v.z, v.dot(&pattern.e)];
        let along = if pattern.rolls {
            axis * axis.dot(v)
        } else {
            *v
        };
        Carried {
            still: parts(&along),
            cos: parts(&(v - along)),
            sin: parts(&if pattern.rolls {
                axis.cross(v)
            } else {
                Vector3::zeros()
            }),
        }
    }
    #[inline(always)]
    fn at<N: Num>(&self, roll: [N; 2]) -> [N; 3] {
        [self.part(roll, 0), self.part(roll, 1), self.part(roll, 2)]
    }
    #[inline(always)]
    fn part<N: Num>(&self, [c, s]: [N; 2], k: usize) -> N {
        let still = c.all(self.still[k]);
        s.times_plus(c.all(self.sin[k]), c.times_plus(c.all(self.cos[k]), still))
    }
}

/// Against what the roll is measured.
#[derive(Debug, Clone, Copy)]
enum Against {
    /// Nothing: joint 5 stands still, or there is none.
    Nothing,
    Own,
    /// The level part of base x, carried by joint 1: from (x, y) in the base to the point's frame.
    Heading([[f64; 2]; 2]),
    Fixed([f64; 2]),
}

/// One row of stations.
#[derive(Debug, Clone)]
pub(super) struct Tilted {
    tip_mm: Vector3<f64>,
    per_mm: Vector3<f64>,
    /// Base axes in the point's frame.
    m: Matrix3<f64>,
    /// n with joint 1 in the middle of its limits.
    middle: [f64; 2],
    /// n and e at the zero posture, their x.
    zero_x: [f64; 2],
    /// Cosine and sine of the wanted angle from up.
    from_up: [f64; 2],
    /// The angle is meant in the arm's plane.
    steep: bool,
    /// Square of the sine of the side lean that is accepted.
    side_lean2: f64,
    leans: usize,
    against: Against,
    /// Cosine and sine of the wanted roll.
    roll: [f64; 2],
    roll_sign: f64,
    /// Cosine and sine of joint 5's start, and of the middle of its limits.
    start5: [f64; 2],
    middle5: [f64; 2],
    half1: f64,
    half5: f64,
    tool_x: Carried,
    tool_z: Carried,
    off: Carried,
    /// Square of how near joint 1's axis the tip may pass, mm².
    near2: f64,
    side_mm: f64,
    hand: [f64; 2],
    shoulder: [f64; 2],
    plane: Plane,
}

impl Tilted {
    pub fn new(
        solver: &Solver,
        pattern: &Pattern,
        links: &Links,
        plan: &Plan,
        wanted: &Wanted,
        turn_rad: f64,
    ) -> Self {
        let task = solver.task(wanted, plan, turn_rad);
        let ask = solver.ask(plan, &task, 0.0);
        let axis = (Vector3::z() * pattern.z0.re + pattern.e * pattern.z0.im) * pattern.roll_sign;
        let off = pattern.tool0 * pattern.off_axis;
        let column = |k: usize| -> Vector3<f64> { pattern.tool0.column(k).into() };
        let cos_sin = |x: f64| [x.cos(), x.sin()];
        let still = !pattern.rolls || ask.roll.is_none();
        let side_lean = (solver.cell.accept.direction_rad + LIMIT_SLACK_RAD)
            .clamp(0.0, std::f64::consts::FRAC_PI_2)
            .sin();
        Tilted {
            tip_mm: ask.tip_mm - pattern.through,
            per_mm: -solver.base_axes.tr_mul(&solver.along),
            m: ask.base_in_frame,
            middle: links.middle_heading(pattern),
            zero_x: [pattern.n.x, pattern.e.x],
            from_up: cos_sin(ask.from_up),
            steep: plan.steep,
            side_lean2: if plan.steep {
                side_lean * side_lean
            } else {
                4.0
            },
            leans: if ask.from_up == std::f64::consts::PI {
                1
            } else {
                2
            },
            against: match ask.roll {
                _ if still => Against::Nothing,
                None => Against::Nothing,
                Some((_, Reference::Own)) => Against::Own,
                Some((_, Reference::Fixed(a))) => Against::Fixed(cos_sin(a)),
                Some((_, Reference::Heading)) => {
                    let base = ArmScene::carriage(solver.geometry, 0.0).base_axes;
                    let f = &task.frame;
                    let part =
                        |i: usize, k: usize| f[(0, i)] * base[(0, k)] + f[(1, i)] * base[(1, k)];
                    Against::Heading([[part(0, 0), part(0, 1)], [part(1, 0), part(1, 1)]])
                }
            },
            roll: cos_sin(ask.roll.map_or(0.0, |r| r.0)),
            roll_sign: pattern.roll_sign,
            start5: cos_sin(if still { ask.roll_value } else { 0.0 }),
            middle5: cos_sin(links.limits[4].middle),
            half1: links.limits[0].half,
            half5: if pattern.rolls {
                links.limits[4].half
            } else {
                f64::MAX
            },
            tool_x: Carried::new(pattern, &column(0), &axis),
            tool_z: Carried::new(pattern, &column(2), &axis),
            off: Carried::new(pattern, &off, &axis),
            near2: 9.0 * off.norm_squared() + 1e-6,
            side_mm: pattern.side_mm,
            hand: [pattern.hand.re, pattern.hand.im],
            shoulder: [pattern.shoulder.re, pattern.shoulder.im],
            plane: Plane::of(links),
        }
    }

    /// Takes the margins of all branches at some travels into the best so far. `unsure` becomes
    /// positive where a node must be left to the general way.
    #[inline(always)]
    pub fn take<N: Num>(&self, s: N, best: &mut Best<N>, unsure: &mut N) {
        let one = s.all(1.0);
        self.branch_pair(s, one, one, 0.0, best, unsure);
        self.branch_pair(s, -one, one, 4.0, best, unsure);
        if self.leans == 2 {
            self.branch_pair(s, one, -one, 2.0, best, unsure);
            self.branch_pair(s, -one, -one, 6.0, best, unsure);
        }
    }

    #[inline(always)]
    fn branch_pair<N: Num>(
        &self,
        s: N,
        side: N,
        lean: N,
        branch: f64,
        best: &mut Best<N>,
        unsure: &mut N,
    ) {
        let zero = s.all(0.0);
        let px = s.times_plus(s.all(self.per_mm.x), s.all(self.tip_mm.x));
        let py = s.times_plus(s.all(self.per_mm.y), s.all(self.tip_mm.y));
        let pz = s.times_plus(s.all(self.per_mm.z), s.all(self.tip_mm.z));
        let a2 = px.times_plus(px, py * py);
        let per_a2 = s.all(1.0).over(a2.max(s.all(1e-18)));
        let mut roll5 = [s.all(self.start5[0]), s.all(self.start5[1])];
        let mut pass = 0;
        loop {
            pass += 1;
            let off = self.off.at(roll5);
            let tool = self.tool_z.at(roll5);
            // Joint 1.
            let sigma = s.all(self.side_mm) + off[0];
            let w2 = a2 - sigma * sigma;
            let w = w2.root() * side;
            let nx = (px * sigma - py * w) * per_a2;
            let ny = (py * sigma + px * w) * per_a2;
            // Up and the tool's z in the plane.
            let (ux, uy, uz) = (
                s.all(self.m[(2, 0)]),
                s.all(self.m[(2, 1)]),
                s.all(self.m[(2, 2)]),
            );
            let un = ux * nx + uy * ny;
            let ue = ux * ny - uy * nx;
            let share2 = uz.times_plus(uz, ue * ue);
            let part2 = tool[1].times_plus(tool[1], tool[2] * tool[2]);
            let scale = (share2 * part2).root().max(s.all(1e-12));
            let per_scale = s.all(1.0).over(scale);
            let (cos, sin, leaning) = if self.steep {
                (s.all(self.from_up[0]), lean * s.all(self.from_up[1]), zero)
            } else {
                let cos = (s.all(self.from_up[0]) - tool[0] * un) * per_scale;
                let sin2 = s.all(1.0) - cos * cos;
                (cos, lean * sin2.root(), sin2)
            };
            // turned = u·half·conj(tool)/(share·part), halfway: zeta·share.
            let zeta = [uz * cos - ue * sin, uz * sin + ue * cos];
            let turned = [
                (zeta[0] * tool[1] + zeta[1] * tool[2]) * per_scale,
                (zeta[1] * tool[1] - zeta[0] * tool[2]) * per_scale,
            ];
            let miss = match self.against {
                Against::Nothing => zero,
                _ => self.correct(&mut roll5, [nx, ny], turned, tool),
            };
            if pass < PASSES && miss.most() > SETTLED {
                continue;
            }
            let reach = w2.min(leaning);
            // What did not settle is not known; nor which way round the tip's foot lies.
            let open = miss.all(SETTLED).below(miss, s.all(1.0), zero);
            let near = a2.below(s.all(self.near2), s.all(1.0), zero);
            *unsure = unsure.max(w2.below(s.all(-self.near2), zero, open.max(near)));
            // The wrist.
            let tip_up = pz - (off[1] * turned[0] - off[2] * turned[1]);
            let tip_ahead = w - (off[1] * turned[1] + off[2] * turned[0]);
            let (hx, hy) = (s.all(self.hand[0]), s.all(self.hand[1]));
            let up = tip_up - (hx * turned[0] - hy * turned[1]) - s.all(self.shoulder[0]);
            let ahead = tip_ahead - (hx * turned[1] + hy * turned[0]) - s.all(self.shoulder[1]);
            // Margins beside the plane.
            let (vx, vy) = (s.all(self.middle[0]), s.all(self.middle[1]));
            let yaw = (nx * vy - ny * vx).abs().arc(nx * vx + ny * vy);
            let mut beside = s.all(self.half1) - yaw;
            if self.half5 < f64::MAX {
                let (c, m) = (roll5, self.middle5.map(|x| s.all(x)));
                let aside = (c[1] * m[0] - c[0] * m[1])
                    .abs()
                    .arc(c[0] * m[0] + c[1] * m[1]);
                beside = beside.min(s.all(self.half5) - aside);
            }
            // The lean to the side: z·(up × ahead) with z·up = z_n u_n + part·share·cos.
            let z_up = tool[0].times_plus(un, scale * cos);
            let lean_side = tool[0] - z_up * un;
            let none = s.all(OUT_OF_REACH_RAD);
            beside = (share2 * s.all(self.side_lean2)).below(lean_side * lean_side, none, beside);
            beside = reach.below(zero, none, beside);
            let hand = turned[1].arc_around(turned[0]);
            let [first, second] = self.plane.margins(ahead, up, hand);
            best.take(first.min(beside), branch);
            best.take(second.min(beside), branch + 1.0);
            return;
        }
    }

    /// Turns joint 5 by what the roll misses; returns the size of the miss.
    #[inline(always)]
    fn correct<N: Num>(&self, roll5: &mut [N; 2], n: [N; 2], turned: [N; 2], tool: [N; 3]) -> N {
        let x = self.in_frame(n, turned, self.tool_x.at(*roll5));
        let z = self.in_frame(n, turned, tool);
        let like = n[0];
        let h = match &self.against {
            Against::Nothing | Against::Own => [z[0], z[1]],
            Against::Fixed(h) => [like.all(h[0]), like.all(h[1])],
            Against::Heading(g) => {
                let (nx, ex) = (like.all(self.zero_x[0]), like.all(self.zero_x[1]));
                let u = [n[0] * nx + n[1] * ex, n[1] * nx - n[0] * ex];
                [
                    u[0] * like.all(g[0][0]) + u[1] * like.all(g[0][1]),
                    u[0] * like.all(g[1][0]) + u[1] * like.all(g[1][1]),
                ]
            }
        };
        // y₀ = (−h_y, h_x, 0) and x₀ = y₀ × z, both as long as h.
        let y = x[1] * h[0] - x[0] * h[1];
        let along = (x[0] * h[0] + x[1] * h[1]) * z[2] - x[2] * (h[0] * z[0] + h[1] * z[1]);
        let (c, s) = (like.all(self.roll[0]), like.all(self.roll[1]));
        let (sin, cos) = (y * c - along * s, along * c + y * s);
        let length = sin.times_plus(sin, cos * cos).root().max(like.all(1e-300));
        let per = like.all(1.0).over(length);
        let (sin, cos) = (sin * per, cos * per);
        let by = sin * like.all(self.roll_sign);
        let [c5, s5] = *roll5;
        *roll5 = [c5 * cos + s5 * by, s5 * cos - c5 * by];
        // Half a turn off has a small sine too.
        sin.abs().max(-cos)
    }

    /// A vector of the arm's plane (along n, z, e before the turn of the hand) in the point's frame.
    #[inline(always)]
    fn in_frame<N: Num>(&self, n: [N; 2], turned: [N; 2], v: [N; 3]) -> [N; 3] {
        let up = v[1] * turned[0] - v[2] * turned[1];
        let ahead = v[1] * turned[1] + v[2] * turned[0];
        let x = n[0] * v[0] + n[1] * ahead;
        let y = n[1] * v[0] - n[0] * ahead;
        [
            self.row(0, x, y, up),
            self.row(1, x, y, up),
            self.row(2, x, y, up),
        ]
    }

    #[inline(always)]
    fn row<N: Num>(&self, k: usize, x: N, y: N, z: N) -> N {
        let m = &self.m;
        x.times_plus(
            x.all(m[(k, 0)]),
            y.times_plus(x.all(m[(k, 1)]), z * x.all(m[(k, 2)])),
        )
    }
}
