//! Arms whose axes are all parallel: their tip stays in one plane. Where the axes are upright they
//! cannot lift.

use std::f64::consts::FRAC_PI_2;

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::cell::Geometry;
use crate::kinematics::ArmScene;
use crate::kinematics::direction_of;
use crate::reach::Refusal;
use crate::reach::Wanted;
use crate::reach::conditions::Reference;
use crate::reach::conditions::Task;
use crate::reach::conditions::Turning;
use crate::reach::six::Chain;
use crate::reach::solver::Root;
use crate::reach::solver::Solver;
use crate::units::wrap_rad;

/// Axes nearer to upright than this are upright, rad (1 degree): the tool's elevation hardly changes.
const UPRIGHT_RAD: f64 = std::f64::consts::PI / 180.0;

/// A tip may stay this far from the point in height where `[accept] tip_mm` is not given, mm.
const USUAL_MM: f64 = 1.0;

/// An arm of parallel axes; base frame.
#[derive(Debug, Clone)]
pub(super) struct Level {
    /// Along all axes, the way that is nearer to the base's z.
    pub axis: Vector3<f64>,
    /// Where the tip's plane cuts that direction, mm from the base's origin.
    height_mm: f64,
    /// The tool's angle above the plane, and its roll there, rad.
    elevation: f64,
    roll: f64,
}

impl Level {
    pub fn of(geometry: &Geometry) -> Option<Self> {
        let chain = Chain::of(geometry);
        let first = chain.axes.first()?;
        if !chain.axes.iter().all(|a| a.parallel(first)) {
            return None;
        }
        let axis = match first.along.z < 0.0 {
            true => -first.along,
            false => first.along,
        };
        let z: Vector3<f64> = chain.tool.column(2).into();
        let x: Vector3<f64> = chain.tool.column(0).into();
        let level = z - axis * axis.dot(&z);
        let roll = match level.norm() > 1e-9 {
            // x0 = y0 × z with y0 = axis × level: the model's roll, seen from this axis.
            true => {
                let y0 = axis.cross(&level.normalize());
                x.dot(&y0).atan2(x.dot(&y0.cross(&z)))
            }
            false => 0.0,
        };
        Some(Level {
            axis,
            height_mm: axis.dot(&chain.tip),
            elevation: axis.dot(&z).clamp(-1.0, 1.0).asin(),
            roll,
        })
    }

    /// The tip's height over the plane through a target, mm; base axes and origin in the plate frame.
    pub fn above(&self, axes: &Matrix3<f64>, base: &Vector3<f64>, target: &Vector3<f64>) -> f64 {
        self.height_mm - (axes * self.axis).dot(&(target - base))
    }
}

impl Solver<'_> {
    /// How far a level arm's tip may stay from a point in height, mm.
    pub(super) fn height_allowed_mm(&self) -> f64 {
        self.cell.accept.tip_mm.unwrap_or(USUAL_MM)
    }

    /// What a level arm can be asked for: or what it cannot do, in words.
    pub(super) fn level_turning(&self, level: &Level, wanted: &Wanted) -> Result<Turning, Refusal> {
        let upright = (self.base_axes * level.axis).z.clamp(-1.0, 1.0).acos();
        self.level_height(level, wanted, upright <= UPRIGHT_RAD)?;
        if upright > UPRIGHT_RAD {
            // The arm works in a plane that stands: there it can meet an elevation.
            return Ok(Turning::Level {
                elevation: wanted.elevation_rad,
                azimuth: None,
                roll: None,
            });
        }
        let slack = self.cell.accept.direction_rad + 1e-9;
        if let Some(e) = wanted.elevation_rad
            && (e - level.elevation).abs() > slack + upright
        {
            return Err(Refusal::Level(format!(
                "all axes of this arm are parallel, so the tool keeps its elevation of {:.1} \
                 degrees, and the point asks for {:.1}; give that elevation, or leave it free",
                level.elevation.to_degrees(),
                e.to_degrees()
            )));
        }
        let pole = level.elevation.abs() >= FRAC_PI_2 - 0.02;
        if pole {
            return Ok(Turning::Level {
                elevation: None,
                azimuth: None,
                roll: wanted.roll_rad.map(|r| match wanted.azimuth_rad {
                    Some(a) => (r, Reference::Fixed(a)),
                    None => (r, Reference::Heading),
                }),
            });
        }
        if let Some(r) = wanted.roll_rad
            && wrap_rad(r - level.roll).abs() > slack + upright / level.elevation.cos().max(0.02)
        {
            return Err(Refusal::Level(format!(
                "all axes of this arm are parallel, so the tool keeps its roll of {:.1} degrees, \
                 and the point asks for {:.1}; give that roll, or leave it free",
                level.roll.to_degrees(),
                r.to_degrees()
            )));
        }
        Ok(Turning::Level {
            elevation: None,
            azimuth: wanted.azimuth_rad,
            roll: None,
        })
    }

    /// Whether an arm of parallel axes that are not upright points as asked for by itself.
    pub(super) fn level_points(
        &self,
        wanted: &Wanted,
        root: &Root,
        task: &Task,
        travel_mm: f64,
    ) -> bool {
        let Turning::Level {
            azimuth: None,
            roll: None,
            ..
        } = &task.turning
        else {
            return true;
        };
        if wanted.azimuth_rad.is_none() && wanted.roll_rad.is_none() {
            return true;
        }
        let n = self.geometry.joints.len();
        let scene = ArmScene::new(self.geometry, travel_mm, &root.values[..n]);
        let tool = task.frame.tr_mul(&scene.tool_axes);
        let heading = scene.heading().map(|h| task.frame.tr_mul(&h));
        let is = direction_of(&tool, heading);
        let slack = self.cell.accept.direction_rad + 1e-9;
        let near =
            |wanted: Option<f64>, is: f64| wanted.is_none_or(|w| wrap_rad(w - is).abs() <= slack);
        near(wanted.azimuth_rad, is.azimuth_rad) && near(wanted.roll_rad, is.roll_rad)
    }

    fn level_height(&self, level: &Level, wanted: &Wanted, upright: bool) -> Result<(), Refusal> {
        let travel = self.cell.track.and_then(|t| t.travel_mm);
        let ends = travel.map_or([0.0, 0.0], |t| [t.low, t.high]);
        let mut least = f64::INFINITY;
        for s in ends {
            for quarter in 0..4 {
                let turn = f64::from(quarter) * FRAC_PI_2;
                let target = match wanted.frame {
                    Belongs::Plate => wanted.at_mm,
                    Belongs::Platter => self.carried(wanted, turn),
                };
                let off = level.above(&self.base_axes, &self.base_at(s), &target);
                if off.abs() < least.abs() {
                    least = off;
                }
            }
        }
        if least.abs() <= self.height_allowed_mm() {
            return Ok(());
        }
        if !upright {
            return Err(Refusal::Level(format!(
                "all axes of this arm are parallel, so its tip stays in one plane, and the point lies \
                 {:.1} mm beside it; change the tool, the mounting or the point",
                least.abs()
            )));
        }
        let side = if least < 0.0 { "above" } else { "below" };
        Err(Refusal::Level(format!(
            "all axes of this arm are parallel, so it cannot lift: its tip stays at one height, and \
             the point lies {:.1} mm {side} it; change the tool's length, the mounting or the point",
            least.abs()
        )))
    }
}
