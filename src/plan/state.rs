//! What is known of the unknowns while readings are planned: a covariance that each reading shrinks.

use nalgebra::DMatrix;
use nalgebra::Matrix3;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::fit::chi2::radius_95;
use crate::fit::spread::Spread;
use crate::parameters::Unknowns;
use crate::proposals::scaling;
use crate::readings::Taken;
use crate::registration::PointCheck;

/// Before any reading a free unknown is taken as known to this many of its scaling units (1 m, 1000
/// degrees): so little that any reading outweighs it.
const FREE: f64 = 1e3;

/// A point of points.csv or taught.csv with what moves the tip there.
#[derive(Debug, Clone)]
pub(super) struct Target {
    /// Its place in the list of points.
    pub point: usize,
    /// Derivatives of the tip by the unknowns in units of their scale, 3 x n.
    pub g: DMatrix<f64>,
    /// What no reading takes away, mm².
    pub play_mm2: Matrix3<f64>,
}

/// The state of a plan. Unknowns are in units of their scale, so that the figures are of one size.
#[derive(Debug, Clone)]
pub(super) struct State {
    /// Scale of each unknown, mm or rad.
    pub scale: Vec<f64>,
    /// Whether an unknown has a tolerance.
    pub tied: Vec<bool>,
    /// Covariance.
    pub c: DMatrix<f64>,
    /// Derivatives of the residuals of all readings, taken and planned, over their u.
    pub rows: Vec<DMatrix<f64>>,
    /// The points.
    pub targets: Vec<Target>,
}

/// The effect of one reading: `C' = C − A Aᵀ`.
#[derive(Debug, Clone)]
pub(super) struct Update {
    /// n x components.
    pub a: DMatrix<f64>,
}

impl State {
    /// What the readings that take part and the tolerances say, from an orthogonal factorisation.
    pub fn new(bench: &Bench, unknowns: &Unknowns, geometry: &Geometry) -> Option<State> {
        let n = unknowns.len();
        let scale = scaling(bench, unknowns);
        let mut rows: Vec<DMatrix<f64>> = Vec::new();
        for taken in bench.taken.iter().filter(|t| t.used()) {
            rows.push(scaled(&derivatives(taken, geometry, unknowns)?, &scale));
        }
        let readings: usize = rows.iter().map(DMatrix::nrows).sum();
        let tie = unknowns.tie();
        let tied_rows = tie.map_or(0, |t| t.len());
        let mut stacked = DMatrix::zeros(readings + n + tied_rows, n);
        let mut at = 0;
        for row in &rows {
            stacked.view_mut((at, 0), row.shape()).copy_from(row);
            at += row.nrows();
        }
        for (j, (_, tolerance)) in unknowns.list.iter().enumerate() {
            // A tolerance is the scale of its unknown.
            stacked[(readings + j, j)] = if tolerance.is_some() { 1.0 } else { 1.0 / FREE };
        }
        if let Some(tie) = tie {
            let known = tie.at.len();
            let rows = DMatrix::from_fn(tied_rows, known, |i, j| tie.rows[(i, j)] * scale[j]);
            stacked
                .view_mut((readings + n, 0), rows.shape())
                .copy_from(&rows);
        }
        let r = stacked.qr().r();
        let inverse = r.solve_upper_triangular(&DMatrix::identity(n, n))?;
        let c = &inverse * inverse.transpose();
        c.iter().all(|v| v.is_finite()).then_some(State {
            scale,
            tied: (0..n).map(|j| !unknowns.free(j)).collect(),
            c,
            rows,
            targets: Vec::new(),
        })
    }

    /// The covariance in mm and rad.
    pub fn covariance(&self) -> DMatrix<f64> {
        DMatrix::from_fn(self.scale.len(), self.scale.len(), |i, j| {
            self.c[(i, j)] * self.scale[i] * self.scale[j]
        })
    }

    /// Notes the points at which the tip is to be sure.
    pub fn aim(&mut self, geometry: &Geometry, unknowns: &Unknowns, points: &[PointCheck]) {
        let covariance = self.covariance();
        let spread = Spread::new(geometry, unknowns, &covariance);
        for (k, point) in points.iter().enumerate() {
            let Some(stand) = point.stand else { continue };
            let by = spread.by_unknown(&stand, point.frame);
            self.targets.push(Target {
                point: k,
                g: DMatrix::from_fn(3, self.scale.len(), |i, j| by[j][i] * self.scale[j]),
                play_mm2: spread.play_mm2(&stand, point.frame),
            });
        }
    }

    /// Derivatives of a reading in units of the scale.
    pub fn scaled(&self, j: &DMatrix<f64>) -> DMatrix<f64> {
        scaled(j, &self.scale)
    }

    /// What a reading would do: `A = C Jᵀ L⁻ᵀ` with `L Lᵀ = I + J C Jᵀ`, a rank of as many as it has
    /// components.
    pub fn update(&self, j: &DMatrix<f64>) -> Option<Update> {
        let w = &self.c * j.transpose();
        let m = j.nrows();
        let q = DMatrix::identity(m, m) + j * &w;
        let l = q.cholesky()?.unpack();
        let a = l.solve_lower_triangular(&w.transpose())?.transpose();
        a.iter().all(|v| v.is_finite()).then_some(Update { a })
    }

    /// Takes a reading into the plan.
    pub fn add(&mut self, j: DMatrix<f64>, update: &Update) {
        self.c -= &update.a * update.a.transpose();
        self.c = (&self.c + self.c.transpose()) * 0.5;
        self.rows.push(j);
    }

    /// Covariance of the tip at a point, mm², less what an update takes away.
    pub fn tip(&self, target: &Target, update: Option<&Update>) -> Matrix3<f64> {
        let mut all = &target.g * &self.c * target.g.transpose();
        if let Some(update) = update {
            let b = &target.g * &update.a;
            all -= &b * b.transpose();
        }
        Matrix3::from_fn(|i, j| 0.5 * (all[(i, j)] + all[(j, i)])) + target.play_mm2
    }

    /// The 95 % radius at a point, mm.
    pub fn u95_mm(&self, target: &Target) -> f64 {
        radius_95(&self.tip(target, None))
    }

    /// Redundancies of the residuals of one reading of the plan.
    pub fn redundancies(&self, row: &DMatrix<f64>) -> Vec<f64> {
        let jc = row * &self.c;
        (0..row.nrows())
            .map(|i| 1.0 - jc.row(i).dot(&row.row(i)))
            .collect()
    }
}

fn scaled(j: &DMatrix<f64>, scale: &[f64]) -> DMatrix<f64> {
    DMatrix::from_fn(j.nrows(), j.ncols(), |i, k| j[(i, k)] * scale[k])
}

/// Derivatives of a reading's residuals over their u, mm and rad; `None` where not finite.
fn derivatives(taken: &Taken, geometry: &Geometry, unknowns: &Unknowns) -> Option<DMatrix<f64>> {
    let mut by = vec![[0.0; 3]; unknowns.len()];
    let found = taken
        .reading
        .evaluate(geometry, unknowns, Some(&mut by[..]));
    let j = DMatrix::from_fn(found.count, unknowns.len(), |k, col| by[col][k] / taken.u);
    j.iter().all(|v| v.is_finite()).then_some(j)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::resolve_unknowns;
    use crate::cell;
    use crate::diagnose::Problems;

    const CELL: &str = "format = 1\nname = \"t\"\n[plate]\npitch_mm = 50.0\ncolumns = 30\nrows = 16\n\
        [track]\nat_mm = [150.0, 100.0, 60.0]\nfeatures.foot = [-60.0, 85.0, 0.0]\n\
        [[arm.joint]]\naxis = [0, 0, 1]\nthrough_mm = [0, 0, 0]\nlimits_deg = [-170, 170]\n\
        [[arm.joint]]\naxis = [0, -1, 0]\nthrough_mm = [0, 0, 100]\nlimits_deg = [-90, 90]\n\
        [arm.flange]\nat_mm = [300, 0, 100]\nz = [1, 0, 0]\nx = [0, 0, -1]\n\
        [solve]\n\"track.x\" = \"free\"\n\"track.y\" = 4.0\n\"track.yaw\" = \"free\"\n\"arm.j1.zero\" = 1.0\n\
        \"arm.j2.zero\" = 1.0\n\"tool.z\" = 2.0\n";

    /// Readings of one kind or the other, in one order or the other.
    fn bench(touches: &[&str], holes: &[&str]) -> (Bench, Unknowns) {
        let mut problems = Problems::default();
        let cell = cell::parse("cell.toml", CELL, &mut problems).unwrap();
        let unknowns = resolve_unknowns(&cell, "cell.toml", &mut problems).unwrap();
        let mut bench = Bench::new(cell);
        let table = |header: &str, rows: &[&str]| format!("{header}\n{}\n", rows.join("\n"));
        let text = table("feature,along,count,gap_mm,track", holes);
        bench.read("holes.csv", "holes.csv", text.into_bytes(), &mut problems);
        let text = table("target,track,j1,j2,dz_mm", touches);
        bench.read("touch.csv", "touch.csv", text.into_bytes(), &mut problems);
        assert!(!problems.has_errors());
        (bench, unknowns)
    }

    /// Adding readings one by one by their rank gives what one factorisation of all of them gives.
    #[test]
    fn updates_by_rank_agree_with_a_factorisation_of_all_rows() {
        let touches = ["13:2,100,0,0,160", "8:5,100,60,10,200", "17:2,300,0,20,250"];
        let holes = [
            "foot,column,2,0,10",
            "foot,row,3,35,10",
            "foot,column,18,0,810",
            "foot,row,3,35,810",
        ];
        let (all, unknowns) = bench(&touches, &holes);
        let nominal = all.cell.nominal.clone();
        let whole = State::new(&all, &unknowns, &nominal).unwrap();
        let (some, _) = bench(&touches[..1], &holes[..1]);
        let mut state = State::new(&some, &unknowns, &nominal).unwrap();
        let later = all
            .taken
            .iter()
            .filter(|t| !some.taken.iter().any(|s| s.reading == t.reading));
        let mut added = 0;
        for taken in later {
            let j = scaled(
                &derivatives(taken, &nominal, &unknowns).unwrap(),
                &state.scale,
            );
            let update = state.update(&j).unwrap();
            state.add(j, &update);
            added += 1;
        }
        assert_eq!(added, 5);
        // A metre and a thousand degrees of prior over tenths of a millimetre: seven digits are lost at most.
        let off = (&state.c - &whole.c).amax();
        assert!(off < 1e-7 * whole.c.amax().max(1.0), "{off:e}");
        // Redundancies and what the prior holds add up: residuals less unknowns, the free prior counted.
        let sum: f64 = state.rows.iter().flat_map(|r| state.redundancies(r)).sum();
        let again: f64 = whole.rows.iter().flat_map(|r| whole.redundancies(r)).sum();
        assert!((sum - again).abs() < 1e-6, "{sum} {again}");
    }
}
