//! Between which ends of travel a point is reached, over the whole travel of the track.
//!
//! The travel is sampled; each branch has a number that is positive where it reaches the point
//! within all limits and continuous along the travel. Changes between samples are bisected, and
//! where that number has a peak below zero or a dip above it the peak is looked up, so that narrow
//! intervals and narrow gaps are not missed.

use crate::cell::Belongs;
use crate::kinematics::table_value_rad;
use crate::kinematics::track_reading;
use crate::reach::Refusal;
use crate::reach::Solver;
use crate::reach::Wanted;
use crate::reach::conditions::Task;
use crate::reach::limits::LIMIT_SLACK_RAD;
use crate::reach::pattern::Seed;
use crate::reach::plan::Method;
use crate::reach::plan::Plan;
use crate::reach::small::Posture;
use crate::reach::solver::Root;
use crate::units::Approach;
use crate::units::Reading;

/// Ends are found to this, mm.
const END_MM: f64 = 1e-4;
/// Longest step between samples, mm; never fewer than [`LEAST_SAMPLES`], never more than
/// [`MOST_SAMPLES`].
const STEP_MM: f64 = 2.0;
const LEAST_SAMPLES: usize = 400;
const MOST_SAMPLES: usize = 4000;
/// The same for arms with joints to spare, whose postures cost more.
const SPARE_SAMPLES: usize = 120;
/// Roots are sought afresh at every so many samples, and followed in between.
const FRESH: usize = 15;
const BRANCHES: usize = 8;

/// Ends of travel between which a point is reached, at one table angle.
#[derive(Debug, Clone, PartialEq)]
pub struct TableIntervals {
    /// Table reading; `None` for a point of the plate.
    pub table: Option<f64>,
    /// Track readings, ascending; an isolated position is given twice.
    pub intervals: Vec<[f64; 2]>,
}

/// What is known at one travel.
#[derive(Debug, Clone)]
pub(super) struct Probe {
    pub s: f64,
    /// By branch: not negative where it reaches the point.
    marks: [f64; BRANCHES],
    pub roots: Vec<Root>,
}

impl Probe {
    fn best(&self) -> f64 {
        self.marks.iter().copied().fold(f64::NEG_INFINITY, f64::max)
    }
    fn reached(&self) -> bool {
        self.best() >= 0.0
    }
}

pub(super) struct Line<'s, 'a> {
    pub solver: &'s Solver<'a>,
    plan: Plan,
    task: Task,
    pub closed: bool,
}

impl Line<'_, '_> {
    /// Positive within limits and lean; zero at their ends.
    pub fn inside(&self, root: &Root) -> f64 {
        let mut mark = root.margin + LIMIT_SLACK_RAD;
        if self.solver.level.is_some() {
            // Beside its plane such an arm reaches nothing: 1 mm counts as 0.001 here.
            let off = self.solver.height_allowed_mm() - root.height_off.abs();
            mark = mark.min(1e-3 * off + LIMIT_SLACK_RAD);
        }
        if self.plan.steep {
            let lean = self.solver.cell.accept.direction_rad - root.side_lean;
            mark = mark.min(lean + LIMIT_SLACK_RAD);
        }
        mark
    }

    pub fn probe(&self, s: f64, hints: &[Posture], fresh: bool) -> Probe {
        let mut probe = Probe {
            s,
            marks: [-1.0; BRANCHES],
            roots: Vec::new(),
        };
        if self.closed {
            let Some(pattern) = &self.solver.pattern else {
                return probe;
            };
            let ask = self.solver.ask(&self.plan, &self.task, s);
            let mut seeds = [Seed::default(); 8];
            let count = pattern.seeds(&ask, &mut seeds);
            for seed in &seeds[..count] {
                let mut mark = f64::NEG_INFINITY;
                for root in self.solver.refine(&self.plan, &self.task, s, &ask, seed) {
                    mark = mark.max(self.inside(&root).min(root.slack.max(1e-12)));
                    probe.roots.push(root);
                }
                if mark == f64::NEG_INFINITY {
                    mark = (-seed.slack.abs()).clamp(-1.0, -1e-12);
                }
                probe.marks[seed.branch] = mark;
            }
            return probe;
        }
        if fresh {
            self.solver
                .roots(&self.plan, &self.task, s, hints, &mut probe.roots);
        } else {
            self.solver
                .follow(&self.plan, &self.task, s, hints, &mut probe.roots);
        }
        probe.marks[0] = probe
            .roots
            .iter()
            .map(|r| self.inside(r))
            .fold(-1.0, f64::max);
        probe
    }

    fn samples(&self, low: f64, high: f64) -> Vec<Probe> {
        let count = if self.plan.method.spares() {
            SPARE_SAMPLES
        } else {
            (((high - low) / STEP_MM).ceil() as usize).clamp(LEAST_SAMPLES, MOST_SAMPLES)
        };
        let at = |i: usize| {
            if i == count {
                high
            } else {
                low + (high - low) * i as f64 / count as f64
            }
        };
        let mut out: Vec<Probe> = Vec::with_capacity(count + 1);
        for i in 0..=count {
            let hints = out.last().map(hints_of).unwrap_or_default();
            out.push(self.probe(at(i), &hints, i % FRESH == 0 || i == count));
        }
        if !self.closed {
            // A root found afresh may begin earlier: follow it back.
            for i in (0..count).rev() {
                if out[i + 1].roots.len() > out[i].roots.len() {
                    let mut hints = hints_of(&out[i]);
                    hints.extend(hints_of(&out[i + 1]));
                    let again = self.probe(out[i].s, &hints, false);
                    if again.roots.len() > out[i].roots.len() {
                        out[i] = again;
                    }
                }
            }
        }
        out
    }

    /// Where a number of the probe is largest between two travels (golden section); ends early
    /// where it becomes not negative.
    fn peak(
        &self,
        mut a: f64,
        mut b: f64,
        hints: &[Posture],
        of: impl Fn(&Probe) -> f64,
    ) -> Option<Probe> {
        const G: f64 = 0.618_033_988_749_894_9;
        let mut c = self.probe(b - G * (b - a), hints, false);
        let mut d = self.probe(a + G * (b - a), hints, false);
        for _ in 0..40 {
            for p in [&c, &d] {
                if of(p) >= 0.0 {
                    return Some(p.clone());
                }
            }
            if b - a < 1e-7 {
                break;
            }
            if of(&c) > of(&d) {
                b = d.s;
                d = c;
                c = self.probe(b - G * (b - a), hints, false);
            } else {
                a = c.s;
                c = d;
                d = self.probe(a + G * (b - a), hints, false);
            }
        }
        None
    }

    /// Adds a sample inside every narrow interval and every narrow gap.
    fn with_narrow(&self, samples: Vec<Probe>) -> Vec<Probe> {
        let mut extra = Vec::new();
        for w in samples.windows(3) {
            let [p, m, q] = [&w[0], &w[1], &w[2]];
            let hints = if self.closed {
                Vec::new()
            } else {
                [p, m, q].into_iter().flat_map(hints_of).collect()
            };
            if !p.reached() && !m.reached() && !q.reached() {
                for b in 0..BRANCHES {
                    let mark = m.marks[b];
                    if mark > -0.2
                        && mark >= p.marks[b]
                        && mark >= q.marks[b]
                        && mark > p.marks[b].min(q.marks[b])
                        && let Some(found) = self.peak(p.s, q.s, &hints, |x| x.marks[b])
                    {
                        extra.push(found);
                        break;
                    }
                }
            } else if p.reached() && m.reached() && q.reached() {
                let best = m.best();
                if best < 0.2
                    && best <= p.best()
                    && best <= q.best()
                    && best < p.best().max(q.best()) - 1e-12
                    && let Some(found) = self.peak(p.s, q.s, &hints, |x| {
                        if x.reached() {
                            -x.best().max(1e-300)
                        } else {
                            1.0
                        }
                    })
                {
                    extra.push(found);
                }
            }
        }
        let mut all = samples;
        all.extend(extra);
        all.sort_by(|a, b| a.s.total_cmp(&b.s));
        all
    }

    /// The end between a sample where `holds` and one where not; on the side where it does.
    fn end(&self, inside: &Probe, outside: &Probe, holds: impl Fn(&Probe) -> bool) -> f64 {
        let (mut a, mut b) = (inside.clone(), outside.s);
        for _ in 0..60 {
            if (a.s - b).abs() <= END_MM {
                break;
            }
            let hints = if self.closed {
                Vec::new()
            } else {
                hints_of(&a)
            };
            let m = self.probe(0.5 * (a.s + b), &hints, false);
            if holds(&m) {
                a = m;
            } else {
                b = m.s;
            }
        }
        a.s
    }

    pub fn runs(&self, samples: &[Probe], holds: impl Fn(&Probe) -> bool) -> Vec<[f64; 2]> {
        let mut out = Vec::new();
        let mut from: Option<f64> = None;
        for (i, p) in samples.iter().enumerate() {
            let before = i.checked_sub(1).map(|k| &samples[k]);
            match (holds(p), from) {
                (true, None) => from = Some(before.map_or(p.s, |b| self.end(p, b, &holds))),
                (false, Some(a)) => {
                    if let Some(b) = before {
                        out.push([a, self.end(b, p, &holds)]);
                    }
                    from = None;
                }
                _ => {}
            }
        }
        if let (Some(a), Some(last)) = (from, samples.last()) {
            out.push([a, last.s]);
        }
        out
    }
}

fn hints_of(p: &Probe) -> Vec<Posture> {
    p.roots.iter().map(|r| r.values).collect()
}

/// The ends of travel between which a point is reached, in track readings, one entry for each
/// table angle (one in all for a point of the plate). Empty without a track, or where the cell does
/// not give its travel. A table angle outside the table's travel has no intervals.
pub fn track_intervals(
    solver: &Solver,
    wanted: &Wanted,
    table: &[f64],
) -> Result<Vec<TableIntervals>, Refusal> {
    let plan = solver.plan(wanted)?;
    let travel = solver.cell.track.and_then(|t| t.travel_mm);
    let (Some(track), Some(travel)) = (&solver.geometry.track, travel) else {
        return Ok(Vec::new());
    };
    let angles: Vec<(Option<f64>, f64)> = match (&solver.geometry.turntable, wanted.frame) {
        (Some(turntable), Belongs::Platter) => table
            .iter()
            .map(|r| {
                (
                    Some(*r),
                    table_value_rad(turntable, Reading(*r), Approach::Unnoted),
                )
            })
            .collect(),
        _ => vec![(None, 0.0)],
    };
    let mut out = Vec::new();
    for (table, turn_rad) in angles {
        let mut intervals = Vec::new();
        if table.is_none() || solver.table_holds(turn_rad) {
            let line = Line {
                solver,
                plan,
                task: solver.task(wanted, &plan, turn_rad),
                closed: matches!(plan.method, Method::Closed | Method::ClosedStill),
            };
            let samples = line.samples(travel.low, travel.high);
            let values = if plan.azimuth.is_some() {
                line.azimuth_stretches(&samples)
            } else {
                let samples = line.with_narrow(samples);
                line.runs(&samples, Probe::reached)
            };
            intervals = values
                .iter()
                .map(|[a, b]| {
                    let (a, b) = (track_reading(track, *a).0, track_reading(track, *b).0);
                    [a.min(b), a.max(b)]
                })
                .collect();
            intervals.sort_by(|x, y| x[0].total_cmp(&y[0]));
        }
        out.push(TableIntervals { table, intervals });
    }
    Ok(out)
}
