//! What all answers stand on: the cell, its geometries, its points and tasks, and what is worked out once.

use std::collections::HashMap;
use std::sync::Mutex;
use std::sync::MutexGuard;
use std::sync::PoisonError;

use crate::answers::force::Force;
use crate::bench::Bench;
use crate::cell::Geometry;
use crate::drawing::map::Plot;
use crate::pictures::cell::spots;
use crate::pictures::scene::Known as Dimensions;
use crate::pictures::scene::Spot;
use crate::report::Lapsed;
use crate::report::reach::PointDocument;
use crate::tasks::Step;
use crate::view::Refused;
use crate::view::ask::Which;
use crate::view::tell::Residuals;
use crate::view::tell::TaskTold;

/// A task as it was read.
#[derive(Debug, Clone)]
pub struct TaskSteps {
    /// Its name.
    pub name: String,
    /// Its steps; or why there are none, in a sentence.
    pub steps: Result<Vec<Step>, String>,
}

/// A point's map.
#[derive(Debug, Clone)]
pub(super) struct Mapped {
    pub svg: String,
    pub plot: Plot,
    /// Whether the rows are elevations of the tool; else readings of the table, or one row.
    pub elevations: bool,
    /// Whether the rows are readings of the table.
    pub tables: bool,
}

/// What is worked out once for one geometry.
#[derive(Debug, Default)]
pub(super) struct Known {
    /// Somebody is at it.
    pub begun: bool,
    /// All is known.
    pub done: bool,
    pub points: Vec<PointDocument>,
    pub tasks: Vec<TaskTold>,
    pub maps: HashMap<String, Result<Mapped, String>>,
}

/// What was read from a cell folder. It does not change while the page is open.
pub struct Ground {
    /// The cell and its points.
    pub bench: Bench,
    /// The geometry of the record in force.
    pub registered: Option<Force>,
    /// Why that record is not to be gone by any more.
    pub lapsed: Option<Lapsed>,
    /// The geometry as drawn.
    pub drawn: Force,
    /// Taught points whose readings lead elsewhere by now, with the geometry in which they were taught.
    pub stale: Vec<(String, Geometry)>,
    /// All tasks.
    pub tasks: Vec<TaskSteps>,
    /// The drawings of the report.
    pub residuals: Residuals,
    known: [Mutex<Known>; 2],
    /// Points where they are in the registered geometry, and in the drawing.
    spots: [Vec<Spot>; 2],
    /// Values of the registration that dimension lines are drawn for; and none of the drawing.
    dimensions: [Dimensions; 2],
}

impl Ground {
    /// From what was read.
    pub fn new(
        bench: Bench,
        (registered, lapsed): (Option<Force>, Option<Lapsed>),
        stale: Vec<(String, Geometry)>,
        tasks: Vec<TaskSteps>,
        residuals: Residuals,
        dimensions: Dimensions,
    ) -> Ground {
        let spots = {
            let found = registered.as_ref();
            let found = found.map_or(&bench.cell.nominal, |f| &f.geometry);
            [
                spots(&bench, found, &stale),
                spots(&bench, &bench.cell.nominal, &[]),
            ]
        };
        Ground {
            drawn: Force::drawn(&bench.cell),
            registered,
            lapsed,
            stale,
            tasks,
            residuals,
            known: [Mutex::default(), Mutex::default()],
            spots,
            dimensions: [dimensions, Dimensions::default()],
            bench,
        }
    }

    /// What is shown beside the axes.
    pub(super) fn shown(&self, which: Which) -> (&[Spot], &Dimensions) {
        let at = match which {
            Which::Registered => 0,
            Which::Drawn => 1,
        };
        (&self.spots[at], &self.dimensions[at])
    }

    /// Which geometries there are, the better one first.
    pub fn geometries(&self) -> Vec<Which> {
        match self.registered {
            Some(_) => vec![Which::Registered, Which::Drawn],
            None => vec![Which::Drawn],
        }
    }

    /// One of them.
    pub(super) fn force(&self, which: Which) -> Result<&Force, Refused> {
        match which {
            Which::Drawn => Ok(&self.drawn),
            Which::Registered => self.registered.as_ref().ok_or_else(|| {
                Refused::missing(
                    "this cell has no registration in force: ask with the geometry drawn"
                        .to_owned(),
                )
            }),
        }
    }

    /// What is worked out once.
    pub(super) fn known(&self, which: Which) -> MutexGuard<'_, Known> {
        let of = match which {
            Which::Registered => &self.known[0],
            Which::Drawn => &self.known[1],
        };
        // What was put in whole stays true.
        of.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Whether the points of a geometry are still to be worked out; true only the first time that it is
    /// asked: whoever asks must then see to it.
    pub fn begin(&self, which: Which) -> bool {
        if self.force(which).is_err() {
            return false;
        }
        let mut known = self.known(which);
        let first = !known.begun;
        known.begun = true;
        first
    }
}
