//! Small charts over time.

use crate::drawing::chart::multiples;
use crate::drawing::chart::multiples::Multiples;
use crate::drawing::chart::multiples::Panel;
use crate::drawing::chart::multiples::Then;
use crate::drawing::chart::tests::LONG;
use crate::drawing::chart::tests::fine;

fn panel(values: Vec<Then>) -> Panel {
    Panel {
        name: format!("marks.{LONG}.x, mm"),
        words: "drifts: +0.060 ± 0.011 deg a month (95 %)".to_owned(),
        line: values
            .first()
            .zip(values.last())
            .map(|(a, b)| [(a.day, a.value), (b.day, b.value)]),
        values,
    }
}

#[test]
fn small_multiples_are_sound() {
    let then = |day: f64, value: f64, counts: bool| Then {
        day,
        value,
        half: 0.1 * value.abs(),
        counts,
    };
    let many: Vec<Then> = (0..150)
        .map(|k| then(20_000.0 + f64::from(k), f64::from(k), k % 7 > 0))
        .collect();
    for panels in [
        vec![panel(vec![then(20_000.0, 1.0, true)])],
        vec![panel(vec![then(20_000.0, 1.0, true), then(20_000.0, 1.0, false)]); 3],
        vec![panel(vec![then(20_000.0, 9e8, true), then(20_900.0, -9e8, true)]); 2],
        vec![panel(many); 6],
        vec![panel(Vec::new())],
        Vec::new(),
    ] {
        let chart = Multiples {
            title: "t".to_owned(),
            description: "d".to_owned(),
            days: (0..6)
                .map(|k| (20_000.0 + 30.0 * f64::from(k), format!("2026-0{}", k + 1)))
                .collect(),
            events: vec![20_050.0],
            event_words: "something was moved".to_owned(),
            words: ["value", "does not count", "±1.96 u (95 %)", "line"].map(str::to_owned),
            panels,
            notes: vec![LONG.to_owned()],
        };
        fine(|w| multiples::multiples(&chart, w));
    }
}
