//! What every step can do at every candidate station: its best margin there.

use std::collections::HashMap;

use crate::reach::Solution;
use crate::tasks::Held;
use crate::tasks::Job;
use crate::tasks::Prefer;
use crate::tasks::State;
use crate::tasks::Task;
use crate::tasks::WhyNot;
use crate::tasks::fewest;
use crate::tasks::widest;

/// Table angles that are kept for a step at a station.
const TABLES_KEPT: usize = 8;

/// A step at a station.
type Key = (usize, usize, Option<u64>);

/// A table reading to try, the room that it promises (rad), and the posture where it comes with it.
type Table = (Option<f64>, f64, Option<Solution>);

/// The table of steps and stations.
pub struct Options<'t, 'a> {
    pub task: &'t Task<'a>,
    /// Track readings; one `None` without a track.
    pub nodes: Vec<Option<f64>>,
    /// For each job, its best room at each node, degrees.
    pub best: Vec<Vec<Option<f64>>>,
    /// For each job, why it was not done where it was nearest to being done.
    pub why: Vec<WhyNot>,
    known: HashMap<Key, Result<Vec<State>, WhyNot>>,
}

impl<'t, 'a> Options<'t, 'a> {
    pub fn new(task: &'t Task<'a>) -> Self {
        let mut nodes: Vec<f64> = task.tracks.to_vec();
        if task.cell.track.is_some() {
            let held = task.jobs.iter().filter_map(|j| match j.step.track {
                Held::At(reading) => Some(reading),
                _ => None,
            });
            nodes.extend(held);
            nodes.sort_by(f64::total_cmp);
            nodes.dedup();
        }
        let nodes = match task.cell.track.is_some() {
            true => nodes.into_iter().map(Some).collect(),
            false => vec![None],
        };
        Options {
            task,
            nodes,
            best: Vec::new(),
            why: vec![WhyNot::OutOfReach; task.jobs.len()],
            known: HashMap::new(),
        }
    }

    /// The step at the head of a run of steps that hold the table where it was.
    fn table_head(&self, job: usize) -> usize {
        let mut head = job;
        while head > 0 && self.task.jobs[head].step.table == Held::Same {
            head -= 1;
        }
        head
    }

    fn track_head(&self, job: usize) -> usize {
        let mut head = job;
        while head > 0 && self.task.jobs[head].step.track == Held::Same {
            head -= 1;
        }
        head
    }

    /// Whether a job may be done from a node at all.
    fn may_stand(&self, job: usize, node: usize) -> bool {
        match self.task.jobs[self.track_head(job)].step.track {
            Held::At(reading) => self.nodes[node] == Some(reading),
            _ => true,
        }
    }

    /// Table readings to try for a job at a node, best first, with the postures where they come with
    /// them.
    pub fn tables(&self, job: usize, node: usize) -> Vec<Table> {
        let task = self.task;
        let this = &task.jobs[job];
        let held = task.jobs[self.table_head(job)].step.table;
        if let Held::At(reading) = held
            && task.cell.turntable.is_some()
        {
            return vec![(Some(reading), f64::INFINITY, None)];
        }
        if !task.table_matters(this) {
            return vec![(None, f64::INFINITY, None)];
        }
        let travel = task.axes().travel_mm(self.nodes[node]);
        if this.step.table == Held::Free && task.solver.needs_pairs(&this.wanted) {
            let pairs = task.solver.pairs_at(&this.wanted, travel);
            return pairs
                .into_iter()
                .map(|p| (Some(p.table), f64::INFINITY, Some(p.solution)))
                .collect();
        }
        // By the closed form alone where there is one: the margin it promises.
        let mut ranked: Vec<(f64, f64)> = Vec::new();
        for reading in task.tables {
            let turn = task.axes().turn_rad(Some(*reading));
            let promise = match task.solver.promises() {
                true => task.solver.promise(&this.wanted, travel, turn),
                false => Some(std::f64::consts::PI),
            };
            if let Some(margin) = promise {
                ranked.push((margin, *reading));
            }
        }
        ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
        let each = ranked.iter();
        each.map(|(p, r)| (Some(*r), *p, None)).collect()
    }

    /// What a job can do at a node with the table there.
    pub fn states(
        &mut self,
        job: usize,
        node: usize,
        table: Option<f64>,
        solution: Option<&Solution>,
    ) -> &Result<Vec<State>, WhyNot> {
        let task = self.task;
        let track = self.nodes[node];
        let key = (job, node, table.map(f64::to_bits));
        self.known.entry(key).or_insert_with(|| match solution {
            Some(solution) => {
                let travel = task.axes().travel_mm(track);
                let turn = task.axes().turn_rad(table);
                let one = std::slice::from_ref(solution);
                task.from_solutions(&task.jobs[job], (track, travel), (table, turn), one)
            }
            None => task.states(&task.jobs[job], track, table),
        })
    }

    /// The states of a job at a node: those of the table angles with the largest margins.
    pub fn at_node(&mut self, job: usize, node: usize) -> Vec<State> {
        if !self.may_stand(job, node) {
            return Vec::new();
        }
        let mut found = Vec::new();
        let mut kept = 0;
        let linked = self.linked(job);
        for (table, _, solution) in self.tables(job, node) {
            if kept >= TABLES_KEPT && !linked {
                break;
            }
            if let Ok(states) = self.states(job, node, table, solution.as_ref()) {
                found.extend(states.iter().cloned());
                kept += 1;
            }
        }
        found
    }

    /// Whether the table must stand where it does at a neighbouring step.
    fn linked(&self, job: usize) -> bool {
        let jobs = &self.task.jobs;
        let next = jobs.get(job + 1);
        jobs[job].step.table == Held::Same || next.is_some_and(|n| n.step.table == Held::Same)
    }

    /// Works out the best margin of every step at every node.
    pub fn look(&mut self, progress: &mut dyn FnMut(f64)) {
        let (jobs, nodes) = (self.task.jobs.len(), self.nodes.len());
        for job in 0..jobs {
            // The same point asked for in the same way was looked at before.
            let twin = (0..job).find(|k| alike(&self.task.jobs[*k], &self.task.jobs[job]));
            let row = match twin {
                Some(twin) => {
                    self.why[job] = self.why[twin];
                    self.best[twin].clone()
                }
                None => (0..nodes).map(|node| self.best_room(job, node)).collect(),
            };
            self.best.push(row);
            progress(0.9 * (job + 1) as f64 / jobs.max(1) as f64);
        }
    }

    fn best_room(&mut self, job: usize, node: usize) -> Option<f64> {
        if !self.may_stand(job, node) {
            return None;
        }
        let mut best: Option<f64> = None;
        for (table, promise, solution) in self.tables(job, node) {
            // Best first: what is promised of the next ones is no larger.
            if best.is_some_and(|b| b >= promise) {
                break;
            }
            match self.states(job, node, table, solution.as_ref()) {
                Ok(states) => {
                    let room = states.first().map_or(0.0, |s| s.room_rad);
                    best = Some(best.map_or(room, |b| b.max(room)));
                }
                Err(why) => {
                    let why = *why;
                    self.why[job] = self.why[job].nearer(why);
                }
            }
        }
        best.map(f64::to_degrees)
    }

    /// Jobs that can be done from some node, those held together counted as one; a job that cannot
    /// be done together with the ones that it is tied to is left out.
    pub fn groups(&self) -> Vec<Vec<usize>> {
        let mut groups: Vec<(Vec<usize>, Vec<bool>)> = Vec::new();
        for job in 0..self.task.jobs.len() {
            let can: Vec<bool> = self.best[job].iter().map(Option::is_some).collect();
            if !can.contains(&true) {
                continue;
            }
            let tied = self.task.jobs[job].step.track == Held::Same;
            match groups.last_mut() {
                Some((group, nodes)) if tied => {
                    let both: Vec<bool> = nodes.iter().zip(&can).map(|(a, b)| *a && *b).collect();
                    if both.contains(&true) {
                        group.push(job);
                        *nodes = both;
                    }
                }
                _ => groups.push((vec![job], can)),
            }
        }
        groups.into_iter().map(|(jobs, _)| jobs).collect()
    }

    /// The nodes to do the task from, and how few could do it at least.
    pub fn stations(&self) -> (Vec<usize>, usize) {
        let all: Vec<usize> = (0..self.nodes.len()).collect();
        let groups = self.groups();
        if groups.is_empty() {
            return (all, 0);
        }
        let margins: Vec<Vec<Option<f64>>> = all
            .iter()
            .map(|node| {
                let least = |group: &Vec<usize>| {
                    group.iter().try_fold(f64::INFINITY, |least: f64, job| {
                        Some(least.min(self.best[*job][*node]?))
                    })
                };
                groups.iter().map(least).collect()
            })
            .collect();
        let Some(cover) = fewest(&margins, groups.len()) else {
            return (all, 1);
        };
        match self.task.prefer {
            Prefer::Travel => (all, cover.at_least),
            Prefer::Fewest => (widest(&margins, groups.len(), &cover), cover.at_least),
        }
    }
}

fn alike(a: &Job, b: &Job) -> bool {
    a.wanted == b.wanted
        && a.step.approach_mm == b.step.approach_mm
        && a.step.depart_mm == b.step.depart_mm
        && a.step.along == b.step.along
        && a.step.track == b.step.track
        && a.step.table == b.step.table
        && a.step.track != Held::Same
        && a.step.table != Held::Same
}
