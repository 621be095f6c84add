//! Numbers spread evenly over 0 to 1, always the same: Halton's sequence.

/// The radical inverse of `k` to a base: its digits mirrored at the point. Different primes for different
/// axes fill a space evenly (Halton 1960).
pub fn radical_inverse(mut k: usize, base: usize) -> f64 {
    let (mut f, mut x) = (1.0, 0.0);
    while k > 0 {
        f /= base as f64;
        x += f * (k % base) as f64;
        k /= base;
    }
    x
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 6 is 110 in base 2, mirrored 0.011, that is 3/8; 5 is 12 in base 3, mirrored 0.21, 7/9.
    #[test]
    fn digits_are_mirrored() {
        assert_eq!(radical_inverse(6, 2), 0.375);
        assert!((radical_inverse(5, 3) - 7.0 / 9.0).abs() < 1e-15);
        assert_eq!(radical_inverse(0, 2), 0.0);
    }
}
