//! Values over time.

use crate::history::day_of;
use crate::pictures::drift;
use crate::pictures::drift::DriftOf;
use crate::pictures::drift::Drifts;
use crate::pictures::drift::ValueOn;
use crate::pictures::tests::LONG;
use crate::pictures::tests::fine;

fn parameter(
    name: &str,
    values: &[(i64, f64, f64)],
    per_month: Option<(f64, f64, bool)>,
) -> DriftOf {
    let on = |&(day, value, u): &(i64, f64, f64)| ValueOn {
        day,
        value,
        u,
        counts: true,
    };
    DriftOf {
        name: name.to_owned(),
        unit: "deg".to_owned(),
        values: values.iter().map(on).collect(),
        per_month,
    }
}

#[test]
fn drifts_are_drawn_as_lines() {
    let day = day_of("2026-03-02").unwrap();
    // 0.1 in 30.44 days, from equal weights: the line goes through both values.
    let values = [(day, 1.0, 0.01), (day + 3044, 11.0, 0.01)];
    let drifting = parameter("turntable.index", &values, Some((0.1, 0.01, true)));
    let still = parameter(
        LONG,
        &[(day, 1.0, 0.5), (day + 3044, 1.1, 0.5)],
        Some((0.001, 0.1, false)),
    );
    let drifts = Drifts {
        parameters: vec![still, drifting, parameter("once", &[(day, 1.0, 0.1)], None)],
        moves: vec![day + 1000],
        unreadable: 1,
    };
    let (chart, sentence) = drift::chart(&drifts).unwrap();
    assert_eq!(chart.panels.len(), 2);
    assert!(chart.panels[0].name.starts_with("turntable.index"));
    // What may be chance has no line, which would be read as a drift.
    assert_eq!(chart.panels[1].line, None);
    let [a, b] = chart.panels[0].line.unwrap();
    assert!(
        (a.1 - 1.0).abs() < 1e-9 && (b.1 - 11.0).abs() < 1e-9,
        "{a:?} {b:?}"
    );
    assert!(
        sentence.starts_with("turntable.index (+0.100 deg a month) drifts"),
        "{sentence}"
    );
    assert!(
        sentence.contains("Something was moved once") && sentence.contains("Not drawn: 1 record")
    );
    fine(&drift::drift(&drifts).unwrap().unwrap());
    let one = Drifts {
        parameters: vec![parameter("once", &[(day, 1.0, 0.1)], None)],
        moves: Vec::new(),
        unreadable: 0,
    };
    assert_eq!(drift::drift(&one).unwrap(), None);
    let same_day = Drifts {
        parameters: vec![parameter(LONG, &[(day, 1e8, 0.0), (day, 1e8, 0.0)], None); 9],
        ..one
    };
    assert_eq!(
        drift::drift(&same_day).unwrap(),
        None,
        "one day says nothing over time"
    );
    let alike = Drifts {
        parameters: vec![parameter(LONG, &[(day, 1e8, 0.0), (day + 1, 1e8, 0.0)], None); 9],
        ..same_day
    };
    fine(&drift::drift(&alike).unwrap().unwrap());
}

#[test]
fn days_stand_at_the_first_of_months() {
    let day = |text: &str| day_of(text).unwrap();
    let words = |first: &str, last: &str| -> Vec<String> {
        let days = [day(first), day(last)];
        drift::ticks(days[0], days[1], &days)
            .into_iter()
            .map(|t| t.1)
            .collect()
    };
    // April to November are eight months; every second one of the year (January, March, …) are four.
    assert_eq!(
        words("2026-03-02", "2026-11-10"),
        ["2026-05", "2026-07", "2026-09", "2026-11"]
    );
    assert_eq!(
        words("2026-03-02", "2026-03-20"),
        ["2026-03-02", "2026-03-20"]
    );
    assert_eq!(
        words("2020-06-01", "2026-06-01"),
        ["2022-01", "2024-01", "2026-01"]
    );
}
