//! Chains of places followed from sample to sample along the travel, and their stretches within limits.

use crate::reach::Curve;
use crate::reach::Solver;
use crate::reach::Wanted;
use crate::reach::pairs::APART_RAD;
use crate::reach::pairs::END_MM;
use crate::reach::pairs::Spot;
use crate::units::wrap_rad;

impl Solver<'_> {
    /// The spot that each chain goes on to, nearest ones first.
    pub(super) fn matched(
        &self,
        chains: &[Vec<Spot>],
        spots: &[Spot],
        taken: &mut [bool],
    ) -> Vec<Option<usize>> {
        let mut ways: Vec<(f64, usize, usize)> = Vec::new();
        for (c, chain) in chains.iter().enumerate() {
            for (k, spot) in spots.iter().enumerate() {
                let far = chain.last().map_or(f64::INFINITY, |l| self.apart(l, spot));
                if far < APART_RAD {
                    ways.push((far, c, k));
                }
            }
        }
        ways.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut next = vec![None; chains.len()];
        for (_, c, k) in ways {
            if next[c].is_none() && !taken[k] {
                next[c] = Some(k);
                taken[k] = true;
            }
        }
        next
    }

    fn apart(&self, a: &Spot, b: &Spot) -> f64 {
        a.values[..=self.cell.joints.len()]
            .iter()
            .zip(&b.values)
            .map(|(a, b)| wrap_rad(a - b).abs())
            .fold(0.0, f64::max)
    }

    pub(super) fn nearest(&self, from: &Spot, spots: &[Spot], taken: &[bool]) -> Option<usize> {
        let (k, far) = spots
            .iter()
            .enumerate()
            .filter(|(k, _)| !taken.get(*k).copied().unwrap_or(false))
            .map(|(k, spot)| (k, self.apart(from, spot)))
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        (far < APART_RAD).then_some(k)
    }

    /// The last spot that can be followed from `from` toward a travel where it is gone.
    pub(super) fn end(&self, asked: &Wanted, still: bool, from: &Spot, gone: f64) -> Spot {
        let (mut last, mut gone) = (*from, gone);
        for _ in 0..40 {
            if (last.s - gone).abs() < END_MM {
                break;
            }
            let middle = 0.5 * (last.s + gone);
            let found = self.spots(asked, still, middle, Some(&last.values));
            match self.nearest(&last, &found, &[]) {
                Some(k) => last = found[k],
                None => gone = middle,
            }
        }
        last
    }

    /// The stretches of a chain that lie within all limits.
    pub(super) fn within(&self, asked: &Wanted, still: bool, chain: &[Spot]) -> Vec<Curve> {
        let mut curves = Vec::new();
        let mut now: Vec<Spot> = Vec::new();
        let mut before: Option<&Spot> = None;
        for spot in chain {
            match (before, spot.inside >= 0.0) {
                (Some(b), true) if b.inside < 0.0 => {
                    now.push(self.boundary(asked, still, spot, b));
                    now.push(*spot);
                }
                (Some(b), false) if b.inside >= 0.0 => {
                    now.push(self.boundary(asked, still, b, spot));
                    curves.push(std::mem::take(&mut now));
                }
                (_, true) => now.push(*spot),
                (_, false) => {}
            }
            before = Some(spot);
        }
        curves.push(now);
        let travels = |spots: &Vec<Spot>| -> Curve {
            let mut spots = spots.clone();
            spots.sort_by(|a, b| a.s.total_cmp(&b.s));
            Curve {
                pairs: spots.iter().filter_map(|spot| self.pair(spot)).collect(),
            }
        };
        curves
            .iter()
            .filter(|c| !c.is_empty())
            .map(travels)
            .collect()
    }

    /// The limit between a spot inside and one outside, on the inner side.
    fn boundary(&self, asked: &Wanted, still: bool, inside: &Spot, outside: &Spot) -> Spot {
        let (mut last, mut gone) = (*inside, outside.s);
        for _ in 0..40 {
            if (last.s - gone).abs() < END_MM {
                break;
            }
            let middle = 0.5 * (last.s + gone);
            let found = self.spots(asked, still, middle, Some(&last.values));
            match self.nearest(&last, &found, &[]) {
                Some(k) if found[k].inside >= 0.0 => last = found[k],
                _ => gone = middle,
            }
        }
        last
    }
}
