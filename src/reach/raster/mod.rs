//! One point over a whole raster of stations: where it is reached, and with what margin.
//!
//! A [`Raster`] is made for one point and one arm of the pattern that the closed form serves. A
//! node is a pair of a travel and a table angle, both as values (mm, rad), not as readings. Nodes
//! lie in rows of one table angle each, the travels in the order given within a row:
//! node (travel i, angle k) has the index k·(number of travels) + i.

mod inverse;
mod lanes;
mod level;
mod line;
mod sine;
mod spans;
mod sweep;
mod tilted;

pub use inverse::Inverse;
pub use inverse::Reached;

use std::num::NonZero;
use std::thread;

use crate::reach::Solver;
use crate::reach::Wanted;
use crate::reach::conditions::Reference;
use crate::reach::limits::LIMIT_SLACK_RAD;
use crate::reach::pattern::Pattern;
use crate::reach::plan::Method;
use crate::reach::plan::Plan;
use crate::reach::raster::level::Links;
use crate::reach::raster::level::Row;
use crate::reach::raster::line::Line;
use crate::reach::raster::line::UNSURE_RAD;
use crate::reach::raster::spans::Arc;
use crate::reach::raster::spans::Nodes;
use crate::reach::raster::spans::Ring;
use crate::reach::raster::spans::mark;
use crate::reach::raster::sweep::Plane;
use crate::reach::raster::sweep::Sweep;
use crate::reach::raster::tilted::Tilted;

/// The margin of a node where no branch is in reach: below −π, the least that a posture can have.
pub const OUT_OF_REACH_RAD: f64 = -4.0;
/// The branch of such a node.
pub const NO_BRANCH: u8 = u8::MAX;
/// Most threads that are started without being asked for.
const MOST_THREADS: usize = 8;

/// One point, to be tried at many stations.
#[derive(Debug, Clone)]
pub struct Raster<'a> {
    solver: &'a Solver<'a>,
    pattern: &'a Pattern,
    wanted: Wanted,
    plan: Plan,
    links: Links,
}

/// Margins of all nodes; see [`Raster::margins`].
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Margins {
    /// The largest over the branches of the least distance to a joint limit, rad; negative
    /// outside the limits, [`OUT_OF_REACH_RAD`] where no branch reaches the point.
    pub margin_rad: Vec<f64>,
    /// The branch with that margin: +4 turned round, +2 tool behind, +1 elbow the other way;
    /// [`NO_BRANCH`] where none reaches the point.
    pub branch: Vec<u8>,
}

impl<'a> Raster<'a> {
    /// `None` where the closed form does not serve the arm, the point cannot be asked of it, or
    /// a joint is to spare: then [`Solver::solve`] is the way.
    pub fn new(solver: &'a Solver<'a>, wanted: &Wanted) -> Option<Self> {
        let plan = solver.plan(wanted).ok()?;
        let pattern = solver.pattern.as_ref()?;
        matches!(plan.method, Method::Closed | Method::ClosedStill).then(|| Raster {
            solver,
            pattern,
            wanted: *wanted,
            plan,
            links: Links::new(solver, pattern),
        })
    }

    fn row(&self, turn_rad: f64) -> Option<Row> {
        // A given azimuth is met at single stations only.
        if self.plan.azimuth.is_some() {
            return None;
        }
        Row::new(
            self.solver,
            self.pattern,
            &self.plan,
            &self.wanted,
            turn_rad,
        )
    }

    /// Whether some branch reaches the point within all joint limits, for every node. `threads`:
    /// how many may work; 0: as many as there are processors, at most 8.
    pub fn feasible(
        &self,
        track_mm: &[f64],
        table_rad: &[f64],
        threads: usize,
        out: &mut Vec<bool>,
    ) {
        let width = track_mm.len();
        out.clear();
        out.resize(width * table_rad.len(), false);
        if out.is_empty() {
            return;
        }
        let sorted = Sorted::new(track_mm);
        let nodes = Nodes::new(&sorted.track_mm);
        let rings = self.row(table_rad[0]).map(|row| Rings::new(self, &row));
        let rows = rows_each(threads, table_rad.len());
        let jobs = table_rad.chunks(rows).zip(out.chunks_mut(rows * width));
        shared(jobs, &|(turns, out)| {
            let mut line = Vec::new();
            let mut margins = (Vec::new(), Vec::new());
            for (turn, out) in turns.iter().zip(out.chunks_exact_mut(width)) {
                match (&rings, self.row(*turn)) {
                    (Some(rings), Some(row)) if rings.serve(&row) => match &sorted.order {
                        None => rings.mark(self, &row, &nodes, out),
                        Some(order) => {
                            line.clear();
                            line.resize(width, false);
                            rings.mark(self, &row, &nodes, &mut line);
                            for (k, yes) in order.iter().zip(&line) {
                                out[*k] = *yes;
                            }
                        }
                    },
                    (_, row) => {
                        margins.0.resize(width, 0.0);
                        margins.1.resize(width, 0);
                        self.line(row, *turn, track_mm, &mut margins.0, &mut margins.1);
                        for (out, margin) in out.iter_mut().zip(&margins.0) {
                            *out = *margin >= -LIMIT_SLACK_RAD;
                        }
                    }
                }
            }
        });
    }

    /// The margins of all nodes and their branches. `threads` as for [`Self::feasible`].
    pub fn margins(&self, track_mm: &[f64], table_rad: &[f64], threads: usize, out: &mut Margins) {
        let width = track_mm.len();
        let Margins { margin_rad, branch } = out;
        margin_rad.clear();
        margin_rad.resize(width * table_rad.len(), OUT_OF_REACH_RAD);
        branch.clear();
        branch.resize(width * table_rad.len(), NO_BRANCH);
        if branch.is_empty() {
            return;
        }
        let rows = rows_each(threads, table_rad.len());
        let jobs = table_rad
            .chunks(rows)
            .zip(margin_rad.chunks_mut(rows * width))
            .zip(branch.chunks_mut(rows * width));
        shared(jobs, &|((turns, margin), branch)| {
            let lines = margin
                .chunks_exact_mut(width)
                .zip(branch.chunks_exact_mut(width));
            for (turn, (margin, branch)) in turns.iter().zip(lines) {
                self.line(self.row(*turn), *turn, track_mm, margin, branch);
            }
        });
    }

    /// Whether a row out of true may be left to the vectors. A given azimuth is met at single
    /// stations only. Between 89° and straight down the roll counts from where the tool leans,
    /// which a tilt turns far round: which root is meant, the general way decides.
    fn in_vectors(&self) -> bool {
        let leaning = matches!(self.plan.roll, Some((_, Reference::Own)));
        self.plan.azimuth.is_none() && !(self.plan.steep && leaning)
    }

    /// Margins of one row, by the quickest way that serves it.
    fn line(
        &self,
        row: Option<Row>,
        turn_rad: f64,
        track_mm: &[f64],
        margin_rad: &mut [f64],
        branch: &mut [u8],
    ) {
        let line = |margin_rad, branch| Line {
            track_mm,
            margin_rad,
            branch,
        };
        let arch = pulp::Arch::new();
        if let Some(row) = row {
            arch.dispatch(line(margin_rad, branch).of(&sweeps(self, &row)[..]));
            return;
        }
        if self.in_vectors() {
            let tilted = Tilted::new(
                self.solver,
                self.pattern,
                &self.links,
                &self.plan,
                &self.wanted,
                turn_rad,
            );
            arch.dispatch(line(&mut *margin_rad, &mut *branch).of(&tilted));
        } else {
            margin_rad.fill(UNSURE_RAD);
        }
        for ((s, margin), branch) in track_mm.iter().zip(margin_rad).zip(branch) {
            if *margin >= UNSURE_RAD {
                (*margin, *branch) = self.polished(*s, turn_rad);
            }
        }
    }

    /// The general way at one node: all roots, polished, those within the limits.
    fn polished_all(&self, travel_mm: f64, turn_rad: f64, out: &mut [Reached; 8]) -> usize {
        let task = self.solver.task(&self.wanted, &self.plan, turn_rad);
        let mut roots = Vec::new();
        self.solver
            .roots(&self.plan, &task, travel_mm, &[], &mut roots);
        roots.retain(|r| self.solver.accepts(&self.plan, r));
        for (out, root) in out.iter_mut().zip(&roots) {
            out.values_rad.copy_from_slice(&root.values[..5]);
            out.margin_rad = root.margin;
            out.branch = root.branch as u8;
        }
        roots.len().min(out.len())
    }

    /// The same, the largest margin alone, beyond the limits too.
    fn polished(&self, travel_mm: f64, turn_rad: f64) -> (f64, u8) {
        let task = self.solver.task(&self.wanted, &self.plan, turn_rad);
        let mut roots = Vec::new();
        self.solver
            .roots(&self.plan, &task, travel_mm, &[], &mut roots);
        roots
            .iter()
            .filter(|r| self.solver.accepts_direction(&self.plan, r))
            .map(|r| (r.margin, r.branch as u8))
            .reduce(|a, b| if b.0 > a.0 { b } else { a })
            .unwrap_or((OUT_OF_REACH_RAD, NO_BRANCH))
    }
}

/// All sides and leans of one point.
struct Rings {
    height_mm: f64,
    rings: Vec<(usize, Ring)>,
}

impl Rings {
    fn new(raster: &Raster, row: &Row) -> Self {
        let mut rings = Vec::new();
        for (k, lean) in row.leans[..row.count].iter().enumerate() {
            for side in [1.0, -1.0] {
                rings.push((k, Ring::new(&raster.links, lean, row.height_mm(lean), side)));
            }
        }
        Rings {
            height_mm: row.tip_mm.z,
            rings,
        }
    }

    /// Whether a row is at the height of the first.
    fn serve(&self, row: &Row) -> bool {
        (self.height_mm - row.tip_mm.z).abs() < 1e-10
    }

    fn mark(&self, raster: &Raster, row: &Row, nodes: &Nodes, out: &mut [bool]) {
        let links = &raster.links;
        for (k, ring) in &self.rings {
            let lean = &row.leans[*k];
            let heading = row.along(lean, links.middle_heading(raster.pattern));
            let roll = links
                .middle_roll(lean)
                .and_then(|v| Arc::new(row.along(lean, v), links.open(4)));
            match (Arc::new(heading, links.open(0)), roll) {
                (Some(a), Some(b)) => mark(ring, &heading, &[a, b], nodes, out),
                (Some(a), None) | (None, Some(a)) => mark(ring, &heading, &[a], nodes, out),
                (None, None) => mark(ring, &heading, &[], nodes, out),
            }
        }
    }
}

fn sweeps(raster: &Raster, row: &Row) -> Vec<Sweep> {
    let links = &raster.links;
    row.leans[..row.count]
        .iter()
        .map(|lean| Sweep {
            plane: Plane::of(links),
            height_mm: row.height_mm(lean),
            ahead_mm: lean.ahead_mm,
            hand: lean.hand,
            heading: row.along(lean, links.middle_heading(raster.pattern)),
            roll: links.middle_roll(lean).map(|v| row.along(lean, v)),
            sigma_mm: lean.sigma_mm,
            cap: links.still_margin(lean),
            half1: links.limits[0].half,
            half5: links.limits[4].half,
            branch: lean.branch as f64,
        })
        .collect()
}

/// The travels in ascending order, and from where each came if that is another.
struct Sorted {
    track_mm: Vec<f64>,
    order: Option<Vec<usize>>,
}

impl Sorted {
    fn new(track_mm: &[f64]) -> Self {
        if track_mm.is_sorted() {
            return Sorted {
                track_mm: track_mm.to_vec(),
                order: None,
            };
        }
        let mut order: Vec<usize> = (0..track_mm.len()).collect();
        order.sort_by(|a, b| track_mm[*a].total_cmp(&track_mm[*b]));
        Sorted {
            track_mm: order.iter().map(|k| track_mm[*k]).collect(),
            order: Some(order),
        }
    }
}

/// How many rows each of some threads gets.
fn rows_each(threads: usize, rows: usize) -> usize {
    let threads = match threads {
        0 => thread::available_parallelism()
            .map_or(1, NonZero::get)
            .min(MOST_THREADS),
        n => n,
    };
    rows.div_ceil(threads).max(1)
}

/// One thread for each job; this one does the first.
fn shared<J: Send>(mut jobs: impl Iterator<Item = J>, work: &(impl Fn(J) + Sync)) {
    thread::scope(|scope| {
        let own = jobs.next();
        for job in jobs {
            scope.spawn(move || work(job));
        }
        if let Some(job) = own {
            work(job);
        }
    });
}
