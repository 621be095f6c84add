//! A few new readings held against the registration in force, nothing solved.
//!
//! What is seen at the readings has the covariance `u² (I + J C Jᵀ)`: their own and that of the
//! prediction. Each residual is tested at α = 0.001, two-sided; all together by
//! `rᵀ (I + J C Jᵀ)⁻¹ r`, which is χ² with as many degrees of freedom as residuals while nothing has
//! moved, at 0.001 (as the global test and the suspects of a registration, Baarda 1968).
//!
//! Both see little of a small movement that shows in many readings at once. So each way in which a part
//! can have moved is tested by itself: with derivatives g along it, `t = gᵀQ⁻¹r / √(gᵀQ⁻¹g)` is a standard
//! normal while nothing moved, Q being that covariance over u². All ways together at α = 0.001: each at
//! 0.001 over their number (Bonferroni).

use nalgebra::Cholesky;
use nalgebra::DMatrix;
use nalgebra::DVector;
use nalgebra::Dyn;
use statrs::distribution::ContinuousCDF;
use statrs::distribution::Normal;

use crate::bench::Bench;
use crate::causes::solved::block;
use crate::fit::assess::DETECTABLE;
use crate::fit::assess::GLOBAL_LIMIT;
use crate::fit::assess::SUSPECT;
use crate::fit::chi2::chi2_upper_tail;
use crate::parameters::ParameterUnit;
use crate::parameters::Unknowns;
use crate::parts::Freedom;
use crate::parts::Part;
use crate::readings::Taken;
use crate::records::InForce;

/// A movement that has to be larger than this to show is not looked at by the readings: far more than
/// anyone would fail to see.
const FAR_MM: f64 = 100.0;
const FAR_RAD: f64 = 10.0 * std::f64::consts::PI / 180.0;

/// One residual.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// Place in the bench's list.
    pub index: usize,
    /// Which component.
    pub component: usize,
    /// Predicted less read, as residuals are: mm or rad.
    pub off: f64,
    /// Its standard uncertainty before it was seen: reading and prediction, mm or rad.
    pub expected: f64,
    /// That of the reading alone.
    pub u: f64,
    /// `off / expected`.
    pub ratio: f64,
}

/// What the readings say of one way in which a part can have moved.
#[derive(Debug, Clone, PartialEq)]
pub struct WaySeen {
    /// Parameters that change together.
    pub freedom: Freedom,
    /// The smallest movement that is noticed with 80 % power, mm or rad; `None`: they do not look at it.
    pub least: Option<f64>,
    /// Its own test, a standard normal while nothing moved; `None`: they do not look at it.
    pub t: Option<f64>,
    /// Whether that is more than chance.
    pub moved: bool,
}

/// What the readings say of the ways in which a part can have moved.
#[derive(Debug, Clone, PartialEq)]
pub struct Blind {
    /// The part.
    pub part: Part,
    /// Each way.
    pub ways: Vec<WaySeen>,
}

impl Blind {
    /// Whether the readings look at no way in which the part can have moved.
    pub fn unseen(&self) -> bool {
        self.ways.iter().all(|way| way.least.is_none())
    }
}

/// What came out.
#[derive(Debug, Clone)]
pub struct Recheck {
    /// Every residual, in the order of the readings.
    pub seen: Vec<Seen>,
    /// rᵀ (I + J C Jᵀ)⁻¹ r.
    pub chi2: f64,
    /// Residuals.
    pub dof: usize,
    /// P(χ² ≥ chi2).
    pub p_value: f64,
    /// Places of the readings that do not fit by themselves.
    pub failing: Vec<usize>,
    /// Whether all of them together and each by itself agree with the registration.
    pub holds: bool,
    /// What the readings would notice, a part each.
    pub notices: Vec<Blind>,
}

impl Recheck {
    /// The residual that is farthest off for what was to be expected.
    pub fn worst(&self) -> Option<&Seen> {
        let order = |a: &&Seen, b: &&Seen| a.ratio.abs().total_cmp(&b.ratio.abs());
        self.seen.iter().max_by(order)
    }
}

/// Holds the readings of a bench that take part or check against a registration; `None` where there
/// are none, or a number is not finite.
pub fn recheck(bench: &Bench, force: &InForce) -> Option<Recheck> {
    let indices = readings_of(bench);
    if indices.is_empty() {
        return None;
    }
    let taken: Vec<&Taken> = indices.iter().map(|i| &bench.taken[*i]).collect();
    let held = block(&force.geometry, &force.unknowns, &taken)?;
    let m = held.r.len();
    let q = DMatrix::identity(m, m) + &held.j * &force.covariance * held.j.transpose();
    let factor = q.clone().cholesky()?;
    let chi2 = held.r.dot(&factor.solve(&held.r));
    let mut seen: Vec<Seen> = Vec::with_capacity(m);
    let mut failing: Vec<usize> = Vec::new();
    for (index, taken) in indices.iter().zip(&taken) {
        for component in 0..taken.reading.components() {
            let at = seen.len();
            let expected = q[(at, at)].sqrt();
            let ratio = held.r[at] / expected;
            // Not a number lands on the failing side.
            if !(ratio.abs() <= SUSPECT) && !failing.contains(index) {
                failing.push(*index);
            }
            seen.push(Seen {
                index: *index,
                component,
                off: held.r[at] * taken.u,
                expected: expected * taken.u,
                u: taken.u,
                ratio,
            });
        }
    }
    let p_value = chi2_upper_tail(chi2, m);
    let notices = Part::all(&bench.cell).into_iter();
    let notices = notices.map(|part| notice(part, bench, force, &taken, &held.r, &factor));
    let mut notices = notices.collect::<Option<Vec<_>>>()?;
    judge(&mut notices)?;
    let moved = notices.iter().flat_map(|n| &n.ways).any(|way| way.moved);
    Some(Recheck {
        seen,
        chi2,
        dof: m,
        p_value,
        holds: failing.is_empty() && p_value >= GLOBAL_LIMIT && !moved,
        failing,
        notices,
    })
}

/// The limit of each way's test, and the smallest movement that passes it four times out of five.
fn judge(notices: &mut [Blind]) -> Option<()> {
    let tested = notices
        .iter()
        .flat_map(|n| &n.ways)
        .filter(|w| w.t.is_some());
    let count = tested.count().max(1) as f64;
    let normal = Normal::new(0.0, 1.0).ok()?;
    let limit = normal.inverse_cdf(1.0 - 0.5 * GLOBAL_LIMIT / count);
    let power = normal.inverse_cdf(0.8);
    for way in notices.iter_mut().flat_map(|n| &mut n.ways) {
        // So far the standard uncertainty of the movement stands there.
        way.least = way.least.map(|u| (limit + power) * u);
        way.moved = way.t.is_some_and(|t| !(t.abs() <= limit));
    }
    Some(())
}

/// Places of the readings that count: all but those with `use = no`.
pub(super) fn readings_of(bench: &Bench) -> Vec<usize> {
    use crate::table::common::Use;
    let list = bench.taken.iter().enumerate();
    list.filter(|(_, t)| t.role != Use::No)
        .map(|(i, _)| i)
        .collect()
}

/// What the readings say of a part: along one direction with derivatives g the movement's best estimate has
/// the standard uncertainty `1/√(gᵀQ⁻¹g)`.
fn notice(
    part: Part,
    bench: &Bench,
    force: &InForce,
    taken: &[&Taken],
    r: &DVector<f64>,
    factor: &Cholesky<f64, Dyn>,
) -> Option<Blind> {
    let freedoms = part.freedoms(&bench.cell);
    let mut ways = Vec::with_capacity(freedoms.len());
    for freedom in freedoms {
        let list: Vec<_> = freedom.shares.iter().map(|(p, _)| (*p, None)).collect();
        let by = block(&force.geometry, &Unknowns::new(list), taken)?;
        let shares = DVector::from_iterator(
            freedom.shares.len(),
            freedom.shares.iter().map(|(_, share)| *share),
        );
        let g = by.j * shares;
        let solved = factor.solve(&g);
        let u = 1.0 / g.dot(&solved).sqrt();
        let far = match freedom.shares[0].0.unit() {
            ParameterUnit::Mm | ParameterUnit::MmPerUnit => FAR_MM,
            ParameterUnit::Deg | ParameterUnit::DegPerUnit => FAR_RAD,
        };
        let looked_at = DETECTABLE * u < far;
        ways.push(WaySeen {
            least: looked_at.then_some(u),
            t: looked_at.then(|| solved.dot(r) * u),
            moved: false,
            freedom,
        });
    }
    Some(Blind { part, ways })
}
