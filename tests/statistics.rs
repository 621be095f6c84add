//! Trust in the statistics themselves: several hundred noisy copies of a demo cell.

mod bench;

use std::num::NonZero;

use notchpin::registration::SimulationDocument;
use notchpin::registration::simulation;

/// Copies drawn; the seeds are their numbers, so that the counts below are the same everywhere.
const COPIES: u64 = 600;

fn demo(name: &str) -> bench::Read {
    let folder = format!("{}/demo-cells/{name}", env!("CARGO_MANIFEST_DIR"));
    let text = |path: &str| std::fs::read_to_string(format!("{folder}/{path}")).unwrap_or_default();
    let files: Vec<(&str, String)> = notchpin::readings::FILES
        .iter()
        .map(|f| (*f, text(&format!("readings/{f}"))))
        .collect();
    let files: Vec<(&str, &str)> = files.iter().map(|(f, t)| (*f, t.as_str())).collect();
    bench::read(&text("cell.toml"), &files)
}

fn copies_of(name: &str, copies: u64, threads: usize) -> SimulationDocument {
    let read = demo(name);
    let threads = NonZero::new(threads).unwrap();
    simulation(
        &read.bench,
        &read.unknowns,
        &read.determined(),
        copies,
        threads,
        &|| {},
    )
}

/// The three promises with the bounds that are asked for: 95 % intervals hold the truth in 95 ± 2 % of the
/// cases, 0.1 % of good readings are called suspect, an error of the smallest noticeable size is found in
/// 80 ± 5 % of the cases. 600 copies of 106 residuals: 64 false suspects are to be expected, and by the
/// binomial law 40 to 88 with 99.7 % (three standard deviations of 8).
#[test]
fn the_statistics_hold_what_they_promise() {
    for name in ["glazing-bench", "inch-rows"] {
        let found = copies_of(name, COPIES, 2);
        assert_eq!((found.copies as u64, found.failed), (COPIES, 0));
        for p in &found.parameters {
            assert!(
                (p.held - 0.95).abs() <= 0.035,
                "{name}: {} {}",
                p.name,
                p.held
            );
        }
        let held = found.held.unwrap();
        assert!((held - 0.95).abs() <= 0.02, "{name}: {held}");
        assert!(
            (0.000_6..=0.001_4).contains(&found.false_suspects),
            "{name}: {}",
            found.false_suspects
        );
        let power = found.found.unwrap();
        assert!((power - 0.80).abs() <= 0.05, "{name}: {power}");
        assert_eq!(found.spoilt as u64, COPIES);
    }
}

#[test]
fn the_counts_do_not_depend_on_how_the_work_is_divided() {
    let one = copies_of("six-joint", 60, 1);
    let three = copies_of("six-joint", 60, 3);
    assert_eq!(one, three);
}
