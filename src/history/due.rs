//! When a registration is due again.

use nalgebra::DMatrix;
use nalgebra::Vector3;
use serde::Serialize;

use crate::bench::Bench;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::fit::chi2::radius_95;
use crate::fit::spread::Spread;
use crate::fit::spread::carried;
use crate::history::days::MONTH;
use crate::history::days::day_of;
use crate::history::days::text_of;
use crate::history::series::Record;
use crate::history::series::Series;
use crate::history::series::is_play;
use crate::parameters::Parameter;
use crate::records::in_force;
use crate::registration::PointCheck;
use crate::registration::points_at;

/// Nothing is predicted further ahead than ten years.
const FURTHEST_DAYS: i64 = 3653;

/// What decides.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Rule {
    /// `[accept] due_days` after the newest record.
    Days,
    /// The tip's predicted drift and how surely it is known reach `[accept] tip_mm`.
    Drift,
    /// There is none.
    None,
}

/// When it is due.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Due {
    /// The day; null where no rule says one.
    pub day: Option<String>,
    /// What decides.
    pub rule: Rule,
    /// What `[accept] due_days` says.
    pub by_days: Option<String>,
    /// What the drift says.
    pub by_drift: Option<String>,
    /// The point where the drift reaches the tolerance first.
    pub point: Option<String>,
    /// How far the tip will have drifted there on that day, mm.
    pub drift_mm: Option<f64>,
    /// How surely the tip will be known there on that day, 95 %, mm.
    pub u95_mm: Option<f64>,
    /// `[accept] tip_mm`.
    pub tip_mm: Option<f64>,
    /// Why the drift of the tip could not be predicted.
    pub not_predicted: Option<String>,
    /// Days from today; negative where it is past.
    pub days_left: Option<i64>,
}

impl Due {
    /// Whether the day is past.
    pub fn past(&self) -> bool {
        self.days_left.is_some_and(|left| left < 0)
    }
}

/// The two rules, of the newest of the records. `today` in days from 1970-01-01.
pub fn due(bench: &Bench, records: &[Record<'_>], series: &[Series], today: i64) -> Due {
    let accept = &bench.cell.accept;
    let mut due = Due {
        day: None,
        rule: Rule::None,
        by_days: None,
        by_drift: None,
        point: None,
        drift_mm: None,
        u95_mm: None,
        tip_mm: accept.tip_mm,
        not_predicted: None,
        days_left: None,
    };
    let newest = records.last();
    let Some(start) = newest.and_then(|r| day_of(r.body.date())) else {
        due.not_predicted =
            Some("there is no newest record with a day that can be read".to_owned());
        return due;
    };
    let mut days = Vec::new();
    if let Some(limit) = accept.due_days {
        // The parser lets through any number above 0; a calendar has an end.
        let day = start + (limit.min(1e6).floor() as i64);
        due.by_days = Some(text_of(day));
        days.push((day, Rule::Days));
    }
    match reached(bench, records, series) {
        Ok(Some(reached)) => {
            let day = start + reached.after_days;
            due.by_drift = Some(text_of(day));
            due.point = Some(reached.point);
            due.drift_mm = Some(reached.drift_mm);
            due.u95_mm = Some(reached.u95_mm);
            days.push((day, Rule::Drift));
        }
        Ok(None) => {}
        Err(why) => due.not_predicted = Some(why),
    }
    if let Some((day, rule)) = days.into_iter().min_by_key(|(day, _)| *day) {
        due.day = Some(text_of(day));
        due.rule = rule;
        due.days_left = Some(day - today);
    }
    due
}

impl Drifting {
    /// The drift so many days after the newest record, mm.
    fn by(&self, days: i64) -> f64 {
        (self.before_mm + self.mm * days as f64).norm()
    }
}

/// Where and when the tolerance is reached.
struct Reached {
    after_days: i64,
    point: String,
    drift_mm: f64,
    u95_mm: f64,
}

/// The tip's drift at one point.
struct Drifting {
    /// Per day.
    mm: Vector3<f64>,
    /// What had come together on the day of the newest record, by values that it only held.
    before_mm: Vector3<f64>,
    /// The longest of these times, days.
    held_days: f64,
    /// 95 % radius of that, mm per day.
    u95_mm: f64,
}

/// Whole days from the newest record to the first one on which the tip's predicted drift plus its 95 % radius
/// are more than the tolerance at any point. The radius is that of the registration, with the play that will
/// have grown, plus that of the drift: two radii are added as they are, whatever the errors have in common.
fn reached(
    bench: &Bench,
    records: &[Record<'_>],
    series: &[Series],
) -> Result<Option<Reached>, String> {
    let cell = &bench.cell;
    let (Some(limit), Some(newest)) = (cell.accept.tip_mm, records.last()) else {
        return Ok(None);
    };
    let real: Vec<&Series> = series.iter().filter(|s| is_real(s)).collect();
    if real.is_empty() {
        return Ok(None);
    }
    let force = in_force(cell, newest.body).map_err(|e| e.to_string())?;
    let points = points_at(bench, &force.geometry, &force.unknowns, &force.covariance);
    let spread = Spread::new(&force.geometry, &force.unknowns, &force.covariance);
    let slopes = Slopes::new(cell, records, newest, &real);
    let mut first: Option<Reached> = None;
    for point in &points {
        let Some(stand) = &point.stand else {
            continue;
        };
        let by_unknown = spread.by_unknown(stand, point.frame);
        let drifting = slopes.at(&by_unknown);
        let known = |days: i64| -> f64 {
            let days = days as f64;
            let worn = worn(cell, &force.geometry, &real, days);
            let spread = Spread::new(&worn, &force.unknowns, &force.covariance);
            spread.at(stand, point.frame).u95_mm + (days + drifting.held_days) * drifting.u95_mm
        };
        let Some(after_days) = first_above(limit, |days| drifting.by(days) + known(days)) else {
            continue;
        };
        if first.as_ref().is_none_or(|f| after_days < f.after_days) {
            first = Some(told(point, after_days, &drifting, known(after_days)));
        }
    }
    Ok(first)
}

fn is_real(series: &Series) -> bool {
    series.drift.as_ref().is_some_and(|d| d.real)
}

fn told(point: &PointCheck, after_days: i64, drifting: &Drifting, u95_mm: f64) -> Reached {
    Reached {
        after_days,
        point: point.name.clone(),
        drift_mm: drifting.by(after_days),
        u95_mm,
    }
}

/// The first whole day on which something that only grows is above a limit, if within ten years.
fn first_above(limit: f64, of: impl Fn(i64) -> f64) -> Option<i64> {
    if of(0) > limit {
        return Some(0);
    }
    let (mut below, mut above) = (0, FURTHEST_DAYS);
    // What is not a number counts as above: a person looks.
    if of(above) <= limit {
        return None;
    }
    while above - below > 1 {
        let middle = (below + above) / 2;
        if of(middle) <= limit {
            below = middle;
        } else {
            above = middle;
        }
    }
    Some(above)
}

/// The geometry with the play that will have grown, on the safe side: with the growth's 95 % uncertainty.
fn worn(cell: &Cell, geometry: &Geometry, real: &[&Series], days: f64) -> Geometry {
    let mut worn = geometry.clone();
    for series in real.iter().filter(|s| is_play(&s.name)) {
        if let (Some(p), Some(drift)) = (Parameter::named(cell, &series.name), &series.drift) {
            let growth = (drift.per_month + drift.u95) / MONTH * days * p.unit().in_code();
            let now = p.get(geometry);
            p.set(&mut worn, now.abs() + growth);
        }
    }
    worn
}

/// Slopes of what drifts, mm or rad per day, with their covariance.
struct Slopes {
    /// Place among the unknowns, slope, and for how many days the value was only held when the newest record
    /// was made: it has drifted so long already.
    of: Vec<(usize, f64, f64)>,
    covariance: DMatrix<f64>,
}

impl Slopes {
    /// `Cov(b_i, b_j) = s_i s_j Σ_k a_ik a_jk C_k(i, j)`: the slope is `Σ_k a_ik · value_ik` over the records k,
    /// whose values have the covariance `C_k` within a record and nothing in common between records; s is what
    /// the values scatter more than stated.
    fn new(cell: &Cell, records: &[Record<'_>], newest: &Record<'_>, real: &[&Series]) -> Slopes {
        let place = |record: &Record<'_>, name: &str| {
            let parameters = &record.body.registration.parameters;
            parameters.iter().position(|p| p.name == name)
        };
        let mut of = Vec::new();
        let mut lines = Vec::new();
        for series in real.iter().filter(|s| !is_play(&s.name)) {
            let parameter = Parameter::named(cell, &series.name);
            let at = place(newest, &series.name);
            if let (Some(p), Some(at), Some(drift)) = (parameter, at, &series.drift) {
                let unit = p.unit().in_code();
                let last = drift.records.iter().max();
                let last = last.and_then(|n| records.iter().find(|r| r.number == *n));
                let day = |r: &Record<'_>| day_of(r.body.date());
                let held = last
                    .and_then(day)
                    .zip(day(newest))
                    .map_or(0, |(a, b)| (b - a).max(0));
                of.push((at, drift.per_month / MONTH * unit, held as f64));
                lines.push((series.name.as_str(), drift, unit));
            }
        }
        let n = lines.len();
        let mut covariance = DMatrix::zeros(n, n);
        for record in records {
            let number = record.number;
            let rows = &record.body.registration.covariance;
            let shares: Vec<Option<(usize, f64)>> = lines
                .iter()
                .map(|(name, drift, unit)| {
                    let k = drift.records.iter().position(|r| *r == number)?;
                    Some((place(record, name)?, drift.shares[k] * drift.scatter * unit))
                })
                .collect();
            for (i, a) in shares.iter().enumerate() {
                for (j, b) in shares.iter().enumerate() {
                    if let (Some((at_i, a)), Some((at_j, b))) = (a, b) {
                        let c = rows.get(*at_i).and_then(|row| row.get(*at_j));
                        covariance[(i, j)] += a * b * c.copied().unwrap_or(f64::NAN);
                    }
                }
            }
        }
        Slopes { of, covariance }
    }

    fn at(&self, by_unknown: &[Vector3<f64>]) -> Drifting {
        let g: Vec<Vector3<f64>> = self.of.iter().map(|(at, _, _)| by_unknown[*at]).collect();
        let each = || self.of.iter().zip(&g);
        Drifting {
            mm: each().map(|((_, slope, _), g)| g * *slope).sum(),
            before_mm: each().map(|((_, slope, held), g)| g * *slope * *held).sum(),
            u95_mm: radius_95(&carried(&g, &self.covariance)),
            held_days: self.of.iter().map(|(_, _, held)| *held).fold(0.0, f64::max),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_day_above_a_limit() {
        // 0.5 + 0.01 a day is above 1 from the 51st day on: 0.5 + 0.5 is not.
        assert_eq!(first_above(1.0, |d| 0.5 + d as f64 / 128.0), Some(65));
        assert_eq!(first_above(1.0, |_| 1.5), Some(0));
        assert_eq!(first_above(1.0, |_| 0.5), None);
        assert_eq!(first_above(1.0, |d| d as f64 / 3653.0), None);
        assert_eq!(
            first_above(1.0, |d| if d > 9 { f64::NAN } else { 0.0 }),
            Some(10)
        );
    }
}
