//! Where everything is at a set of readings.

use nalgebra::Vector3;

use crate::answers::tip::tip;
use crate::cell::Belongs;
use crate::clearance::Nearest;
use crate::points::tip_place;
use crate::readings::stand::Stand;
use crate::report;
use crate::report::TipDocument;
use crate::report::TipFrame;
use crate::report::page;
use crate::view::ask::AxesRead;
use crate::view::ask::ViewName;
use crate::view::ask::Which;
use crate::view::face::Face;
use crate::view::tell::AxisAt;
use crate::view::tell::Clearance;
use crate::view::tell::Clearances;
use crate::view::tell::OtherTold;
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
        let cell = self.cell;
        let document = tip(self.force, stand, cell.turntable.is_some());
        let verdict = self.force.verdict.as_deref();
        let axes = self.axes_at(stand);
        let out = axes.iter().filter(|a| !a.inside);
        let lapsed = self.lapsed.iter();
        let mut looks: Vec<String> = lapsed
            .map(|l| format!("{}: {}", l.word(), l.why()))
            .collect();
        looks.extend(out.map(|a| self.beyond(a)));
        looks.extend(report::looks_beside_limits(&document, verdict));
        let values = self.axes(stand);
        let mut nearest = |near: Option<Nearest>| near.map(|near| self.near(&near, &mut looks));
        let clearances = Clearances {
            around: nearest(self.surroundings.nearest_around(&values)),
            own: nearest(self.surroundings.nearest_own(&values)),
        };
        State {
            geometry: self.which,
            stand: AxesRead::of(cell, stand),
            unkept: self.unkept(stand, &axes),
            other: self.elsewhere(stand, &document),
            axes,
            tip: Tip {
                plate: document.plate.as_ref().map(told),
                platter: document.platter.as_ref().map(told),
            },
            posture: self.held_as(&self.values(stand)),
            clearances,
            looks,
            moving: Views {
                plan: self.moving(ViewName::Plan, stand),
                elevation: self.moving(ViewName::Elevation, stand),
            },
            handles: self.handles(stand),
            held,
        }
    }

    /// Something near to the arm; what is too near must be looked at.
    fn near(&self, near: &Nearest, looks: &mut Vec<String>) -> Clearance {
        let needed_mm = self.cell.accept.clearance_mm;
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
    }

    /// That an axis is beyond its limits, in readings as they stand beside it.
    fn beyond(&self, axis: &AxisAt) -> String {
        let joint = axis
            .id
            .strip_prefix('j')
            .and_then(|k| k.parse::<usize>().ok());
        let joint = joint.and_then(|k| self.cell.joints.get(k.checked_sub(1)?));
        let name = match joint {
            Some(joint) => format!("joint {}", joint.name),
            None => format!("the {}", axis.id),
        };
        page::beyond(&name, &axis.text, &axis.limits)
    }

    /// Where the tip would be in the other geometry.
    fn elsewhere(&self, stand: &Stand, document: &TipDocument) -> Option<OtherTold> {
        let (which, other) = self.other?;
        let by = |belongs: Belongs, here: Option<&TipFrame>| {
            let (there, here) = (tip_place(&other.geometry, stand, belongs)?, here?);
            let by = there.at_mm - Vector3::new(here.x_mm, here.y_mm, here.z_mm);
            by.iter()
                .all(|v| v.is_finite())
                .then_some([by.x, by.y, by.z])
        };
        let by_mm = by(Belongs::Plate, document.plate.as_ref())?;
        let by_platter_mm = by(Belongs::Platter, document.platter.as_ref());
        let drawn = which == Which::Drawn;
        let registered = match drawn {
            true => document.plate.as_ref().and_then(|p| p.u95_mm),
            false => other.spread().map(|s| s.at(stand, Belongs::Plate).u95_mm),
        };
        Some(OtherTold {
            geometry: which,
            text: page::elsewhere(drawn, &by_mm, by_platter_mm.as_ref(), registered),
            by_mm,
            by_platter_mm,
        })
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
                    low,
                    high,
                    limits: page::limits(low, high, d),
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
