//! Distances between a middle line and a shape, by the algorithms of `parry3d`.

use nalgebra::Isometry3;
use nalgebra::Matrix3;
use nalgebra::Point3;
use nalgebra::Unit;
use nalgebra::Vector3;
use parry3d_f64::query::details::closest_points_segment_segment_with_locations;
use parry3d_f64::query::details::distance_halfspace_support_map;
use parry3d_f64::query::gjk;
use parry3d_f64::query::gjk::CSOPoint;
use parry3d_f64::query::gjk::GJKResult;
use parry3d_f64::query::gjk::VoronoiSimplex;
use parry3d_f64::shape::Cuboid;
use parry3d_f64::shape::Cylinder;
use parry3d_f64::shape::HalfSpace;
use parry3d_f64::shape::Segment;
use parry3d_f64::shape::SupportMap;

use crate::cell::Shape;
use crate::frames::rot_z;

/// Beyond this nothing is computed and the distance is told as 0: products of coordinates would
/// lose the millimetre. (1,000 km.)
const FARTHEST_MM: f64 = 1e9;

/// A shape in its own axes: a box's middle and a cylinder's middle at the origin, the cylinder along
/// y, the wall of a half-space at y = 0 with the free side above.
#[derive(Debug, Clone, Copy)]
enum Solid {
    Box(Cuboid),
    Cylinder(Cylinder),
    HalfSpace(HalfSpace),
}

/// A shape and where it lies in the frame that it is given in.
#[derive(Debug, Clone, Copy)]
pub(super) struct Placed {
    solid: Solid,
    /// Own axes as columns, in the frame.
    axes: Matrix3<f64>,
    /// Own origin in the frame, mm.
    at_mm: Vector3<f64>,
    /// Half of the sizes of a box around it in its own axes, mm; none for a half-space.
    half_mm: Option<Vector3<f64>>,
}

impl Placed {
    pub(super) fn new(shape: &Shape) -> Self {
        match *shape {
            Shape::Box {
                centre_mm,
                half_mm,
                turn_rad,
            } => Placed {
                solid: Solid::Box(Cuboid::new(half_mm)),
                axes: rot_z(turn_rad),
                at_mm: centre_mm,
                half_mm: Some(half_mm),
            },
            Shape::Cylinder {
                at_mm,
                axis,
                radius_mm,
                height_mm,
            } => Placed {
                solid: Solid::Cylinder(Cylinder::new(height_mm / 2.0, radius_mm)),
                axes: axes_with_y(&axis),
                at_mm: at_mm + axis * (height_mm / 2.0),
                half_mm: Some(Vector3::new(radius_mm, height_mm / 2.0, radius_mm)),
            },
            Shape::HalfSpace { at_mm, free } => Placed {
                solid: Solid::HalfSpace(HalfSpace::new(Vector3::y_axis())),
                axes: axes_with_y(&free),
                at_mm,
                half_mm: None,
            },
        }
    }

    /// Largest distance of its points from the frame's z through the origin, mm; `None` for a
    /// half-space. Distance from a line is convex: a corner of the box around it is farthest.
    pub(super) fn reach_from_z_mm(&self) -> Option<f64> {
        let half = self.half_mm?;
        let corners = (0..8).map(|i| {
            let sign = |bit: usize| if i >> bit & 1 == 0 { 1.0 } else { -1.0 };
            let own = Vector3::new(sign(0) * half.x, sign(1) * half.y, sign(2) * half.z);
            let corner = self.axes * own + self.at_mm;
            corner.x.hypot(corner.y)
        });
        Some(corners.fold(0.0, f64::max))
    }

    /// A line given in the frame, in the shape's own axes.
    pub(super) fn own(&self, line: &Line) -> Line {
        let own = |p: &Vector3<f64>| self.axes.tr_mul(&(p - self.at_mm));
        Line {
            a_mm: own(&line.a_mm),
            b_mm: own(&line.b_mm),
        }
    }

    /// A quick lower bound of the distance of a line in own axes: that of the boxes around both.
    pub(super) fn at_least_mm(&self, own: &Line) -> f64 {
        if !own.is_sound() {
            return 0.0;
        }
        let Some(half) = self.half_mm else {
            return own.a_mm.y.min(own.b_mm.y).max(0.0);
        };
        let middle = (own.a_mm + own.b_mm) / 2.0;
        let own_half = (own.b_mm - own.a_mm).abs() / 2.0;
        let gap = middle.abs() - own_half - half;
        gap.map(|g| g.max(0.0)).norm()
    }

    /// The distance of a line in own axes, rounded down; 0 where it enters the shape or where
    /// nothing can be said.
    pub(super) fn distance_mm(&self, own: &Line) -> f64 {
        if !own.is_sound() {
            return 0.0;
        }
        let segment = own.segment();
        let apart_mm = match &self.solid {
            Solid::Box(cuboid) => from_support(cuboid, &segment),
            Solid::Cylinder(cylinder) => from_support(cylinder, &segment),
            Solid::HalfSpace(wall) => {
                distance_halfspace_support_map(&Isometry3::identity(), wall, &segment)
            }
        };
        // Both are lower bounds; and a close look never tells less than a quick one.
        apart_mm.max(self.at_least_mm(own))
    }
}

/// Axes (as columns, right-handed) whose y is this unit vector.
fn axes_with_y(y: &Vector3<f64>) -> Matrix3<f64> {
    // The coordinate axis that is least along y makes the most certain right angle.
    let mut aside = Vector3::zeros();
    aside[y.iamin()] = 1.0;
    let z = aside.cross(y).normalize();
    Matrix3::from_columns(&[y.cross(&z), *y, z])
}

/// The middle line of a body.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    pub(super) a_mm: Vector3<f64>,
    pub(super) b_mm: Vector3<f64>,
}

impl Line {
    fn is_sound(&self) -> bool {
        let within = |p: &Vector3<f64>| p.iter().all(|c| c.abs() < FARTHEST_MM);
        within(&self.a_mm) && within(&self.b_mm)
    }

    fn segment(&self) -> Segment {
        Segment::new(Point3::from(self.a_mm), Point3::from(self.b_mm))
    }

    /// A quick lower bound of the distance to another line: that of the balls around both.
    pub(super) fn at_least_mm(&self, other: &Line) -> f64 {
        if !self.is_sound() || !other.is_sound() {
            return 0.0;
        }
        let apart = (self.a_mm + self.b_mm - other.a_mm - other.b_mm).norm();
        let lengths = (self.b_mm - self.a_mm).norm() + (other.b_mm - other.a_mm).norm();
        ((apart - lengths) / 2.0).max(0.0)
    }

    /// The distance to another line, rounded down; 0 where nothing can be said.
    pub(super) fn distance_mm(&self, other: &Line) -> f64 {
        if !self.is_sound() || !other.is_sound() {
            return 0.0;
        }
        let (one, two) = (self.segment(), other.segment());
        let still = Isometry3::identity();
        let (p, q) = closest_points_segment_segment_with_locations(&still, &one, &two);
        let apart_mm = surely_apart(&one, &two, one.point_at(&p), two.point_at(&q));
        apart_mm.max(self.at_least_mm(other))
    }
}

/// Distance from a convex shape by the algorithm of Gilbert, Johnson and Keerthi (1988).
fn from_support<G: SupportMap>(shape: &G, line: &Segment) -> f64 {
    let still = Isometry3::identity();
    // From the shape's middle toward the line's: the better the guess, the fewer the steps.
    let start = nalgebra::center(&line.a, &line.b).coords;
    let start = Unit::try_new(start, f64::EPSILON).unwrap_or(Vector3::x_axis());
    let mut simplex = VoronoiSimplex::new();
    simplex.reset(CSOPoint::from_shapes(&still, shape, line, &start));
    match gjk::closest_points(&still, shape, line, f64::MAX, true, &mut simplex) {
        GJKResult::ClosestPoints(p, q, _) => surely_apart(shape, line, p, q),
        // Overlap; or no end was found, which is taken for overlap to be on the safe side.
        _ => 0.0,
    }
}

/// The gap between the two planes square to p → q that have one shape behind the one and the line
/// beyond the other: a lower bound of the distance whatever p and q are, and the distance itself
/// where they are the nearest points (separating planes; Boyd and Vandenberghe, Convex
/// Optimization, 2004, section 2.5; from memory).
fn surely_apart<G: SupportMap>(shape: &G, line: &Segment, p: Point3<f64>, q: Point3<f64>) -> f64 {
    let Some((across, apart_mm)) = Unit::try_new_and_get(q - p, f64::MIN_POSITIVE) else {
        return 0.0;
    };
    let far = shape.local_support_point(&across).coords.dot(&across);
    let near = line.a.coords.dot(&across).min(line.b.coords.dot(&across));
    // `max` and `min` let go of what is not a number: 0 then.
    (near - far).max(0.0).min(apart_mm)
}
