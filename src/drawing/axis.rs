//! From values to places on paper, and the values worth writing beside an axis.

/// Largest value an axis takes; beyond it tick labels have no room.
pub const LARGEST: f64 = 1e9;

/// Steps that people find round, times a power of ten.
const ROUND: [f64; 4] = [1.0, 2.0, 2.5, 5.0];
/// The same for bands, of which there should not be few: closer together.
const BANDS: [f64; 8] = [1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0];

/// A straight map from values to px.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Linear {
    low: f64,
    start_px: f64,
    px_per_unit: f64,
}

impl Linear {
    /// `low` lands on `start_px`, `high` on `end_px`. Values that do not rise land in the middle.
    pub fn new(low: f64, high: f64, start_px: f64, end_px: f64) -> Linear {
        let slope = (end_px - start_px) / (high - low);
        if high > low && slope.is_finite() {
            Linear {
                low,
                start_px,
                px_per_unit: slope,
            }
        } else {
            Linear {
                low,
                start_px: (start_px + end_px) / 2.0,
                px_per_unit: 0.0,
            }
        }
    }
    /// Where a value lands.
    pub fn at(&self, value: f64) -> f64 {
        self.start_px + (value - self.low) * self.px_per_unit
    }
    /// px for one unit; 0 where all values land on one place.
    pub fn px_per_unit(&self) -> f64 {
        self.px_per_unit
    }
}

/// Round values in an interval.
#[derive(Debug, Clone, PartialEq)]
pub struct Ticks {
    /// Rising.
    pub values: Vec<f64>,
    pub step: f64,
    /// What the step needs to be written exactly.
    pub decimals: usize,
}

impl Ticks {
    /// A value as it stands beside its tick.
    pub fn label(&self, value: f64) -> String {
        fixed(value, self.decimals)
    }
}

/// A value with a fixed number of decimals; a rounded zero has no sign, a minus is a minus sign.
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

/// A value with as many decimals as it needs, at most three.
pub fn plain(value: f64) -> String {
    let text = fixed(value, 3);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The smallest of the round steps that is at least this wide, with its decimals.
fn step_from(least: f64, steps: &[f64]) -> Option<(f64, usize)> {
    if !(least > 1e-12 && least < 1e12) {
        return None;
    }
    let first = (least.log10().floor() as i32) - 1;
    for power in first..=first + 3 {
        for &round in steps {
            // A quotient of whole numbers is the double nearest to the decimal; 10^-k is not.
            let step = if power < 0 {
                round / 10f64.powi(-power)
            } else {
                round * 10f64.powi(power)
            };
            if step >= least * (1.0 - 1e-12) {
                let own = i32::from(round.fract() != 0.0);
                return Some((step, (own - power).max(0) as usize));
            }
        }
    }
    None
}

/// Whole multiples of one round step from `low` to `high`: the smallest step with at most `most` (at
/// least 1) intervals. One value where the interval is empty or too narrow for its place.
pub fn ticks(low: f64, high: f64, most: usize) -> Ticks {
    let least = (high - low) / most.max(1) as f64;
    let enough = least > 1e-9 * low.abs().max(high.abs());
    match step_from(least, &ROUND).filter(|_| enough) {
        Some((step, decimals)) => {
            let first = (low / step - 1e-9).ceil() as i64;
            let last = (high / step + 1e-9).floor() as i64;
            Ticks {
                values: (first..=last).map(|k| k as f64 * step).collect(),
                step,
                decimals,
            }
        }
        None => Ticks {
            values: vec![low],
            step: 1.0,
            decimals: plain(low).split_once('.').map_or(0, |(_, d)| d.len()),
        },
    }
}

/// Edges of at most `most` bands that hold all values from `low` to `high`, all whole multiples of
/// one round step, and the decimals they need. At least one band.
pub fn edges(low: f64, high: f64, most: usize) -> Ticks {
    // From the step that could just be enough, to coarser ones until the outer edges fit in.
    let mut least = (high - low) / most.max(1) as f64;
    for _ in 0..8 {
        let Some((step, decimals)) =
            step_from(least, &BANDS).filter(|(s, _)| *s > 1e-9 * low.abs())
        else {
            break;
        };
        let first = (low / step + 1e-9).floor() as i64;
        let last = ((high / step - 1e-9).ceil() as i64).max(first + 1);
        if (last - first) as usize <= most.max(1) {
            return Ticks {
                values: (first..=last).map(|k| k as f64 * step).collect(),
                step,
                decimals,
            };
        }
        least = step * 1.000_001;
    }
    // All values alike: the whole number below and the one above.
    let first = low.floor();
    Ticks {
        values: vec![first, first + 1.0],
        step: 1.0,
        decimals: 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_have_their_decimals() {
        let labels = |low, high, most| {
            let t = ticks(low, high, most);
            let all: Vec<String> = t.values.iter().map(|v| t.label(*v)).collect();
            all.join(" ")
        };
        // By hand. 900/8 = 112.5, next round step 200; 900/9 = 100 just fits.
        assert_eq!(labels(0.0, 900.0, 8), "0 200 400 600 800");
        assert_eq!(
            labels(0.0, 900.0, 9),
            "0 100 200 300 400 500 600 700 800 900"
        );
        // 1/4 = 0.25 is round and needs two decimals; 10/4 = 2.5 one; 100/4 = 25 none.
        assert_eq!(labels(0.0, 1.0, 4), "0.00 0.25 0.50 0.75 1.00");
        assert_eq!(labels(0.0, 10.0, 4), "0.0 2.5 5.0 7.5 10.0");
        assert_eq!(labels(-50.0, 50.0, 4), "−50 −25 0 25 50");
        assert_eq!(labels(-0.3, 0.3, 6), "−0.3 −0.2 −0.1 0.0 0.1 0.2 0.3");
        assert_eq!(
            labels(0.011, 0.029, 10),
            "0.012 0.014 0.016 0.018 0.020 0.022 0.024 0.026 0.028"
        );
        assert_eq!(labels(45.5, 45.5, 8), "45.5");
        assert_eq!(labels(1e9 - 1e-7, 1e9, 8), "1000000000");
    }

    #[test]
    fn bands_hold_all_values_and_are_not_too_many() {
        // 0.4 … 41.2 in at most 8: at least 5.1 wide, next 6: 0 … 42, seven bands.
        let e = edges(0.4, 41.2, 8);
        assert_eq!((e.step, e.values.len(), e.values[7]), (6.0, 8, 42.0));
        // 0 … 40 in 8 of 5 is just full.
        assert_eq!(edges(0.0, 40.0, 8).values.len(), 9);
        // 0.1 … 40.1: 5 would need 9, so 6 is taken: 0 … 42.
        assert_eq!(edges(0.1, 40.1, 8).step, 6.0);
        // 0 … 11.5: 1.5 wide, with a decimal.
        assert_eq!(edges(0.0, 11.5, 8).label(4.5), "4.5");
        assert_eq!(edges(7.3, 7.3, 8).values, [7.0, 8.0]);
        assert_eq!(edges(7.0, 7.0, 8).values, [7.0, 8.0]);
        // Every span: 9 bands of a step touch more than 7 of it. The next step is at most 5/3 as
        // wide, so more than 4.2 of it are touched: 5 to 8 bands, and nothing outside.
        for k in 1..400 {
            let (low, high) = (-0.37 * f64::from(k), 0.093 * f64::from(k * k));
            let e = edges(low, high, 8).values;
            assert!((5..=8).contains(&(e.len() - 1)), "{low} {high}: {e:?}");
            assert!(e[0] <= low + 1e-6 && high <= e[e.len() - 1] + 1e-6);
        }
    }

    #[test]
    fn a_scale_without_extent_lands_in_the_middle() {
        assert_eq!(Linear::new(0.0, 10.0, 100.0, 300.0).at(2.5), 150.0);
        assert_eq!(Linear::new(0.0, 10.0, 300.0, 100.0).at(2.5), 250.0);
        assert_eq!(Linear::new(4.0, 4.0, 100.0, 300.0).at(4.0), 200.0);
        assert_eq!(Linear::new(4.0, f64::NAN, 100.0, 300.0).at(9.0), 200.0);
        assert_eq!(plain(-0.0001), "0");
        assert_eq!(plain(-12.5), "−12.5");
    }
}
