//! The fewest stations that serve all steps, and among those the best: an exact search over a list of
//! candidates, bounded; where the bound is met the answer says how few could still be enough.
//!
//! Steps and candidates are rows and columns of a table of margins. This is the set cover problem,
//! hard in general (Karp 1972; from memory) and small here.

/// Nodes of the search before it gives up proving.
const MOST_NODES: usize = 400_000;

/// A set of steps.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Bits(Vec<u64>);

impl Bits {
    fn empty(n: usize) -> Self {
        Bits(vec![0; n.div_ceil(64)])
    }
    fn set(&mut self, i: usize) {
        self.0[i / 64] |= 1 << (i % 64);
    }
    fn has(&self, i: usize) -> bool {
        self.0[i / 64] >> (i % 64) & 1 == 1
    }
    fn count(&self) -> usize {
        self.0.iter().map(|w| w.count_ones() as usize).sum()
    }
    fn without(&self, o: &Bits) -> Bits {
        Bits(self.0.iter().zip(&o.0).map(|(a, b)| a & !b).collect())
    }
    fn both(&self, o: &Bits) -> usize {
        let words = self.0.iter().zip(&o.0);
        words.map(|(a, b)| (a & b).count_ones() as usize).sum()
    }
    fn within(&self, o: &Bits) -> bool {
        self.0.iter().zip(&o.0).all(|(a, b)| a & !b == 0)
    }
}

/// Stations that serve all steps.
#[derive(Debug, Clone, PartialEq)]
pub struct Cover {
    /// Candidates, ascending.
    pub chosen: Vec<usize>,
    /// Fewer than this cannot serve all steps, whatever the search.
    pub at_least: usize,
}

impl Cover {
    /// Whether no fewer candidates can serve all steps.
    pub fn is_proved(&self) -> bool {
        self.at_least >= self.chosen.len()
    }
}

/// A table of margins: one row a candidate, one column a step; `None` where it does not serve it.
pub type Margins = [Vec<Option<f64>>];

/// The fewest candidates that serve every step. `None` where a step has none.
pub fn fewest(margins: &Margins, steps: usize) -> Option<Cover> {
    let sets = sets_above(margins, steps, f64::NEG_INFINITY);
    let greedy = greedy(&sets, steps)?;
    let mut at_least = 1.min(steps);
    while at_least < greedy.len() {
        match Search::new(&sets, steps).cover(at_least) {
            Found::Cover(chosen) => return Some(Cover { chosen, at_least }),
            Found::None => at_least += 1,
            Found::Spent => break,
        }
    }
    Some(Cover {
        chosen: greedy,
        at_least,
    })
}

/// Among all sets of `count` candidates that serve every step, one whose smallest margin is largest;
/// each step takes the candidate where its margin is largest. Then, exchanging one candidate at a
/// time, the one with the largest sum of margins. `start` is any such set.
pub fn widest(margins: &Margins, steps: usize, start: &Cover) -> Vec<usize> {
    let count = start.chosen.len();
    let mut best = start.chosen.clone();
    let mut levels: Vec<f64> = margins.iter().flatten().flatten().copied().collect();
    levels.sort_by(f64::total_cmp);
    levels.dedup();
    let smallest = |chosen: &[usize]| {
        (0..steps)
            .map(|s| best_margin(margins, chosen, s))
            .fold(f64::INFINITY, f64::min)
    };
    // Levels above what is known already, halved.
    let mut low = levels.partition_point(|l| *l <= smallest(&best));
    let mut high = levels.len();
    while low < high {
        let middle = usize::midpoint(low, high);
        let sets = sets_above(margins, steps, levels[middle]);
        match Search::new(&sets, steps).cover(count) {
            Found::Cover(chosen) => {
                best = chosen;
                low = middle + 1;
            }
            Found::None | Found::Spent => high = middle,
        }
    }
    // Fewer than asked for may do at this level: any others keep it.
    exchange(margins, steps, &mut best);
    best.sort_unstable();
    best
}

fn best_margin(margins: &Margins, chosen: &[usize], step: usize) -> f64 {
    chosen
        .iter()
        .filter_map(|c| margins[*c][step])
        .fold(f64::NEG_INFINITY, f64::max)
}

fn exchange(margins: &Margins, steps: usize, chosen: &mut [usize]) {
    let worth = |chosen: &[usize]| {
        let all = (0..steps).map(|s| best_margin(margins, chosen, s));
        all.fold((f64::INFINITY, 0.0), |(low, sum), m| (m.min(low), sum + m))
    };
    let mut now = worth(chosen);
    for _ in 0..20 {
        let mut better = false;
        for i in 0..chosen.len() {
            for c in 0..margins.len() {
                let before = chosen[i];
                chosen[i] = c;
                let then = worth(chosen);
                if then.0 >= now.0 && then.1 > now.1 + 1e-9 {
                    now = then;
                    better = true;
                } else {
                    chosen[i] = before;
                }
            }
        }
        if !better {
            break;
        }
    }
}

fn sets_above(margins: &Margins, steps: usize, least: f64) -> Vec<Bits> {
    margins
        .iter()
        .map(|row| {
            let mut bits = Bits::empty(steps);
            for (i, m) in row.iter().enumerate() {
                if m.is_some_and(|m| m >= least) {
                    bits.set(i);
                }
            }
            bits
        })
        .collect()
}

fn full(steps: usize) -> Bits {
    let mut bits = Bits::empty(steps);
    (0..steps).for_each(|i| bits.set(i));
    bits
}

fn greedy(sets: &[Bits], steps: usize) -> Option<Vec<usize>> {
    let mut left = full(steps);
    let mut chosen = Vec::new();
    while left.count() > 0 {
        let (c, gain) = sets
            .iter()
            .enumerate()
            .map(|(c, s)| (c, s.both(&left)))
            .max_by_key(|(c, gain)| (*gain, usize::MAX - c))?;
        if gain == 0 {
            return None;
        }
        left = left.without(&sets[c]);
        chosen.push(c);
    }
    chosen.sort_unstable();
    Some(chosen)
}

enum Found {
    Cover(Vec<usize>),
    None,
    Spent,
}

struct Search<'a> {
    sets: &'a [Bits],
    steps: usize,
    /// Candidates that no other one replaces.
    useful: Vec<usize>,
    nodes: usize,
}

impl<'a> Search<'a> {
    fn new(sets: &'a [Bits], steps: usize) -> Self {
        let useful = (0..sets.len())
            .filter(|i| {
                let replaced = |j: usize| {
                    j != *i && sets[*i].within(&sets[j]) && (sets[j] != sets[*i] || j < *i)
                };
                sets[*i].count() > 0 && !(0..sets.len()).any(replaced)
            })
            .collect();
        Search {
            sets,
            steps,
            useful,
            nodes: 0,
        }
    }

    fn cover(mut self, count: usize) -> Found {
        let mut chosen = Vec::new();
        match self.deeper(&full(self.steps), count, &mut chosen) {
            Some(true) => {
                chosen.sort_unstable();
                Found::Cover(chosen)
            }
            Some(false) => Found::None,
            None => Found::Spent,
        }
    }

    /// `None` where the search gave up.
    fn deeper(&mut self, left: &Bits, count: usize, chosen: &mut Vec<usize>) -> Option<bool> {
        let open = left.count();
        if open == 0 {
            return Some(true);
        }
        self.nodes += 1;
        if self.nodes > MOST_NODES {
            return None;
        }
        let gains: Vec<(usize, usize)> = self
            .useful
            .iter()
            .map(|c| (self.sets[*c].both(left), *c))
            .collect();
        let most = gains.iter().map(|g| g.0).max().unwrap_or(0);
        if count == 0 || most * count < open {
            return Some(false);
        }
        // The step that fewest candidates serve leaves least choice.
        let step = (0..self.steps).filter(|i| left.has(*i)).min_by_key(|i| {
            let serving = self.useful.iter().filter(|c| self.sets[**c].has(*i));
            serving.count()
        })?;
        let mut serving: Vec<(usize, usize)> = gains
            .into_iter()
            .filter(|(_, c)| self.sets[*c].has(step))
            .collect();
        serving.sort_by_key(|(gain, c)| (usize::MAX - gain, *c));
        for (_, c) in serving {
            chosen.push(c);
            let rest = left.without(&self.sets[c]);
            if self.deeper(&rest, count - 1, chosen)? {
                return Some(true);
            }
            chosen.pop();
        }
        Some(false)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn smallest(margins: &Margins, chosen: &[usize], steps: usize) -> f64 {
        (0..steps)
            .map(|s| best_margin(margins, chosen, s))
            .fold(f64::INFINITY, f64::min)
    }

    /// Every subset of the candidates is tried: the least size, and the largest smallest margin of
    /// that size.
    fn by_trying_all(margins: &Margins, steps: usize) -> Option<(usize, f64)> {
        let mut best: Option<(usize, f64)> = None;
        for subset in 0u32..1 << margins.len() {
            let chosen: Vec<usize> = (0..margins.len())
                .filter(|c| subset >> c & 1 == 1)
                .collect();
            let low = smallest(margins, &chosen, steps);
            if low == f64::NEG_INFINITY {
                continue;
            }
            let size = chosen.len();
            if best.is_none_or(|(n, m)| size < n || size == n && low > m) {
                best = Some((size, low));
            }
        }
        best
    }

    #[test]
    fn covers_are_those_that_trying_all_subsets_finds() {
        let mut random = fastrand::Rng::with_seed(9);
        let (mut sizes, mut none) = ([0; 12], 0);
        for _ in 0..400 {
            let (candidates, steps) = (random.usize(1..11), random.usize(1..15));
            let share = 0.1 + 0.6 * random.f64();
            let margins: Vec<Vec<Option<f64>>> = (0..candidates)
                .map(|_| {
                    let one = |_| (random.f64() < share).then(|| (random.f64() * 20.0).round());
                    (0..steps).map(one).collect()
                })
                .collect();
            let known = by_trying_all(&margins, steps);
            let Some(cover) = fewest(&margins, steps) else {
                assert_eq!(known, None);
                none += 1;
                continue;
            };
            let (size, low) = known.expect("a cover");
            assert_eq!(cover.chosen.len(), size);
            assert!(cover.is_proved());
            let best = widest(&margins, steps, &cover);
            assert_eq!(best.len(), size);
            assert_eq!(smallest(&margins, &best, steps), low);
            sizes[size] += 1;
        }
        assert!(
            none > 10 && sizes[2] > 10 && sizes[3] > 10,
            "{sizes:?} {none}"
        );
    }

    /// By hand: stations 0, 1, 2 serve steps {0, 1}, {1, 2}, {2, 3}: two are needed, 0 and 2.
    #[test]
    fn two_stations_of_three() {
        let m = |serves: [usize; 2]| (0..4).map(|i| serves.contains(&i).then_some(1.0)).collect();
        let margins: Vec<Vec<Option<f64>>> = vec![m([0, 1]), m([1, 2]), m([2, 3])];
        let cover = fewest(&margins, 4).expect("a cover");
        assert_eq!((cover.chosen.as_slice(), cover.at_least), (&[0, 2][..], 2));
        assert_eq!(fewest(&margins[..2], 4), None);
    }
}
