//! Where everything is at a set of readings.

use crate::answers::tip::tip;
use crate::readings::stand::Stand;
use crate::report;
use crate::report::TipFrame;
use crate::report::page;
use crate::view::ask::AxesRead;
use crate::view::ask::ViewName;
use crate::view::face::Face;
use crate::view::tell::AxisAt;
use crate::view::tell::Clearance;
use crate::view::tell::State;
use crate::view::tell::Tip;
use crate::view::tell::TipTold;
use crate::view::tell::TipWords;
use crate::view::tell::Views;

fn told(frame: &TipFrame) -> TipTold {
    TipTold {
        at_mm: [frame.x_mm, frame.y_mm, frame.z_mm],
        elevation_deg: frame.elevation_deg,
        azimuth_deg: frame.azimuth_deg,
        roll_deg: frame.roll_deg,
        u95_mm: frame.u95_mm,
        text: TipWords {
            at: page::tip_at(frame),
            direction: page::tip_direction(frame),
            u95: page::within(frame.u95_mm),
        },
    }
}

impl Face<'_> {
    /// Where everything is.
    pub fn state(&self, stand: &Stand, held: Option<String>) -> State {
        let (cell, geometry) = (self.cell, &self.force.geometry);
        let document = tip(self.force, stand, cell.turntable.is_some());
        let verdict = self.force.verdict.as_deref();
        let mut looks = report::looks(cell, geometry, stand, &document, verdict);
        let near = self.surroundings.nearest(&self.axes(stand));
        let needed_mm = cell.accept.clearance_mm;
        let clearance = near.map(|near| {
            let what = self.surroundings.other_name(near.other);
            let clear = near.clearance_mm >= needed_mm;
            if !clear {
                let body = self.surroundings.body_name(near.body);
                looks.push(page::too_near(near.clearance_mm, body, &what, needed_mm));
            }
            Clearance {
                text: page::clearance(near.clearance_mm, &what, needed_mm),
                mm: near.clearance_mm,
                what,
                clear,
            }
        });
        State {
            geometry: self.which,
            stand: AxesRead::of(cell, stand),
            axes: self.axes_at(stand),
            tip: Tip {
                plate: document.plate.as_ref().map(told),
                platter: document.platter.as_ref().map(told),
            },
            posture: self.held_as(&self.values(stand)),
            clearance,
            looks,
            moving: Views {
                plan: self.moving(ViewName::Plan, stand),
                elevation: self.moving(ViewName::Elevation, stand),
            },
            handles: self.handles(stand),
            held,
        }
    }

    /// What moves in a view; nothing where an axis reads so much that it cannot be drawn, which is told
    /// beside it.
    fn moving(&self, view: ViewName, stand: &Stand) -> String {
        let drawn = self.scene.moving(view, &self.force.geometry, stand);
        drawn.unwrap_or_default()
    }

    fn axes_at(&self, stand: &Stand) -> Vec<AxisAt> {
        let geometry = &self.force.geometry;
        let mut axes = Vec::new();
        let mut add =
            |id: String, reading: f64, inside: bool, limits: Option<(f64, f64)>, d: usize| {
                let (low, high) = limits.unzip();
                axes.push(AxisAt {
                    id,
                    reading,
                    text: page::reading(reading, d),
                    inside,
                    room: page::room(reading, low, high, d),
                });
            };
        if let Some(track) = self.cell.track {
            let value = stand.travel_mm(geometry);
            let inside = track.travel_mm.is_none_or(|t| t.holds_nearly(value));
            let (limits, d) = (self.track_limits(), self.track_decimals());
            add("track".to_owned(), stand.track, inside, limits, d);
        }
        if let Some(table) = &self.cell.turntable {
            let value = stand.turn_rad(geometry);
            let inside = table.travel_rad.is_none_or(|t| t.holds_nearly(value));
            let (limits, d) = (self.table_limits(), self.table_decimals());
            add("table".to_owned(), stand.table, inside, limits, d);
        }
        for (k, value) in self.values(stand).into_iter().enumerate() {
            let limits = self.cell.joints.get(k).map(|j| j.limits_rad);
            let inside = limits.is_none_or(|l| l.holds_nearly(value));
            add(
                format!("j{}", k + 1),
                stand.joints[k],
                inside,
                self.joint_limits(k),
                self.joint_decimals(k),
            );
        }
        axes
    }
}
