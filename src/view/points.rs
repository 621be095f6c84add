//! All points and tasks of a cell: how they are reached, worked out once.

use crate::answers;
use crate::pictures::reach_lanes::intervals;
use crate::report::page;
use crate::report::reach::PointDocument;
use crate::report::reach::Standing;
use crate::report::reach::standing;
use crate::tasks::Fate;
use crate::tasks::Prefer;
use crate::tasks::Task;
use crate::view::Ground;
use crate::view::Refused;
use crate::view::TaskSteps;
use crate::view::ask::Which;
use crate::view::face::Face;
use crate::view::tell::PointTold;
use crate::view::tell::PointsTold;
use crate::view::tell::TaskTold;

impl Ground {
    /// Works out how all points and tasks of a geometry are reached. It takes a while: for a thread of its
    /// own. What is known already can be asked for meanwhile.
    pub fn work(&self, which: Which) -> Result<(), Refused> {
        let face = Face::new(self, which)?;
        for target in &face.targets {
            let document = face.document(self, target.name);
            // A point that cannot be worked out is told when it is asked for.
            let _ = document;
        }
        for task in &self.tasks {
            let told = face.task(task);
            self.known(which).tasks.push(told);
        }
        self.known(which).done = true;
        Ok(())
    }
}

impl Face<'_> {
    /// How one point is reached; worked out unless it is known.
    pub fn document(&self, ground: &Ground, name: &str) -> Result<PointDocument, Refused> {
        let known = |ground: &Ground| {
            let known = ground.known(self.which);
            known.points.iter().find(|p| p.name == name).cloned()
        };
        if let Some(document) = known(ground) {
            return Ok(document);
        }
        let target = self.target(name)?;
        let assessor = self.assessor();
        let silent = |_: f64| {};
        let answer = answers::reach::answer(target, &assessor, self.force, (None, None), &silent);
        let document = answer.map_err(Refused::failed)?;
        // Somebody else may have been faster.
        if let Some(document) = known(ground) {
            return Ok(document);
        }
        ground.known(self.which).points.push(document.clone());
        Ok(document)
    }

    /// All that is known already of points and tasks.
    pub fn points(&self, ground: &Ground) -> PointsTold {
        let known = ground.known(self.which);
        let each = self.targets.iter();
        let points = each.filter_map(|t| known.points.iter().find(|p| p.name == t.name));
        PointsTold {
            pending: !known.done,
            points: points.map(|p| told(p, self.track_decimals())).collect(),
            travel: self.track_limits().map(|(low, high)| [low, high]),
            tasks: known.tasks.clone(),
            note: page::stretches_note(!self.surroundings.is_empty()),
        }
    }

    fn task(&self, task: &TaskSteps) -> TaskTold {
        let (possible, text) = match self.planned(task) {
            Ok((possible, text)) => (possible, text),
            Err(why) => (false, why),
        };
        TaskTold {
            name: task.name.clone(),
            possible,
            text,
        }
    }

    fn planned(&self, task: &TaskSteps) -> Result<(bool, String), String> {
        let steps = task.steps.clone()?;
        let jobs = answers::task::jobs(steps, &self.targets, &self.solver)
            .map_err(|u| format!("{} cannot be asked of this arm: {}", u.point, u.why))?;
        if jobs.is_empty() {
            return Err("the task has no steps".to_owned());
        }
        let (tracks, tables) =
            answers::task::stations(&self.solver, self.cell, &jobs, (None, None))?;
        let task = Task {
            cell: self.cell,
            solver: &self.solver,
            surroundings: &self.surroundings,
            jobs: &jobs,
            tracks: &tracks,
            tables: &tables,
            prefer: Prefer::Fewest,
        };
        let planned = task.plan(&mut |_| {});
        let undone = planned.fates.iter().zip(&jobs).filter_map(|(fate, job)| {
            matches!(fate, Fate::Impossible(..)).then_some(job.step.point.as_str())
        });
        let undone: Vec<&str> = undone.collect();
        let blocked = planned
            .ways
            .iter()
            .filter(|w| !w.clearance.is_clear())
            .count();
        Ok((
            planned.is_good(),
            page::task(
                jobs.len(),
                &undone,
                blocked,
                &planned.stations,
                self.track_decimals(),
            ),
        ))
    }
}

fn told(document: &PointDocument, decimals: usize) -> PointTold {
    let margins = document.best.as_ref().map(|b| &b.margins);
    let intervals = intervals(document);
    let text = match (&document.refused, margins) {
        (Some(why), _) => why.clone(),
        (None, Some(m)) => {
            let text = page::worth(
                m.limit_margin_deg,
                m.clearance_mm.map(|clearance_mm| page::Room {
                    clearance_mm,
                    needed_mm: document.clearance_needed_mm,
                    to: m.clearance_to.as_deref(),
                }),
                m.u95_mm,
            );
            match standing(document) {
                Standing::Reached => text,
                Standing::Pairs => format!(
                    "{}, such as track {} with table {}: {text}",
                    Standing::Pairs.words(),
                    document
                        .best
                        .as_ref()
                        .and_then(|b| b.track)
                        .map_or("–".to_owned(), |reading| page::short(reading, 2)),
                    document
                        .best
                        .as_ref()
                        .and_then(|b| b.table)
                        .map_or("–".to_owned(), |reading| page::short(reading, 2))
                ),
                other => format!("{}: {text}", other.words()),
            }
        }
        (None, None) => match standing(document) {
            Standing::Nowhere => "reached from nowhere on the travel".to_owned(),
            other => other.words().to_owned(),
        },
    };
    PointTold {
        name: document.name.clone(),
        frame: document.frame.clone(),
        taught: document.taught,
        reachable: document.reachable,
        condition: Some(standing(document))
            .filter(|s| s.partly())
            .map(Standing::words),
        refused: document.refused.clone(),
        margin_deg: margins.map(|m| m.limit_margin_deg),
        clearance_mm: margins.and_then(|m| m.clearance_mm),
        u95_mm: margins.and_then(|m| m.u95_mm),
        text,
        intervals_text: page::stretches(&intervals, decimals),
        intervals,
    }
}
