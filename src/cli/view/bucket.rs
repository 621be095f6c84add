//! How many requests are answered: so many a second, and a burst.

use std::time::Instant;

/// Fills with time; every request takes one.
#[derive(Debug)]
pub struct Bucket {
    left: f64,
    at: Instant,
    a_second: f64,
    burst: f64,
}

impl Bucket {
    /// A full one: so many requests at once, and so many a second over a while.
    pub fn new(now: Instant, a_second: f64, burst: f64) -> Bucket {
        Bucket {
            left: burst,
            at: now,
            a_second,
            burst,
        }
    }

    /// Whether one more request may be answered.
    pub fn take(&mut self, now: Instant) -> bool {
        let since = now.saturating_duration_since(self.at).as_secs_f64();
        self.at = now;
        self.left = (self.left + since * self.a_second).min(self.burst);
        let may = self.left >= 1.0;
        if may {
            self.left -= 1.0;
        }
        may
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    /// By hand: 200 at once and no more; a tenth of a second later 40 again; after long rest 200.
    #[test]
    fn a_burst_and_then_so_many_a_second() {
        let start = Instant::now();
        let mut bucket = Bucket::new(start, 400.0, 200.0);
        let taken =
            |bucket: &mut Bucket, at: Instant| (0..1000).filter(|_| bucket.take(at)).count();
        assert_eq!(taken(&mut bucket, start), 200);
        let later = start + Duration::from_millis(100);
        assert!((39..=40).contains(&taken(&mut bucket, later)));
        assert_eq!(taken(&mut bucket, later + Duration::from_secs(60)), 200);
        // A clock that goes back gives nothing away.
        assert_eq!(taken(&mut bucket, start), 0);
    }
}
