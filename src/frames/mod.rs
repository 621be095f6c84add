//! Typed frames. A pose carries from which frame to which in its type; a wrong chain has no
//! meaning to compile to.
//!
//! ```
//! use notchpin::frames::{Base, Flange, Pose, Tool};
//! fn chain(a: Pose<Tool, Flange>, b: Pose<Flange, Base>) -> Pose<Tool, Base> { a.then(b) }
//! ```
//! The other order is refused:
//! ```compile_fail
//! use notchpin::frames::{Base, Flange, Pose, Tool};
//! fn chain(a: Pose<Tool, Flange>, b: Pose<Flange, Base>) -> Pose<Tool, Base> { b.then(a) }
//! ```
//! The types do not see time: `Pose<Carriage, Plate>` holds for one reading of the track, so it is
//! computed from the readings and never stored.

use std::marker::PhantomData;

use nalgebra::Matrix3;
use nalgebra::Vector3;

/// World coordinate system of ISO 9787: hole (0, 0) of the plate, +z up.
#[derive(Debug, Clone, Copy)]
pub struct Plate;
/// Rides on the track, parallel to it.
#[derive(Debug, Clone, Copy)]
pub struct Carriage;
/// Base coordinate system of ISO 9787: the arm's mounting face.
#[derive(Debug, Clone, Copy)]
pub struct Base;
/// Mechanical interface coordinate system of ISO 9787.
#[derive(Debug, Clone, Copy)]
pub struct Flange;
/// Tool coordinate system of ISO 9787: origin at the tip.
#[derive(Debug, Clone, Copy)]
pub struct Tool;
/// Fixed: centre of rotation in the platter's top face, z along the axis.
#[derive(Debug, Clone, Copy)]
pub struct Turntable;
/// Turns with the turntable.
#[derive(Debug, Clone, Copy)]
pub struct Platter;

/// `Pose<From, To>` takes coordinates written in `From` and gives the same point written in `To`;
/// its translation is `From`'s origin as seen from `To`, in mm. What is stored is what is named:
/// `T_plate_base` of the model is `Pose<Base, Plate>`.
#[derive(Debug)]
pub struct Pose<From, To> {
    rotation: Matrix3<f64>,
    translation_mm: Vector3<f64>,
    tag: PhantomData<fn(From) -> To>,
}

// Derived `Clone` and `Copy` would ask the same of the tags.
impl<A, B> Clone for Pose<A, B> {
    fn clone(&self) -> Self {
        *self
    }
}
impl<A, B> Copy for Pose<A, B> {}

impl<A, B> Pose<A, B> {
    /// The only untyped door: the caller vouches for the frames and for `rotation` being proper.
    pub fn asserted(rotation: Matrix3<f64>, translation_mm: Vector3<f64>) -> Self {
        Pose {
            rotation,
            translation_mm,
            tag: PhantomData,
        }
    }
    /// Both frames are the same.
    pub fn identity() -> Self {
        Self::asserted(Matrix3::identity(), Vector3::zeros())
    }
    /// First this, then `next`.
    pub fn then<C>(self, next: Pose<B, C>) -> Pose<A, C> {
        Pose::asserted(
            next.rotation * self.rotation,
            next.rotation * self.translation_mm + next.translation_mm,
        )
    }
    /// The way back.
    pub fn inverse(self) -> Pose<B, A> {
        let back = self.rotation.transpose();
        Pose::asserted(back, -(back * self.translation_mm))
    }
    /// Carries a point.
    pub fn carry(&self, p: Point<A>) -> Point<B> {
        Point::asserted(self.rotation * p.mm + self.translation_mm)
    }
    /// Axes of `From` in `To`, as columns.
    pub fn rotation(&self) -> &Matrix3<f64> {
        &self.rotation
    }
    /// Origin of `From` in `To`, in mm.
    pub fn origin(&self) -> Point<B> {
        Point::asserted(self.translation_mm)
    }
}

/// A point, its coordinates in mm in the frame of its type.
#[derive(Debug)]
pub struct Point<F> {
    /// Coordinates in mm.
    pub mm: Vector3<f64>,
    tag: PhantomData<fn() -> F>,
}

impl<F> Clone for Point<F> {
    fn clone(&self) -> Self {
        *self
    }
}
impl<F> Copy for Point<F> {}

impl<F> Point<F> {
    /// The caller vouches for the frame.
    pub fn asserted(mm: Vector3<f64>) -> Self {
        Point {
            mm,
            tag: PhantomData,
        }
    }
}

/// Right-hand turn about x by an angle in radians.
pub fn rot_x(rad: f64) -> Matrix3<f64> {
    let (s, c) = rad.sin_cos();
    Matrix3::new(1.0, 0.0, 0.0, 0.0, c, -s, 0.0, s, c)
}

/// Right-hand turn about y by an angle in radians.
pub fn rot_y(rad: f64) -> Matrix3<f64> {
    let (s, c) = rad.sin_cos();
    Matrix3::new(c, 0.0, s, 0.0, 1.0, 0.0, -s, 0.0, c)
}

/// Right-hand turn about z by an angle in radians.
pub fn rot_z(rad: f64) -> Matrix3<f64> {
    let (s, c) = rad.sin_cos();
    Matrix3::new(c, -s, 0.0, s, c, 0.0, 0.0, 0.0, 1.0)
}

/// Right-hand turn about a unit vector (Rodrigues' formula): `I + sin θ [a]× + (1 − cos θ) [a]×²`.
pub fn rot_about(axis: &Vector3<f64>, rad: f64) -> Matrix3<f64> {
    let (s, c) = rad.sin_cos();
    // What 1 − cos θ loses for small angles is below the rounding of the entries it is added to.
    let v = 1.0 - c;
    let (x, y, z) = (axis.x, axis.y, axis.z);
    Matrix3::new(
        c + v * x * x,
        v * x * y - s * z,
        v * x * z + s * y,
        v * x * y + s * z,
        c + v * y * y,
        v * y * z - s * x,
        v * x * z - s * y,
        v * y * z + s * x,
        c + v * z * z,
    )
}

/// `axes · Rot(axis, θ)`. Joints of most arms turn about x, y or z: then only two columns change.
#[inline(always)]
pub fn turned(axes: &Matrix3<f64>, axis: &Vector3<f64>, rad: f64) -> Matrix3<f64> {
    let (sin, c) = rad.sin_cos();
    let (x, y, z) = (axes.column(0), axes.column(1), axes.column(2));
    // A unit vector along a coordinate axis is ±1 there.
    match (axis.x == 0.0, axis.y == 0.0, axis.z == 0.0) {
        (false, true, true) => {
            let s = sin * axis.x;
            Matrix3::from_columns(&[x.into_owned(), y * c + z * s, z * c - y * s])
        }
        (true, false, true) => {
            let s = sin * axis.y;
            Matrix3::from_columns(&[x * c - z * s, y.into_owned(), z * c + x * s])
        }
        (true, true, false) => {
            let s = sin * axis.z;
            Matrix3::from_columns(&[x * c + y * s, y * c - x * s, z.into_owned()])
        }
        _ => axes * rot_about(axis, rad),
    }
}

/// `Rz(yaw) Ry(pitch) Rx(roll)`: the order used for track, mount and tool.
pub fn rot_zyx(yaw_rad: f64, pitch_rad: f64, roll_rad: f64) -> Matrix3<f64> {
    rot_z(yaw_rad) * rot_y(pitch_rad) * rot_x(roll_rad)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_short_way_about_a_coordinate_axis_is_the_long_way() {
        let axes = rot_zyx(0.3, -0.8, 1.1);
        for axis in [
            Vector3::x(),
            -Vector3::x(),
            Vector3::y(),
            -Vector3::y(),
            Vector3::z(),
        ] {
            for rad in [-2.0, -1e-9, 0.0, 0.4, 3.0] {
                let off = turned(&axes, &axis, rad) - axes * rot_about(&axis, rad);
                assert!(off.abs().max() < 1e-15, "{axis} {rad}: {off}");
            }
        }
    }
}
