//! The joint adjustment: one sum of squares over all readings and tolerances.
//!
//! S(x) = Σ (residual/u)² over the readings + Σ ((x_j − nominal_j)/t_j)² over the unknowns with a
//! tolerance, and what ties the unknowns to an earlier registration, if anything does. What is measured is known to the kinds of readings; what moves, to the parameters.

use crate::cell::Geometry;
use crate::fit::solve::Ending;
use crate::fit::solve::Factor;
use crate::fit::solve::Problem;
use crate::fit::solve::Solution;
use crate::fit::solve::Solver;
use crate::fit::solve::Tiles;
use crate::kinematics::Posed;
use crate::parameters::Tie;
use crate::parameters::Unknowns;
use crate::readings::ByUnknown;
use crate::readings::Taken;

/// The readings, the unknowns and the nominal values: everything that S depends on.
pub struct Network<'a> {
    unknowns: &'a Unknowns,
    taken: Vec<&'a Taken>,
    nominal: Vec<f64>,
    geometry: Geometry,
    rows: usize,
    by: Vec<[f64; 3]>,
}

/// Where S is least, as far as one run of the solver found.
#[derive(Debug, Clone)]
pub struct Minimum {
    /// The unknowns, mm and rad.
    pub x: Vec<f64>,
    /// S.
    pub chi2: f64,
    /// Residuals over their u: readings, then what ties to an earlier registration, then tolerances.
    pub whitened: Vec<f64>,
    /// Derivatives of `whitened`, rows in the same order.
    pub jacobian: Tiles,
    /// Factor of `jacobian`.
    pub factor: Factor,
    /// Why the solver stopped.
    pub ending: Ending,
    /// Steps it took.
    pub iterations: usize,
}

impl Minimum {
    /// What a run of the solver found, kept.
    pub fn of(solution: &Solution<'_>) -> Self {
        Minimum {
            x: solution.x.to_vec(),
            chi2: solution.cost,
            whitened: solution.residuals.to_vec(),
            jacobian: solution.jacobian.clone(),
            factor: solution.factor.clone(),
            ending: solution.ending,
            iterations: solution.iterations,
        }
    }
}

impl<'a> Network<'a> {
    /// Ties the used readings to the unknowns.
    pub fn new(nominal: &Geometry, unknowns: &'a Unknowns, taken: Vec<&'a Taken>) -> Self {
        let rows = taken.iter().map(|t| t.reading.components()).sum();
        Network {
            nominal: unknowns.read(nominal),
            geometry: nominal.clone(),
            by: vec![[0.0; 3]; unknowns.len()],
            unknowns,
            taken,
            rows,
        }
    }

    /// The unknowns.
    pub fn unknown(&self) -> &'a Unknowns {
        self.unknowns
    }

    /// The readings that take part.
    pub fn taken(&self) -> &[&'a Taken] {
        &self.taken
    }

    /// Nominal values of the unknowns, mm and rad.
    pub fn nominal(&self) -> &[f64] {
        &self.nominal
    }

    /// Residuals of the readings; what ties and the tolerances follow them.
    pub fn reading_rows(&self) -> usize {
        self.rows
    }

    /// Where the residuals of the tolerances begin.
    pub fn tolerances_from(&self) -> usize {
        self.rows + self.unknowns.tie().map_or(0, Tie::len)
    }

    /// The geometry at some values of the unknowns.
    pub fn geometry_at(&self, x: &[f64]) -> Geometry {
        let mut geometry = self.geometry.clone();
        self.unknowns.write(x, &mut geometry);
        geometry
    }

    /// Runs the solver from one start.
    pub fn minimum_from(&mut self, solver: &mut Solver, start: &[f64]) -> Minimum {
        Minimum::of(&solver.solve(self, start))
    }

    /// S after one run of the solver from a start, and where, without the rest.
    pub fn cost_from(&mut self, solver: &mut Solver, start: &[f64]) -> (f64, Vec<f64>) {
        let solution = solver.solve(self, start);
        (solution.cost, solution.x.to_vec())
    }

    /// Residuals of all that is no reading.
    fn other_rows(&self, x: &[f64], r: &mut [f64]) {
        if let Some(tie) = self.unknowns.tie() {
            for k in 0..tie.len() {
                r[self.rows + k] = tie.residual(k, x);
            }
        }
        let with_tolerance = self.unknowns.list.iter().zip(x).zip(&self.nominal);
        let mut row = self.tolerances_from();
        for (((_, tolerance), x), nominal) in with_tolerance {
            if let Some(t) = tolerance {
                r[row] = (x - nominal) / t;
                row += 1;
            }
        }
    }
}

/// Residuals of the readings over their u, and their derivatives.
struct Linearise<'a> {
    taken: &'a [&'a Taken],
    posed: &'a Posed<'a>,
    unknowns: &'a Unknowns,
    by: &'a mut ByUnknown,
    r: &'a mut [f64],
    jacobian: &'a mut Tiles,
}

impl pulp::WithSimd for Linearise<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: pulp::Simd>(self, _simd: S) {
        let mut row = 0;
        for taken in self.taken {
            self.by.fill([0.0; 3]);
            let found =
                taken
                    .reading
                    .evaluate_posed(self.posed, self.unknowns, Some(&mut *self.by));
            let weight = 1.0 / taken.u;
            for (k, value) in found.value[..found.count].iter().enumerate() {
                self.r[row] = value * weight;
                let entries = self.by.iter().map(|d| d[k] * weight);
                self.jacobian.fill_row(row, entries);
                row += 1;
            }
        }
    }
}

impl Problem for Network<'_> {
    fn unknowns(&self) -> usize {
        self.unknowns.len()
    }

    fn residuals(&self) -> usize {
        self.tolerances_from()
            + self
                .unknowns
                .list
                .iter()
                .filter(|(_, t)| t.is_some())
                .count()
    }

    fn residuals_at(&mut self, x: &[f64], r: &mut [f64]) {
        self.unknowns.write(x, &mut self.geometry);
        let posed = Posed::new(&self.geometry);
        let nothing = Unknowns::default();
        let mut row = 0;
        for taken in &self.taken {
            let found = taken.reading.evaluate_posed(&posed, &nothing, None);
            for value in &found.value[..found.count] {
                r[row] = value / taken.u;
                row += 1;
            }
        }
        self.other_rows(x, r);
    }

    fn linearise(&mut self, x: &[f64], r: &mut [f64], jacobian: &mut Tiles) {
        self.unknowns.write(x, &mut self.geometry);
        let posed = Posed::new(&self.geometry);
        let (by, unknowns, taken) = (&mut self.by[..], self.unknowns, &self.taken);
        // Compiled once for wider vector units too, and chosen when the program runs.
        pulp::Arch::new().dispatch(Linearise {
            taken,
            posed: &posed,
            unknowns,
            by,
            r,
            jacobian,
        });
        self.other_rows(x, r);
        if let Some(tie) = self.unknowns.tie() {
            for k in 0..tie.len() {
                let given = tie.rows.row(k);
                let beyond = unknowns.len() - given.len();
                let entries = given.iter().copied();
                jacobian.fill_row(
                    self.rows + k,
                    entries.chain(std::iter::repeat_n(0.0, beyond)),
                );
            }
        }
        let mut row = self.tolerances_from();
        for (j, (_, tolerance)) in self.unknowns.list.iter().enumerate() {
            if let Some(t) = tolerance {
                jacobian.set_sparse_row(row, &[(j, 1.0 / t)]);
                row += 1;
            }
        }
    }
}
