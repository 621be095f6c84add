//! One point: the postures in which it is reached, and its map.

use crate::answers::map::Raster;
use crate::answers::map::Subject;
use crate::answers::target::Asked;
use crate::clearance::Nearest;
use crate::drawing::map::Room;
use crate::margins::to_limit;
use crate::reach::Wanted;
use crate::readings::stand::Stand;
use crate::report;
use crate::report::page;
use crate::report::reach::Standing;
use crate::report::reach::standing;
use crate::tasks::Rows;
use crate::units::Range;
use crate::view::Ground;
use crate::view::Refused;
use crate::view::ask::AxesRead;
use crate::view::drag::Dragged;
use crate::view::face::Face;
use crate::view::face::into;
use crate::view::ground::Mapped;
use crate::view::tell::OnePoint;
use crate::view::tell::PostureTold;
use crate::view::tell::StationTold;

impl Face<'_> {
    /// All that the page shows of one point.
    pub fn point(&self, ground: &Ground, name: &str, stand: &Stand) -> Result<OnePoint, Refused> {
        let target = self.target(name)?;
        let document = self.document(ground, name)?;
        let mut postures = Vec::new();
        let mut why_not = document.refused.clone();
        let mut not_from_here = None;
        if let (Some(wanted), None) = (&target.wanted, &why_not) {
            let geometry = &self.force.geometry;
            let (travel, turn) = (stand.travel_mm(geometry), stand.turn_rad(geometry));
            let mut solutions = Vec::new();
            self.solver.solve(wanted, travel, turn, &mut solutions);
            for solution in &solutions {
                let there = self.with_values(stand, &solution.values_rad);
                postures.push(self.posture(target, "here", &there));
            }
            if solutions.is_empty() {
                not_from_here = Some(format!("Not reached from {}.", self.station_words(stand)));
            }
        }
        if let Some(best) = &document.best {
            let mut there = Stand {
                track: best.track.unwrap_or(stand.track),
                table: best.table.unwrap_or(stand.table),
                ..Stand::default()
            };
            for (reading, joint) in there.joints.iter_mut().zip(&best.joints) {
                *reading = *joint;
            }
            postures.push(self.posture(target, "best", &there));
        }
        if let Some(taught) = target.taught {
            // Where it belongs to the plate, the file need not say how the table stood.
            let mut there = *taught;
            if target.frame == crate::cell::Belongs::Plate {
                there.table = stand.table;
            }
            postures.push(self.posture(target, "taught", &there));
        }
        if postures.is_empty() && why_not.is_none() {
            why_not = Some(match standing(&document) {
                Standing::Nowhere => "it is reached from nowhere on the travel".to_owned(),
                other => format!("it is reached: {}", other.words()),
            });
        }
        let map = self.map_of(ground, target);
        let (map, map_at, map_why_not) = match map {
            Ok(mapped) => {
                let row = match &target.wanted {
                    Some(wanted) if mapped.elevations => {
                        wanted.elevation_rad.map_or(0.0, f64::to_degrees)
                    }
                    _ => stand.table,
                };
                let (x, y) = mapped.plot.nearest((stand.track, row));
                (Some(mapped.svg), Some([x, y]), None)
            }
            Err(why) => (None, None, Some(why)),
        };
        Ok(OnePoint {
            name: target.name.to_owned(),
            why_not,
            not_from_here,
            postures,
            map_note: map.as_ref().map(|_| page::MAP),
            map,
            map_at,
            map_why_not,
        })
    }

    fn posture(&self, target: &Asked<'_>, from: &'static str, there: &Stand) -> PostureTold {
        let values = self.values(there);
        let near: Option<Nearest> = self.surroundings.nearest(&self.axes(there));
        let clearance_to = near.map(|n| self.surroundings.other_name(n.other));
        let clearance_mm = near.map(|n| n.clearance_mm);
        let spread = self.force.spread();
        let u95_mm = spread.map(|s| s.at(there, target.frame).u95_mm);
        let limit_margin_deg = to_limit(self.cell, &values).distance_rad.to_degrees();
        PostureTold {
            stand: AxesRead::of(self.cell, there),
            from,
            posture: self.held_as(&values),
            limit_margin_deg,
            clearance_mm,
            text: page::worth(
                limit_margin_deg,
                clearance_mm.map(|clearance_mm| page::Room {
                    clearance_mm,
                    needed_mm: self.cell.accept.clearance_mm,
                    to: clearance_to.as_deref(),
                }),
                u95_mm,
            ),
            clearance_to,
            u95_mm,
        }
    }

    /// The map of a point; worked out unless it is known.
    fn map_of(&self, ground: &Ground, target: &Asked<'_>) -> Result<Mapped, String> {
        if let Some(known) = ground.known(self.which).maps.get(target.name) {
            return known.clone();
        }
        let mapped = self.mapped(target);
        let mut known = ground.known(self.which);
        known.maps.insert(target.name.to_owned(), mapped.clone());
        mapped
    }

    fn mapped(&self, target: &Asked<'_>) -> Result<Mapped, String> {
        let subject = Subject::Point(target);
        let with = (self.cell, &self.solver);
        let raster = Raster::new(&subject, with, None, (None, None))?;
        let document = raster.map(&subject, with, &|_| {})?;
        let drawn = report::map::picture_with_plot(
            self.cell,
            &self.force.geometry,
            &document,
            &self.force.source,
            Room::Page,
        );
        let (svg, plot) = drawn.map_err(|fault| format!("the map cannot be drawn: {fault}"))?;
        Ok(Mapped {
            svg,
            plot,
            elevations: matches!(raster.rows, Rows::Elevation(_)),
            tables: matches!(raster.rows, Rows::Table(_)),
        })
    }

    /// Where track and table stand, in words.
    fn station_words(&self, stand: &Stand) -> String {
        let track = self
            .cell
            .track
            .map(|_| ("track", stand.track, self.track_decimals()));
        let table = self.cell.turntable.as_ref();
        let table = table.map(|_| ("table", stand.table, self.table_decimals()));
        let each = track.into_iter().chain(table);
        let each = each.map(|(axis, reading, d)| format!("{axis} {}", page::short(reading, d)));
        let words = each.collect::<Vec<_>>().join(", ");
        match words.is_empty() {
            true => "where it stands".to_owned(),
            false => words,
        }
    }

    /// What a place of a point's map asks for: the target, and where track and table stand there. A sentence
    /// where that is nothing.
    fn pointed(
        &self,
        mapped: &Mapped,
        target: &Asked<'_>,
        stand: &Stand,
        to: (f64, f64),
    ) -> Result<(Wanted, Stand), String> {
        let (Some(wanted), Some((x, y))) = (target.wanted, mapped.plot.values(to)) else {
            return Err("that is beside the map".to_owned());
        };
        let mut there = *stand;
        let mut wanted = wanted;
        let within = |limits: Option<(f64, f64)>, value: f64| {
            limits.map_or(value, |(low, high)| into(Range { low, high }, value))
        };
        if self.cell.track.is_some() {
            there.track = within(self.track_limits(), x);
        }
        if mapped.tables {
            there.table = within(self.table_limits(), y);
        }
        if mapped.elevations {
            wanted.elevation_rad = Some(y.to_radians());
        }
        Ok((wanted, there))
    }

    /// The best posture at a place of a point's map.
    pub fn map(
        &self,
        ground: &Ground,
        name: &str,
        stand: &Stand,
        to: (f64, f64),
    ) -> Result<Dragged, Refused> {
        let target = self.target(name)?;
        let asked = self
            .map_of(ground, target)
            .and_then(|mapped| self.pointed(&mapped, target, stand, to));
        let (wanted, there) = match asked {
            Ok(asked) => asked,
            Err(why) => return Ok((*stand, Some(why))),
        };
        let words = self.station_words(&there);
        Ok(match self.best_at(&wanted, &there) {
            Some(there) => (there, None),
            None => (
                *stand,
                Some(format!(
                    "not reached from {words}, or only too near to something"
                )),
            ),
        })
    }

    /// What a place of a point's map is worth.
    pub fn station(
        &self,
        ground: &Ground,
        name: &str,
        stand: &Stand,
        to: (f64, f64),
    ) -> Result<StationTold, Refused> {
        let target = self.target(name)?;
        let mapped = match self.map_of(ground, target) {
            Ok(mapped) => mapped,
            Err(text) => return Ok(StationTold { reached: false, text }),
        };
        let (wanted, there) = match self.pointed(&mapped, target, stand, to) {
            Ok(asked) => asked,
            Err(text) => return Ok(StationTold { reached: false, text }),
        };
        let mut place = self.station_words(&there);
        if let Some(elevation) = wanted.elevation_rad.filter(|_| mapped.elevations) {
            let degrees = page::short(elevation.to_degrees(), 1);
            place.push_str(&format!(", tool at elevation {degrees} deg"));
        }
        let best = self.best_at(&wanted, &there);
        let worth = best.as_ref().map_or_else(
            || "not reached, or only too near to something".to_owned(),
            |there| self.posture(target, "here", there).text,
        );
        Ok(StationTold {
            reached: best.is_some(),
            text: format!("{place}: {worth}"),
        })
    }
}
