//! Whether a robust estimate says anything else.

use crate::registration::Document;
use crate::report::number::fixed;

/// A sentence, where there is such an estimate.
pub(super) fn robust(document: &Document) -> Option<String> {
    let robust = document.robust.as_ref()?;
    let shift = robust.largest_shift.as_ref().map_or(String::new(), |s| {
        let decimals = if s.mm < 1.0 { 2 } else { 1 };
        format!(
            " moves the tip by {} mm at most ({})",
            fixed(s.mm, decimals),
            s.point
        )
    });
    let name = "A robust estimate (Huber, Tukey), which counts doubtful readings less,";
    Some(match (robust.matters, shift.is_empty()) {
        (false, true) => format!("{name} says the same."),
        (false, false) => format!("{name}{shift}: it does not matter which is used."),
        (true, true) => {
            format!("{name} says something else: doubtful readings pull the result.")
        }
        (true, false) => {
            let small = document
                .robust
                .as_ref()
                .and_then(|r| r.largest_shift.as_ref())
                .is_some_and(|s| s.mm < 0.2);
            match small {
                true => format!("{name}{shift}, but some value by more than its ±."),
                false => format!("{name}{shift}: doubtful readings pull the result."),
            }
        }
    })
}
