//! Repeatable noise: SplitMix64 (Steele, Lea, Flood 2014) for the bits, Box and Muller (1958) for
//! the normal distribution. Small enough to be read, and the same with every release of any crate.

/// A stream of normally distributed numbers.
#[derive(Debug, Clone)]
pub struct Noise {
    state: u64,
}

impl Noise {
    /// The stream of a seed.
    pub fn new(seed: u64) -> Self {
        Noise { state: seed }
    }

    fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Uniform in (0, 1]: the logarithm below must be finite.
    fn uniform(&mut self) -> f64 {
        ((self.bits() >> 11) as f64 + 1.0) / (1u64 << 53) as f64
    }

    /// One number of mean 0 and standard deviation 1.
    pub fn normal(&mut self) -> f64 {
        let (a, b) = (self.uniform(), self.uniform());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
}
