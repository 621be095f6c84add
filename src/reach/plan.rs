//! How a target is to be solved by an arm: its conditions counted against the joints.

use std::f64::consts::FRAC_PI_2;
use std::fmt;

use crate::cell::Belongs;
use crate::kinematics::Direction;
use crate::reach::Wanted;
use crate::reach::conditions::Reference;
use crate::reach::conditions::Turning;
use crate::reach::pattern::Pattern;
use crate::reach::pattern::from_up;

/// Steeper than this, a planar arm meets the lean within its plane (89°).
const STEEP_RAD: f64 = 89.0 * std::f64::consts::PI / 180.0 + 1e-9;

/// Why a point cannot be asked of this cell at all.
#[derive(Debug, Clone, PartialEq)]
pub enum Refusal {
    /// More conditions than joints.
    TooFewJoints {
        /// Joints of the arm.
        joints: usize,
        /// Conditions of the point.
        conditions: usize,
        /// What asks for how many, in words.
        asked: String,
    },
    /// A platter point in a cell without a turntable.
    NoTurntable,
    /// A coordinate or an angle that is not a finite number.
    NotANumber,
    /// The whole travel of the track is wanted, and the cell does not say what it is.
    NoTravel,
    /// What an arm of parallel axes cannot do.
    Level(String),
    /// Positions of an axis that the cell does not have.
    NoAxis(&'static str),
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Refusal::TooFewJoints {
                joints,
                conditions,
                asked,
            } => write!(
                f,
                "the point asks for {conditions} conditions ({asked}), and an arm of {joints} joints can meet at most {joints}; leave an angle free"
            ),
            Refusal::NoTurntable => {
                write!(
                    f,
                    "the point belongs to the platter, and the cell has no turntable"
                )
            }
            Refusal::NotANumber => write!(
                f,
                "a coordinate or an angle of the point is not a finite number"
            ),
            Refusal::NoTravel => write!(
                f,
                "the cell does not give the travel of the track; give [track] travel_mm or the track positions to try"
            ),
            Refusal::Level(words) => write!(f, "{words}"),
            Refusal::NoAxis(axis) => write!(
                f,
                "positions of the {axis} are given, and the cell has no {axis}"
            ),
        }
    }
}

impl std::error::Error for Refusal {}

/// By which means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Method {
    /// Closed form, then polished.
    Closed,
    /// The same; joint 5 does nothing for the point and stands in the middle of its limits.
    ClosedStill,
    /// Closed form over the free angle or the free roll, then the largest margin.
    ClosedSpare,
    /// Six joints and six conditions: closed form, then polished.
    Six,
    /// Closed form of six joints over the free angles (of seven: over one joint too), then the
    /// largest margin.
    SixSpare,
    /// From many starts.
    Numeric,
    /// From many starts, then the largest margin.
    NumericSpare,
}

impl Method {
    /// Joints to spare: families of postures rather than single ones.
    pub fn spares(self) -> bool {
        matches!(
            self,
            Method::ClosedSpare | Method::SixSpare | Method::NumericSpare
        )
    }
}

/// The way to solve one target, the same at every station.
#[derive(Debug, Clone, Copy)]
pub(super) struct Plan {
    pub turning: Turning,
    pub method: Method,
    /// An azimuth that solutions must have by themselves.
    pub azimuth: Option<f64>,
    /// The elevation where the closed form is used and it is given.
    pub elevation: Option<f64>,
    /// Roll for the closed form.
    pub roll: Option<(f64, Reference)>,
    /// Lean is met within the arm's plane, the rest reported.
    pub steep: bool,
}

fn finite(wanted: &Wanted) -> bool {
    wanted.at_mm.iter().all(|x| x.is_finite())
        && [wanted.elevation_rad, wanted.azimuth_rad, wanted.roll_rad]
            .iter()
            .all(|a| a.is_none_or(f64::is_finite))
}

impl Plan {
    pub fn new(
        wanted: &Wanted,
        joints: usize,
        pattern: Option<&Pattern>,
        six: bool,
    ) -> Result<Plan, Refusal> {
        let (e, a, r) = (
            wanted.elevation_rad.map(|e| e.clamp(-FRAC_PI_2, FRAC_PI_2)),
            wanted.azimuth_rad,
            wanted.roll_rad,
        );
        let pole = e.is_some_and(Direction::is_pole);
        if let Some(pattern) = pattern
            && let Some(plan) = Self::planar(pattern, e, a, r, pole)
        {
            return Ok(plan);
        }
        let mut azimuth = None;
        let turning = match (e, a, r) {
            (Some(e), Some(_), Some(r)) if joints == 5 && !pole => {
                azimuth = a;
                Turning::Angles {
                    elevation: Some(e),
                    azimuth: None,
                    roll: Some(r),
                }
            }
            (Some(elevation_rad), Some(azimuth_rad), Some(roll_rad)) => {
                Turning::Full(crate::kinematics::rotation_of(&Direction {
                    elevation_rad,
                    azimuth_rad,
                    roll_rad,
                }))
            }
            (Some(elevation), azimuth, roll) if pole => Turning::Pole {
                elevation,
                azimuth,
                roll,
            },
            _ => Turning::Angles {
                elevation: e,
                azimuth: a,
                roll: r,
            },
        };
        let conditions = 3 + turning.conditions();
        if conditions > joints {
            let mut asked = vec!["3 for the place".to_string()];
            if pole {
                asked.push("2 for straight up or down".to_string());
                if r.is_some() {
                    asked.push("1 for the roll".to_string());
                }
            } else {
                for (angle, name) in [(e, "elevation"), (a, "azimuth"), (r, "roll")] {
                    if angle.is_some() && !(name == "azimuth" && azimuth.is_some()) {
                        asked.push(format!("1 for the {name}"));
                    }
                }
            }
            return Err(Refusal::TooFewJoints {
                joints,
                conditions,
                asked: asked.join(", "),
            });
        }
        // A roll that is measured from the heading hangs on joint 1: no rotation is given.
        let rotations = six
            && !matches!(
                turning,
                Turning::Pole {
                    azimuth: None,
                    roll: Some(_),
                    ..
                }
            );
        Ok(Plan {
            turning,
            method: match (conditions == joints, rotations) {
                (true, true) => Method::Six,
                (true, false) => Method::Numeric,
                (false, true) => Method::SixSpare,
                (false, false) => Method::NumericSpare,
            },
            azimuth,
            elevation: None,
            roll: None,
            steep: false,
        })
    }

    /// What no arm can be asked for.
    pub fn check(wanted: &Wanted, turntable: bool) -> Result<(), Refusal> {
        if wanted.frame == Belongs::Platter && !turntable {
            return Err(Refusal::NoTurntable);
        }
        if !finite(wanted)
            || wanted
                .elevation_rad
                .is_some_and(|e| e.abs() > FRAC_PI_2 + 1e-9)
        {
            return Err(Refusal::NotANumber);
        }
        Ok(())
    }

    /// For an arm whose axes are all parallel: two conditions for the place, at most one more.
    pub fn level(turning: Turning, joints: usize) -> Result<Plan, Refusal> {
        let conditions = 2 + turning.conditions();
        if conditions > joints {
            return Err(Refusal::TooFewJoints {
                joints,
                conditions,
                asked: "2 for the place, 1 for the tool's turn".to_owned(),
            });
        }
        Ok(Plan {
            turning,
            method: match conditions == joints {
                true => Method::Numeric,
                false => Method::NumericSpare,
            },
            azimuth: None,
            elevation: None,
            roll: None,
            steep: false,
        })
    }

    fn planar(
        pattern: &Pattern,
        e: Option<f64>,
        a: Option<f64>,
        r: Option<f64>,
        pole: bool,
    ) -> Option<Plan> {
        let mut plan = Plan {
            turning: Turning::Angles {
                elevation: e,
                azimuth: None,
                roll: r,
            },
            method: Method::ClosedSpare,
            azimuth: None,
            elevation: e,
            roll: None,
            steep: false,
        };
        let Some(e) = e else {
            return (a.is_none() && r.is_none()).then_some(plan);
        };
        // Straight up or down, an azimuth without a roll says nothing.
        let a_says = a.is_some() && !pole;
        if !pattern.rolls && (a_says || r.is_some()) {
            return None;
        }
        let centred = pattern.aligned && pattern.centred;
        plan.steep = e.abs() > STEEP_RAD;
        if r.is_none() && a_says && !centred && !plan.steep {
            // The roll can turn the azimuth: five conditions, five joints.
            return None;
        }
        if let Some(r) = r {
            let reference = match (pole, a) {
                (true, Some(a)) => Reference::Fixed(a),
                (true, None) => Reference::Heading,
                (false, _) => Reference::Own,
            };
            plan.roll = Some((r, reference));
        }
        if a_says {
            plan.azimuth = a;
        }
        if plan.steep {
            plan.turning = Turning::Plane {
                psi: from_up(e),
                roll: plan.roll,
            };
        }
        plan.method = match (pattern.rolls, r) {
            (false, _) | (true, Some(_)) => Method::Closed,
            (true, None) if centred => Method::ClosedStill,
            (true, None) => Method::ClosedSpare,
        };
        Some(plan)
    }
}
