//! What every step can do at every candidate station: its best margin there.

use crate::reach::Solution;
use crate::tasks::Held;
use crate::tasks::Job;
use crate::tasks::Prefer;
use crate::tasks::State;
use crate::tasks::Task;
use crate::tasks::WhyNot;
use crate::tasks::fewest;
use crate::tasks::widest;

/// Promises that differ by less are as good as each other, rad.
const ALIKE_RAD: f64 = 0.01;

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
            why: vec![WhyNot::OutsideTravel; task.jobs.len()],
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

    /// One past the last step of that run.
    fn table_end(&self, job: usize) -> usize {
        let jobs = &self.task.jobs;
        let next = jobs.iter().enumerate().skip(job + 1);
        let end = next
            .map(|(k, j)| (k, j.step.table))
            .find(|(_, t)| *t != Held::Same);
        end.map_or(jobs.len(), |(k, _)| k)
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

    /// Table readings to try for a job at a node, best first.
    pub fn tables(&self, job: usize, node: usize) -> Vec<Table> {
        let task = self.task;
        let this = &task.jobs[job];
        let head = self.table_head(job);
        if let Held::At(reading) = task.jobs[head].step.table
            && task.cell.turntable.is_some()
        {
            return vec![(Some(reading), f64::INFINITY, None)];
        }
        let run = head..self.table_end(job);
        if !run.clone().any(|k| task.table_matters(&task.jobs[k])) {
            return vec![(None, f64::INFINITY, None)];
        }
        let travel = task.axes().travel_mm(self.nodes[node]);
        // At this position, or where the step itself holds the track.
        let pairs_of = |k: usize| {
            let travel = match task.jobs[self.track_head(k)].step.track {
                Held::At(reading) => task.axes().travel_mm(Some(reading)),
                _ => travel,
            };
            task.solver.pairs_at(&task.jobs[k].wanted, travel)
        };
        if run.len() == 1 && task.solver.needs_pairs(&this.wanted) {
            return pairs_of(job)
                .into_iter()
                .map(|p| (Some(p.table), f64::INFINITY, Some(p.solution)))
                .collect();
        }
        // Steps that hold the table together: what suits one of them only at pairs is tried for all.
        let at_pairs = run.flat_map(pairs_of).map(|p| p.table);
        let mut ranked: Vec<(f64, f64)> = Vec::new();
        for reading in task.tables.iter().copied().chain(at_pairs) {
            let turn = task.axes().turn_rad(Some(reading));
            // By the closed form alone where there is one: the room it promises.
            let promise = match task.solver.promises() {
                true => task.solver.promise(&this.wanted, travel, turn),
                false => Some(std::f64::consts::PI),
            };
            if let Some(room) = promise {
                ranked.push((room, reading));
            }
        }
        ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
        let each = ranked.iter();
        each.map(|(p, r)| (Some(*r), *p, None)).collect()
    }

    /// What a job can do at a node with the table there.
    fn states(
        &self,
        job: usize,
        node: usize,
        table: Option<f64>,
        solution: Option<&Solution>,
    ) -> Result<Vec<State>, WhyNot> {
        let task = self.task;
        let track = self.nodes[node];
        match solution {
            Some(solution) => {
                let (travel, turn) = (task.axes().travel_mm(track), task.axes().turn_rad(table));
                let one = std::slice::from_ref(solution);
                task.states_of(&task.jobs[job], (track, travel), (table, turn), one)
            }
            None => task.states(&task.jobs[job], track, table),
        }
    }

    /// The states of a job at a node: those of the table angles that promise most, and of all that
    /// promise as much but for a little.
    pub fn at_node(&self, job: usize, node: usize, tables_kept: usize) -> Vec<State> {
        if !self.may_stand(job, node) {
            return Vec::new();
        }
        let mut found = Vec::new();
        let (mut kept, mut first) = (0, None);
        let linked = self.linked(job);
        for (table, promise, solution) in self.tables(job, node) {
            let alike = first.is_some_and(|f: f64| promise > f - ALIKE_RAD);
            if kept >= tables_kept && !linked && !alike {
                break;
            }
            if let Ok(states) = self.states(job, node, table, solution.as_ref()) {
                found.extend(states);
                kept += 1;
                first = first.or(Some(promise));
            }
        }
        found
    }

    /// Whether the table must stand where it does at a neighbouring step.
    pub fn linked(&self, job: usize) -> bool {
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
        let tables = self.tables(job, node);
        if tables.is_empty() {
            self.why[job] = self.why[job].nearer(WhyNot::OutOfReach);
        }
        for (table, promise, solution) in tables {
            // Best first: what is promised of the next ones is no larger.
            if best.is_some_and(|b| b >= promise) {
                break;
            }
            match self.states(job, node, table, solution.as_ref()) {
                Ok(states) => {
                    let room = states.first().map_or(0.0, |s| s.room_rad);
                    best = Some(best.map_or(room, |b| b.max(room)));
                }
                Err(why) => self.why[job] = self.why[job].nearer(why),
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
            // Tied to the step right before it: where that is not done there is nothing to be tied to.
            let follows = |group: &Vec<usize>| group.last().is_some_and(|last| last + 1 == job);
            match groups.last_mut() {
                Some((group, nodes)) if tied && follows(group) => {
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

    /// The nodes to do the task from, how few could do it at least, and the least room (degrees) that
    /// the best posture of any step has there.
    pub fn stations(&self) -> (Vec<usize>, usize, f64) {
        let all: Vec<usize> = (0..self.nodes.len()).collect();
        let groups = self.groups();
        if groups.is_empty() {
            return (all, 0, f64::NEG_INFINITY);
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
            return (all, 1, f64::NEG_INFINITY);
        };
        match self.task.prefer {
            Prefer::Travel => (all, cover.at_least, f64::NEG_INFINITY),
            Prefer::Fewest => {
                let nodes = widest(&margins, groups.len(), &cover);
                let best = |group: usize| {
                    let rooms = nodes.iter().filter_map(|n| margins[*n][group]);
                    rooms.fold(f64::NEG_INFINITY, f64::max)
                };
                let least = (0..groups.len()).map(best).fold(f64::INFINITY, f64::min);
                (nodes, cover.at_least, least)
            }
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
