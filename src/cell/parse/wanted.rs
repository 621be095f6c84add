//! What is wanted of the cell: `[instruments]`, `[solve]` and `[accept]`.

use toml::de::DeValue;

use crate::cell::Accept;
use crate::cell::Instruments;
use crate::cell::Unknown;
use crate::cell::parse::places::Places;
use crate::cell::parse::reader::Kind;
use crate::cell::parse::reader::TableReader;
use crate::cell::parse::reader::quoted;
use crate::cell::parse::value::Item;
use crate::units::Angle;

/// Used where `[instruments]` does not say.
pub(super) fn usual_instruments() -> Instruments {
    Instruments {
        holes_mm: 0.3,
        notch_rad: Angle::deg(0.1).as_rad(),
        touch_mm: 0.4,
        attitude_rad: Angle::deg(0.1).as_rad(),
        height_mm: 0.4,
    }
}

/// `[instruments]`.
pub(super) fn instruments(t: &mut TableReader<'_>) -> Option<Instruments> {
    let usual = usual_instruments();
    let mut one = |stem: &str, kind, usual| {
        t.ask(stem, kind)
            .map_or(Some(usual), |item| item.positive())
    };
    let holes = one("holes", Kind::Length, usual.holes_mm);
    let notch = one("notch", Kind::Degrees, usual.notch_rad);
    let touch = one("touch", Kind::Length, usual.touch_mm);
    let attitude = one("attitude", Kind::Degrees, usual.attitude_rad);
    let height = one("height", Kind::Length, usual.height_mm);
    Some(Instruments {
        holes_mm: holes?,
        notch_rad: notch?,
        touch_mm: touch?,
        attitude_rad: attitude?,
        height_mm: height?,
    })
}

/// Used where `[accept]` does not say.
pub(super) fn usual_accept() -> Accept {
    Accept {
        tip_mm: None,
        direction_rad: Angle::deg(0.5).as_rad(),
        clearance_mm: 5.0,
        margin_rad: Angle::deg(1.0).as_rad(),
        due_days: None,
    }
}

/// `[accept]`.
pub(super) fn accept(t: &mut TableReader<'_>) -> Option<Accept> {
    let tip = t.ask("tip", Kind::Length);
    let tip = tip.map_or(Some(None), |item| item.positive().map(Some));
    let direction = t.ask("direction", Kind::Degrees);
    let direction = direction.map_or(Some(usual_accept().direction_rad), |item| {
        item.not_negative()
    });
    let clearance = t.ask("clearance", Kind::Length);
    let clearance = clearance.map_or(Some(usual_accept().clearance_mm), |item| {
        item.not_negative()
    });
    let margin = t.ask("margin", Kind::Degrees);
    let margin = margin.map_or(Some(usual_accept().margin_rad), |item| item.not_negative());
    let due = t.ask("due_days", Kind::Plain);
    let due = due.map_or(Some(None), |item| item.positive().map(Some));
    Some(Accept {
        tip_mm: tip?,
        direction_rad: direction?,
        clearance_mm: clearance?,
        margin_rad: margin?,
        due_days: due?,
    })
}

/// `[solve]`, in the order of the file. `"track.x" = 1` and `track.x = 1` are the same.
pub(super) fn solve(t: &mut TableReader<'_>, places: &Places<'_>) -> Option<Vec<Unknown>> {
    let mut leaves = Vec::new();
    flatten("", t.rest(), &mut leaves);
    leaves.sort_by_key(|(_, item)| item.key_span.start);
    let mut seen = std::collections::HashSet::new();
    let mut unknowns = Vec::with_capacity(leaves.len());
    let mut complete = true;
    for (name, item) in leaves {
        if !seen.insert(name.clone()) {
            item.refuse_key(
                format!("{} for the second time", quoted(&name)),
                "each parameter once",
                "remove one of the two",
            );
        }
        let Some(tolerance) = tolerance(&item) else {
            complete = false;
            continue;
        };
        let (line, column) = places.find(item.key_span.start);
        unknowns.push(Unknown {
            name,
            tolerance,
            line,
            column,
        });
    }
    complete.then_some(unknowns)
}

/// Tables within tables to dotted names; the reader of TOML bounds the depth.
fn flatten<'a>(path: &str, items: Vec<Item<'a>>, leaves: &mut Vec<(String, Item<'a>)>) {
    for item in items {
        let name = match path {
            "" => item.key.clone(),
            path => format!("{path}.{}", item.key),
        };
        if matches!(item.value, DeValue::Table(_)) {
            if let Some(mut table) = item.table() {
                flatten(&name, table.rest(), leaves);
            }
        } else {
            leaves.push((name, item));
        }
    }
}

/// `None` is refused, `Some(None)` is free.
fn tolerance(item: &Item<'_>) -> Option<Option<f64>> {
    match &item.value {
        DeValue::String(text) if text == "free" => Some(None),
        DeValue::Integer(_) | DeValue::Float(_) => {
            let tolerance = item.number()?;
            if tolerance > 0.0 {
                return Some(Some(tolerance));
            }
            item.refuse(
                item.written(),
                "a tolerance above 0, or \"free\"",
                "remove the line if the parameter is to stay as it is",
            );
            None
        }
        _ => {
            item.refuse(
                item.written(),
                "\"free\" or a tolerance above 0",
                "write \"free\", or how far off the nominal value may be (one standard uncertainty)",
            );
            None
        }
    }
}
