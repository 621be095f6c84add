//! What to do after a recheck.

use crate::report::moves::recheck_document::ExplanationDocument;
use crate::report::moves::recheck_document::RecheckDocument;
use crate::report::moves::recheck_document::RecheckFacts;

/// The steps, in their order.
pub(super) fn next(document: &RecheckDocument, facts: &RecheckFacts<'_>) -> Vec<String> {
    let mut next = Vec::new();
    if document.holds {
        let unseen: Vec<&str> = document
            .notices
            .iter()
            .filter(|n| !n.looked_at)
            .map(|n| n.part.as_str())
            .collect();
        if !unseen.is_empty() {
            next.push(format!(
                "Take a reading that looks at what these do not see, if it may have moved: {}.",
                unseen.join(", ")
            ));
        }
        return next;
    }
    let Some(first) = document.explanations.first().filter(|e| e.fits) else {
        next.push(
            "Nothing simple explains these readings: look for a slip in them, take more (touches at several \
             places, counts at both ends of the track, notches), and recheck; if that does not help, \
             register afresh."
                .to_owned(),
        );
        return next;
    };
    if first.what == "reading" {
        next.push(format!(
            "Take that reading again ({}, line {}), then recheck.",
            first.reading.as_ref().map_or("", |r| r.file.as_str()),
            first.reading.as_ref().map_or(0, |r| r.line)
        ));
        return next;
    }
    let again = document
        .explanations
        .iter()
        .find(|e| e.rival && e.what == "reading");
    if let Some(place) = again.and_then(|e| e.reading.as_ref()) {
        next.push(format!(
            "First take that one reading again ({}, line {}): if it comes out otherwise, nothing moved.",
            place.file, place.line
        ));
    }
    if !document.decided && !document.deciding.is_empty() {
        next.push(
            "Look at the bench (marks at screws, a loose clamp) and take the reading that decides."
                .to_owned(),
        );
    }
    // A command for each thing that may have moved, none of them before it is clear.
    let may: Vec<&ExplanationDocument> = document
        .explanations
        .iter()
        .enumerate()
        .filter(|(k, e)| e.what == "moved" && (*k == 0 || e.rival))
        .map(|(_, e)| e)
        .collect();
    let commands: Vec<String> = may
        .iter()
        .map(|e| {
            // One zero that was lost leaves the joints set after it alone.
            let joints = e.parts.iter().any(|p| p.starts_with('j'));
            let only = if joints { " --only" } else { "" };
            format!(
                "`notchpin register {} --moved {}{only}{}`",
                facts.folder,
                e.parts.join(","),
                facts.set
            )
        })
        .collect();
    let what = match document.decided {
        true => "Then",
        false => "When it is clear what moved, and not before,",
    };
    next.push(format!(
        "{what} {} solves just that anew and keeps the rest. Six readings or more that see it are well; \
         `notchpin sheet {} --moved PART` says which.",
        commands.join(" or "),
        facts.folder
    ));
    if commands.iter().any(|c| c.contains("--only")) {
        next.push(
            "--only: nothing but this zero was lost. Where the joint was apart, leave it out: the joints set after it \
             are then solved anew too."
                .to_owned(),
        );
    }
    next.push(
        "Until then taught points and programs that depend on it are not to be trusted.".to_owned(),
    );
    next
}
