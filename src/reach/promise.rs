//! What the closed form alone says of a target at a station, before anything is polished.

use crate::reach::Solver;
use crate::reach::Wanted;
use crate::reach::limits::LIMIT_SLACK_RAD;
use crate::reach::limits::margin_of;
use crate::reach::limits::settle;
use crate::reach::nearness::NEARLY_RAD;
use crate::reach::pattern::Seed;

/// A posture in which 1 mm of the tip costs `cost` (rad) counts as so much margin, rad: 10 degrees
/// where it costs 1 degree, 40 where it costs a quarter. Our own scale: it puts degrees to a limit and
/// nearness to a singular posture on one rule.
pub fn room_of_cost(cost: f64) -> f64 {
    const ONE_DEGREE: f64 = std::f64::consts::PI / 180.0;
    10.0 * ONE_DEGREE * ONE_DEGREE / cost.max(1e-9)
}

impl Solver<'_> {
    /// What the closed form alone promises of a target at a station: the largest room among its
    /// postures within the limits, rad. Room is the distance to the nearest joint limit, of a nearly
    /// singular posture at most what [`room_of_cost`] says. `None` where there is no such posture, or
    /// no closed form.
    pub fn promise(&self, wanted: &Wanted, travel_mm: f64, turn_rad: f64) -> Option<f64> {
        let plan = self.plan(wanted).ok()?;
        let pattern = self.pattern.as_ref()?;
        let task = self.task(wanted, &plan, turn_rad);
        let mut seeds = [Seed::default(); 8];
        let count = pattern.seeds(&self.ask(&plan, &task, travel_mm), &mut seeds);
        let link = pattern.shorter_mm();
        let rooms = seeds[..count].iter().filter(|s| s.slack >= 0.0).map(|s| {
            let mut q = s.values;
            settle(&self.cell.joints, &mut q);
            // Two links bent by γ: 1 mm along both costs about 1 / (shorter link · sin γ).
            let sine = (s.slack * (2.0 - s.slack)).max(0.0).sqrt();
            let cost = 1.0 / (link * sine).max(1e-6);
            let margin = margin_of(&self.cell.joints, &q);
            match cost > NEARLY_RAD {
                true => margin.min(room_of_cost(cost)),
                false => margin,
            }
        });
        rooms.filter(|m| *m >= -LIMIT_SLACK_RAD).reduce(f64::max)
    }

    /// Whether [`Self::promise`] says of any target what it is worth.
    pub fn promises(&self) -> bool {
        self.pattern.is_some()
    }

    /// The closed form alone, not polished: the largest margin among its postures that are in
    /// reach and within the limits. `None` where there is none, or no closed form.
    pub fn seeds_only(&self, wanted: &Wanted, travel_mm: f64, turn_rad: f64) -> Option<f64> {
        let plan = self.plan(wanted).ok()?;
        let pattern = self.pattern.as_ref()?;
        let task = self.task(wanted, &plan, turn_rad);
        let mut seeds = [Seed::default(); 8];
        let count = pattern.seeds(&self.ask(&plan, &task, travel_mm), &mut seeds);
        seeds[..count]
            .iter()
            .filter(|s| s.slack >= 0.0)
            .map(|s| {
                let mut q = s.values;
                settle(&self.cell.joints, &mut q);
                margin_of(&self.cell.joints, &q)
            })
            .filter(|m| *m >= -LIMIT_SLACK_RAD)
            .reduce(f64::max)
    }
}
