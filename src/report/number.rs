//! Numbers with as many digits as their uncertainty supports.

/// Most decimals that are ever printed.
const MOST: usize = 6;

/// Decimals that show two significant digits of an uncertainty (JCGM 100:2008, 7.2.6).
pub fn decimals_for(u: f64) -> usize {
    if u <= 0.0 || !u.is_finite() {
        return MOST;
    }
    let places = 1.0 - u.log10().floor();
    places.clamp(0.0, MOST as f64) as usize
}

/// A value with a fixed number of decimals; a rounded zero has no sign.
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        _ => text,
    }
}

/// An uncertainty with two significant digits.
pub fn uncertainty(u: f64) -> String {
    fixed(u, decimals_for(u))
}

/// A probability in words of its size.
pub fn probability(p: f64) -> String {
    if p < 0.001 {
        "below 0.001".to_owned()
    } else {
        fixed(p, if p < 0.1 { 3 } else { 2 })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_digits_of_the_uncertainty_decide() {
        // By hand, JCGM 100:2008, 7.2.6: u = 0.035 supports thousandths, u = 12 whole numbers.
        assert_eq!(fixed(10.057_62, decimals_for(0.035)), "10.058");
        assert_eq!(fixed(1234.56, decimals_for(12.0)), "1235");
        assert_eq!(uncertainty(0.035), "0.035");
        assert_eq!(fixed(-0.0001, 2), "0.00");
    }
}
