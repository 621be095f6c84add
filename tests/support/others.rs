//! The same regression problems, handed to other least-squares solvers.

use crate::support::strd::Regression;
use crate::support::strd::Set;
use argmin::core::Error;
use argmin::core::Executor;
use argmin::core::Jacobian;
use argmin::core::Operator;
use argmin::core::State;
use argmin::solver::gaussnewton::GaussNewton;
use levenberg_marquardt::LeastSquaresProblem;
use levenberg_marquardt::LevenbergMarquardt;
use nalgebra::DMatrix;
use nalgebra::DVector;
use nalgebra::Dyn;
use nalgebra::storage::Owned;
use notchpin::fit::solve::Problem;
use notchpin::fit::solve::Tiles;

/// A regression with dense vectors and matrices.
struct Dense<'a> {
    set: &'a Set,
    at: DVector<f64>,
}

impl Dense<'_> {
    fn both(&self, x: &DVector<f64>) -> (DVector<f64>, DMatrix<f64>) {
        let mut problem = Regression::new(self.set);
        let (m, n) = (problem.residuals(), problem.unknowns());
        let (mut r, mut j) = (DVector::zeros(m), Tiles::new(m, n));
        problem.linearise(x.as_slice(), r.as_mut_slice(), &mut j);
        (r, DMatrix::from_fn(m, n, |i, k| j.get(i, k)))
    }
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Dense<'_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, x: &DVector<f64>) {
        self.at.copy_from(x);
    }

    fn params(&self) -> DVector<f64> {
        self.at.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        Some(self.both(&self.at).0)
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        Some(self.both(&self.at).1)
    }
}

impl Operator for Dense<'_> {
    type Param = DVector<f64>;
    type Output = DVector<f64>;

    fn apply(&self, x: &DVector<f64>) -> Result<DVector<f64>, Error> {
        Ok(self.both(x).0)
    }
}

impl Jacobian for Dense<'_> {
    type Param = DVector<f64>;
    type Jacobian = DMatrix<f64>;

    fn jacobian(&self, x: &DVector<f64>) -> Result<DMatrix<f64>, Error> {
        Ok(self.both(x).1)
    }
}

/// The crate `levenberg-marquardt` with its default tolerances: parameters, evaluations, and whether it calls them good.
pub fn levenberg_marquardt(set: &Set, start: &[f64]) -> (Vec<f64>, u64, bool) {
    let problem = Dense {
        set,
        at: DVector::from_column_slice(start),
    };
    let (problem, report) = LevenbergMarquardt::new().minimize(problem);
    (
        problem.at.as_slice().to_vec(),
        report.number_of_evaluations as u64,
        report.termination.was_successful(),
    )
}

/// argmin's Gauss-Newton method, at most 2,000 iterations, stopping when the cost changes by less than 1e-12.
pub fn argmin_gauss_newton(set: &Set, start: &[f64]) -> (Vec<f64>, u64, bool) {
    let start = DVector::from_column_slice(start);
    let solver = GaussNewton::new()
        .with_tolerance(1e-12)
        .expect("a positive tolerance");
    let problem = Dense {
        set,
        at: start.clone(),
    };
    match Executor::new(problem, solver)
        .configure(|state| state.param(start.clone()).max_iters(2_000))
        .run()
    {
        Ok(result) => {
            let state = result.state();
            let last = state.get_param().unwrap_or(&start).as_slice().to_vec();
            (last, state.get_iter(), state.get_iter() < 2_000)
        }
        Err(_) => (start.as_slice().to_vec(), 0, false),
    }
}
