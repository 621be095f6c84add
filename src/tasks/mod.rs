//! A whole task: every step's station and posture, the ways between, and what would make an
//! impossible step possible.
//!
//! Stations are chosen first: the fewest track positions from which all steps can be done, and among
//! those the ones with the largest smallest margin (or the least travel). Then one posture a step, so
//! that the track moves seldom, postures do not flip and axes turn little; then the ways are proved
//! clear, and where one is not another is tried.

mod advice;
mod axes;
mod cover;
mod file;
mod map;
mod options;
mod route;
mod states;
mod ways;

pub use advice::Advice;
pub use axes::Axes;
pub use cover::Cover;
pub use cover::fewest;
pub use cover::widest;
pub use file::Along;
pub use file::Held;
pub use file::Step;
pub use file::read;
pub use map::Mapper;
pub use map::Node;
pub use map::Rows;
pub use states::Part;
pub use states::State;
pub use states::WhyNot;
pub use ways::Way;
pub use ways::WayState;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::clearance::Surroundings;
use crate::reach::Solver;
use crate::reach::Wanted;
use crate::tasks::options::Options;
use crate::units::wrap_rad;

/// How stations are chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Prefer {
    /// The fewest stations, then the largest smallest margin.
    Fewest,
    /// The least travel of the track.
    Travel,
}

/// A step with the target of its point.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// The step.
    pub step: Step,
    /// Where the tip shall be.
    pub wanted: Wanted,
}

/// What a task is planned with.
pub struct Task<'a> {
    /// Limits, keep-outs.
    pub cell: &'a Cell,
    /// The arm.
    pub solver: &'a Solver<'a>,
    /// What stands around.
    pub surroundings: &'a Surroundings<'a>,
    /// The steps in order.
    pub jobs: &'a [Job],
    /// Track readings that may be stations; empty without a track.
    pub tracks: &'a [f64],
    /// Table readings that are tried where a step leaves the table free.
    pub tables: &'a [f64],
    /// How stations are chosen.
    pub prefer: Prefer,
}

/// What became of one step.
#[derive(Debug, Clone, PartialEq)]
pub enum Fate {
    /// It is done from here.
    Done(Box<State>),
    /// It cannot be done: why, and what would make it possible.
    Impossible(WhyNot, Vec<Advice>),
}

/// A planned task.
#[derive(Debug, Clone, PartialEq)]
pub struct Planned {
    /// One for each step.
    pub fates: Vec<Fate>,
    /// Track readings from which it is done, in the order of first use.
    pub stations: Vec<f64>,
    /// Fewer stations than this cannot do it, of those that were tried.
    pub at_least: usize,
    /// How many track readings were tried.
    pub tried: usize,
    /// Ways from each done step to the next one.
    pub ways: Vec<Way>,
}

impl Planned {
    /// Whether every step is done, and every way between is proved clear.
    pub fn is_good(&self) -> bool {
        self.fates.iter().all(|f| matches!(f, Fate::Done(_)))
            && self.ways.iter().all(|w| w.clearance.is_clear())
    }

    /// Steps (from 0) that come nearer to a joint limit than `[accept] margin_deg`.
    pub fn scant(&self, cell: &Cell) -> Vec<usize> {
        let done = self.fates.iter().enumerate();
        done.filter_map(|(i, fate)| match fate {
            Fate::Done(state) if state.margin_rad < cell.accept.margin_rad => Some(i),
            _ => None,
        })
        .collect()
    }
}

impl Task<'_> {
    /// Its track and table.
    pub fn axes(&self) -> Axes<'_> {
        Axes {
            cell: self.cell,
            solver: self.solver,
        }
    }

    /// A turn of the table that stands for the same place as `to` and is reached from `from` the short
    /// way round, where the table turns without end; `to` itself where it does not.
    fn nearest_turn(&self, from: f64, to: f64) -> f64 {
        match self.cell.turntable.as_ref().map(|t| t.travel_rad) {
            Some(None) => from + wrap_rad(to - from),
            _ => to,
        }
    }

    /// Whether where the table stands matters to a step.
    fn table_matters(&self, job: &Job) -> bool {
        let on_platter = |k: &crate::cell::KeepOut| k.frame == Belongs::Platter;
        job.wanted.frame == Belongs::Platter
            || !self.surroundings.is_empty() && self.cell.keep_outs.iter().any(on_platter)
    }

    /// Plans the whole task. `progress` is told the share that is done, 0 to 1.
    pub fn plan(&self, progress: &mut dyn FnMut(f64)) -> Planned {
        let mut options = Options::new(self);
        options.look(progress);
        let (stations, at_least, least) = options.stations();
        let mut planned = route::route(self, &options, &stations, least.to_radians());
        let untied = |p: &Planned| {
            let fates = p.fates.iter();
            let tied = |f: &&Fate| matches!(f, Fate::Impossible(WhyNot::NotTogether, _));
            fates.filter(tied).count()
        };
        if untied(&planned) > 0 && stations.len() < options.nodes.len() {
            // The few stations do not suit steps that hold the table together: any may be used.
            let all: Vec<usize> = (0..options.nodes.len()).collect();
            let wider = route::route(self, &options, &all, f64::NEG_INFINITY);
            if untied(&wider) < untied(&planned) {
                planned = wider;
            }
        }
        let not_clear = |p: &Planned| p.ways.iter().filter(|w| !w.clearance.is_clear()).count();
        if not_clear(&planned) > 0 && least > f64::NEG_INFINITY {
            // A way that can be proved clear is worth more than the last degree of margin.
            let other = route::route(self, &options, &stations, f64::NEG_INFINITY);
            if not_clear(&other) < not_clear(&planned) && untied(&other) <= untied(&planned) {
                planned = other;
            }
        }
        planned.at_least = at_least;
        planned.tried = options.nodes.len();
        progress(1.0);
        planned
    }
}
