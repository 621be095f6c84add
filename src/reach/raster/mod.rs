//! One point over a whole raster of stations: where it is reached, and with what margin.
//!
//! A [`Raster`] is made for one point and one arm of the pattern that the closed form serves. A
//! node is a pair of a travel and a table angle, both as values (mm, rad), not as readings. Nodes
//! lie in rows of one table angle each, the travels in the order given within a row:
//! node (travel i, angle k) has the index k·(number of travels) + i.

mod inverse;
mod lanes;
mod level;
mod spans;
mod sweep;

pub use inverse::Inverse;
pub use inverse::Reached;

use std::num::NonZero;
use std::thread;

use pulp::Simd;
use pulp::WithSimd;

use crate::reach::Solver;
use crate::reach::Wanted;
use crate::reach::limits::LIMIT_SLACK_RAD;
use crate::reach::pattern::Pattern;
use crate::reach::plan::Method;
use crate::reach::plan::Plan;
use crate::reach::raster::lanes::Lanes;
use crate::reach::raster::lanes::Num;
use crate::reach::raster::level::Links;
use crate::reach::raster::level::Row;
use crate::reach::raster::spans::Arc;
use crate::reach::raster::spans::Nodes;
use crate::reach::raster::spans::Ring;
use crate::reach::raster::spans::mark;
use crate::reach::raster::sweep::Plane;
use crate::reach::raster::sweep::Sweep;

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
        out.clear();
        out.resize(track_mm.len() * table_rad.len(), false);
        if out.is_empty() {
            return;
        }
        let sorted = Sorted::new(track_mm);
        let nodes = Nodes::new(&sorted.track_mm);
        let rings = self.row(table_rad[0]).map(|row| Rings::new(self, &row));
        shared(threads, table_rad, track_mm.len(), out, &|turns, out| {
            let mut line = vec![false; track_mm.len()];
            for (turn, out) in turns.iter().zip(out.chunks_exact_mut(track_mm.len())) {
                match (&rings, self.row(*turn)) {
                    (Some(rings), Some(row)) if rings.serve(&row) => match &sorted.order {
                        None => rings.mark(self, &row, &nodes, out),
                        Some(order) => {
                            line.fill(false);
                            rings.mark(self, &row, &nodes, &mut line);
                            for (k, yes) in order.iter().zip(&line) {
                                out[*k] = *yes;
                            }
                        }
                    },
                    _ => {
                        for (s, out) in track_mm.iter().zip(out) {
                            *out = self.polished(*s, *turn).0 >= -LIMIT_SLACK_RAD;
                        }
                    }
                }
            }
        });
    }

    /// The margins of all nodes and their branches. `threads` as for [`Self::feasible`].
    pub fn margins(&self, track_mm: &[f64], table_rad: &[f64], threads: usize, out: &mut Margins) {
        let count = track_mm.len() * table_rad.len();
        let mut both = vec![(OUT_OF_REACH_RAD, NO_BRANCH); count];
        shared(
            threads,
            table_rad,
            track_mm.len(),
            &mut both,
            &|turns, out| {
                for (turn, out) in turns.iter().zip(out.chunks_exact_mut(track_mm.len())) {
                    match self.row(*turn) {
                        Some(row) => pulp::Arch::new().dispatch(Line {
                            sweeps: &sweeps(self, &row),
                            track_mm,
                            out,
                        }),
                        None => {
                            for (s, out) in track_mm.iter().zip(out) {
                                *out = self.polished(*s, *turn);
                            }
                        }
                    }
                }
            },
        );
        out.margin_rad.clear();
        out.branch.clear();
        out.margin_rad.extend(both.iter().map(|b| b.0));
        out.branch.extend(both.iter().map(|b| b.1));
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
            let plane = Plane::new(&raster.links, lean, row.tip_mm.z);
            for side in [1.0, -1.0] {
                rings.push((k, Ring::new(&raster.links, lean, &plane, side)));
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
            plane: Plane::new(links, lean, row.tip_mm.z),
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

/// Margins of one row.
struct Line<'a> {
    sweeps: &'a [Sweep],
    track_mm: &'a [f64],
    out: &'a mut [(f64, u8)],
}

impl WithSimd for Line<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let lanes = S::F64_LANES;
        for (s, out) in self.track_mm.chunks(lanes).zip(self.out.chunks_mut(lanes)) {
            let s = Lanes(simd, simd.partial_load_f64s(s));
            let mut best = s.all(OUT_OF_REACH_RAD);
            let mut branch = s.all(f64::from(NO_BRANCH));
            for sweep in self.sweeps {
                sweep.take(s, &mut best, &mut branch);
            }
            let (mut m, mut b) = ([0.0; 8], [0.0; 8]);
            simd.partial_store_f64s(&mut m[..lanes], best.1);
            simd.partial_store_f64s(&mut b[..lanes], branch.1);
            for ((out, m), b) in out.iter_mut().zip(m).zip(b) {
                *out = (m, b as u8);
            }
        }
    }
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

/// Splits rows of `width` nodes among threads; this one works too.
fn shared<T: Send>(
    threads: usize,
    table_rad: &[f64],
    width: usize,
    out: &mut [T],
    work: &(dyn Fn(&[f64], &mut [T]) + Sync),
) {
    if width == 0 || table_rad.is_empty() {
        return;
    }
    let threads = match threads {
        0 => thread::available_parallelism()
            .map_or(1, NonZero::get)
            .min(MOST_THREADS),
        n => n,
    };
    let rows = table_rad.len().div_ceil(threads);
    thread::scope(|scope| {
        let mut parts = table_rad.chunks(rows).zip(out.chunks_mut(rows * width));
        let own = parts.next();
        for (turns, out) in parts {
            scope.spawn(move || work(turns, out));
        }
        if let Some((turns, out)) = own {
            work(turns, out);
        }
    });
}
