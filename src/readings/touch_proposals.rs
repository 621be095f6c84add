//! Touches that could be taken.

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::readings::propose::Draft;
use crate::readings::propose::Maker;
use crate::readings::slips::plain;
use crate::readings::stand::Stand;

/// The tip over holes and marks of the plate, and over marks of the platter at several angles; then
/// how far it stands from the target.
pub(super) fn propose(maker: &Maker<'_>, out: &mut Vec<Draft>) {
    let (cell, geometry) = (maker.cell, maker.geometry);
    let grid = &cell.plate;
    let mut targets: Vec<(String, Belongs, Vector3<f64>)> = Vec::new();
    for (mark, at) in cell.marks.iter().zip(&geometry.marks_mm) {
        targets.push((mark.name.clone(), mark.frame, *at));
    }
    for (column, row) in &maker.holes {
        let at = Vector3::new(
            f64::from(*column) * grid.pitch_x_mm,
            f64::from(*row) * grid.pitch_y_mm,
            0.0,
        );
        targets.push((format!("{column}:{row}"), Belongs::Plate, at));
    }
    for (name, frame, at) in targets {
        let tables: &[f64] = match frame {
            Belongs::Plate => &[0.0],
            Belongs::Platter => &maker.tables,
        };
        for track in &maker.tracks {
            for table in tables {
                for posture in (maker.drive)(frame, at, *track, *table) {
                    let stand = Stand {
                        track: *track,
                        table: *table,
                        joints: posture,
                        ..Stand::default()
                    };
                    let arm = stand.arm(geometry, cell.joints.len());
                    let place = match (frame, stand.turntable(geometry)) {
                        (Belongs::Platter, Some(t)) => t.platter_axes * at + t.centre_mm,
                        _ => at,
                    };
                    let off = arm.tip_mm - place;
                    let on_platter = (frame == Belongs::Platter).then_some(*table);
                    let joints = &posture[..cell.joints.len()];
                    let what = if name.contains(':') { "hole " } else { "" };
                    let words = format!(
                        "{}: measure how far the tip stands from {what}{name} along the plate's x, y \
                         and z (it should stand a little above)",
                        maker.at(Some(*track), on_platter, joints)
                    );
                    let mut draft = Draft::new(words, format!("{name} {table}"))
                        .given("target", &name)
                        .track(cell, *track);
                    if let Some(table) = on_platter {
                        draft = draft.given("table", plain(table));
                    }
                    draft = draft
                        .joints(&posture, cell.joints.len())
                        .expect("dx", off.x, 1)
                        .expect("dy", off.y, 1)
                        .expect("dz", off.z, 1);
                    out.push(draft);
                }
            }
        }
    }
}
