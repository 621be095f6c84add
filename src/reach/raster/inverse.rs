//! The inverse at single stations, everything that no station changes worked out beforehand.

use nalgebra::Vector3;
use pulp::Arch;
use pulp::Simd;
use pulp::WithSimd;

use crate::cell::Belongs;
use crate::reach::Solver;
use crate::reach::Wanted;
use crate::reach::limits::LIMIT_SLACK_RAD;
use crate::reach::raster::Raster;
use crate::reach::raster::lanes::Four;
use crate::reach::raster::lanes::Lanes;
use crate::reach::raster::lanes::Num;
use crate::reach::raster::lanes::Quad;
use crate::reach::raster::level::Along;
use crate::reach::raster::level::Lean;
use crate::reach::raster::level::Links;
use crate::reach::raster::level::Roll;
use crate::reach::raster::level::Row;
use crate::reach::raster::sine::sin_cos;
use crate::reach::raster::sweep::Plane;

/// A posture that reaches the point within all limits.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Reached {
    /// Joint values, rad, each in the full turn that is farthest from its limits; 0 for the fifth
    /// of an arm of four.
    pub values_rad: [f64; 5],
    /// Least distance to a joint limit, rad.
    pub margin_rad: f64,
    /// +4 turned round, +2 tool behind, +1 elbow the other way.
    pub branch: u8,
}

/// The inverse of one point at single stations.
///
/// Where the arm's base stands level in the point's frame the closed form is exact and nothing is
/// polished; the postures are those of [`Solver::solve`] to some 1e-12 rad, in the order of their
/// branches. Elsewhere each is polished, as there.
#[derive(Debug, Clone)]
pub struct Inverse<'a> {
    raster: Raster<'a>,
    level: Option<Level>,
}

/// A point at the same height and in the same attitude at all stations.
#[derive(Debug, Clone)]
struct Level {
    /// What the processor can do, asked once.
    arch: Arch,
    leans: Vec<Held>,
    /// Whether a turn of the table moves the point.
    turns: bool,
}

/// One lean of the tool.
#[derive(Debug, Clone)]
struct Held {
    lean: Lean,
    plane: Plane,
    height_mm: f64,
    /// D and C at table angle 0 and 90°, from the table's axis, and that axis with travel.
    still: Along,
    cos: [f64; 2],
    sin: [f64; 2],
    /// Value and margin of a fifth joint that stands still.
    roll: (f64, f64),
}

impl<'a> Inverse<'a> {
    /// `None` where the closed form does not serve the arm, or a joint is to spare; see
    /// [`Raster::new`].
    pub fn new(solver: &'a Solver<'a>, wanted: &Wanted) -> Option<Self> {
        let raster = Raster::new(solver, wanted)?;
        let level = Level::new(&raster);
        Some(Inverse { raster, level })
    }

    /// All postures within the limits at one station, given by its values; returns how many.
    /// What lies beyond in `out` is left over and means nothing.
    pub fn at(&self, travel_mm: f64, turn_rad: f64, out: &mut [Reached; 8]) -> usize {
        match &self.level {
            Some(level) => level.at(&self.raster, travel_mm, turn_rad, out),
            None => self.raster.polished_all(travel_mm, turn_rad, out),
        }
    }
}

impl Level {
    fn new(raster: &Raster) -> Option<Self> {
        let rows = [0.0, 1.0, 2.5].map(|turn| raster.row(turn));
        let [Some(row), Some(one), Some(two)] = rows else {
            return None;
        };
        // A table that leans takes the height along.
        let height = |r: &Row| (r.tip_mm.z - row.tip_mm.z).abs();
        if height(&one).max(height(&two)) > 1e-10 {
            return None;
        }
        let solver = raster.solver;
        let turns = raster.wanted.frame == Belongs::Platter;
        let (mut centre, mut x, mut y) = (row.tip_mm, Vector3::zeros(), Vector3::zeros());
        if turns && let Some(table) = &solver.geometry.turntable {
            // The table's axis is upright in the base: the point goes round it.
            let scene = crate::kinematics::TableScene::new(table, 0.0);
            let to_base = |v: Vector3<f64>| solver.base_axes.tr_mul(&(scene.fixed_axes * v));
            let at = &raster.wanted.at_mm;
            x = to_base(Vector3::new(at.x, at.y, 0.0));
            y = to_base(Vector3::new(-at.y, at.x, 0.0));
            centre -= x;
        }
        let links = &raster.links;
        let v = links.middle_heading(raster.pattern);
        let mut leans = Vec::new();
        for lean in &row.leans[..row.count] {
            // A roll against a given azimuth depends on the table angle in other ways too.
            if matches!(lean.roll, Roll::Turns { .. }) {
                return None;
            }
            let mut about = row.clone();
            about.tip_mm = centre;
            let pair = |p: &Vector3<f64>| [p.x * v[0] + p.y * v[1], p.x * v[1] - p.y * v[0]];
            leans.push(Held {
                lean: *lean,
                plane: Plane::of(links),
                height_mm: row.height_mm(lean),
                still: about.along(lean, v),
                cos: pair(&x),
                sin: pair(&y),
                roll: match lean.roll {
                    Roll::Still(value) => (
                        crate::reach::limits::nearest_middle(
                            value,
                            solver.cell.joints[4].limits_rad,
                        ),
                        links.still_margin(lean),
                    ),
                    _ => (0.0, f64::MAX),
                },
            });
        }
        Some(Level {
            arch: Arch::new(),
            leans,
            turns,
        })
    }

    fn at(&self, raster: &Raster, s: f64, turn_rad: f64, out: &mut [Reached; 8]) -> usize {
        self.arch.dispatch(Station {
            level: self,
            links: &raster.links,
            travel_mm: s,
            turn_rad,
            out,
        })
    }
}

/// One station.
struct Station<'a> {
    level: &'a Level,
    links: &'a Links,
    travel_mm: f64,
    turn_rad: f64,
    out: &'a mut [Reached; 8],
}

impl WithSimd for Station<'_> {
    type Output = usize;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> usize {
        let turn = if self.level.turns {
            sin_cos(self.turn_rad)
        } else {
            (0.0, 1.0)
        };
        let mut count = 0;
        for held in &self.level.leans {
            if S::F64_LANES == 4 {
                held.at::<Lanes<S>>(simd, self.links, self.travel_mm, turn, self.out, &mut count);
            } else {
                held.at::<Four>((), self.links, self.travel_mm, turn, self.out, &mut count);
            }
        }
        count
    }
}

impl Held {
    /// Lanes: in front with the elbow up and down, turned round with the elbow up and down.
    #[inline(always)]
    fn at<Q: Quad>(
        &self,
        kind: Q::Kind,
        links: &Links,
        s: f64,
        (sin, cos): (f64, f64),
        out: &mut [Reached; 8],
        count: &mut usize,
    ) {
        let (p, still) = (&self.plane, &self.still);
        let d = still.d[0] + s * still.d[1] + cos * self.cos[0] + sin * self.sin[0];
        let c = still.c[0] + s * still.c[1] + cos * self.cos[1] + sin * self.sin[1];
        let sigma = self.lean.sigma_mm;
        let w2 = d * d + c * c - sigma * sigma;
        if !(w2 >= 0.0) {
            return;
        }
        let w = w2.sqrt();
        let (front, back) = (w - self.lean.ahead_mm, -w - self.lean.ahead_mm);
        let g = |q: f64| (q * q + self.height_mm * self.height_mm) * p.share + p.rest;
        let h2 = |q: f64, g: f64| q * q + self.height_mm * self.height_mm - g * g;
        let (gf, gb) = (g(front), g(back));
        let (hf, hb) = (h2(front, gf), h2(back, gb));
        if !(hf >= 0.0 || hb >= 0.0) {
            return;
        }
        // Heading twice, then arg of the wrist twice.
        let towards = [sigma * d + w * c, sigma * d - w * c];
        let across = [sigma * c - w * d, sigma * c + w * d];
        let y = Q::of(kind, [across[0], across[1], front, back]);
        let x = Q::of(
            kind,
            [towards[0], towards[1], self.height_mm, self.height_mm],
        );
        let [yaw_f, yaw_b, to_f, to_b] = y.arc_around(x).parts();
        let a = p.upper_mm;
        let h = Q::of(kind, [hf, hb, hf, hb]).root();
        let g = Q::of(kind, [gf, gb, gf - a, gb - a]);
        let [lift_f, lift_b, bend_f, bend_b] = h.arc(g).parts();

        let toward = Q::of(kind, [to_f, to_f, to_b, to_b]);
        let lift = Q::of(kind, [lift_f, -lift_f, lift_b, -lift_b]);
        let bend = Q::of(kind, [bend_f, -bend_f, bend_b, -bend_b]);
        let yaw = Q::of(kind, [yaw_f, yaw_f, yaw_b, yaw_b]);
        let ahead = toward - lift;
        let shoulder = (ahead - y.all(p.shoulder)).wrapped();
        let elbow = (bend - y.all(p.elbow)).wrapped();
        let wrist = (ahead + bend - y.all(p.wrist + self.lean.hand)).wrapped();
        let margin = (y.all(links.limits[0].half) - yaw.abs())
            .min(y.all(p.halves[0]) - shoulder.abs())
            .min(y.all(p.halves[1]) - elbow.abs())
            .min(y.all(p.halves[2]) - wrist.abs())
            .min(y.all(self.roll.1));
        let one = links.value(0, -1.0, yaw).parts();
        let two = links.value(1, 1.0, shoulder).parts();
        let three = links.value(2, 1.0, elbow).parts();
        let fourth = links.value(3, -1.0, wrist).parts();
        let margin = margin.parts();
        let inside = [hf >= 0.0, hf >= 0.0, hb >= 0.0, hb >= 0.0];
        for k in 0..4 {
            // Written in any case, counted if it is good: nothing to guess for the processor.
            out[*count & 7] = Reached {
                values_rad: [one[k], two[k], three[k], fourth[k], self.roll.0],
                margin_rad: margin[k],
                branch: (self.lean.branch + [0, 1, 4, 5][k]) as u8,
            };
            *count += usize::from(inside[k] && margin[k] >= -LIMIT_SLACK_RAD);
        }
    }
}

impl Links {
    /// A joint's value from how far it is off the middle of its limits; `sense`: against its axis.
    #[inline(always)]
    fn value<N: Num>(&self, k: usize, sense: f64, off: N) -> N {
        off.times_plus(
            off.all(sense * self.signs[k]),
            off.all(self.limits[k].middle),
        )
    }
}
