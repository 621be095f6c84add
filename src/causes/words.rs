//! A cause in a sentence.

use crate::causes::pairs::Exchange;
use crate::causes::rows::Explanation;
use crate::causes::whole::WholeSlip;
use crate::readings::slips::SlipKind;

/// "line 7: everything fits if the count is 9, not 8".
pub fn of_row(e: &Explanation, alone: bool) -> String {
    let fits = fits(alone);
    let (column, suggested) = &e.edits[0];
    let found = e.written.text(column);
    let line = e.written.line;
    let what = match (e.kind, column.as_str(), e.edits.len()) {
        (SlipKind::Count, "along", _) => {
            format!("it was counted along a {suggested}, not a {found}")
        }
        (SlipKind::Count, ..) => format!("the count is {suggested}, not {found}"),
        (SlipKind::Mark, "from", _) => format!(
            "the count began at {}, not at {}",
            origin(suggested),
            origin(found)
        ),
        (SlipKind::Mark, "feature", _) => format!("it was {suggested}, not {found}"),
        (SlipKind::Mark, "over", _) => {
            format!(
                "it was taken over {}, not over {}",
                plate(suggested),
                plate(found)
            )
        }
        (SlipKind::Mark, ..) => format!("it was {suggested}, not {found}"),
        (SlipKind::Gap, ..) => format!("the gap is {suggested}, not {found}"),
        (SlipKind::Unit, ..) => {
            let (was, is) = match e.written.in_inches(column) {
                true => ("inches", "millimetres"),
                false => ("millimetres", "inches"),
            };
            format!("it was read in {is}, not in {was}: {}", changes(e))
        }
        (SlipKind::Notch, ..) => {
            format!("notch {suggested} stood at the switch, not notch {found}")
        }
        (SlipKind::Approach, ..) => format!(
            "the {} came to rest going {suggested}, not {found}",
            match column.as_str() {
                "approach_track" => "track",
                "approach_table" => "table",
                _ => "reading",
            }
        ),
        (SlipKind::Target, ..) => format!("the target was {suggested}, not {found}"),
        (SlipKind::Attitude, "kind", _) => format!("it was set {suggested}, not {found}"),
        (SlipKind::Attitude, "toward", _) => format!("it was judged toward {suggested}"),
        (_, _, 2) => exchanged(e),
        _ => changes(e),
    };
    format!("line {line}: {fits} if {what}")
}

fn fits(alone: bool) -> &'static str {
    if alone {
        "everything fits"
    } else {
        "it fits the others"
    }
}

fn origin(name: &str) -> String {
    match name {
        "" => "hole (0, 0)".to_owned(),
        name => name.to_owned(),
    }
}

fn plate(name: &str) -> &str {
    if name.is_empty() { "the plate" } else { name }
}

/// "dx_mm is -3, not 3".
fn changes(e: &Explanation) -> String {
    let parts: Vec<String> = e
        .edits
        .iter()
        .map(|(column, suggested)| {
            let found = match e.written.text(column) {
                "" => "empty",
                text => text,
            };
            format!("{} is {suggested}, not {found}", e.written.name(column))
        })
        .collect();
    parts.join(" and ")
}

/// "j2 and j3 are exchanged", where that is what it is.
fn exchanged(e: &Explanation) -> String {
    let value = |text: &str| text.parse::<f64>().unwrap_or(0.0);
    let (a, b) = (&e.edits[0], &e.edits[1]);
    let crossed = value(&a.1) == value(e.written.text(&b.0))
        && value(&b.1) == value(e.written.text(&a.0))
        && value(&a.1) != -value(e.written.text(&a.0));
    match crossed {
        true => format!(
            "{} and {} are exchanged ({} and {})",
            e.written.name(&a.0),
            e.written.name(&b.0),
            a.1,
            b.1
        ),
        false => changes(e),
    }
}

/// "lines 5 and 9: everything fits if their table readings are exchanged".
pub fn of_exchange(e: &Exchange, alone: bool) -> String {
    let names: Vec<&str> = e.columns.iter().map(|c| e.written[0].name(c)).collect();
    let what = match names.len() {
        1 => format!("the values of {}", names[0]),
        n if names[0] == "j1" => format!("j1 to j{n}"),
        _ => names.join(" and "),
    };
    format!(
        "lines {} and {}: {} if {what} were written in each other's rows",
        e.written[0].line.min(e.written[1].line),
        e.written[0].line.max(e.written[1].line),
        match alone {
            true => "everything fits",
            false => "they fit the others",
        }
    )
}

/// "cell.toml: everything fits if plate.pitch_mm is 25.4, not 50".
pub fn of_whole(w: &WholeSlip) -> String {
    let why = match (w.kind, w.column.as_str()) {
        (SlipKind::Direction, "track.scale") => ": the track runs the other way".to_owned(),
        (SlipKind::Direction, "turntable.scale") => ": the table turns the other way".to_owned(),
        (SlipKind::Direction, _) => ": the joint turns the other way".to_owned(),
        (SlipKind::Unit, "track.scale") => ": its readings are in the other unit".to_owned(),
        _ => String::new(),
    };
    match (w.kind, w.file.as_str()) {
        (SlipKind::Unit, file) if file != "cell.toml" => format!(
            "{file}: everything fits if the header says {}, not {}: the whole column was read in \
             the other unit",
            w.suggested, w.found
        ),
        (_, file) => format!(
            "{file}: everything fits if {} is {}, not {}{why}",
            w.column, w.suggested, w.found
        ),
    }
}
