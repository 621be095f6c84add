//! The best margin over a whole raster: of one point or of a task, over track and table, or over track
//! and the elevation of the tool.

use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;

use crate::cell::Cell;
use crate::clearance::AxisValues;
use crate::clearance::Nearest;
use crate::clearance::Surroundings;
use crate::reach::Margins;
use crate::reach::Raster;
use crate::reach::Solver;
use crate::reach::Wanted;
use crate::reach::shared;
use crate::tasks::Axes;
use crate::tasks::Held;
use crate::tasks::Job;
use crate::tasks::Task;

/// What the rows of a map are.
#[derive(Debug, Clone, PartialEq)]
pub enum Rows {
    /// Table readings.
    Table(Vec<f64>),
    /// Elevations of the tool, rad.
    Elevation(Vec<f64>),
    /// One row: nothing but the track counts.
    One,
}

impl Rows {
    /// How many rows.
    pub fn count(&self) -> usize {
        match self {
            Rows::Table(r) | Rows::Elevation(r) => r.len(),
            Rows::One => 1,
        }
    }
}

/// One node.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Node {
    /// Least distance to a joint limit of the best posture that is clear of everything, rad; `None`
    /// where there is none.
    pub margin_rad: Option<f64>,
    /// Its clearance, mm; `None` where the cell tells no bodies.
    pub clearance_mm: Option<f64>,
}

/// What maps are made with.
pub struct Mapper<'a> {
    /// The cell.
    pub cell: &'a Cell,
    /// The arm.
    pub solver: &'a Solver<'a>,
    /// Track readings; one column where there are none.
    pub tracks: &'a [f64],
    /// The rows.
    pub rows: &'a Rows,
    /// Where the table stands where the rows do not say it.
    pub table: Option<f64>,
    /// Table readings that are tried for room at a point of the plate, where things stand on the platter.
    pub clear_tables: &'a [f64],
}

impl Mapper<'_> {
    fn columns(&self) -> Vec<Option<f64>> {
        match self.tracks.is_empty() {
            true => vec![None],
            false => self.tracks.iter().copied().map(Some).collect(),
        }
    }

    /// Of one point. Nodes lie row by row. `progress` is told how many rows are done.
    pub fn point(&self, wanted: &Wanted, progress: &(dyn Fn(usize) + Sync)) -> Vec<Node> {
        if let Some(nodes) = self.by_raster(wanted) {
            return nodes;
        }
        self.each_row(progress, &|surroundings, row| {
            let columns = self.columns();
            let nodes = columns
                .iter()
                .map(|track| self.at(surroundings, wanted, *track, row));
            nodes.collect()
        })
    }

    /// Of all jobs together: the smallest of their best margins with track and table the same for all.
    pub fn jobs(&self, jobs: &[Job], progress: &(dyn Fn(usize) + Sync)) -> Vec<Node> {
        self.each_row(progress, &|surroundings, row| {
            let task = Task {
                cell: self.cell,
                solver: self.solver,
                surroundings,
                jobs,
                tracks: &[],
                tables: &[],
                prefer: crate::tasks::Prefer::Fewest,
            };
            let table = match self.rows {
                Rows::Table(readings) => readings.get(row).copied(),
                _ => self.table,
            };
            let columns = self.columns();
            let nodes = columns.iter().map(|track| task_node(&task, *track, table));
            nodes.collect()
        })
    }

    fn by_raster(&self, wanted: &Wanted) -> Option<Vec<Node>> {
        let table_rows = matches!(self.rows, Rows::Table(_));
        let readings = match self.rows {
            Rows::Table(readings) => readings.clone(),
            Rows::One => vec![0.0],
            Rows::Elevation(_) => return None,
        };
        if !self.cell.bodies.is_empty() {
            return None;
        }
        let raster = Raster::new(self.solver, wanted)?;
        let axes = self.axes();
        let columns = self.columns();
        let travels: Vec<f64> = columns.iter().map(|c| axes.travel_mm(*c)).collect();
        let turn = |r: &f64| axes.turn_rad(table_rows.then_some(*r).or(self.table));
        let turns: Vec<f64> = readings.iter().map(turn).collect();
        let mut margins = Margins::default();
        raster.margins(&travels, &turns, 0, &mut margins);
        let mut nodes = Vec::with_capacity(margins.margin_rad.len());
        for (k, margin) in margins.margin_rad.iter().enumerate() {
            let (i, row) = (k % columns.len(), k / columns.len());
            let table = table_rows.then(|| readings[row]).or(self.table);
            let stands = axes.may_stand(columns[i], table);
            nodes.push(Node {
                margin_rad: (stands && *margin >= 0.0).then_some(*margin),
                clearance_mm: None,
            });
        }
        Some(nodes)
    }

    fn axes(&self) -> Axes<'_> {
        Axes {
            cell: self.cell,
            solver: self.solver,
        }
    }

    fn at(
        &self,
        surroundings: &Surroundings,
        wanted: &Wanted,
        track: Option<f64>,
        row: usize,
    ) -> Node {
        let mut wanted = *wanted;
        let mut table = self.table;
        match self.rows {
            Rows::Table(readings) => table = readings.get(row).copied(),
            Rows::Elevation(elevations) => wanted.elevation_rad = elevations.get(row).copied(),
            Rows::One => {}
        }
        let axes = self.axes();
        if !axes.may_stand(track, table) {
            return NOTHING;
        }
        let (travel, turn) = (axes.travel_mm(track), axes.turn_rad(table));
        let mut solutions = Vec::new();
        self.solver.solve(&wanted, travel, turn, &mut solutions);
        let needed = self.cell.accept.clearance_mm;
        for solution in &solutions {
            let mut joints_rad = [0.0; crate::kinematics::MAX_JOINTS];
            joints_rad[..solution.values_rad.len()].copy_from_slice(&solution.values_rad);
            let near = self.roomiest(
                surroundings,
                table.is_none(),
                &AxisValues {
                    travel_mm: travel,
                    turn_rad: turn,
                    joints_rad,
                },
            );
            if near.is_none_or(|n| n.clearance_mm >= needed) {
                return Node {
                    margin_rad: Some(solution.limit_margin_rad),
                    clearance_mm: near.map(|n| n.clearance_mm),
                };
            }
        }
        NOTHING
    }

    /// What is nearest, with the table where it leaves most room where it is free.
    fn roomiest(
        &self,
        surroundings: &Surroundings,
        free: bool,
        at: &AxisValues,
    ) -> Option<Nearest> {
        let turned = |r: &f64| {
            surroundings.nearest(&AxisValues {
                turn_rad: self.axes().turn_rad(Some(*r)),
                ..*at
            })
        };
        let each = self.clear_tables.iter().filter(|_| free).filter_map(turned);
        each.max_by(|a, b| a.clearance_mm.total_cmp(&b.clearance_mm))
            .or_else(|| surroundings.nearest(at))
    }

    /// Rows shared out over the threads that there are.
    fn each_row(
        &self,
        progress: &(dyn Fn(usize) + Sync),
        row: &(dyn Fn(&Surroundings, usize) -> Vec<Node> + Sync),
    ) -> Vec<Node> {
        let finished = AtomicUsize::new(0);
        // What stands around keeps a scene of its own: one for each thread.
        let own = || Surroundings::new(self.cell, self.solver.geometry());
        let rows = shared(true, self.rows.count(), &own, &|surroundings, k| {
            let nodes = row(surroundings, k);
            progress(finished.fetch_add(1, Ordering::Relaxed) + 1);
            nodes
        });
        rows.into_iter().flatten().collect()
    }
}

const NOTHING: Node = Node {
    margin_rad: None,
    clearance_mm: None,
};

fn task_node(task: &Task, track: Option<f64>, table: Option<f64>) -> Node {
    let mut whole = Node {
        margin_rad: Some(f64::INFINITY),
        clearance_mm: None,
    };
    for job in task.jobs {
        let other = |held: Held, stands: Option<f64>| match (held, stands) {
            (Held::At(a), Some(b)) => (a - b).abs() > 1e-9,
            _ => false,
        };
        if other(job.step.track, track) || other(job.step.table, table) {
            return NOTHING;
        }
        let own = if task.table_matters(job) { table } else { None };
        let Ok(states) = task.states(job, track, own) else {
            return NOTHING;
        };
        let best = states
            .iter()
            .max_by(|a, b| a.margin_rad.total_cmp(&b.margin_rad));
        let Some(best) = best else { return NOTHING };
        whole.margin_rad = whole.margin_rad.map(|m| m.min(best.margin_rad));
        let near = best.clearance.map(|n| n.clearance_mm);
        whole.clearance_mm = match (whole.clearance_mm, near) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
    }
    whole
}
