//! One taught point carried over.

use std::f64::consts::TAU;

use nalgebra::Vector3;

use crate::bench::Bench;
use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::kinematics::joint_reading;
use crate::kinematics::joint_value_rad;
use crate::margins::to_limit;
use crate::points::TaughtPoint;
use crate::points::TipPlace;
use crate::points::tip_place;
use crate::reach::Grid;
use crate::reach::Solver;
use crate::reach::Wanted;
use crate::reach::grid;
use crate::reach::track_intervals;
use crate::readings::stand::Stand;
use crate::transfer::kinship::Epoch;
use crate::transfer::kinship::Errors;
use crate::units::Reading;

/// A tip that stands off by more than this does not meet the point: far below what a rule shows.
const MEETS_MM: f64 = 0.01;

/// The station to carry points to.
#[derive(Debug, Clone, PartialEq)]
pub enum Where {
    /// The track and table readings at which each was taught.
    AsTaught,
    /// The station with the largest margin to the joint limits, the table as taught where that will do.
    Best,
    /// These readings; an axis that is left out stays as taught.
    At {
        /// Of the track.
        track: Option<f64>,
        /// Of the table.
        table: Option<f64>,
    },
}

/// Where the tip goes with the old readings now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shift {
    /// In the point's own frame, mm.
    pub mm: Vector3<f64>,
    /// How surely that is known.
    pub errors: Errors,
}

/// New readings.
#[derive(Debug, Clone, PartialEq)]
pub struct New {
    /// The readings.
    pub stand: Stand,
    /// Least distance of a joint to its limits, rad.
    pub margin_rad: f64,
    /// How surely the tip arrives where it was taught.
    pub errors: Errors,
    /// By how much the tool's direction differs from the taught one, rad; for what an arm of few joints
    /// cannot choose.
    pub turned_rad: f64,
    /// The largest turn of a joint against the taught posture, rad.
    pub posture_rad: f64,
}

/// A taught point carried over.
#[derive(Debug, Clone)]
pub struct Carried {
    /// Its name.
    pub name: String,
    /// What it belongs to.
    pub frame: Belongs,
    /// The readings at which it was taught.
    pub taught: Stand,
    /// Where that was, in its own frame.
    pub place: TipPlace,
    /// Least distance of a joint to its limits as taught, rad.
    pub margin_rad: f64,
    /// By how much the old readings miss it now.
    pub miss: Shift,
    /// The new readings, or why there are none.
    pub new: Result<New, String>,
}

/// Carries one taught point over. `None` where its frame is not in the cell.
pub fn carry(bench: &Bench, point: &TaughtPoint, epoch: &Epoch<'_>, to: &Where) -> Option<Carried> {
    let cell = &bench.cell;
    let (old, new) = (&epoch.old.geometry, &epoch.new.geometry);
    let place = tip_place(old, &point.stand, point.frame)?;
    let values = values_of(old, &point.stand);
    let taught_by = Solver::new(cell, old);
    let (travel, turn) = (point.stand.travel_mm(old), point.stand.turn_rad(old));
    let wanted = taught_by.wanted_at(point.frame, travel, turn, &values)?;
    let job = Job {
        cell,
        solver: Solver::new(cell, new),
        wanted,
        place: &place,
        taught: &point.stand,
        // A posture is told by the joints' values now at the old readings: a zero that changed moved the link.
        values: values_of(new, &point.stand),
        epoch,
    };
    Some(Carried {
        name: point.name.clone(),
        frame: point.frame,
        taught: point.stand,
        margin_rad: to_limit(cell, &values).distance_rad,
        miss: shift_at(epoch, &point.stand, point.frame)?,
        new: job.find(to),
        place,
    })
}

/// By how much the tip stands elsewhere now at readings, in a frame.
pub fn shift_at(epoch: &Epoch<'_>, stand: &Stand, frame: Belongs) -> Option<Shift> {
    let before = tip_place(&epoch.old.geometry, stand, frame)?;
    let after = tip_place(&epoch.new.geometry, stand, frame)?;
    Some(Shift {
        mm: after.at_mm - before.at_mm,
        errors: epoch.shifting(stand, frame),
    })
}

fn values_of(geometry: &Geometry, stand: &Stand) -> Vec<f64> {
    let joints = geometry.joints.iter().zip(&stand.joints);
    joints
        .map(|(joint, reading)| joint_value_rad(joint, Reading(*reading)))
        .collect()
}

struct Job<'a> {
    cell: &'a Cell,
    solver: Solver<'a>,
    wanted: Wanted,
    place: &'a TipPlace,
    taught: &'a Stand,
    values: Vec<f64>,
    epoch: &'a Epoch<'a>,
}

impl Job<'_> {
    fn find(&self, to: &Where) -> Result<New, String> {
        if let Some(refusal) = self.solver.refusal(&self.wanted) {
            return Err(refusal.to_string());
        }
        match to {
            Where::AsTaught => self.at_or_why(self.taught.track, self.taught.table),
            Where::At { track, table } => self.at_or_why(
                track.unwrap_or(self.taught.track),
                table.unwrap_or(self.taught.table),
            ),
            Where::Best => self.best(),
        }
    }

    fn at_or_why(&self, track: f64, table: f64) -> Result<New, String> {
        self.outside(track, table).map_or(Ok(()), Err)?;
        self.at(track, table).ok_or_else(|| self.why_not(table))
    }

    /// The limits of track and table are limits here too.
    fn outside(&self, track: f64, table: f64) -> Option<String> {
        let geometry = self.solver.geometry();
        let stand = self.stand(track, table);
        let travel = self.cell.track.and_then(|t| t.travel_mm);
        if travel.is_some_and(|range| !range.holds(stand.travel_mm(geometry))) {
            return Some(format!("track reading {track} lies outside the travel"));
        }
        let turns = self.cell.turntable.as_ref().and_then(|t| t.travel_rad);
        let turn = stand.turn_rad(geometry);
        let outside =
            self.wanted.frame == Belongs::Platter && turns.is_some_and(|r| !r.holds(turn));
        outside.then(|| format!("table reading {table} lies outside the table's travel"))
    }

    fn stand(&self, track: f64, table: f64) -> Stand {
        Stand {
            track,
            table,
            ..Stand::default()
        }
    }

    /// The posture nearest to the taught one at a station.
    fn at(&self, track: f64, table: f64) -> Option<New> {
        let geometry = self.solver.geometry();
        let mut stand = self.stand(track, table);
        let (travel, turn) = (stand.travel_mm(geometry), stand.turn_rad(geometry));
        let mut found = Vec::new();
        self.solver.solve(&self.wanted, travel, turn, &mut found);
        let mut postures: Vec<Vec<f64>> = found
            .into_iter()
            .map(|s| self.unwound(&s.values_rad))
            .collect();
        // An arm with joints to spare has a posture nearer than the one with the most room.
        if self.solver.spare_joints(&self.wanted) > 0
            && let Some((near, margin)) =
                self.solver
                    .nearest_posture(&self.wanted, travel, turn, &self.values)
            && margin >= 0.0
        {
            postures.push(near);
        }
        let best = postures
            .into_iter()
            .min_by(|a, b| self.away(a).total_cmp(&self.away(b)))?;
        for ((reading, joint), value) in stand.joints.iter_mut().zip(&geometry.joints).zip(&best) {
            *reading = joint_reading(joint, *value).0;
        }
        let now = tip_place(geometry, &stand, self.wanted.frame)?;
        let off = (now.at_mm - self.place.at_mm).norm();
        if !(off <= MEETS_MM) {
            return None;
        }
        let turned = crate::kinematics::rotation_of(&self.place.direction).transpose()
            * crate::kinematics::rotation_of(&now.direction);
        let cosine = ((turned.trace() - 1.0) / 2.0).clamp(-1.0, 1.0);
        Some(New {
            margin_rad: to_limit(self.cell, &best).distance_rad,
            errors: self.epoch.arriving(self.taught, &stand, self.wanted.frame),
            turned_rad: cosine.acos(),
            posture_rad: self.away(&best),
            stand,
        })
    }

    /// The same posture by full turns nearest to the taught one, within the limits.
    fn unwound(&self, values: &[f64]) -> Vec<f64> {
        let joints = values.iter().zip(&self.values).zip(&self.cell.joints);
        joints
            .map(|((value, taught), info)| {
                let nearest = value - TAU * ((value - taught) / TAU).round();
                match info.limits_rad.holds(nearest) {
                    true => nearest,
                    false => *value,
                }
            })
            .collect()
    }

    fn away(&self, values: &[f64]) -> f64 {
        let each = values.iter().zip(&self.values).map(|(a, b)| (a - b).abs());
        each.fold(0.0, f64::max)
    }

    fn best(&self) -> Result<New, String> {
        let geometry = self.solver.geometry();
        let stations =
            grid(self.cell, geometry, self.wanted.frame, None, None).map_err(|e| e.to_string())?;
        let as_taught = Grid {
            track: stations.track.clone(),
            table: vec![self.taught.table],
        };
        for stations in [as_taught, stations] {
            if let Some(best) = self.roomiest(&stations) {
                return Ok(best);
            }
        }
        Err("out of reach from every station".to_owned())
    }

    fn roomiest(&self, stations: &Grid) -> Option<New> {
        let one = |list: &[f64], taught: f64| match list.is_empty() {
            true => vec![taught],
            false => list.to_vec(),
        };
        let tables = one(&stations.table, self.taught.table);
        let mut best: Option<New> = None;
        for track in one(&stations.track, self.taught.track) {
            for table in &tables {
                if self.outside(track, *table).is_some() {
                    continue;
                }
                if let Some(new) = self.at(track, *table)
                    && best.as_ref().is_none_or(|b| new.margin_rad > b.margin_rad)
                {
                    best = Some(new);
                }
            }
        }
        best
    }

    /// Where it could be reached instead.
    fn why_not(&self, table: f64) -> String {
        let tables = match self.wanted.frame {
            Belongs::Platter => vec![table],
            Belongs::Plate => Vec::new(),
        };
        let found = track_intervals(&self.solver, &self.wanted, &tables).ok();
        let ends: Vec<String> = found
            .iter()
            .flatten()
            .flat_map(|t| &t.intervals)
            .map(|[a, b]| format!("{a:.1} to {b:.1}"))
            .collect();
        match ends.is_empty() {
            true => "out of reach there, and from the whole travel at this table angle".to_owned(),
            false => format!(
                "out of reach there; reached with the track at {}",
                ends.join(", ")
            ),
        }
    }
}
