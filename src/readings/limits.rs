//! Axis readings beyond travel or limits: a slip of the pen, more often than not.

use crate::cell::Cell;
use crate::kinematics::joint_value_rad;
use crate::readings::AxesRead;
use crate::readings::stand::Stand;
use crate::table::Columns;
use crate::table::Row;
use crate::units::Angle;
use crate::units::Reading;

/// Zeros and datums are not known exactly before a registration: so much beyond is not remarked.
const SLACK_MM: f64 = 10.0;
const SLACK_DEG: f64 = 5.0;

/// Where a table has the readings of the axes.
#[derive(Debug, Clone, Copy)]
pub struct AxisSlots {
    track: Option<usize>,
    table: Option<usize>,
    first_joint: Option<usize>,
}

impl AxisSlots {
    /// Finds them among the columns of a table.
    pub fn of(columns: &Columns) -> Self {
        let find = |name: &str| columns.list().iter().position(|c| c.name == name);
        AxisSlots {
            track: find("track"),
            table: find("table"),
            first_joint: find("j1"),
        }
    }
}

/// Warns of axis readings that stand beyond the travel or the limits, by the nominal law.
pub fn warn_beyond(
    row: &mut Row<'_>,
    slots: &AxisSlots,
    cell: &Cell,
    stand: &Stand,
    axes: AxesRead,
) {
    let advice = "check the reading, or the limits in cell.toml";
    let nominal = &cell.nominal;
    let travel = cell.track.and_then(|t| t.travel_mm);
    if let (true, Some(slot), Some(limits)) = (axes.track, slots.track, travel) {
        let value = stand.travel_mm(nominal);
        if value < limits.low - SLACK_MM || value > limits.high + SLACK_MM {
            let expected = format!("a travel of {} to {} mm", limits.low, limits.high);
            row.warn(slot, &expected, advice);
        }
    }
    let degrees = |low: f64, high: f64| {
        format!(
            "a value of {:.1} to {:.1} deg",
            low.to_degrees(),
            high.to_degrees()
        )
    };
    let slack = Angle::deg(SLACK_DEG).as_rad();
    let turn = cell.turntable.as_ref().and_then(|t| t.travel_rad);
    if let (true, Some(slot), Some(limits)) = (axes.table, slots.table, turn) {
        let value = stand.turn_rad(nominal);
        if value < limits.low - slack || value > limits.high + slack {
            row.warn(slot, &degrees(limits.low, limits.high), advice);
        }
    }
    let Some(first) = slots.first_joint else {
        return;
    };
    for (index, (info, joint)) in cell.joints.iter().zip(&nominal.joints).enumerate() {
        if index >= axes.joints {
            break;
        }
        let value = joint_value_rad(joint, Reading(stand.joints[index]));
        let limits = info.limits_rad;
        if value < limits.low - slack || value > limits.high + slack {
            row.warn(first + index, &degrees(limits.low, limits.high), advice);
        }
    }
}
