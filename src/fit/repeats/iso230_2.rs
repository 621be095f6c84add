//! Positioning of an axis, ISO 230-2:2014 (formulas from memory of the standard; coverage factor 2).
//!
//! Deviations are actual less target position; up and down are the directions of the reading.

use crate::fit::repeats::iso9283::mean_and_sd;

/// Deviations at one target position.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Runs {
    /// Coming from below.
    pub up: Vec<f64>,
    /// Coming from above.
    pub down: Vec<f64>,
}

/// What needs one run each way at every position.
#[derive(Debug, Clone, PartialEq)]
pub struct Means {
    /// Mean deviation coming from below, a position each.
    pub up: Vec<f64>,
    /// Coming from above.
    pub down: Vec<f64>,
    /// B_i = up − down, a position each.
    pub reversal_each: Vec<f64>,
    /// B: the largest size of these.
    pub reversal: f64,
    /// Mean of B_i.
    pub mean_reversal: f64,
    /// E up: range of the means coming from below: systematic deviation, one way.
    pub systematic_up: f64,
    /// E down.
    pub systematic_down: f64,
    /// E: range of all means: systematic deviation, both ways.
    pub systematic: f64,
    /// M: range of the means of both ways.
    pub mean_deviation: f64,
}

/// What needs two runs or more each way at every position.
#[derive(Debug, Clone, PartialEq)]
pub struct Scatter {
    /// Standard deviation (n − 1) coming from below, a position each.
    pub sd_up: Vec<f64>,
    /// Coming from above.
    pub sd_down: Vec<f64>,
    /// R up: largest 4 s coming from below: repeatability, one way.
    pub repeatability_up: f64,
    /// R down.
    pub repeatability_down: f64,
    /// R: largest of max(2 s_up + 2 s_down + |B_i|, 4 s_up, 4 s_down): repeatability, both ways.
    pub repeatability: f64,
    /// A up: from the lowest mean − 2 s to the highest mean + 2 s coming from below: accuracy, one way.
    pub accuracy_up: f64,
    /// A down.
    pub accuracy_down: f64,
    /// A: the same over both ways: accuracy, both ways.
    pub accuracy: f64,
}

/// An axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// Means and reversal.
    pub means: Means,
    /// Repeatability and accuracy; `None` where some position has a single run.
    pub scatter: Option<Scatter>,
}

/// Works out an axis; `None` where there is no position, or one lacks runs one of the two ways.
pub fn axis(positions: &[Runs]) -> Option<Axis> {
    let complete = |p: &Runs| !p.up.is_empty() && !p.down.is_empty();
    if positions.is_empty() || !positions.iter().all(complete) {
        return None;
    }
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let up: Vec<f64> = positions.iter().map(|p| mean(&p.up)).collect();
    let down: Vec<f64> = positions.iter().map(|p| mean(&p.down)).collect();
    let both: Vec<f64> = up.iter().chain(&down).copied().collect();
    let middle: Vec<f64> = up.iter().zip(&down).map(|(u, d)| (u + d) / 2.0).collect();
    let reversal_each: Vec<f64> = up.iter().zip(&down).map(|(u, d)| u - d).collect();
    let means = Means {
        reversal: reversal_each.iter().fold(0.0, |m, b| b.abs().max(m)),
        mean_reversal: mean(&reversal_each),
        systematic_up: range(&up),
        systematic_down: range(&down),
        systematic: range(&both),
        mean_deviation: range(&middle),
        reversal_each,
        up,
        down,
    };
    let twice = |p: &Runs| p.up.len() > 1 && p.down.len() > 1;
    let scatter = positions
        .iter()
        .all(twice)
        .then(|| scatter(positions, &means));
    let axis = Axis { means, scatter };
    let finite = axis.means.systematic.is_finite()
        && axis.scatter.as_ref().is_none_or(|s| s.accuracy.is_finite());
    finite.then_some(axis)
}

fn scatter(positions: &[Runs], means: &Means) -> Scatter {
    let sd_up: Vec<f64> = positions.iter().map(|p| mean_and_sd(&p.up).1).collect();
    let sd_down: Vec<f64> = positions.iter().map(|p| mean_and_sd(&p.down).1).collect();
    let most = |values: &mut dyn Iterator<Item = f64>| values.fold(0.0, f64::max);
    let both = sd_up.iter().zip(&sd_down).zip(&means.reversal_each);
    let both = &mut both.map(|((u, d), b)| (2.0 * u + 2.0 * d + b.abs()).max(4.0 * u).max(4.0 * d));
    let ends = |mean: &[f64], sd: &[f64]| -> Vec<f64> {
        let pairs = mean.iter().zip(sd);
        pairs
            .flat_map(|(m, s)| [m - 2.0 * s, m + 2.0 * s])
            .collect()
    };
    let (ends_up, ends_down) = (ends(&means.up, &sd_up), ends(&means.down, &sd_down));
    let all: Vec<f64> = ends_up.iter().chain(&ends_down).copied().collect();
    Scatter {
        repeatability_up: most(&mut sd_up.iter().map(|s| 4.0 * s)),
        repeatability_down: most(&mut sd_down.iter().map(|s| 4.0 * s)),
        repeatability: most(both),
        accuracy_up: range(&ends_up),
        accuracy_down: range(&ends_down),
        accuracy: range(&all),
        sd_up,
        sd_down,
    }
}

/// Largest less smallest.
fn range(values: &[f64]) -> f64 {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    high - low
}
