//! The closed form where the arm's base stands level in the point's frame: everything but the
//! heading and the distance of the tip from joint 1 is the same at all stations.
//!
//! With p the tip from the axis of joint 1 (base frame), σ how far the roll axis passes beside
//! that axis, and w = √(pₓ² + p_y² − σ²), the arm's plane has the normal
//! n = (pₓσ ∓ p_y w, p_yσ ± pₓw)/(pₓ² + p_y²) and the tip lies ±w ahead in it. Against the unit
//! vector V that is the arm's normal with joint 1 in the middle of its limits, and with D = p·V,
//! C = pₓV_y − p_yV_x, both linear along the track, and A² = D² + C²:
//!
//! A² n·V = σD ± wC,  A² n×V = σC ∓ wD.
//!
//! In the plane, real part up and imaginary part ahead, the wrist is W + iq with q = ±w − K; W
//! and K hold the turned hand, the shoulder and the tip's height. With d² = W² + q², links a and
//! b, g = (d² + a² − b²)/2a and h = √(d² − g²):
//!
//! shoulder = arg(W + iq) − α₀ ∓ arg(g + ih),  elbow = ±arg(g − a + ih) − bend₀,
//! wrist = hand − shoulder − elbow.

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::reach::Solver;
use crate::reach::Wanted;
use crate::reach::conditions::Reference;
use crate::reach::limits::LIMIT_SLACK_RAD;
use crate::reach::pattern::Ask;
use crate::reach::pattern::Pattern;
use crate::reach::plan::Plan;
use crate::reach::planar::Planar;
use crate::units::wrap_rad;

/// The base is level where its z misses the frame's by less than this, rad.
const LEVEL: f64 = 1e-13;
/// Straight up or down where the tool's z is level by less than this.
const UPRIGHT: f64 = 1e-12;

/// Middle and half width of a joint's limits, rad.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Limit {
    pub middle: f64,
    pub half: f64,
}

/// What the arm is, the same for all points.
#[derive(Debug, Clone, Copy)]
pub(super) struct Links {
    pub upper_mm: f64,
    pub fore_mm: f64,
    /// arg of the upper link, arm at 0.
    pub upper_turn: f64,
    pub bend0: f64,
    pub signs: [f64; 4],
    pub limits: [Limit; 5],
}

impl Links {
    pub fn new(solver: &Solver, pattern: &Pattern) -> Self {
        let mut limits = [Limit::default(); 5];
        for (limit, joint) in limits.iter_mut().zip(&solver.cell.joints) {
            let range = joint.limits_rad;
            limit.middle = 0.5 * (range.low + range.high);
            limit.half = 0.5 * (range.high - range.low);
        }
        Links {
            upper_mm: pattern.upper_mm,
            fore_mm: pattern.fore_mm,
            upper_turn: pattern.upper.arg(),
            bend0: pattern.bend0,
            signs: pattern.signs,
            limits,
        }
    }
}

/// What joint 5 does.
#[derive(Debug, Clone, Copy)]
pub(super) enum Roll {
    /// There is none.
    Absent,
    /// Stands at this value, not wrapped.
    Still(f64),
    /// value = `sense`·(`at` − angle of n): the tool's x has a direction of its own.
    Turns { sense: f64, at: f64 },
}

/// One of the two sides to which the tool may lean (one alone straight down).
#[derive(Debug, Clone, Copy)]
pub(super) struct Lean {
    /// 0, or 2 for the tool behind.
    pub branch: usize,
    pub sigma_mm: f64,
    /// K of the module's text.
    pub ahead_mm: f64,
    /// W of the module's text, less the tip's height.
    pub drop_mm: f64,
    /// Turn of the hand.
    pub hand: f64,
    pub roll: Roll,
    /// From the tip to the point that the arm has to bring there, base frame: not 0 only where the
    /// tool's axes are given altogether.
    pub shift_mm: Vector3<f64>,
}

/// One table angle: the tip along the track.
#[derive(Debug, Clone)]
pub(super) struct Row {
    /// Tip from joint 1's foot with the carriage at 0, base frame.
    pub tip_mm: Vector3<f64>,
    /// Its motion for each mm of travel.
    pub per_mm: Vector3<f64>,
    pub leans: [Lean; 2],
    pub count: usize,
}

/// D, C and the roll's own pair of the module's text: value at travel 0, and for each mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Along {
    pub d: [f64; 2],
    pub c: [f64; 2],
}

impl Row {
    /// `None` where the base is not level at this table angle.
    pub fn new(
        solver: &Solver,
        pattern: &Pattern,
        plan: &Plan,
        wanted: &Wanted,
        turn_rad: f64,
    ) -> Option<Self> {
        let task = solver.task(wanted, plan, turn_rad);
        let ask = solver.ask(plan, &task, 0.0);
        let m = &ask.base_in_frame;
        let per_mm = -solver.base_axes.tr_mul(&solver.along);
        let level = pattern.aligned
            && m[(2, 2)] > 0.0
            && m[(2, 0)].hypot(m[(2, 1)]) < LEVEL
            && per_mm.z.abs() < LEVEL;
        if !level {
            return None;
        }
        let first = lean(pattern, &ask, 1.0)?;
        // Straight down there is one way to hold the tool, and straight up too.
        let one = ask.from_up == std::f64::consts::PI || ask.from_up == 0.0;
        let (second, count) = if one {
            (first, 1)
        } else {
            (lean(pattern, &ask, -1.0)?, 2)
        };
        Some(Row {
            tip_mm: ask.tip_mm - pattern.through,
            per_mm,
            leans: [first, second],
            count,
        })
    }

    /// W: how high the wrist has to be above the shoulder, mm.
    pub fn height_mm(&self, lean: &Lean) -> f64 {
        self.tip_mm.z + lean.shift_mm.z + lean.drop_mm
    }

    /// D and C against the direction `v`.
    pub fn along(&self, lean: &Lean, v: [f64; 2]) -> Along {
        let p = self.tip_mm + lean.shift_mm;
        let t = &self.per_mm;
        Along {
            d: [p.x * v[0] + p.y * v[1], t.x * v[0] + t.y * v[1]],
            c: [p.x * v[1] - p.y * v[0], t.x * v[1] - t.y * v[0]],
        }
    }
}

/// `None` where the roll is measured against something that the closed form meets only nearly.
fn lean(pattern: &Pattern, ask: &Ask, side: f64) -> Option<Lean> {
    let (sin, cos) = ask.from_up.sin_cos();
    let zeta = Planar {
        re: cos,
        im: side * sin,
    };
    let turned = zeta.times(pattern.z0.conj());
    let mut out = Lean {
        branch: if side > 0.0 { 0 } else { 2 },
        sigma_mm: pattern.side_mm,
        ahead_mm: 0.0,
        drop_mm: 0.0,
        hand: turned.arg(),
        roll: Roll::Absent,
        shift_mm: Vector3::zeros(),
    };
    let mut off = Vector3::zeros();
    if pattern.rolls {
        out.roll = match ask.roll {
            None => Roll::Still(ask.roll_value),
            Some((_, Reference::Own)) => Roll::Still(still(pattern, ask, zeta, turned, &mut off)),
            Some((_, Reference::Heading)) if sin.abs() < UPRIGHT => {
                Roll::Still(still(pattern, ask, zeta, turned, &mut off))
            }
            Some((roll, Reference::Fixed(a))) if sin.abs() < UPRIGHT => {
                let (x, y, z) = tool_axes(&ask.base_in_frame, cos.signum(), roll, a);
                let o = &pattern.off_axis;
                out.shift_mm = -(x * o.x + y * o.y + z * o.z);
                // The tool's x, joint 5 at 0, stands at the angle of n plus this.
                let t: Vector3<f64> = pattern.tool0.column(0).into();
                let w = Planar {
                    re: t.z,
                    im: t.dot(&pattern.e),
                }
                .times(turned);
                let beside = (-w.im).atan2(t.dot(&pattern.n));
                Roll::Turns {
                    sense: pattern.roll_sign * cos.signum(),
                    at: x.y.atan2(x.x) - beside,
                }
            }
            _ => return None,
        };
    }
    let hand = turned.times(pattern.hand);
    out.sigma_mm += off.dot(&pattern.n);
    out.ahead_mm = off.dot(&pattern.e) + hand.im + pattern.shoulder.im;
    out.drop_mm = -(off.z + hand.re + pattern.shoulder.re);
    Some(out)
}

/// The roll that turns with the arm: the same at any heading.
fn still(
    pattern: &Pattern,
    ask: &Ask,
    zeta: Planar,
    turned: Planar,
    off: &mut Vector3<f64>,
) -> f64 {
    let Some((roll, reference)) = ask.roll else {
        return ask.roll_value;
    };
    let value = pattern.roll_for(ask, roll, reference, &pattern.n, &pattern.e, zeta, turned);
    if !pattern.centred {
        *off = pattern.off_at(value, turned);
    }
    value
}

/// The tool's axes in the base frame, straight up or down with a given azimuth and roll.
fn tool_axes(
    m: &Matrix3<f64>,
    up: f64,
    roll: f64,
    azimuth: f64,
) -> (Vector3<f64>, Vector3<f64>, Vector3<f64>) {
    let z = Vector3::new(0.0, 0.0, up);
    let y0 = Vector3::new(-azimuth.sin(), azimuth.cos(), 0.0);
    let x0 = y0.cross(&z);
    let (s, c) = roll.sin_cos();
    let x = x0 * c + y0 * s;
    (m.tr_mul(&x), m.tr_mul(&z.cross(&x)), m.tr_mul(&z))
}

impl Links {
    /// The direction of n with joint 1 in the middle of its limits.
    pub fn middle_heading(&self, pattern: &Pattern) -> [f64; 2] {
        let (s, c) = (self.signs[0] * self.limits[0].middle).sin_cos();
        let n = &pattern.n;
        [c * n.x - s * n.y, s * n.x + c * n.y]
    }

    /// The direction of n with joint 5 in the middle of its limits, if that follows from n.
    pub fn middle_roll(&self, lean: &Lean) -> Option<[f64; 2]> {
        match lean.roll {
            Roll::Turns { sense, at } => {
                let (s, c) = (at - sense * self.limits[4].middle).sin_cos();
                Some([c, s])
            }
            _ => None,
        }
    }

    /// Margin of a joint 5 that stands still; above all others where there is none.
    pub fn still_margin(&self, lean: &Lean) -> f64 {
        match lean.roll {
            Roll::Still(v) => self.limits[4].half - wrap_rad(v - self.limits[4].middle).abs(),
            _ => f64::MAX,
        }
    }

    /// Half width of the limits of joint `k`, with the slack that a value may have.
    pub fn open(&self, k: usize) -> f64 {
        self.limits[k].half + LIMIT_SLACK_RAD
    }
}
