//! What a target asks of a posture, as residuals and their derivatives by the joints.

use std::f64::consts::FRAC_PI_2;

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::kinematics::ArmScene;
use crate::kinematics::Direction;
use crate::reach::small::MAX_ROWS;
use crate::reach::small::Rows;
use crate::units::wrap_rad;

/// Against which azimuth a roll is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Reference {
    /// That of the tool's own z.
    Own,
    /// That of the arm's heading.
    Heading,
    /// A given one, rad.
    Fixed(f64),
}

/// What is asked of the tool's axes.
#[derive(Debug, Clone, Copy)]
pub(super) enum Turning {
    /// The angles that are given, one condition each.
    Angles {
        elevation: Option<f64>,
        azimuth: Option<f64>,
        roll: Option<f64>,
    },
    /// All of them: the tool's axes in the point's frame.
    Full(Matrix3<f64>),
    /// Straight up or down: two conditions, and the roll against the heading.
    Pole {
        elevation: f64,
        azimuth: Option<f64>,
        roll: Option<f64>,
    },
    /// An arm whose axes are all parallel: its tool turns about them, and only that. Upright axes: its
    /// azimuth or its roll; others: its elevation.
    Level {
        elevation: Option<f64>,
        azimuth: Option<f64>,
        roll: Option<(f64, Reference)>,
    },
    /// A planar arm, steeper than 89°: the angle in its plane from the up that lies in the plane.
    Plane {
        psi: f64,
        roll: Option<(f64, Reference)>,
    },
}

impl Turning {
    pub fn conditions(&self) -> usize {
        match self {
            Turning::Angles {
                elevation,
                azimuth,
                roll,
            } => [elevation, azimuth, roll]
                .iter()
                .filter(|a| a.is_some())
                .count(),
            Turning::Full(_) => 3,
            Turning::Pole { roll, .. } => 2 + usize::from(roll.is_some()),
            Turning::Plane { roll, .. } => 1 + usize::from(roll.is_some()),
            Turning::Level {
                elevation,
                azimuth,
                roll,
            } => {
                usize::from(elevation.is_some())
                    + usize::from(azimuth.is_some())
                    + usize::from(roll.is_some())
            }
        }
    }
    /// Conditions of the place: two in the plane of an arm that cannot lift.
    pub fn place_rows(&self) -> usize {
        match self {
            Turning::Level { .. } => 2,
            _ => 3,
        }
    }
}

/// A target at one station.
#[derive(Debug, Clone, Copy)]
pub(super) struct Task {
    /// Where the tip shall be, plate frame.
    pub target_mm: Vector3<f64>,
    /// Axes of the point's frame in the plate frame, as columns.
    pub frame: Matrix3<f64>,
    /// What is asked of the tool's axes.
    pub turning: Turning,
    /// A length of the arm: position residuals are divided by it.
    pub length_mm: f64,
}

/// The heading's azimuth in the point's frame and its derivative by joint 1; 0 where there is none.
fn heading_azimuth(scene: &ArmScene, to_frame: &Matrix3<f64>) -> (f64, f64) {
    let Some(h) = scene.heading() else {
        return (0.0, 0.0);
    };
    let joint = &scene.joints[0];
    let moved = joint.axis.cross(&joint.axes.column(0));
    let length = scene.heading_raw().norm();
    let dh = to_frame * Vector3::new(moved.x, moved.y, 0.0) / length;
    let h = to_frame * h;
    let level2 = h.x * h.x + h.y * h.y;
    if level2 > 0.0 {
        (h.y.atan2(h.x), (h.x * dh.y - h.y * dh.x) / level2)
    } else {
        (0.0, 0.0)
    }
}

/// The arm's plane against a frame's up: the level direction in the plane, and the up in the plane.
pub(super) struct PlaneOf {
    pub ahead: Vector3<f64>,
    pub up: Vector3<f64>,
    /// Length of up's projection on the plane.
    pub share: f64,
}

impl PlaneOf {
    /// `normal`: along the pitch axes; `up`: the frame's z. Both in one frame.
    pub fn new(normal: Vector3<f64>, up: Vector3<f64>) -> Option<Self> {
        let level = normal.cross(&up);
        let share = level.norm();
        (share > 1e-6).then(|| {
            let ahead = level / share;
            PlaneOf {
                ahead,
                up: ahead.cross(&normal),
                share,
            }
        })
    }
    /// Angle of a direction in the plane, from `up` toward `ahead`.
    pub fn angle(&self, z: &Vector3<f64>) -> f64 {
        z.dot(&self.ahead).atan2(z.dot(&self.up))
    }
    /// How far a direction leans to the side, rad, not negative. `up` is the frame's z.
    pub fn side_lean(&self, z: &Vector3<f64>, up: &Vector3<f64>) -> f64 {
        z.dot(&up.cross(&self.ahead)).clamp(-1.0, 1.0).asin().abs()
    }
}

/// The two parts of a vector across an axis.
pub(super) fn across(axis: &Vector3<f64>, v: &Vector3<f64>) -> (f64, f64) {
    let mut unit = Vector3::zeros();
    unit[axis.iamin()] = 1.0;
    let e = axis.cross(&unit).normalize();
    (e.dot(v), axis.cross(&e).dot(v))
}

/// Of the place, only what lies across the arm's parallel axes: rows 0 and 1.
fn in_plane(scene: &ArmScene, r: &mut [f64; MAX_ROWS], j: &mut Rows) {
    let axis = scene.joints[0].axis;
    (r[0], r[1]) = across(&axis, &Vector3::new(r[0], r[1], r[2]));
    for k in 0..scene.solved {
        let column = Vector3::new(j[0][k], j[1][k], j[2][k]);
        (j[0][k], j[1][k]) = across(&axis, &column);
    }
}

/// Residuals and their derivatives by the joints; returns how many. Position first (over
/// `length_mm`), then the tool's angles in rad.
pub(super) fn evaluate(
    scene: &ArmScene,
    task: &Task,
    r: &mut [f64; MAX_ROWS],
    j: &mut Rows,
) -> usize {
    let joints = scene.solved;
    let per = 1.0 / task.length_mm;
    let miss = (scene.tip_mm - task.target_mm) * per;
    (r[0], r[1], r[2]) = (miss.x, miss.y, miss.z);
    for k in 0..joints {
        let joint = &scene.joints[k];
        let v = joint.axis.cross(&(scene.tip_mm - joint.point_mm)) * per;
        (j[0][k], j[1][k], j[2][k]) = (v.x, v.y, v.z);
    }
    let mut row = task.turning.place_rows();
    if row == 2 {
        in_plane(scene, r, j);
    }
    let to_frame = task.frame.transpose();
    let tool = to_frame * scene.tool_axes;
    let x: Vector3<f64> = tool.column(0).into();
    let z: Vector3<f64> = tool.column(2).into();
    let roll_row = |r: &mut [f64; MAX_ROWS],
                    j: &mut Rows,
                    row: usize,
                    roll: f64,
                    azimuth: f64,
                    by: &dyn Fn(usize, &Vector3<f64>) -> f64| {
        let (s, c) = azimuth.sin_cos();
        let y0 = Vector3::new(-s, c, 0.0);
        let x0 = y0.cross(&z);
        r[row] = wrap_rad(x.dot(&y0).atan2(x.dot(&x0)) - roll);
        for k in 0..joints {
            let axis = to_frame * scene.joints[k].axis;
            j[row][k] = axis.dot(&z) - z.z * by(k, &axis);
        }
    };
    let level2 = z.x * z.x + z.y * z.y;
    let elevation_row = |r: &mut [f64; MAX_ROWS], j: &mut Rows, row: usize, wanted: f64| {
        let level = level2.sqrt();
        r[row] = z.z.atan2(level) - wanted;
        let (ux, uy) = if level > 1e-12 {
            (z.x / level, z.y / level)
        } else {
            (1.0, 0.0)
        };
        let up = Vector3::new(-z.z * ux, -z.z * uy, level);
        for k in 0..joints {
            let axis = to_frame * scene.joints[k].axis;
            j[row][k] = up.dot(&axis.cross(&z));
        }
    };
    let own = |axis: &Vector3<f64>| {
        let dz = axis.cross(&z);
        (z.x * dz.y - z.y * dz.x) / level2.max(1e-18)
    };
    match &task.turning {
        Turning::Angles {
            elevation,
            azimuth,
            roll,
        } => {
            let level = level2.sqrt();
            let e = z.z.atan2(level);
            let pole = Direction::is_pole(e);
            let heading = if pole {
                heading_azimuth(scene, &to_frame)
            } else {
                (0.0, 0.0)
            };
            let a = if pole { heading.0 } else { z.y.atan2(z.x) };
            if let Some(wanted) = elevation {
                elevation_row(r, j, row, *wanted);
                row += 1;
            }
            let by = |k: usize, axis: &Vector3<f64>| {
                if pole {
                    if k == 0 { heading.1 } else { 0.0 }
                } else {
                    own(axis)
                }
            };
            if let Some(wanted) = azimuth {
                r[row] = wrap_rad(a - wanted);
                for k in 0..joints {
                    let axis = to_frame * scene.joints[k].axis;
                    j[row][k] = by(k, &axis);
                }
                row += 1;
            }
            if let Some(wanted) = roll {
                roll_row(r, j, row, *wanted, a, &by);
                row += 1;
            }
        }
        Turning::Full(wanted) => {
            let mut turn = Vector3::zeros();
            for k in 0..3 {
                turn += wanted.column(k).cross(&tool.column(k)) * 0.5;
            }
            for i in 0..3 {
                r[3 + i] = turn[i];
                for k in 0..joints {
                    j[3 + i][k] = (to_frame.row(i) * scene.joints[k].axis)[0];
                }
            }
            // Beyond a quarter turn the sines fall again; a far miss must stay one.
            if tool.dot(wanted) < -0.5 && turn.norm() < 0.1 {
                r[3] += 1.0;
            }
            row += 3;
        }
        Turning::Pole {
            elevation,
            azimuth,
            roll,
        } => {
            let heading = heading_azimuth(scene, &to_frame);
            let (s, c) = azimuth.unwrap_or(heading.0).sin_cos();
            let level = if elevation.abs() >= FRAC_PI_2 {
                0.0
            } else {
                elevation.cos()
            };
            r[3] = z.x - level * c;
            r[4] = z.y - level * s;
            if z.z * elevation < 0.0 {
                // The other pole: never a root.
                r[3] += 1.0f64.copysign(r[3]);
            }
            for k in 0..joints {
                let dz = (to_frame * scene.joints[k].axis).cross(&z);
                j[3][k] = dz.x;
                j[4][k] = dz.y;
            }
            row += 2;
            if let Some(wanted) = roll {
                roll_row(r, j, row, *wanted, heading.0, &|k, _| {
                    if k == 0 { heading.1 } else { 0.0 }
                });
                row += 1;
            }
        }
        Turning::Level {
            elevation,
            azimuth,
            roll,
        } => {
            if let Some(wanted) = elevation {
                elevation_row(r, j, row, *wanted);
                row += 1;
            }
            if let Some(wanted) = azimuth {
                r[row] = wrap_rad(z.y.atan2(z.x) - wanted);
                for k in 0..joints {
                    j[row][k] = own(&(to_frame * scene.joints[k].axis));
                }
                row += 1;
            }
            if let Some((wanted, reference)) = roll {
                match reference {
                    Reference::Fixed(a) => roll_row(r, j, row, *wanted, *a, &|_, _| 0.0),
                    _ => {
                        let h = heading_azimuth(scene, &to_frame);
                        roll_row(r, j, row, *wanted, h.0, &|k, _| {
                            if k == 0 { h.1 } else { 0.0 }
                        });
                    }
                }
                row += 1;
            }
        }
        Turning::Plane { psi, roll } => {
            let ez = Vector3::z();
            let Some(plane) = PlaneOf::new(to_frame * scene.joints[1].axis, ez) else {
                r[3] = 1.0;
                r[4] = 1.0;
                return 3 + task.turning.conditions();
            };
            r[row] = wrap_rad(plane.angle(&z) - psi);
            let (zu, za) = (z.dot(&plane.up), z.dot(&plane.ahead));
            for k in 0..joints {
                let axis = to_frame * scene.joints[k].axis;
                j[row][k] = if k == 0 {
                    axis.cross(&ez).dot(&plane.ahead) / plane.share
                } else {
                    let dz = axis.cross(&z);
                    (dz.dot(&plane.ahead) * zu - dz.dot(&plane.up) * za) / (zu * zu + za * za)
                };
            }
            row += 1;
            if let Some((wanted, reference)) = roll {
                match reference {
                    Reference::Own => {
                        roll_row(r, j, row, *wanted, z.y.atan2(z.x), &|_, axis| own(axis));
                    }
                    Reference::Heading => {
                        let h = heading_azimuth(scene, &to_frame);
                        roll_row(r, j, row, *wanted, h.0, &|k, _| {
                            if k == 0 { h.1 } else { 0.0 }
                        });
                    }
                    Reference::Fixed(a) => roll_row(r, j, row, *wanted, *a, &|_, _| 0.0),
                }
                row += 1;
            }
        }
    }
    row
}
