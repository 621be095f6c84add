//! What can be dragged, and where it is.

use nalgebra::Vector3;

use crate::kinematics::ArmScene;
use crate::readings::stand::Stand;
use crate::report::page;
use crate::view::ask::ViewName;
use crate::view::face::Face;
use crate::view::face::depth;
use crate::view::tell::HandleTold;

/// A point nearer to an axis than this does not show its turn, mm.
const LEAST_MM: f64 = 5.0;
/// Where on its link a joint's handle sits, of joints that turn the same link one after the other.
const SHARES: [f64; 3] = [0.5, 0.75, 0.9];
/// A joint has a handle in the view that shows its turn best, and in the other one where it is seen at
/// less than about 70° aslant.
const ASLANT: f64 = 0.35;

/// The joints' handles: by joint, `None` where nothing off its axis is turned.
pub fn of_joints(arm: &ArmScene, n: usize) -> Vec<Option<Vector3<f64>>> {
    let mut chain: Vec<Vector3<f64>> = arm.joints[..n].iter().map(|j| j.point_mm).collect();
    chain.push(arm.tip_mm);
    let mut on_link = vec![0_usize; chain.len()];
    let each = (0..n).map(|k| {
        let joint = &arm.joints[k];
        let off = |p: &Vector3<f64>| (p - joint.point_mm).cross(&joint.axis).norm();
        let far = (k + 1..chain.len()).find(|i| off(&chain[*i]) > LEAST_MM)?;
        let share = SHARES[on_link[far].min(SHARES.len() - 1)];
        on_link[far] += 1;
        Some(chain[far - 1] + (chain[far] - chain[far - 1]) * share)
    });
    each.collect()
}

/// The views in which a joint has a handle.
fn views_of(axis: &Vector3<f64>) -> Vec<ViewName> {
    let shown = |view: ViewName| axis.dot(&depth(view)).abs();
    let (plan, elevation) = (shown(ViewName::Plan), shown(ViewName::Elevation));
    let mut views = Vec::new();
    if plan > elevation || plan > ASLANT {
        views.push(ViewName::Plan);
    }
    if elevation >= plan || elevation > ASLANT {
        views.push(ViewName::Elevation);
    }
    views
}

impl Face<'_> {
    /// Where the platter is taken hold of, and its axis: the axis, a point of it, the handle.
    pub fn platter(&self, stand: &Stand) -> Option<(Vector3<f64>, Vector3<f64>, Vector3<f64>)> {
        let table = stand.turntable(&self.force.geometry)?;
        let radius = self.scene.platter_mm();
        let axis: Vector3<f64> = table.platter_axes.column(2).into();
        let handle = table.centre_mm + table.platter_axes.column(0) * radius;
        Some((axis, table.centre_mm, handle))
    }

    /// All handles.
    pub fn handles(&self, stand: &Stand) -> Vec<HandleTold> {
        let geometry = &self.force.geometry;
        let n = geometry.joints.len();
        let arm = stand.arm(geometry, n);
        let mut told = Vec::new();
        let mut add = |id: &str, view: ViewName, place: &Vector3<f64>, label: String| {
            let (x, y) = self.scene.to_px(view, place);
            told.push(HandleTold {
                id: id.to_owned(),
                view,
                at: [x, y],
                label,
            });
        };
        if geometry.track.is_some() {
            let along: Vector3<f64> = arm.track_axes.column(0).into();
            for view in [ViewName::Plan, ViewName::Elevation] {
                if along.dot(&depth(view)).abs() < 0.9 {
                    let label = format!(
                        "carriage, track reading {}",
                        page::short(stand.track, self.track_decimals())
                    );
                    add("track", view, &arm.carriage_mm, label);
                }
            }
        }
        if let Some((_, _, handle)) = self.platter(stand) {
            let label = format!(
                "platter, table reading {}",
                page::short(stand.table, self.table_decimals())
            );
            add("table", ViewName::Plan, &handle, label);
        }
        let joints = of_joints(&arm, n);
        for (k, place) in joints.iter().enumerate() {
            let Some(place) = place else { continue };
            let name = self.cell.joints.get(k).map_or("", |j| j.name.as_str());
            let label = format!(
                "joint {name}, reading {}",
                page::short(stand.joints[k], self.joint_decimals(k))
            );
            for view in views_of(&arm.joints[k].axis) {
                add(&format!("j{}", k + 1), view, place, label.clone());
            }
        }
        for view in [ViewName::Plan, ViewName::Elevation] {
            add("tip", view, &arm.tip_mm, "tip".to_owned());
        }
        told
    }
}
