//! The closed form: an upright first joint, three parallel level ones, and a roll of the tool.

use std::f64::consts::FRAC_PI_2;
use std::f64::consts::PI;

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::cell::Geometry;
use crate::frames::rot_zyx;
use crate::reach::conditions::Reference;
use crate::reach::planar::Planar;
use crate::reach::small::Posture;

/// Axes that are parallel or square by this much (sine of the angle) are so.
const SQUARE: f64 = 1e-9;

/// An arm of this pattern, its constants worked out once. Everything at the zero posture, base
/// frame.
#[derive(Debug, Clone)]
pub(super) struct Pattern {
    /// Whether there is a fifth joint.
    pub rolls: bool,
    /// Whether the tool's z is along the roll axis (or, without one, in the plane).
    pub aligned: bool,
    /// Whether the tip is on the roll axis.
    pub centred: bool,
    /// Sine of the angle between the tool's z and the roll axis.
    pub tilt: f64,
    pub signs: [f64; 4],
    pub through: Vector3<f64>,
    pub n: Vector3<f64>,
    pub e: Vector3<f64>,
    pub shoulder: Planar,
    pub upper: Planar,
    pub upper_mm: f64,
    pub fore_mm: f64,
    /// (fore / upper)'s turn at the zero posture.
    pub bend0: f64,
    /// Foot of the tip on the roll axis, from joint 4.
    pub hand: Planar,
    /// Along n, of that foot.
    pub side_mm: f64,
    /// The tool's z in the plane.
    pub z0: Planar,
    /// Roll axis along (+1) or against the tool's z.
    pub roll_sign: f64,
    pub tool0: Matrix3<f64>,
    /// Tip from its foot, tool frame.
    pub off_axis: Vector3<f64>,
}

/// What is asked, seen from the arm's base.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ask {
    /// Tip, base frame, mm.
    pub tip_mm: Vector3<f64>,
    /// Base axes in the point's frame, as columns.
    pub base_in_frame: Matrix3<f64>,
    /// Angle between the tool's z and the frame's up, 0 to π.
    pub from_up: f64,
    /// Whether that angle is meant within the arm's plane.
    pub in_plane: bool,
    /// Only +from_up (the plane angle itself) is asked, not both sides.
    pub one_side: bool,
    /// Wanted roll, and against what; `None`: joint 5 stands at `roll_value`.
    pub roll: Option<(f64, Reference)>,
    /// See `roll`.
    pub roll_value: f64,
    /// Largest cosine that seeds may have: below 1, the two branches that meet at the end of reach
    /// start well apart, so that each is found where the closed form is not exact.
    pub most_cos: f64,
}

/// A posture from the closed form, not wrapped.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Seed {
    pub values: Posture,
    /// Negative: out of reach by about this (a cosine beyond 1); the nearest posture is given then.
    pub slack: f64,
    /// Which branch, 0 to 7.
    pub branch: usize,
}

impl Pattern {
    /// Recognises the pattern from the axes.
    pub fn of(geometry: &Geometry) -> Option<Self> {
        let joints = &geometry.joints;
        if !(4..=5).contains(&joints.len()) {
            return None;
        }
        let a: Vec<Vector3<f64>> = joints.iter().map(|j| j.axis.normalize()).collect();
        let z = Vector3::z();
        let parallel = |u: &Vector3<f64>, v: &Vector3<f64>| u.cross(v).norm() < SQUARE;
        let square = |u: &Vector3<f64>, v: &Vector3<f64>| u.dot(v).abs() < SQUARE;
        let fits = parallel(&a[0], &z)
            && square(&a[1], &z)
            && parallel(&a[1], &a[2])
            && parallel(&a[1], &a[3])
            && a.get(4).is_none_or(|r| square(r, &a[1]));
        if !fits {
            return None;
        }
        let n = Vector3::new(a[1].x, a[1].y, 0.0).normalize();
        let e = n.cross(&z);
        let planar = |p: &Vector3<f64>| Planar {
            re: p.z,
            im: p.dot(&e),
        };
        let through = Vector3::new(joints[0].through_mm.x, joints[0].through_mm.y, 0.0);
        let at = |i: usize| joints[i].through_mm - through;
        let tool = &geometry.tool;
        let tool0 = geometry.flange_axes * rot_zyx(tool.yaw_rad, tool.pitch_rad, tool.roll_rad);
        let tip = geometry.flange_mm + geometry.flange_axes * tool.at_mm - through;
        let z_tool: Vector3<f64> = tool0.column(2).into();
        let (upper, fore) = (planar(&(at(2) - at(1))), planar(&(at(3) - at(2))));
        let (upper_mm, fore_mm) = (upper.norm(), fore.norm());
        if upper_mm < 1e-6 || fore_mm < 1e-6 {
            return None;
        }
        let (off, roll_sign, tilt) = match a.get(4) {
            Some(r) => {
                let d = tip - at(4);
                (
                    d - r * r.dot(&d),
                    r.dot(&z_tool).signum(),
                    r.cross(&z_tool).norm(),
                )
            }
            None => (Vector3::zeros(), 1.0, z_tool.dot(&n).abs()),
        };
        // Beyond about 10° the tool's z is no longer nearly the roll axis.
        if tilt > 0.17 {
            return None;
        }
        let z0 = match a.get(4) {
            Some(r) => planar(&(r * roll_sign)),
            None => planar(&z_tool),
        };
        let foot = tip - off;
        Some(Pattern {
            rolls: joints.len() == 5,
            aligned: tilt < SQUARE,
            centred: off.norm() < 1e-9,
            tilt,
            signs: [
                a[0].z.signum(),
                1.0,
                a[2].dot(&n).signum(),
                a[3].dot(&n).signum(),
            ],
            through,
            n,
            e,
            shoulder: planar(&at(1)),
            upper,
            upper_mm,
            fore_mm,
            bend0: fore.times(upper.conj()).arg(),
            hand: planar(&foot).minus(planar(&at(3))),
            side_mm: foot.dot(&n),
            z0: z0.over(z0.norm()),
            roll_sign,
            tool0,
            off_axis: tool0.transpose() * off,
        })
    }

    /// The shorter of the two links, mm.
    pub fn shorter_mm(&self) -> f64 {
        self.upper_mm.min(self.fore_mm)
    }

    /// Whether a seed is the root itself but for rounding.
    pub fn exact(&self, ask: &Ask) -> bool {
        self.aligned && (self.centred || (ask.base_in_frame[(2, 2)] - 1.0).abs() < 1e-16)
    }

    /// Seeds with less slack than this cannot be roots: the tilts of base and tool bring in no more.
    pub fn least_slack(&self, ask: &Ask) -> f64 {
        if self.exact(ask) {
            return -1e-9;
        }
        let m = &ask.base_in_frame;
        -(0.002 + 4.0 * (m[(2, 0)].hypot(m[(2, 1)]) + self.tilt)).min(0.3)
    }

    /// All branches: shoulder in front or behind × tool ahead or behind × elbow either way.
    pub fn seeds(&self, ask: &Ask, out: &mut [Seed; 8]) -> usize {
        let mut count = 0;
        let leans: &[f64] = if ask.one_side || ask.from_up == PI {
            &[1.0]
        } else {
            &[1.0, -1.0]
        };
        for (front, side) in [1.0, -1.0].into_iter().enumerate() {
            for (k, lean) in leans.iter().enumerate() {
                self.pair(ask, side, *lean, front * 4 + k * 2, out, &mut count);
            }
        }
        count
    }

    fn pair(
        &self,
        ask: &Ask,
        side: f64,
        lean: f64,
        branch: usize,
        out: &mut [Seed; 8],
        count: &mut usize,
    ) {
        let p = ask.tip_mm - self.through;
        let away = (p.x * p.x + p.y * p.y).sqrt().max(1e-9);
        let m = &ask.base_in_frame;
        let up = Vector3::new(m[(2, 0)], m[(2, 1)], m[(2, 2)]);
        let passes = if self.centred {
            1
        } else if up.z == 1.0 {
            2
        } else {
            8
        };
        let (lean_sin, lean_cos) = ask.from_up.sin_cos();
        let mut off = Vector3::zeros();
        let mut slack;
        let mut n;
        let mut e;
        let mut zeta;
        let mut roll_value = ask.roll_value;
        let mut turned;
        let mut pass = 0;
        loop {
            // Joint 1: the point lies `side_mm + off` beside the arm's plane.
            let ratio = (self.side_mm + off.dot(&self.n)) / away;
            // Over a length of the arm where the tip is near the axis of joint 1.
            slack = ((1.0 - ratio.abs()) * away / away.max(0.3 * self.upper_mm))
                .min(away / (3.0 * self.upper_mm));
            let c = ratio.clamp(-ask.most_cos, ask.most_cos);
            let s = side * (1.0 - c * c).max(0.0).sqrt();
            let (bx, by) = (p.x / away, p.y / away);
            n = Vector3::new(bx * c - by * s, by * c + bx * s, 0.0);
            e = Vector3::new(n.y, -n.x, 0.0);
            // The tool's z in the plane.
            let up_in = Planar {
                re: up.z,
                im: up.dot(&e),
            };
            let share = up_in.norm().max(1e-9);
            let half = if ask.in_plane {
                Planar {
                    re: lean_cos,
                    im: lean * lean_sin,
                }
            } else {
                let c = lean_cos / share;
                slack = slack.min(1.0 - c.abs());
                let c = c.clamp(-ask.most_cos, ask.most_cos);
                Planar {
                    re: c,
                    im: lean * (1.0 - c * c).max(0.0).sqrt(),
                }
            };
            zeta = up_in.over(share).times(half);
            turned = zeta.times(self.z0.conj());
            if !self.rolls {
                break;
            }
            if let Some((roll, reference)) = ask.roll {
                roll_value = self.roll_for(ask, roll, reference, &n, &e, zeta, turned);
            }
            pass += 1;
            if pass >= passes + usize::from(!self.centred) {
                break;
            }
            if !self.centred {
                let next = self.off_at(roll_value, turned);
                let settled = (next - off).abs().max() < 1e-6;
                off = next;
                if settled {
                    break;
                }
            }
        }
        // Wrist, then the triangle of the two links.
        let tip = Planar {
            re: p.z - off.z,
            im: p.dot(&e) - off.dot(&self.e),
        };
        let wrist = tip.minus(turned.times(self.hand)).minus(self.shoulder);
        let (a, b) = (self.upper_mm, self.fore_mm);
        let d2 = wrist.re * wrist.re + wrist.im * wrist.im;
        let bend_cos = (d2 - a * a - b * b) / (2.0 * a * b);
        slack = slack.min(1.0 - bend_cos.abs());
        let bend_cos = bend_cos.clamp(-ask.most_cos, ask.most_cos);
        let bend = bend_cos.acos();
        let bend_sin = (1.0 - bend_cos * bend_cos).max(0.0).sqrt();
        let first = n.dot(&self.n);
        let theta1 = self.signs[0] * (self.n.x * n.y - self.n.y * n.x).atan2(first);
        let hand_turn = turned.arg();
        for (elbow, sign) in [1.0, -1.0].into_iter().enumerate() {
            // Wrist = e^{iA} upper (1 + (b/a) e^{±iγ}).
            let f = b / a;
            let chain = self.upper.times(Planar {
                re: 1.0 + f * bend_cos,
                im: sign * f * bend_sin,
            });
            let shoulder = wrist.times(chain.conj()).arg();
            let elbow_turn = sign * bend - self.bend0;
            let seed = &mut out[*count];
            seed.values = [
                theta1,
                shoulder,
                self.signs[2] * elbow_turn,
                self.signs[3] * (hand_turn - shoulder - elbow_turn),
                roll_value,
                0.0,
                0.0,
            ];
            seed.slack = slack;
            seed.branch = branch + elbow;
            *count += 1;
        }
    }

    /// The tip's place from its foot with joint 5 at `roll_value`, as if joint 1 were at 0.
    pub(super) fn off_at(&self, roll_value: f64, turned: Planar) -> Vector3<f64> {
        let axis = self.tool0_axis();
        let off0 = self.tool0 * self.off_axis;
        let (s, c) = roll_value.sin_cos();
        let off = off0 * c + axis.cross(&off0) * s;
        self.in_plane_turn(&off, turned)
    }

    /// The roll axis at the zero posture.
    fn tool0_axis(&self) -> Vector3<f64> {
        (Vector3::z() * self.z0.re + self.e * self.z0.im) * self.roll_sign
    }

    fn in_plane_turn(&self, v: &Vector3<f64>, turned: Planar) -> Vector3<f64> {
        let w = Planar {
            re: v.z,
            im: v.dot(&self.e),
        }
        .times(turned);
        self.n * v.dot(&self.n) + self.e * w.im + Vector3::z() * w.re
    }

    #[allow(clippy::too_many_arguments)] // the arm's plane as it stands, unpacked
    pub(super) fn roll_for(
        &self,
        ask: &Ask,
        roll: f64,
        reference: Reference,
        n: &Vector3<f64>,
        e: &Vector3<f64>,
        zeta: Planar,
        turned: Planar,
    ) -> f64 {
        let m = &ask.base_in_frame;
        let z_base = Vector3::new(e.x * zeta.im, e.y * zeta.im, zeta.re);
        let z = m * z_base;
        let (hx, hy) = match reference {
            Reference::Own => (z.x, z.y),
            Reference::Heading => {
                // Base x carried by joint 1; its level part, taken into the point's frame.
                let (nx, ex) = (self.n.x, self.e.x);
                let h = m * (n * nx + e * ex);
                (h.x, h.y)
            }
            Reference::Fixed(a) => (a.cos(), a.sin()),
        };
        let level = (hx * hx + hy * hy).sqrt();
        let (hx, hy) = if level > 1e-12 {
            (hx / level, hy / level)
        } else {
            (1.0, 0.0)
        };
        let y0 = Vector3::new(-hy, hx, 0.0);
        let x0 = y0.cross(&z);
        let (s, c) = roll.sin_cos();
        let x = m.tr_mul(&(x0 * c + y0 * s));
        // Tool x as it stands with joint 5 at 0.
        let t: Vector3<f64> = self.tool0.column(0).into();
        let w = Planar {
            re: t.z,
            im: t.dot(&self.e),
        }
        .times(turned);
        let x_now = n * t.dot(&self.n) + Vector3::new(e.x * w.im, e.y * w.im, w.re);
        let axis = z_base * self.roll_sign;
        axis.dot(&x_now.cross(&x))
            .atan2(x_now.dot(&x) - axis.dot(&x_now) * axis.dot(&x))
    }
}

/// The angle from the frame's up that an elevation means.
pub(super) fn from_up(elevation_rad: f64) -> f64 {
    FRAC_PI_2 - elevation_rad
}
