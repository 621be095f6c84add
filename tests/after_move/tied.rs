//! A tied re-solve against one batch adjustment of all old and new readings together, written here by
//! itself: the moved parameters stand in it twice, once before and once after.

use nalgebra::DMatrix;
use nalgebra::DVector;

use notchpin::bench::Bench;
use notchpin::cell::Geometry;
use notchpin::moves::Tied;
use notchpin::parameters::Parameter;
use notchpin::parameters::Unknowns;
use notchpin::parts::Part;
use notchpin::registration::Outcome;
use notchpin::registration::SetAside;
use notchpin::registration::register_with;

use crate::made::Draw;
use crate::made::Registered;
use crate::made::registered;

/// One epoch: readings, and where each unknown of its geometry stands in the long vector.
struct EpochRows<'a> {
    bench: &'a Bench,
    base: Geometry,
    unknowns: Unknowns,
    places: Vec<usize>,
}

impl EpochRows<'_> {
    fn add(&self, x: &DVector<f64>, r: &mut Vec<f64>, j: &mut Vec<DVector<f64>>) {
        let mut geometry = self.base.clone();
        let own: Vec<f64> = self.places.iter().map(|k| x[*k]).collect();
        self.unknowns.write(&own, &mut geometry);
        let mut by = vec![[0.0; 3]; own.len()];
        for taken in self.bench.taken.iter().filter(|t| t.used()) {
            by.fill([0.0; 3]);
            let found = taken
                .reading
                .evaluate(&geometry, &self.unknowns, Some(&mut by[..]));
            for k in 0..found.count {
                r.push(found.value[k] / taken.u);
                let mut row = DVector::zeros(x.len());
                for (d, place) in by.iter().zip(&self.places) {
                    row[*place] = d[k] / taken.u;
                }
                j.push(row);
            }
        }
    }
}

/// Values and covariance of the batch, for the unknowns of the tied solution in its order.
fn batch(
    cell: &Registered,
    new: &Bench,
    tied: &Tied,
    moved: &[Parameter],
) -> (Vec<f64>, DMatrix<f64>) {
    let old_list = &cell.read.unknowns.list;
    let n = tied.unknowns.len();
    // New values first, in the order of the tied solution; then the old values of what moved.
    let mut old_places = Vec::new();
    let mut extra = 0;
    for (p, _) in old_list {
        let at = tied.unknowns.list.iter().position(|(q, _)| q == p).unwrap();
        if moved.contains(p) {
            old_places.push(n + extra);
            extra += 1;
        } else {
            old_places.push(at);
        }
    }
    let bench = cell.bench();
    let epochs = [
        EpochRows {
            bench,
            base: bench.cell.nominal.clone(),
            unknowns: cell.read.unknowns.clone(),
            places: old_places.clone(),
        },
        EpochRows {
            bench: new,
            base: cell.force.geometry.clone(),
            unknowns: Unknowns::new(tied.unknowns.list.clone()),
            places: (0..n).collect(),
        },
    ];
    let mut x = DVector::zeros(n + extra);
    let start = tied.unknowns.read(&cell.force.geometry);
    for (k, v) in start.iter().enumerate() {
        x[k] = *v;
    }
    for (value, place) in cell
        .force
        .unknowns
        .read(&cell.force.geometry)
        .iter()
        .zip(&old_places)
    {
        x[*place] = *value;
    }
    let mut covariance = DMatrix::zeros(n, n);
    for _ in 0..30 {
        let (mut r, mut j) = (Vec::new(), Vec::new());
        for epoch in &epochs {
            epoch.add(&x, &mut r, &mut j);
        }
        let mut tolerance = |place: usize, nominal: f64, t: f64, x: &DVector<f64>| {
            r.push((x[place] - nominal) / t);
            let mut row = DVector::zeros(x.len());
            row[place] = 1.0 / t;
            j.push(row);
        };
        for ((p, t), place) in old_list.iter().zip(&old_places) {
            if let Some(t) = t {
                tolerance(*place, p.get(&bench.cell.nominal), *t, &x);
            }
        }
        for (k, (p, t)) in tied.unknowns.list.iter().enumerate() {
            if let Some(t) = t {
                tolerance(k, p.get(&bench.cell.nominal), *t, &x);
            }
        }
        let jacobian = DMatrix::from_fn(r.len(), x.len(), |i, k| j[i][k]);
        // Columns of one size, so that the factorisation is well scaled.
        let scale: Vec<f64> = (0..x.len())
            .map(|k| 1.0 / jacobian.column(k).norm())
            .collect();
        let scaled = DMatrix::from_fn(r.len(), x.len(), |i, k| jacobian[(i, k)] * scale[k]);
        let qr = scaled.qr();
        let mut right = DVector::from_vec(r.iter().map(|v| -v).collect());
        qr.q_tr_mul(&mut right);
        let upper = qr.r();
        let step = upper
            .solve_upper_triangular(&right.rows(0, x.len()).into_owned())
            .unwrap();
        for k in 0..x.len() {
            x[k] += step[k] * scale[k];
        }
        let inverse = upper
            .solve_upper_triangular(&DMatrix::identity(x.len(), x.len()))
            .unwrap();
        let whole = &inverse * inverse.transpose();
        covariance = DMatrix::from_fn(n, n, |i, k| whole[(i, k)] * scale[i] * scale[k]);
        if step.amax() < 1e-10 {
            break;
        }
    }
    ((0..n).map(|k| x[k]).collect(), covariance)
}

/// The tied solution of a move by a hole and a little, from a dozen readings.
fn agree(name: &str, parts: &[Part], by: &[(&str, f64)], seed: u64) {
    let cell = registered(name);
    let mut draw = Draw::seeded(seed);
    let truth = cell.moved(&cell.truth(&mut draw), by);
    let possible = cell.possible(&truth);
    let mut chosen = Vec::new();
    for (kind, many) in [("holes.csv", 6), ("notch.csv", 4), ("touch.csv", 8)] {
        let of_kind: Vec<_> = possible.iter().filter(|p| p.kind == kind).collect();
        for _ in 0..many {
            if !of_kind.is_empty() {
                chosen.push(of_kind[draw.0.usize(..of_kind.len())]);
            }
        }
    }
    let new = cell.taken(&chosen, &mut draw);
    let tied = Tied::parts(&new, &cell.force, parts).unwrap();
    let registration = register_with(&tied.bench, &tied.unknowns, SetAside::Nothing);
    let Outcome::Determined(found) = &registration.outcome else {
        panic!("{name} {by:?}: {:?}", registration.outcome);
    };
    let moved: Vec<Parameter> = tied
        .freed
        .iter()
        .flatten()
        .map(|(n, _)| cell.parameter(n))
        .collect();
    // Residuals of the new readings and tolerances that hold again, ties for each unknown known before that
    // did not move, less the unknowns.
    let known = cell.read.unknowns.len();
    let freed_known = moved
        .iter()
        .filter(|m| cell.read.unknowns.list.iter().any(|(p, _)| p == *m));
    let ties = known - freed_known.count();
    let residuals: usize = new.taken.iter().map(|t| t.reading.components()).sum();
    let dof = residuals + tied.by_tolerance.len() + ties - tied.unknowns.len();
    assert_eq!(found.assessment.dof, dof, "{name} {by:?}");
    let (x, covariance) = batch(&cell, &new, &tied, &moved);
    let mine = tied.unknowns.read(&found.geometry);
    for (k, name) in tied.names.iter().enumerate() {
        let u = covariance[(k, k)].sqrt();
        let off = (mine[k] - x[k]) / u;
        // What is left is the curvature of the old readings over their own uncertainty.
        assert!(
            off.abs() < 0.02,
            "{name}: {} against {} ± {u}: {off} u",
            mine[k],
            x[k]
        );
        let ratio = found.assessment.found[k].u / u;
        assert!(
            (ratio - 1.0).abs() < 0.01,
            "{name}: u {ratio} of that of the batch"
        );
    }
}

#[test]
fn a_tied_track_agrees_with_all_readings_solved_together() {
    let by = [("track.x", 50.7), ("track.y", -1.1), ("track.yaw", 0.24)];
    agree("glazing-bench", &[Part::Track], &by, 11);
    agree(
        "inch-rows",
        &[Part::Track],
        &[("track.x", -1.0), ("track.y", 26.0)],
        12,
    );
}

#[test]
fn tied_joints_tool_and_index_agree_too() {
    agree(
        "glazing-bench",
        &[Part::Joint(1)],
        &[("arm.j2.zero", 1.3)],
        21,
    );
    agree(
        "glazing-bench",
        &[Part::Tool],
        &[("tool.x", 2.0), ("tool.z", -1.5)],
        22,
    );
    agree(
        "glazing-bench",
        &[Part::Index],
        &[("turntable.index", 4.2)],
        23,
    );
    agree(
        "six-joint",
        &[Part::Joint(2), Part::Index],
        &[("arm.j3.zero", -0.8), ("turntable.index", 3.0)],
        24,
    );
}

/// With nothing freed the tied solution is that of old and new readings together: the same geometry, and
/// a covariance that is never larger than before.
#[test]
fn with_nothing_moved_it_is_the_solution_of_all_readings() {
    let cell = registered("glazing-bench");
    let mut draw = Draw::seeded(31);
    let truth = cell.truth(&mut draw);
    let possible = cell.possible(&truth);
    let chosen: Vec<_> = (0..12)
        .map(|_| &possible[draw.0.usize(..possible.len())])
        .collect();
    let new = cell.taken(&chosen, &mut draw);
    let tied = notchpin::moves::tied(&new, &cell.force, &[], &[]).unwrap();
    let registration = register_with(&tied.bench, &tied.unknowns, SetAside::Nothing);
    let Outcome::Determined(found) = &registration.outcome else {
        panic!("nothing is left open");
    };
    let mut both = cell.bench().clone();
    both.taken.extend(new.taken.iter().cloned());
    let together = register_with(&both, &cell.read.unknowns, SetAside::Nothing);
    let Outcome::Determined(together) = &together.outcome else {
        panic!("nothing is left open");
    };
    let (mine, theirs) = (
        cell.read.unknowns.read(&found.geometry),
        cell.read.unknowns.read(&together.geometry),
    );
    for (k, unknown) in cell.bench().cell.solve.iter().enumerate() {
        let u = together.assessment.found[k].u;
        let off = (mine[k] - theirs[k]) / u;
        assert!(off.abs() < 0.02, "{}: {off} u", unknown.name);
        let ratio = found.assessment.found[k].u / u;
        assert!((ratio - 1.0).abs() < 0.01, "{}: {ratio}", unknown.name);
        assert!(found.assessment.found[k].u <= cell.force.covariance[(k, k)].sqrt() * (1.0 + 1e-9));
    }
}
