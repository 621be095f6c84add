//! What is being done.

use crate::cell::Cell;
use crate::parts::Part;
use crate::parts::then_again;
use crate::plan::Ended;
use crate::plan::Plan;
use crate::sheet::rules::joint_words;

/// What a sheet is for.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Job {
    /// In a few words, for the head of the sheet.
    pub title: String,
    /// What it rests on and what to know before, a sentence or a few each.
    pub introduction: Vec<String>,
    /// The parts that moved or were set anew; empty for a first registration.
    pub moved: Vec<Part>,
    /// The folder of the cell that the readings go into.
    pub folder: String,
}

impl Job {
    /// The first registration, planned from the drawing alone.
    pub fn commissioning(cell: &Cell, plan: &Plan) -> Job {
        let mut introduction = vec![
            "For the first registration of this cell. Planned from the drawing and its tolerances alone, \
             as if nothing had been measured yet: where a position looks wrong at the bench, the drawing \
             is off there; stop, and take another place near it."
                .to_owned(),
        ];
        if cell.track.is_some_and(|t| t.travel_mm.is_none()) {
            introduction.push(
                "cell.toml does not say how far the track travels (travel_mm): all steps have the track \
                 at one place. Write it in, and make the sheet again."
                    .to_owned(),
            );
        }
        introduction.extend(short(plan));
        Job {
            title: "Commissioning".to_owned(),
            introduction,
            moved: Vec::new(),
            folder: "readings".to_owned(),
        }
    }

    /// More readings, planned from those there are; `from` says which.
    pub fn more(plan: &Plan, from: &str) -> Job {
        let mut introduction = vec![format!("Readings to add. Planned from {from}.")];
        introduction.extend(short(plan));
        Job {
            title: "More readings".to_owned(),
            introduction,
            moved: Vec::new(),
            folder: "readings".to_owned(),
        }
    }

    /// What is to be measured again after a move; `from` says what is known.
    pub fn after_move(plan: &Plan, parts: &[Part], from: &str, folder: &str) -> Job {
        let mut introduction = vec![
            format!("After a move. Planned from {from}."),
            "Axis readings to drive to are those of before the move where no reading has settled it since: there \
             the tip stands beside its target by as much as the part moved. Come down only where all is free, and \
             measure from where it stands, or take another place near it."
                .to_owned(),
        ];
        introduction.extend(short(plan));
        let names: Vec<String> = parts.iter().map(|p| p.name()).collect();
        Job {
            title: format!("After a move: {}", names.join(", ")),
            introduction,
            moved: parts.to_vec(),
            folder: folder.to_owned(),
        }
    }

    /// The introduction, and what follows from the parts that moved.
    pub(super) fn introduction_of(&self, cell: &Cell) -> Vec<String> {
        let mut list = self.introduction.clone();
        if !self.moved.is_empty() {
            let parts: Vec<String> = self.moved.iter().map(|p| p.words(cell)).collect();
            list.push(format!(
                "Moved, or set anew: {}. What was measured of it before no longer counts; measured again \
                 are the steps of this sheet.",
                parts.join("; ")
            ));
        }
        for part in &self.moved {
            let Part::Joint(joint) = part else { continue };
            let later: Vec<String> = then_again(cell, *joint)
                .into_iter()
                .map(|j| joint_words(cell, j))
                .collect();
            let own = joint_words(cell, *joint);
            list.push(match later.is_empty() {
                true => format!("No other joint is set after {own}."),
                false => format!(
                    "After {own} these are set again, in this order: {}.",
                    later.join(", ")
                ),
            });
        }
        if cell.plate.in_inches {
            list.push(
                "Lengths to write down are in mm, as the columns say (1 in = 25.4 mm). If you read inches \
                 throughout, write \"in\" behind each, and name the column _in instead of _mm in the file; \
                 never both in one file."
                    .to_owned(),
            );
        }
        list
    }
}

/// Where the readings of a plan do not bring what is asked for, it is said.
fn short(plan: &Plan) -> Option<String> {
    if plan.ended == Ended::NoPoint {
        return Some(
            "No point that the arm can reach stands in points.csv or taught.csv, so these readings aim \
             at none: they settle what [solve] names. How sure the tip will be at your points is not \
             known."
                .to_owned(),
        );
    }
    let why = match plan.ended {
        Ended::Most => "not with so few of them (--most)".to_owned(),
        _ => "not by any readings that could be proposed; see notchpin plan".to_owned(),
    };
    let goal = plan.goal_mm?;
    (!plan.reached()).then(|| {
        format!("After these readings the tip will not be within the {goal} mm that [accept] asks for: {why}.")
    })
}
