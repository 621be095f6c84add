//! The order in which the joints of an arm are set by hand.

use crate::cell::Cell;
use crate::cell::Geometry;

/// Joints (from 0) in the usual order of setting their zeros: the roll of the tool first, then from the
/// base to the wrist; each later setting is judged by those before it (*common practice*). The roll is
/// the last joint where it turns about the tool's own axis.
pub fn setting_order(cell: &Cell) -> Vec<usize> {
    let n = cell.joints.len();
    let mut order: Vec<usize> = (0..n).collect();
    if rolls(&cell.nominal) {
        order.rotate_right(1);
    }
    order
}

/// Joints whose settings rest on that of `joint`, in the order in which they are set again.
pub fn then_again(cell: &Cell, joint: usize) -> Vec<usize> {
    let order = setting_order(cell);
    let own = order.iter().position(|j| *j == joint);
    own.map_or_else(Vec::new, |at| order[at + 1..].to_vec())
}

/// Joints that are set before `joint`.
pub fn before(cell: &Cell, joint: usize) -> Vec<usize> {
    let order = setting_order(cell);
    order.into_iter().take_while(|j| *j != joint).collect()
}

fn rolls(geometry: &Geometry) -> bool {
    // Within about 3 degrees: the axis along which the tool points out of the flange.
    let out = geometry.flange_axes.column(2);
    match geometry.joints.last() {
        Some(last) if geometry.joints.len() > 2 => last.axis.dot(&out).abs() > 0.9986,
        _ => false,
    }
}
