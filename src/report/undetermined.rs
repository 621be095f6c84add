//! `register` where the readings do not settle all unknowns.

use crate::registration::AdviceDocument;
use crate::registration::Bench;
use crate::registration::Document;
use crate::report::notes::combination;
use crate::report::words::CAUTION;
use crate::report::words::wrap;

/// The text where the readings do not settle all unknowns.
pub fn undetermined(bench: &Bench, document: &Document) -> String {
    let mut out = format!(
        "UNDETERMINED: {}\n  There is no registration, and no record was written.\n\n",
        bench.cell.name
    );
    out.push_str("What the readings cannot tell\n");
    let told: Vec<&AdviceDocument> = document
        .advice
        .iter()
        .filter(|a| a.about == "undetermined")
        .collect();
    for advice in &told {
        out.push_str(&advice_lines(advice));
    }
    for direction in document.undetermined.iter().skip(told.len()) {
        out.push_str(&wrap(
            "  - ",
            4,
            &format!("No reading settles {}.", combination(direction)),
        ));
    }
    out.push_str("\nNext\n");
    out.push_str(&wrap(
        "  ",
        2,
        "Take such a reading; or give one of the parameters a tolerance in [solve] instead of \"free\", or \
         take it out of [solve]. Then register again. `notchpin plan` lists all readings that are missing.",
    ));
    if told.iter().any(|a| a.reading.is_some()) {
        out.push('\n');
        out.push_str(CAUTION);
    }
    out
}

/// A piece of advice as a list item.
pub(super) fn advice_lines(advice: &AdviceDocument) -> String {
    let mut out = wrap("  - ", 4, &advice.sentence);
    out.push_str(&wrap("    ", 6, &what_would(advice)));
    out
}

/// What would settle or check it.
pub fn what_would(advice: &AdviceDocument) -> String {
    match &advice.reading {
        Some(reading) if advice.about == "unchecked" => format!("would check it: {reading}."),
        Some(reading) => format!("would settle it: {reading}."),
        None if advice.about == "unchecked" => {
            "no other reading that could be taken would check it: take it twice.".to_owned()
        }
        None => {
            "no reading that could be taken would settle it: give it a tolerance, or take it out \
                 of [solve]."
                .to_owned()
        }
    }
}
