//! Keep-outs as outlines in a view.

use nalgebra::Rotation3;
use nalgebra::Vector3;

use crate::cell::Shape;
use crate::kinematics::TableScene;
use crate::pictures::scene::View;

/// Corners that a circle is drawn with.
const ROUND: usize = 48;

/// The outline of a shape in a view, mm, counter-clockwise; empty for a half space. `table` carries what
/// is fixed to the platter.
pub fn outline(shape: &Shape, view: View, table: Option<&TableScene>) -> Vec<(f64, f64)> {
    let corners: Vec<Vector3<f64>> = match shape {
        Shape::Box {
            centre_mm,
            half_mm,
            turn_rad,
        } => {
            let turn = Rotation3::from_axis_angle(&Vector3::z_axis(), *turn_rad);
            (0..8)
                .map(|k| {
                    let side = |bit: u8| if k & bit == 0 { -1.0 } else { 1.0 };
                    let corner = Vector3::new(side(1), side(2), side(4)).component_mul(half_mm);
                    centre_mm + turn * corner
                })
                .collect()
        }
        Shape::Cylinder {
            at_mm,
            axis,
            radius_mm,
            height_mm,
        } => {
            let other = if axis.z.abs() < 0.9 {
                Vector3::z()
            } else {
                Vector3::x()
            };
            let across = axis.cross(&other).normalize();
            let along = axis.cross(&across);
            let rim = |k: usize| {
                let angle = std::f64::consts::TAU * k as f64 / ROUND as f64;
                (across * angle.cos() + along * angle.sin()) * *radius_mm
            };
            (0..ROUND)
                .flat_map(|k| [at_mm + rim(k), at_mm + rim(k) + axis * *height_mm])
                .collect()
        }
        Shape::HalfSpace { .. } => Vec::new(),
    };
    let carried = corners.iter().map(|c| match table {
        Some(table) => table.centre_mm + table.platter_axes * c,
        None => *c,
    });
    hull(carried.map(|c| view.flat(&c)).collect())
}

/// Corners of the convex hull, counter-clockwise (Andrew's monotone chain, 1979).
pub fn hull(mut points: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    points.retain(|p| p.0.is_finite() && p.1.is_finite());
    points.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    points.dedup();
    if points.len() < 3 {
        return points;
    }
    let left_of = |a: (f64, f64), b: (f64, f64), c: (f64, f64)| {
        (b.0 - a.0) * (c.1 - a.1) - (b.1 - a.1) * (c.0 - a.0) > 0.0
    };
    let chain = |points: &mut dyn Iterator<Item = (f64, f64)>| {
        let mut kept: Vec<(f64, f64)> = Vec::new();
        for p in points {
            while let [.., a, b] = kept[..] {
                if left_of(a, b, p) {
                    break;
                }
                kept.pop();
            }
            kept.push(p);
        }
        kept.pop();
        kept
    };
    let mut all = chain(&mut points.iter().copied());
    all.extend(chain(&mut points.iter().rev().copied()));
    all
}
