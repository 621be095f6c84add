//! A value that is held at the drawing and is wrong there: then good readings contradict each other.

use crate::bench::Bench;
use crate::causes::solved::Solved;
use crate::causes::solved::Start;
use crate::causes::solved::all;
use crate::causes::solved::solve;
use crate::causes::whole::agrees;
use crate::parameters::Parameter;
use crate::parameters::Unknowns;

/// What stands or is mounted together and is wrong together.
const TOGETHER: [&[&str]; 7] = [
    &["turntable.x", "turntable.y"],
    &["turntable.x", "turntable.y", "turntable.z"],
    &["turntable.tilt_x", "turntable.tilt_y"],
    &["track.x", "track.y"],
    &["track.x", "track.y", "track.yaw"],
    &["mount.x", "mount.y"],
    &["tool.x", "tool.y"],
];
/// Of as many parameters, answers this much worse than the best are not told.
const TELLS: f64 = 12.0;
/// At most so many answers.
const MOST: usize = 3;

/// Parameters that would have to be solved for too, so that all readings agree.
#[derive(Debug, Clone, PartialEq)]
pub struct Unsolved {
    /// Their names.
    pub parameters: Vec<String>,
    /// How far off the drawing they come out, mm or rad (per unit for scales).
    pub off: Vec<f64>,
    /// S then.
    pub chi2: f64,
}

/// Frees what the drawing holds, one by one and in groups, and tells with what all readings agree: the fewest
/// parameters first.
pub fn unsolved(bench: &Bench, unknowns: &Unknowns, plain: &Solved) -> Vec<Unsolved> {
    let held: Vec<(String, Parameter)> = Parameter::all(&bench.cell)
        .into_iter()
        .filter(|(_, p)| !unknowns.list.iter().any(|(q, _)| q == p))
        .collect();
    let mut groups: Vec<Vec<&(String, Parameter)>> = held.iter().map(|h| vec![h]).collect();
    let mut together = |names: &mut dyn Iterator<Item = String>| {
        let group: Vec<&(String, Parameter)> = names
            .filter_map(|name| held.iter().find(|(n, _)| *n == name))
            .collect();
        if group.len() > 1 {
            groups.push(group);
        }
    };
    for names in TOGETHER {
        together(&mut names.iter().map(|n| (*n).to_owned()));
    }
    let joints = 1..=bench.cell.joints.len();
    together(&mut joints.map(|j| format!("arm.j{j}.zero")));
    for mark in &bench.cell.marks {
        together(
            &mut ["x", "y", "z"]
                .iter()
                .map(|a| format!("marks.{}.{a}", mark.name)),
        );
    }
    let mut found: Vec<Unsolved> = groups
        .into_iter()
        .filter_map(|group| with(bench, unknowns, plain, &group))
        .collect();
    found.sort_by(|a, b| {
        let by_number = a.parameters.len().cmp(&b.parameters.len());
        by_number.then(a.chi2.total_cmp(&b.chi2))
    });
    if let Some(first) = found.first() {
        let (number, chi2) = (first.parameters.len(), first.chi2);
        found.retain(|u| u.parameters.len() == number && u.chi2 < chi2 + TELLS);
    }
    found.truncate(MOST);
    found
}

fn with(
    bench: &Bench,
    unknowns: &Unknowns,
    plain: &Solved,
    group: &[&(String, Parameter)],
) -> Option<Unsolved> {
    let nominal = &bench.cell.nominal;
    let mut list = unknowns.list.clone();
    let mut start = plain.minimum.x.clone();
    for (_, parameter) in group {
        list.push((*parameter, None));
        start.push(parameter.get(nominal));
    }
    let more = Unknowns::new(list);
    let solve_from = |start| solve(nominal, &more, &all(bench), plain.used.clone(), start);
    let rough = solve_from(Start::Roughly(&start))?;
    let solved = solve_from(Start::Near(&rough.minimum.x))?;
    agrees(&solved).then(|| Unsolved {
        parameters: group.iter().map(|(name, _)| name.clone()).collect(),
        off: group
            .iter()
            .enumerate()
            .map(|(k, (_, p))| solved.minimum.x[unknowns.len() + k] - p.get(nominal))
            .collect(),
        chi2: solved.minimum.chi2,
    })
}
