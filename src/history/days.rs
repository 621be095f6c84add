//! Days of the calendar as numbers.

/// A month of drift: the twelfth part of a mean year, days.
pub const MONTH: f64 = 30.44;

/// Days from 1970-01-01 to the day that a text begins with: `2026-11-02`, or a time of RFC 3339.
pub fn day_of(text: &str) -> Option<i64> {
    let day = text.get(..10)?;
    let rest = text.as_bytes().get(10);
    if rest.is_some_and(|b| !matches!(b, b'T' | b't' | b' ')) {
        return None;
    }
    let mut parts = day.split('-');
    let mut number = |digits: usize| -> Option<i64> {
        let part = parts.next()?;
        let plain = part.len() == digits && part.bytes().all(|b| b.is_ascii_digit());
        plain.then(|| part.parse().ok()).flatten()
    };
    let (year, month, of_month) = (number(4)?, number(2)?, number(2)?);
    if !(1..=12).contains(&month) || of_month < 1 || of_month > length(year, month) {
        return None;
    }
    let before: i64 = (1..month).map(|m| length(year, m)).sum();
    Some(first_of(year) + before + of_month - 1)
}

/// The day as text, `2026-11-02`.
pub fn text_of(day: i64) -> String {
    // Never too late, since years have 365 or 366 days; then on to the right one.
    let mut year = 1970 + day.div_euclid(if day < 0 { 365 } else { 366 });
    while first_of(year + 1) <= day {
        year += 1;
    }
    let mut left = day - first_of(year);
    let mut month = 1;
    while left >= length(year, month) {
        left -= length(year, month);
        month += 1;
    }
    format!("{year:04}-{month:02}-{:02}", left + 1)
}

fn leap(year: i64) -> bool {
    year % 4 == 0 && (year % 100 != 0 || year % 400 == 0)
}

fn length(year: i64, month: i64) -> i64 {
    match month {
        2 => 28 + i64::from(leap(year)),
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

/// The first of January, Gregorian calendar.
fn first_of(year: i64) -> i64 {
    let leaps = |year: i64| year.div_euclid(4) - year.div_euclid(100) + year.div_euclid(400);
    365 * (year - 1970) + leaps(year - 1) - leaps(1969)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 31 + 28 + 31 + 30 + 31 + 30 + 31 + 31 + 30 + 31 days to November, 56 years of 365 days to 2026
    /// with the leap days of 1972 to 2024: (2024 − 1972) / 4 + 1 = 14.
    #[test]
    fn days_counted_by_hand() {
        assert_eq!(day_of("1970-01-01"), Some(0));
        assert_eq!(day_of("1969-12-31"), Some(-1));
        assert_eq!(
            day_of("2026-11-02T08:00:00Z"),
            Some(56 * 365 + 14 + 304 + 1)
        );
    }

    /// Each day is the one after the one before, over 400 years, and comes back as it was written.
    #[test]
    fn every_day_follows_the_one_before() {
        const FIRST: i64 = -70 * 366;
        let (mut year, mut month, mut of_month) = (0, 0, 0);
        for day in FIRST..FIRST + 400 * 366 {
            let text = text_of(day);
            assert_eq!(day_of(&text), Some(day));
            let n = |a: usize, b: usize| text[a..b].parse::<i64>().unwrap();
            let now = (n(0, 4), n(5, 7), n(8, 10));
            if day > FIRST {
                let next_day = now == (year, month, of_month + 1);
                let next_month = now == (year, month + 1, 1) && of_month >= 28;
                let next_year = now == (year + 1, 1, 1) && (month, of_month) == (12, 31);
                assert!(next_day || next_month || next_year, "{text}");
            }
            (year, month, of_month) = now;
        }
    }

    #[test]
    fn what_is_no_day_is_refused() {
        for text in [
            "",
            "2026-13-01",
            "2026-02-29",
            "2026-2-1",
            "26-02-01",
            "2026-04-31",
            "2026-11-023",
            "+026-01-01",
            "2026-00-10",
            "2026-01-00",
        ] {
            assert_eq!(day_of(text), None, "{text}");
        }
        assert!(day_of("2024-02-29").is_some());
        assert!(day_of("1900-02-29").is_none() && day_of("2000-02-29").is_some());
    }
}
