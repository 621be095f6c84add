//! A handle brought as near to a place of a picture as it can go.

use nalgebra::Vector2;
use nalgebra::Vector3;

use crate::kinematics::track_reading;
use crate::readings::stand::Stand;
use crate::units::Range;
use crate::view::Refused;
use crate::view::ask::Goal;
use crate::view::ask::ViewName;
use crate::view::circle::Circle;
use crate::view::face::Face;
use crate::view::face::in_plane;
use crate::view::face::into;
use crate::view::face::seen;
use crate::view::handles::of_joints;

/// A place nearer to where a handle is than this is where it is, mm.
const STILL_MM: f64 = 1e-9;
/// No carriage without limits is drawn farther than this, mm.
const FARTHEST_MM: f64 = 1e6;
/// A track that a view shows shorter than this share of its length is seen end on.
const END_ON: f64 = 0.3;
/// A turn is at a limit within this, rad; a carriage within this, mm.
const AT_LIMIT: f64 = 2e-9;

/// Where the axes are after a drag, and why not quite where they should be.
pub type Dragged = (Stand, Option<String>);

fn held(stand: &Stand, why: &str) -> Dragged {
    (*stand, Some(why.to_owned()))
}

impl Face<'_> {
    /// Drags a handle by its name.
    pub fn drag(
        &self,
        stand: &Stand,
        handle: &str,
        view: ViewName,
        goal: Goal,
    ) -> Result<Dragged, Refused> {
        let to = match (goal, handle) {
            (Goal::To(px), _) => {
                let (x, y) = self.scene.to_mm(view, px);
                Vector2::new(x, y)
            }
            (Goal::By(by), "tip") => {
                let by = in_plane(view, &Vector2::new(by.0, by.1));
                return Ok(self.tip_by(stand, by));
            }
            (Goal::By(_), _) => {
                return Err(Refused::bad(
                    "by_mm moves the handle tip alone; give to, a place of the picture".to_owned(),
                ));
            }
        };
        match handle {
            "tip" => {
                let n = self.force.geometry.joints.len();
                let tip = stand.arm(&self.force.geometry, n).tip_mm;
                let by = in_plane(view, &(to - seen(view)(&tip)));
                Ok(self.tip_by(stand, by))
            }
            "track" => self.drag_carriage(stand, view, &to),
            "table" => self.drag_platter(stand, view, &to),
            _ => {
                let index = handle
                    .strip_prefix('j')
                    .and_then(|k| k.parse::<usize>().ok());
                let n = self.cell.joints.len();
                match index {
                    Some(k) if (1..=n).contains(&k) => self.drag_joint(stand, k - 1, view, &to),
                    _ => Err(Refused::missing(format!(
                        "there is no such handle, expected track, table, j1 to j{n} or tip"
                    ))),
                }
            }
        }
    }

    fn drag_carriage(
        &self,
        stand: &Stand,
        view: ViewName,
        to: &Vector2<f64>,
    ) -> Result<Dragged, Refused> {
        let geometry = &self.force.geometry;
        let Some(track) = &geometry.track else {
            return Err(Refused::missing("this cell has no track".to_owned()));
        };
        let arm = stand.arm(geometry, 0);
        let along = seen(view)(&arm.track_axes.column(0).into());
        if !(along.norm() > END_ON) {
            return Ok(held(stand, "the track is seen end on in this view"));
        }
        let off = to - seen(view)(&arm.carriage_mm);
        let by = off.dot(&along) / along.norm_squared();
        if by.abs() < STILL_MM {
            return Ok((*stand, None));
        }
        let asked = stand.travel_mm(geometry) + by;
        let limits = self.cell.track.and_then(|t| t.travel_mm);
        let limits = limits.unwrap_or(Range {
            low: -FARTHEST_MM,
            high: FARTHEST_MM,
        });
        let travel = into(limits, asked);
        let mut there = *stand;
        there.track = track_reading(track, travel).0;
        let why = "the carriage is at the end of its travel";
        let stopped = (travel - asked).abs() > AT_LIMIT;
        Ok((there, stopped.then(|| why.to_owned())))
    }

    fn drag_platter(
        &self,
        stand: &Stand,
        view: ViewName,
        to: &Vector2<f64>,
    ) -> Result<Dragged, Refused> {
        let place = self
            .platter(stand)
            .zip(self.force.geometry.turntable.as_ref());
        let Some(((axis, centre, handle), table)) = place else {
            return Err(Refused::missing("this cell has no turntable".to_owned()));
        };
        let limits = self.cell.turntable.as_ref().and_then(|t| t.travel_rad);
        let now = stand.turn_rad(&self.force.geometry);
        let turn = match turn(view, (&axis, &centre, &handle), to, now, limits) {
            Ok(turn) => turn,
            Err(why) => return Ok(held(stand, why)),
        };
        let mut there = *stand;
        there.table += turn.by / table.scale_rad;
        let why = "the platter is at the end of its travel";
        Ok((there, turn.at_limit.then(|| why.to_owned())))
    }

    fn drag_joint(
        &self,
        stand: &Stand,
        index: usize,
        view: ViewName,
        to: &Vector2<f64>,
    ) -> Result<Dragged, Refused> {
        let geometry = &self.force.geometry;
        let arm = stand.arm(geometry, geometry.joints.len());
        let handles = of_joints(&arm, geometry.joints.len());
        let info = self.cell.joints.get(index).zip(geometry.joints.get(index));
        let place = handles.get(index).copied().flatten();
        let (Some((info, joint)), Some(handle)) = (info, place) else {
            return Ok(held(stand, "this joint turns nothing that a picture shows"));
        };
        let scene = &arm.joints[index];
        let now = self.values(stand).get(index).copied().unwrap_or(0.0);
        let limits = Some(info.limits_rad);
        let around = (&scene.axis, &scene.point_mm, &handle);
        let turn = match turn(view, around, to, now, limits) {
            Ok(turn) => turn,
            Err(why) => return Ok(held(stand, why)),
        };
        let mut there = *stand;
        there.joints[index] += turn.by / joint.scale_rad;
        let why = || format!("joint {} is at its limit", info.name);
        Ok((there, turn.at_limit.then(why)))
    }
}

struct Turn {
    by: f64,
    at_limit: bool,
}

/// The turn of something about an axis (axis, a point of it, what is taken hold of) that brings it nearest.
fn turn(
    view: ViewName,
    (axis, through, handle): (&Vector3<f64>, &Vector3<f64>, &Vector3<f64>),
    to: &Vector2<f64>,
    now: f64,
    limits: Option<Range>,
) -> Result<Turn, &'static str> {
    if (to - seen(view)(handle)).norm() < STILL_MM {
        return Ok(Turn {
            by: 0.0,
            at_limit: false,
        });
    }
    let circle = Circle::new(handle, axis, through, seen(view));
    let (low, high) = match limits {
        Some(l) => (into(l, l.low) - now, into(l, l.high) - now),
        None => (f64::NEG_INFINITY, f64::INFINITY),
    };
    match circle.nearest(to, low, high) {
        Some(by) => Ok(Turn {
            by,
            at_limit: (by - low).abs() < AT_LIMIT || (by - high).abs() < AT_LIMIT,
        }),
        None => Err("this view does not show that turn"),
    }
}
