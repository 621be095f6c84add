//! Pictures of whole cells: sound at both widths, and true to the registration.

macro_rules! demo {
    ($cell:literal, $($file:literal),*) => {
        bench_of(
            include_str!(concat!("../../../demo-cells/", $cell, "/cell.toml")),
            &[$(($file, include_str!(concat!("../../../demo-cells/", $cell, "/readings/", $file)))),*],
        )
    };
}

mod arrows;
mod aside;
mod checked;
mod drift;
mod lanes;
mod marked;
mod moved;
mod play;
mod residuals;

use crate::bench::Bench;
use crate::bench::resolve_unknowns;
use crate::cell;
use crate::cell::Geometry;
use crate::diagnose::Problems;
use crate::drawing::tests::readback::sound;
use crate::pictures::NARROW;
use crate::pictures::Picture;
use crate::pictures::WIDE;
use crate::pictures::contributions;
use crate::pictures::joints;
use crate::pictures::notch_dial;
use crate::pictures::track_line;
use crate::registration::Document;
use crate::registration::Outcome;
use crate::registration::SetAside;
use crate::registration::document;
use crate::registration::register_with;

fn bench_of(cell: &str, files: &[(&'static str, &str)]) -> Bench {
    let mut problems = Problems::default();
    let cell = cell::parse("cell.toml", cell, &mut problems).unwrap();
    let mut bench = Bench::new(cell);
    for (kind, text) in files {
        let name = format!("readings/{kind}");
        bench.read(kind, &name, text.as_bytes().to_vec(), &mut problems);
    }
    bench
}

fn glazing() -> Bench {
    demo!(
        "glazing-bench",
        "holes.csv",
        "notch.csv",
        "touch.csv",
        "attitude.csv",
        "height.csv"
    )
}

fn registered(bench: &Bench) -> (Document, Geometry) {
    solved(bench, SetAside::Nothing)
}

fn solved(bench: &Bench, what: SetAside) -> (Document, Geometry) {
    let mut problems = Problems::default();
    let unknowns = resolve_unknowns(&bench.cell, "cell.toml", &mut problems).unwrap();
    let registration = register_with(bench, &unknowns, what);
    let found = document(bench, &unknowns, &registration);
    match registration.outcome {
        Outcome::Determined(determined) => (found, determined.geometry),
        other => panic!("{other:?}"),
    }
}

/// Sound at both widths, not too large, every letter readable and nothing cut.
fn fine(picture: &Picture) {
    for (svg, width) in [(&picture.wide, WIDE), (&picture.narrow, NARROW)] {
        assert!(svg.len() < 150_000, "{} {}", picture.slug, svg.len());
        let all = sound(svg);
        assert_eq!(all[0].number("width"), width);
        for text in all.iter().filter(|e| e.name == "text") {
            assert!(
                text.number("font-size") >= 10.5 && !text.text.contains('…'),
                "{text:?}"
            );
        }
    }
}

fn every(bench: &Bench, document: &Document, geometry: &Geometry) -> Vec<Picture> {
    let all = [
        track_line::track_line(document, bench, geometry),
        notch_dial::notch_dial(document, bench, geometry),
        joints::joints(document, bench, geometry),
        contributions::contributions(document, bench),
    ];
    let all: Vec<Picture> = all.into_iter().filter_map(|p| p.unwrap()).collect();
    all.iter().for_each(fine);
    all
}

const LONG: &str = "foot_<left>_&_\"right\"_of_the_carriage_that_somebody_named_so";
