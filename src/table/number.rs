//! Decimal numbers as people write them in a table.
//!
//! A number of up to 16 characters made of digits and one point is an integer divided by a power
//! of ten. Below 2^53 and 10^22 both are exact doubles, so that the one division is correctly
//! rounded (Clinger, "How to read floating point numbers accurately", 1990). All else goes to the
//! standard library, which rounds correctly too.

const POWERS: [f64; 17] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
];
const ONES: u64 = 0x0101_0101_0101_0101;
const WIDE_ONES: u128 = 0x0101_0101_0101_0101_0101_0101_0101_0101;

/// The number in `bytes[start..end]` if it is short and plain; `None` says nothing.
#[inline]
pub(super) fn short(bytes: &[u8], start: usize, end: usize) -> Option<f64> {
    let minus = usize::from(*bytes.get(start)? == b'-');
    let from = start + minus;
    let len = end.wrapping_sub(from);
    let size = match len {
        1..=8 => upto_8(bytes, from, len)?,
        9..=16 => upto_16(bytes, from, len)?,
        _ => return None,
    };
    Some(f64::from_bits(size.to_bits() ^ ((minus as u64) << 63)))
}

/// Eight characters in one word, the last one in the top byte; the point is taken out by moving
/// what stands before it up by one byte.
#[inline]
fn upto_8(bytes: &[u8], from: usize, len: usize) -> Option<f64> {
    let word = u64::from_le_bytes(*bytes.get(from..)?.first_chunk()?);
    let mut blank = 64 - 8 * len as u32;
    let mut word = word << blank;
    let mut decimals = 0;
    let diff = word ^ (ONES * u64::from(b'.'));
    let point = diff.wrapping_sub(ONES) & !diff & (ONES << 7);
    if point != 0 {
        let at = point.trailing_zeros() & !7;
        let before = word & ((1 << at) - 1);
        let after = word & !(0xFF << at) & !((1 << at) - 1);
        word = after | (before << 8);
        decimals = 7 - at as usize / 8;
        blank += 8;
        if blank == 64 {
            return None; // a point alone
        }
    }
    word |= (ONES * 0x30) & ((1 << blank) - 1);
    Some(f64::from(eight_digits(word)?) / POWERS[decimals])
}

/// The same with sixteen characters.
#[inline]
fn upto_16(bytes: &[u8], from: usize, len: usize) -> Option<f64> {
    let word = u128::from_le_bytes(*bytes.get(from..)?.first_chunk()?);
    let mut blank = 128 - 8 * len as u32;
    let mut word = word << blank;
    let mut decimals = 0;
    let diff = word ^ (WIDE_ONES * u128::from(b'.'));
    let point = diff.wrapping_sub(WIDE_ONES) & !diff & (WIDE_ONES << 7);
    if point != 0 {
        let at = point.trailing_zeros() & !7;
        let before = word & ((1 << at) - 1);
        let after = word & !(0xFF << at) & !((1 << at) - 1);
        word = after | (before << 8);
        decimals = 15 - at as usize / 8;
        blank += 8;
    }
    word |= (WIDE_ONES * 0x30) & ((1 << blank) - 1);
    let high = u64::from(eight_digits(word as u64)?);
    let low = u64::from(eight_digits((word >> 64) as u64)?);
    let mantissa = high * 100_000_000 + low;
    (mantissa <= 1 << 53).then(|| mantissa as f64 / POWERS[decimals])
}

/// The value of eight digits, the first in the lowest byte, by pairs, fours and eights.
#[inline]
fn eight_digits(word: u64) -> Option<u32> {
    const HIGH: u64 = 0xF0F0_F0F0_F0F0_F0F0;
    const PAIRS: u64 = 0x0000_00FF_0000_00FF;
    let digits = word & HIGH == ONES * 0x30 && word.wrapping_add(ONES * 6) & HIGH == ONES * 0x30;
    if !digits {
        return None;
    }
    let ones = word & (ONES * 0x0F);
    let tens = ones * 10 + (ones >> 8);
    let first = (tens & PAIRS).wrapping_mul(100 + (1_000_000 << 32));
    let second = ((tens >> 16) & PAIRS).wrapping_mul(1 + (10_000 << 32));
    Some((first.wrapping_add(second) >> 32) as u32)
}

/// A finite number in any decimal notation of Rust: sign, digits, point, exponent.
pub(super) fn decimal(text: &str) -> Option<f64> {
    let allowed = |b: u8| b.is_ascii_digit() || matches!(b, b'+' | b'-' | b'.' | b'e' | b'E');
    if !text.bytes().all(allowed) {
        return None; // the standard library would also take `inf` and `nan`
    }
    text.parse().ok().filter(|x: &f64| x.is_finite())
}

/// What to do about a text that is not a number.
pub(super) fn advice(text: &str) -> String {
    let lower = text.to_ascii_lowercase();
    let bare = lower.trim_start_matches(['+', '-']);
    let points = text.matches('.').count();
    let commas = text.matches(',').count();
    if text.contains(['\u{2212}', '\u{2012}', '\u{2013}', '\u{2014}', '\u{FF0D}']) {
        let plain = text.replace(
            ['\u{2212}', '\u{2012}', '\u{2013}', '\u{2014}', '\u{FF0D}'],
            "-",
        );
        return match decimal(&plain) {
            Some(_) => format!("write {plain}, with the minus sign '-' of the keyboard"),
            None => "write a minus sign as '-', the one of the keyboard".to_owned(),
        };
    }
    if commas > 0 {
        let plain = match (commas, points) {
            (1, 0) => text.replace(',', "."),
            _ => text.replace(',', ""),
        };
        // `1,420` may be 1.42 or 1420: only a person knows.
        let three = text.rsplit(',').next().is_some_and(|rest| rest.len() == 3);
        let unclear = (commas, points) == (1, 0) && three;
        if decimal(&plain).is_some() && !unclear {
            return match (commas, points) {
                (1, 0) => format!("write {plain}: the decimal sign is a point"),
                _ => format!("write {plain}, without signs between the thousands"),
            };
        }
        return "write the number with a decimal point and nothing between the thousands".into();
    }
    if ["nan", "inf", "infinity"].contains(&bare) {
        return "write a finite number; if nothing was read, leave the cell empty".to_owned();
    }
    if bare.starts_with("0x") {
        return "write the number in decimal digits".to_owned();
    }
    if text.parse::<f64>().is_ok() {
        return "write a smaller number: this one is beyond what can be computed with".to_owned();
    }
    let rest = leading_number(text).map(|number| text[number.len()..].trim_start());
    if rest.is_some_and(|r| ["o", "l", "i", "s", "b"].contains(&r.to_ascii_lowercase().as_str())) {
        return "write the number again from the note: a letter stands where a digit may be meant"
            .to_owned();
    }
    if let Some(number) = leading_number(text) {
        return format!(
            "write only the number, such as {number}; the unit stands in the column's name"
        );
    }
    "write digits with a decimal point, such as 12.5".to_owned()
}

/// The number at the start of `8x` or `12.5 mm`, if only letters and signs of units follow.
fn leading_number(text: &str) -> Option<&str> {
    let digits = |c: char| c.is_ascii_digit() || matches!(c, '.' | '+' | '-');
    let number = text.trim_end_matches(|c| !digits(c)).trim_end();
    let rest = &text[number.len()..];
    (number.len() < 30 && !rest.is_empty() && decimal(number).is_some()).then_some(number)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn short_of(text: &str) -> Option<f64> {
        short(format!("{text},{:16}", "").as_bytes(), 0, text.len())
    }

    #[test]
    fn plain_short_numbers_are_taken() {
        // Expected values are the same decimals as Rust reads them.
        for (text, value) in [
            ("0", 0.0),
            ("-0.5", -0.5),
            (".5", 0.5),
            ("5.", 5.0),
            ("12345678", 12_345_678.0),
            ("123.4567", 123.4567),
            ("-1234567.89", -1_234_567.89),
            ("0.00000000000001", 1e-14),
            ("9007199254740992", 9_007_199_254_740_992.0),
        ] {
            assert_eq!(
                short_of(text).map(f64::to_bits),
                Some(f64::to_bits(value)),
                "{text}"
            );
        }
    }

    #[test]
    fn all_else_is_left_to_the_other_reader() {
        for text in [
            "",
            "-",
            ".",
            "-.",
            "1.2.3",
            "--1",
            "1e3",
            "+1",
            " 1",
            "1 ",
            "12a4",
            "1,5",
            "9007199254740993",
            "12345678901234567",
            "..",
            "1234.5678.9",
            "/1",
            ":1",
        ] {
            assert_eq!(short_of(text), None, "{text}");
        }
    }

    #[test]
    fn advice_fits_the_mistake() {
        for (text, part) in [
            ("1,5", "write 1.5"),
            ("1,234.5", "write 1234.5"),
            ("\u{2212}3.5", "write -3.5"),
            ("8x", "such as 8;"),
            ("12.5 mm", "such as 12.5;"),
            ("NaN", "finite"),
            ("-inf", "finite"),
            ("0x1F", "decimal digits"),
            ("1e999", "smaller"),
            ("left", "such as 12.5"),
        ] {
            assert_eq!(decimal(text), None, "{text}");
            assert!(advice(text).contains(part), "{text}: {}", advice(text));
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(4000))]
        #[test]
        fn short_numbers_equal_the_standard_library(text in "-?[0-9]{0,9}(\\.[0-9]{0,9})?") {
            if let Some(value) = short_of(&text) {
                prop_assert_eq!(value.to_bits(), text.parse::<f64>().unwrap().to_bits());
            } else {
                prop_assert!(text.parse::<f64>().is_err() || text.len() >= 16, "{}", text);
            }
        }
        #[test]
        fn whatever_is_taken_is_a_number(text in "[-+.,0-9eE /:a]{0,18}") {
            if let Some(value) = short_of(&text) {
                prop_assert_eq!(Some(value.to_bits()), text.parse::<f64>().ok().map(f64::to_bits));
            }
        }
    }
}
