//! An azimuth that only follows: where along the travel it is the wanted one.

use crate::kinematics::POLE_RAD;
use crate::reach::intervals::Line;
use crate::reach::intervals::Probe;
use crate::reach::solver::Root;
use crate::units::wrap_rad;

impl Line<'_, '_> {
    /// A wanted azimuth that only follows: the positions where a branch has it, and the stretches
    /// along which it stays within the tolerance.
    pub fn azimuth_stretches(&self, samples: &[Probe]) -> Vec<[f64; 2]> {
        let met = |p: &Probe| {
            p.roots
                .iter()
                .any(|r| r.azimuth_miss.abs() <= POLE_RAD && self.inside(r) >= 0.0)
        };
        let mut out: Vec<[f64; 2]> = Vec::new();
        // A stretch: three samples in a row.
        if samples.windows(3).any(|w| w.iter().all(met)) {
            out = self.runs(samples, met);
            let least = samples
                .windows(2)
                .next()
                .map_or(0.0, |w| 2.0 * (w[1].s - w[0].s));
            out.retain(|[a, b]| b - a >= 0.99 * least);
        }
        for w in samples.windows(2) {
            for root in &w[0].roots {
                let Some(other) = self.same_branch(root, &w[1]) else {
                    continue;
                };
                let crosses = root.azimuth_miss == 0.0
                    || root.azimuth_miss * other.azimuth_miss < 0.0
                        && (root.azimuth_miss - other.azimuth_miss).abs() < 1.0;
                if !crosses {
                    continue;
                }
                let (mut a, mut fa, mut b) = (w[0].s, *root, w[1].s);
                for _ in 0..60 {
                    if (b - a).abs() < 1e-7 || fa.azimuth_miss == 0.0 {
                        break;
                    }
                    let middle = 0.5 * (a + b);
                    let hints = [fa.values];
                    let probe = self.probe(middle, &hints, false);
                    let Some(m) = self.same_branch(&fa, &probe).copied() else {
                        break;
                    };
                    if m.azimuth_miss * root.azimuth_miss > 0.0 || m.azimuth_miss == 0.0 {
                        (a, fa) = (middle, m);
                    } else {
                        b = middle;
                    }
                }
                let hit = fa.azimuth_miss.abs() <= POLE_RAD && self.inside(&fa) >= 0.0;
                if hit && !out.iter().any(|[x, y]| *x - 1e-3 <= a && a <= *y + 1e-3) {
                    out.push([a, a]);
                }
            }
        }
        out.sort_by(|x, y| x[0].total_cmp(&y[0]));
        out
    }

    fn same_branch<'p>(&self, root: &Root, probe: &'p Probe) -> Option<&'p Root> {
        if self.closed {
            return probe.roots.iter().find(|r| r.branch == root.branch);
        }
        let n = self.solver.geometry.joints.len();
        let apart = |r: &Root| {
            r.values[..n]
                .iter()
                .zip(&root.values)
                .map(|(a, b)| wrap_rad(a - b).abs())
                .fold(0.0, f64::max)
        };
        probe
            .roots
            .iter()
            .min_by(|a, b| apart(a).total_cmp(&apart(b)))
            .filter(|r| apart(r) < 0.2)
    }
}
