//! Level and plumb: a direction of a body is set level, or plumb, or measured against that.

use nalgebra::Vector3;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::kinematics::ArmScene;
use crate::kinematics::Level;
use crate::kinematics::Posed;
use crate::parameters::Family;
use crate::parameters::Motion;
use crate::parameters::Unknowns;
use crate::parameters::up;
use crate::readings::AxesRead;
use crate::readings::ByUnknown;
use crate::readings::Kind;
use crate::readings::ResidualUnit;
use crate::readings::Residuals;
use crate::readings::Setting;
use crate::readings::Shown;
use crate::readings::attitude_proposals;
use crate::readings::joint_readings;
use crate::readings::millionths;
use crate::readings::propose::Draft;
use crate::readings::propose::Maker;
use crate::readings::slips::SlipKind;
use crate::readings::slips::Slips;
use crate::readings::stand::Stand;
use crate::readings::stand::direction_motions;
use crate::readings::stand::heading_motions;
use crate::readings::stand::left_of;
use crate::table::Columns;
use crate::table::Row;
use crate::units::Angle;

/// What carries the direction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Body {
    /// The plate itself.
    Plate,
    /// The link that a joint moves, from 0.
    Link(usize),
    /// The flange.
    Flange,
    /// The tool.
    Tool,
}

/// Against what the direction is judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sense {
    /// How far it points above the horizontal.
    Level,
    /// How far its end leans ahead.
    PlumbAhead,
    /// How far its end leans to the left.
    PlumbLeft,
}

/// One row of `attitude.csv`.
#[derive(Debug, Clone, PartialEq)]
pub struct Attitude {
    /// Level, or plumb ahead or to the left.
    pub sense: Sense,
    /// What carries the direction.
    pub body: Body,
    /// The direction: base axes at the zero posture for a link, own axes for flange and tool.
    pub axis: Vector3<f64>,
    /// Against gravity (a bubble, a plumb line) instead of against the plate (a square).
    pub by_bubble: bool,
    /// The angle that was read, rad.
    pub angle_rad: f64,
    /// How the arm stood.
    pub stand: Stand,
}

const KIND: usize = 0;
const BODY: usize = 1;
const AXIS: usize = 2;
const TOWARD: usize = 3;
const BY: usize = 4;
const ANGLE: usize = 5;
const TRACK: usize = 6;
const FIRST_JOINT: usize = 7;

/// Beyond this the sine says little.
const MOST_DEG: f64 = 60.0;

impl Attitude {
    /// How many joints must be known: up to the body, and the first one for a heading.
    fn joints_needed(sense: Sense, body: Body, all: usize) -> usize {
        let for_body = match body {
            Body::Plate => 0,
            Body::Link(index) => index + 1,
            Body::Flange | Body::Tool => all,
        };
        match sense {
            Sense::Level => for_body,
            _ => for_body.max(1),
        }
    }

    fn carried(&self, arm: &ArmScene) -> (Vector3<f64>, Option<Level>) {
        match self.body {
            Body::Plate => (self.axis, None),
            Body::Link(index) => (arm.joints[index].axes * self.axis, Some(Level::link(index))),
            Body::Flange => (arm.flange_axes * self.axis, Some(Level::FLANGE)),
            Body::Tool => (arm.tool_axes * self.axis, Some(Level::TOOL)),
        }
    }
}

impl Kind for Attitude {
    const FILE: &'static str = "attitude.csv";
    const WORDS: &'static str = "level or plumb";
    const UNIT: ResidualUnit = ResidualUnit::Deg;
    const RESULTS: &'static [&'static str] = &["angle"];
    const ASKED: &'static [(&'static str, &'static str, &'static str)] = &[
        ("kind", "", "level or plumb"),
        (
            "body",
            "",
            "j1, j2, ... (the link that the joint moves), flange, tool or plate",
        ),
        (
            "axis",
            "",
            "direction of the body that was judged: x, y, z, -x, -y or -z",
        ),
        (
            "toward",
            "",
            "for plumb: ahead along the arm's heading, or left of it; empty: ahead",
        ),
        (
            "by",
            "",
            "square (against the plate) or bubble (against gravity); empty: square",
        ),
        (
            "angle",
            "",
            "level: how far the direction points above the horizontal; plumb: how far its end leans",
        ),
    ];
    const EXCHANGED: &'static [&'static [&'static str]] = &[
        &["angle"],
        &["j#"],
        &["kind", "body", "axis", "toward", "by"],
        &["axis"],
        &["body"],
    ];
    const LENGTHS: &'static [&'static str] = &[];

    fn shown(&self, _posed: &Posed<'_>) -> Shown {
        let part = match self.body {
            Body::Plate => "plate".to_owned(),
            Body::Link(index) => format!("j{}", index + 1),
            Body::Flange => "flange".to_owned(),
            Body::Tool => "tool".to_owned(),
        };
        let words = match self.sense {
            Sense::Level => "level",
            Sense::PlumbAhead => "plumb ahead",
            Sense::PlumbLeft => "plumb to the left",
        };
        Shown::AtJoint {
            part,
            words: words.to_owned(),
        }
    }

    fn setting(&self, _geometry: &Geometry) -> Option<Vec<i64>> {
        let body = match self.body {
            Body::Plate => -1,
            Body::Link(index) => index as i64,
            Body::Flange => 100,
            Body::Tool => 101,
        };
        let sense = match self.sense {
            Sense::Level => 0,
            Sense::PlumbAhead => 1,
            Sense::PlumbLeft => 2,
        };
        let axis = self.axis.map(|v| v as i64);
        let by = i64::from(self.by_bubble);
        let track = millionths(self.stand.track);
        Some(vec![sense, body, axis.x, axis.y, axis.z, by, track])
    }

    fn propose(maker: &Maker<'_>, out: &mut Vec<Draft>) {
        attitude_proposals::propose(maker, out);
    }

    /// Level for plumb; the wrong axis, body or way; the angle's sign; joints.
    fn slips(slips: &mut Slips<'_>) {
        use SlipKind::Attitude;
        let (row, cell) = (slips.row, slips.cell);
        let plumb = row.text("kind") == "plumb";
        slips.other(Attitude, "kind", if plumb { "level" } else { "plumb" }, 0.0);
        slips.any_of(Attitude, "axis", ["x", "y", "z", "-x", "-y", "-z"], 0.3);
        if plumb {
            let left = row.text("toward") == "left";
            let other = if left { "ahead" } else { "left" };
            slips.other(Attitude, "toward", other, 0.3);
        }
        slips.sign(Attitude, "angle", 0.3);
        for joint in 1..=cell.joints.len() {
            slips.other(Attitude, "body", format!("j{joint}"), 2.5);
        }
        slips.any_of(Attitude, "body", ["flange", "tool"], 2.5);
        slips.joints(cell.joints.len());
    }

    fn columns(cell: &Cell) -> Columns {
        Columns::new()
            .text("kind")
            .required()
            .text("body")
            .required()
            .text("axis")
            .required()
            .text("toward")
            .optional()
            .text("by")
            .optional()
            .angle("angle")
            .optional()
            .number("track")
            .optional()
            .joints(cell.joints.len())
            .optional()
    }

    fn default_u(cell: &Cell) -> f64 {
        cell.instruments.attitude_rad
    }

    fn stand(&self) -> (&Stand, AxesRead) {
        let axes = AxesRead {
            track: false,
            table: false,
            joints: Self::joints_needed(self.sense, self.body, usize::MAX),
        };
        (&self.stand, axes)
    }

    fn understand(row: &mut Row<'_>, setting: &Setting<'_>) -> Option<Self> {
        let cell = setting.cell;
        let sense = sense_of(row);
        let body = body_of(row, cell);
        let axis = axis_of(row);
        let by_bubble = match row.text(BY) {
            "" | "square" => false,
            "bubble" => true,
            _ => {
                row.reject(
                    BY,
                    "square (against the plate; also if empty) or bubble (against gravity)",
                    "write what the angle was judged with",
                );
                false
            }
        };
        let angle_rad = row.angle_rad(ANGLE).unwrap_or(0.0);
        if angle_rad.abs() > Angle::deg(MOST_DEG + 1e-9).as_rad() {
            row.reject(
                ANGLE,
                "an angle within 60° of level or plumb",
                "use the other kind (level for plumb) or another axis of the body",
            );
        }
        let track = row.number(TRACK).unwrap_or(0.0);
        let (sense, body) = (sense?, body?);
        let all = cell.joints.len();
        let needed = Self::joints_needed(sense, body, all);
        let joints = joint_readings(row, FIRST_JOINT, cell, needed);
        Some(Attitude {
            sense,
            body,
            axis: axis?,
            by_bubble,
            angle_rad,
            stand: Stand {
                track,
                joints,
                ..Stand::default()
            },
        })
    }

    fn heading_joints(&self) -> Option<&Stand> {
        (self.sense != Sense::Level).then_some(&self.stand)
    }

    /// Level: `asin((R a) · up) − angle`. Plumb: `asin((R a) · h) − angle`, with h the heading, or
    /// `ez × heading` toward the left; against gravity, h made perpendicular to up and unit.
    #[inline(always)]
    fn evaluate(
        &self,
        posed: &Posed<'_>,
        unknowns: &Unknowns,
        by: Option<&mut ByUnknown>,
    ) -> Residuals {
        let geometry = posed.geometry;
        let needed = Self::joints_needed(self.sense, self.body, geometry.joints.len());
        let arm = &*self.stand.arm_in(posed, needed);
        let scene = self.stand.scene(geometry, arm, None);
        let (a, level) = self.carried(arm);
        let up = if self.by_bubble {
            up(geometry)
        } else {
            Vector3::z()
        };
        let gravity = |f: &mut dyn FnMut(usize, Vector3<f64>)| {
            if self.by_bubble {
                for (j, motion) in unknowns.motions(Family::Gravity, &scene) {
                    if let Motion::Gravity(d) = motion {
                        f(j, d);
                    }
                }
            }
        };
        let mut scratch = Vec::new();
        let by: &mut ByUnknown = match by {
            Some(by) => by,
            None => {
                scratch.resize(unknowns.len(), [0.0; 3]);
                &mut scratch
            }
        };
        let judged = match self.sense {
            Sense::Level => {
                gravity(&mut |j, d| by[j][0] += a.dot(&d));
                up
            }
            Sense::PlumbAhead | Sense::PlumbLeft => {
                let to_side = |h: &Vector3<f64>| match self.sense {
                    Sense::PlumbLeft => left_of(h),
                    _ => *h,
                };
                let raw = to_side(&arm.heading_raw().normalize());
                // Perpendicular to up: nothing to do against the plate, where raw · ez = 0.
                let lift = raw.dot(&up);
                let across = raw - up * lift;
                let length = across.norm();
                let h = across / length;
                let project = |d: Vector3<f64>| (d - h * h.dot(&d)) / length;
                heading_motions(unknowns, &scene, |j, dh| {
                    let d = to_side(&dh);
                    by[j][0] += a.dot(&project(d - up * d.dot(&up)));
                });
                gravity(&mut |j, d| {
                    by[j][0] -= a.dot(&project(d * lift + up * raw.dot(&d)));
                });
                h
            }
        };
        if let Some(level) = level {
            direction_motions(unknowns, &scene, level, &a, |j, d| {
                by[j][0] += d.dot(&judged)
            });
        }
        let sine = a.dot(&judged).clamp(-1.0, 1.0);
        // d asin(x) = dx / √(1 − x²); bounded where a point exactly along the judge.
        let stretch = 1.0 / (1.0 - sine * sine).max(1e-12).sqrt();
        for d in by.iter_mut() {
            d[0] *= stretch;
        }
        Residuals::one(sine.asin() - self.angle_rad)
    }
}

fn sense_of(row: &mut Row<'_>) -> Option<Sense> {
    let ahead = match row.text(TOWARD) {
        "" | "ahead" => true,
        "left" => false,
        _ => {
            row.reject(
                TOWARD,
                "ahead (also if empty) or left",
                "write which way the lean was read; to the right is left with a minus",
            );
            return None;
        }
    };
    match row.text(KIND) {
        "level" => Some(Sense::Level),
        "plumb" if ahead => Some(Sense::PlumbAhead),
        "plumb" => Some(Sense::PlumbLeft),
        _ => {
            row.reject(KIND, "level or plumb", "write what the body was set to");
            None
        }
    }
}

fn body_of(row: &mut Row<'_>, cell: &Cell) -> Option<Body> {
    let text = row.text(BODY);
    let body = match text {
        "plate" => Some(Body::Plate),
        "flange" => Some(Body::Flange),
        "tool" => Some(Body::Tool),
        _ => text
            .strip_prefix('j')
            .and_then(|n| n.parse::<usize>().ok())
            .filter(|n| (1..=cell.joints.len()).contains(n))
            .map(|n| Body::Link(n - 1)),
    };
    if body.is_none() {
        let n = cell.joints.len();
        row.reject(
            BODY,
            &format!("j1 to j{n} (the link that the joint moves), flange, tool or plate"),
            "write the body whose direction was judged",
        );
    }
    body
}

fn axis_of(row: &mut Row<'_>) -> Option<Vector3<f64>> {
    let text = row.text(AXIS);
    let (sign, letter) = match text.strip_prefix('-') {
        Some(rest) => (-1.0, rest),
        None => (1.0, text.strip_prefix('+').unwrap_or(text)),
    };
    let axis = match letter {
        "x" => Vector3::x(),
        "y" => Vector3::y(),
        "z" => Vector3::z(),
        _ => {
            row.reject(
                AXIS,
                "x, y, z, -x, -y or -z",
                "write which direction of the body was judged",
            );
            return None;
        }
    };
    Some(axis * sign)
}
