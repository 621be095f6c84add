//! How sure the result is, which reading does not fit, what checks what.
//!
//! Redundancy, standardised residuals and detectable errors after Baarda 1968 (A testing procedure
//! for use in geodetic networks); covariance as JCGM 100:2008, from stated uncertainties.

use nalgebra::DMatrix;

use crate::fit::adjust::Minimum;
use crate::fit::adjust::Network;
use crate::fit::chi2::chi2_upper_tail;
use crate::fit::identify::FreeDirection;
use crate::fit::identify::free_directions;
use crate::fit::solve::Factor;
use crate::parameters::ParameterUnit;
use crate::parameters::Unknowns;

/// Suspect beyond this: α = 0.001 two-sided (Baarda 1968).
pub const SUSPECT: f64 = 3.29;
/// √λ for α = 0.001 and 80 % power (Baarda 1968).
pub const DETECTABLE: f64 = 4.13;
/// Below this redundancy a residual is checked by nothing.
pub const UNCHECKED: f64 = 1e-6;
/// The global test fails below this.
pub const GLOBAL_LIMIT: f64 = 1e-3;

/// The test of one residual.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tested {
    /// Residual before division by u (or t), mm or rad.
    pub residual: f64,
    /// Its u (or t), mm or rad.
    pub u: f64,
    /// Redundancy number, 0 to 1.
    pub redundancy: f64,
    /// residual/u/√r; `None` where nothing checks it.
    pub standardized: Option<f64>,
    /// Smallest error found with 80 % power, mm or rad; `None` where nothing checks it.
    pub detectable: Option<f64>,
    /// |standardized| > 3.29.
    pub suspect: bool,
}

/// One unknown of a determined registration.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// mm or rad.
    pub value: f64,
    /// Standard uncertainty, mm or rad.
    pub u: f64,
    /// Test of its tolerance, if it has one.
    pub tolerance: Option<Tested>,
    /// The readings say almost nothing of it.
    pub weak: bool,
}

/// What came out of the adjustment.
#[derive(Debug, Clone)]
pub struct Assessment {
    /// Unknowns, in the order of the cell file.
    pub found: Vec<Found>,
    /// Covariance of the unknowns, mm and rad.
    pub covariance: DMatrix<f64>,
    /// S.
    pub chi2: f64,
    /// Residuals minus unknowns.
    pub dof: usize,
    /// √(S/dof); `None` with dof 0.
    pub sigma0: Option<f64>,
    /// P(χ² ≥ S); `None` with dof 0.
    pub p_value: Option<f64>,
    /// One for each residual of the readings, in the order of the network.
    pub readings: Vec<Tested>,
    /// Directions that only tolerances settle.
    pub by_tolerance_only: Vec<FreeDirection>,
}

impl Assessment {
    /// Whether the global test holds (or there is nothing to test).
    pub fn global_test_holds(&self) -> bool {
        self.p_value.is_none_or(|p| p >= GLOBAL_LIMIT)
    }
    /// Whether S is suspiciously small: the stated uncertainties are larger than what was seen.
    pub fn too_good(&self) -> bool {
        self.p_value.is_some_and(|p| p > 1.0 - GLOBAL_LIMIT)
    }
    /// Whether any reading or tolerance is suspect.
    pub fn any_suspect(&self) -> bool {
        self.readings.iter().any(|t| t.suspect)
            || self
                .found
                .iter()
                .any(|f| f.tolerance.is_some_and(|t| t.suspect))
    }
}

/// Why there is no registration.
#[derive(Debug, Clone)]
pub enum NoRegistration {
    /// Combinations of unknowns that no reading settles.
    Undetermined(Vec<FreeDirection>),
    /// The numbers ran away: something is not finite.
    NotFinite,
}

/// Scale of an unknown for identifiability: its tolerance; free: 1 mm, 1°, or 1e-3 of its nominal scale.
pub fn scaling(network: &Network<'_>) -> Vec<f64> {
    scaling_of(network.unknown(), network.nominal())
}

/// The same from the unknowns and their nominal values, mm and rad.
pub fn scaling_of(unknowns: &Unknowns, nominal: &[f64]) -> Vec<f64> {
    unknowns
        .list
        .iter()
        .zip(nominal)
        .map(
            |((parameter, tolerance), nominal)| match (tolerance, parameter.unit()) {
                (Some(t), _) => *t,
                (None, ParameterUnit::Mm | ParameterUnit::Deg) => parameter.unit().in_code(),
                (None, _) => 1e-3 * nominal.abs(),
            },
        )
        .collect()
}

/// Judges a minimum.
pub fn assess(network: &Network<'_>, minimum: &Minimum) -> Result<Assessment, NoRegistration> {
    let list = &network.unknown().list;
    let scale = scaling(network);
    let free = free_directions(&minimum.factor, &scale).ok_or(NoRegistration::NotFinite)?;
    if !free.is_empty() {
        return Err(NoRegistration::Undetermined(free));
    }
    let covariance = minimum
        .factor
        .covariance()
        .map_err(|_| NoRegistration::NotFinite)?;
    let leverages = minimum
        .factor
        .leverages(&minimum.jacobian)
        .map_err(|_| NoRegistration::NotFinite)?;
    let rows = network.reading_rows();
    let test = |row: usize, u: f64| {
        let redundancy = (1.0 - leverages[row]).clamp(0.0, 1.0);
        let whitened = minimum.whitened[row];
        let checked = redundancy >= UNCHECKED;
        let standardized = checked.then(|| whitened / redundancy.sqrt());
        Tested {
            residual: whitened * u,
            u,
            redundancy,
            standardized,
            detectable: checked.then(|| DETECTABLE * u / redundancy.sqrt()),
            suspect: standardized.is_some_and(|w| w.abs() > SUSPECT),
        }
    };
    let mut readings = Vec::with_capacity(rows);
    for taken in network.taken() {
        let count = taken.reading.components();
        for _ in 0..count {
            readings.push(test(readings.len(), taken.u));
        }
    }
    let from = network.tolerances_from();
    let mut next = from;
    let mut found = Vec::with_capacity(list.len());
    for (j, (_, tolerance)) in list.iter().enumerate() {
        let u = covariance[(j, j)].sqrt();
        let tested = tolerance.map(|t| {
            next += 1;
            test(next - 1, t)
        });
        found.push(Found {
            value: minimum.x[j],
            u,
            tolerance: tested,
            weak: match tolerance {
                Some(t) => u > 0.9 * t,
                None => u > 10.0 * scale[j],
            },
        });
    }
    let dof = next - list.len();
    let by_tolerance_only = if next > from {
        let bare = Factor::of(&minimum.jacobian, &minimum.whitened, from);
        free_directions(&bare, &scale).ok_or(NoRegistration::NotFinite)?
    } else {
        Vec::new()
    };
    Ok(Assessment {
        found,
        covariance,
        chi2: minimum.chi2,
        dof,
        sigma0: (dof > 0).then(|| (minimum.chi2 / dof as f64).sqrt()),
        p_value: (dof > 0).then(|| chi2_upper_tail(minimum.chi2, dof)),
        readings,
        by_tolerance_only,
    })
}
