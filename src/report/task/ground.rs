//! From what was planned to the document of a task.

use crate::cell::Cell;
use crate::clearance::AxisValues;
use crate::clearance::Surroundings;
use crate::kinematics::joint_reading;
use crate::reach::Solver;
use crate::report::margins::clearance;
use crate::report::number::fixed;
use crate::report::task::HelpDocument;
use crate::report::task::PlaceWorth;
use crate::report::task::StepDocument;
use crate::report::task::WayDocument;
use crate::report::task::Worth;
use crate::report::task::reading;
use crate::tasks::Advice;
use crate::tasks::Along;
use crate::tasks::Held;
use crate::tasks::Part;
use crate::tasks::State;
use crate::tasks::Step;
use crate::tasks::Way;
use crate::tasks::WayState;
use crate::tasks::WhyNot;

/// What the document is made from, besides the steps.
pub struct Ground<'a> {
    /// The cell.
    pub cell: &'a Cell,
    /// The arm.
    pub solver: &'a Solver<'a>,
    /// What stands around.
    pub surroundings: &'a Surroundings<'a>,
}

impl Ground<'_> {
    /// Joint readings of values.
    pub fn readings(&self, at: &AxisValues) -> Vec<f64> {
        let joints = self.solver.geometry().joints.iter().zip(&at.joints_rad);
        joints.map(|(j, v)| joint_reading(j, *v).0).collect()
    }

    /// A step that is done.
    pub fn done(
        &self,
        number: usize,
        step: &Step,
        frame: &'static str,
        state: &State,
        worth: &Worth,
    ) -> StepDocument {
        let mut document = blank(number, step, frame);
        let tightest = worth.places.iter().min_by(|a, b| {
            let distance = |p: &PlaceWorth| p.limit.distance_rad;
            distance(a).total_cmp(&distance(b))
        });
        document.smallest_margin_at = tightest.map(|t| t.part.as_str());
        document.smallest_margin_joint = tightest.map(|t| format!("j{}", t.limit.joint + 1));
        document.scant = state.margin_rad < self.cell.accept.margin_rad;
        document.side_lean_deg = Some(state.solution.side_lean_rad.to_degrees());
        document.height_off_mm = Some(state.solution.height_off_mm);
        let at = |part: Part| worth.places.iter().find(|p| p.part == part);
        let margin = |part: Part| at(part).map(|p| p.limit.distance_rad.to_degrees());
        let u95 = |part: Part| at(part).and_then(|p| p.u95_mm);
        document.approach_margin_deg = margin(Part::Approach);
        document.depart_margin_deg = margin(Part::Depart);
        document.approach_u95_mm = u95(Part::Approach);
        document.depart_u95_mm = u95(Part::Depart);
        document.smallest_clearance_to = state.clearance.map(|c| clearance(self.surroundings, &c));
        document.possible = true;
        document.track = state.track;
        document.table = state.table;
        document.joints = Some(self.readings(&state.at));
        document.posture = Some(state.bearing.to_string());
        document.approach_joints = state.approach.as_ref().map(|a| self.readings(a));
        document.depart_joints = state.depart.as_ref().map(|a| self.readings(a));
        let moves = state.approach.is_some() || state.depart.is_some();
        document.stray_mm = moves.then_some(state.stray_mm);
        document.smallest_margin_deg = Some(state.margin_rad.to_degrees());
        document.smallest_clearance_mm = state.clearance.map(|c| c.clearance_mm);
        document.margins = Some(worth.margins.clone());
        document
    }

    /// A step that cannot be done.
    pub fn impossible(
        &self,
        number: usize,
        step: &Step,
        frame: &'static str,
        why: &WhyNot,
        advice: &[Advice],
    ) -> StepDocument {
        let mut document = blank(number, step, frame);
        document.why = Some(self.why(step, why));
        document.would_help = advice.iter().map(|a| self.help(a)).collect();
        document
    }

    /// A way.
    pub fn way(&self, way: &Way, track_move: f64, table_move: f64) -> WayDocument {
        let (state, near, share) = match &way.clearance {
            WayState::NotChecked => ("not checked", None, None),
            WayState::Clear(near) => ("clear", Some(near), None),
            WayState::Blocked(near, share) => ("blocked", Some(near), Some(*share)),
            WayState::Unproved(near, share) => ("unproved", Some(near), Some(*share)),
        };
        WayDocument {
            from_step: way.from + 1,
            to_step: way.to + 1,
            state,
            clearance_mm: near.map(|n| n.clearance_mm),
            near: near.map(|n| clearance(self.surroundings, n)),
            share,
            flips: way.flips,
            track_move,
            table_move,
            joint: format!("j{}", way.joint + 1),
            turn_deg: way.turn_rad.to_degrees(),
        }
    }

    fn why(&self, step: &Step, why: &WhyNot) -> String {
        let axes = |step: &Step| {
            let held = |axis: &str, held: Held| match held {
                Held::At(r) => Some(format!("{axis} {}", reading(r))),
                Held::Same => Some(format!("{axis} as at the step before")),
                Held::Free => None,
            };
            let held = [held("track", step.track), held("table", step.table)];
            let held: Vec<String> = held.into_iter().flatten().collect();
            match held.is_empty() {
                true => "any station that was tried".to_owned(),
                false => format!("where its row holds the axes ({})", held.join(", ")),
            }
        };
        let part = |part: &Part| match part {
            Part::At => "the point",
            Part::Approach => "the place before it (approach)",
            Part::Depart => "the place after it (depart)",
        };
        match why {
            WhyNot::OutsideTravel => {
                format!("track or table would stand outside its travel, {}", axes(step))
            }
            WhyNot::OutOfReach => {
                format!("no posture within the joint limits reaches it from {}", axes(step))
            }
            WhyNot::PartOutOfReach(p) => {
                format!("the point is reached, but not {}", part(p))
            }
            WhyNot::TooNear(p, near) => format!(
                "too near at {}: {}; {} mm are asked for",
                part(p),
                clearance(self.surroundings, near),
                fixed(self.cell.accept.clearance_mm, 1)
            ),
            WhyNot::NotTogether => {
                "it can be done, but not with track or table as at the step before, where it asks for that"
                    .to_owned()
            }
            WhyNot::Unproved(p) => {
                format!(
                    "the way between the point and {} cannot be proved clear",
                    part(p)
                )
            }
        }
    }

    fn help(&self, advice: &Advice) -> HelpDocument {
        let (change, value, sentence) = match advice {
            Advice::Track(r) => (
                "track",
                Some(*r),
                format!("with the track at {}", reading(*r)),
            ),
            Advice::Table(r, track) => (
                "table",
                Some(*r),
                match track {
                    Some(s) => {
                        format!("with the table at {} (track {})", fixed(*r, 3), reading(*s))
                    }
                    None => format!("with the table at {}", fixed(*r, 3)),
                },
            ),
            Advice::TrackAndTable(s, t) => (
                "track",
                Some(*s),
                format!(
                    "with the track at {} and the table at {}",
                    reading(*s),
                    reading(*t)
                ),
            ),
            Advice::Approach(mm, both) => (
                "approach",
                Some(*mm),
                match both {
                    true => format!("with approach and depart of {mm:.0} mm or less"),
                    false => format!("with an approach of {mm:.0} mm or less"),
                },
            ),
            Advice::Depart(mm) => (
                "depart",
                Some(*mm),
                format!("with a depart of {mm:.0} mm or less"),
            ),
            Advice::Elevation(rad) => (
                "elevation",
                Some(rad.to_degrees()),
                format!("with an elevation of {} deg", fixed(rad.to_degrees(), 0)),
            ),
            Advice::AzimuthFree => ("azimuth", None, "with its azimuth left free".to_owned()),
            Advice::RollFree => ("roll", None, "with its roll left free".to_owned()),
            Advice::OutOfTheWay(near, lacking) => (
                "obstacle",
                Some(*lacking),
                format!(
                    "perhaps with more room at {}: at least {} mm are lacking there",
                    self.surroundings.other_name(near.other),
                    fixed(*lacking, 1)
                ),
            ),
        };
        HelpDocument {
            change,
            value,
            sentence,
        }
    }
}

fn blank(number: usize, step: &Step, frame: &'static str) -> StepDocument {
    StepDocument {
        step: number,
        line: step.line,
        point: step.point.clone(),
        frame,
        possible: false,
        why: None,
        would_help: Vec::new(),
        track: None,
        table: None,
        joints: None,
        posture: None,
        approach_joints: None,
        depart_joints: None,
        approach_margin_deg: None,
        depart_margin_deg: None,
        approach_u95_mm: None,
        depart_u95_mm: None,
        smallest_margin_at: None,
        smallest_margin_joint: None,
        scant: false,
        side_lean_deg: None,
        height_off_mm: None,
        note: step.note.clone(),
        smallest_clearance_to: None,
        along: match step.along {
            Along::Tool => "tool",
            Along::Up => "up",
        },
        approach_mm: step.approach_mm,
        depart_mm: step.depart_mm,
        stray_mm: None,
        dwell_s: step.dwell_s,
        smallest_margin_deg: None,
        smallest_clearance_mm: None,
        margins: None,
    }
}
