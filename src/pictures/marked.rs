//! Which readings the pictures mark as wrong, and what they say where none is.

use crate::registration::Document;
use crate::registration::ReadingDocument;
use crate::registration::SuspectDocument;
use crate::report::common_cause;

/// What is marked.
#[derive(Debug, Clone)]
pub struct Marked<'a> {
    document: &'a Document,
    /// Suspects that took part in the registration: those set aside did not.
    named: Vec<&'a SuspectDocument>,
    /// What is behind all that does not fit, where no single reading is.
    common: Option<String>,
}

impl<'a> Marked<'a> {
    /// What a registration's pictures mark.
    pub fn of(document: &'a Document) -> Marked<'a> {
        let aside = |s: &SuspectDocument| {
            let mut places = document.set_aside.iter();
            places.any(|p| p.file == s.file && Some(p.line) == s.line)
        };
        let named = document.suspects.iter();
        Marked {
            document,
            named: named.filter(|s| s.line.is_some() && !aside(s)).collect(),
            common: common_cause(document),
        }
    }

    /// Whether a row is marked as wrong. Of those that one slip makes stand out, only what the search ended
    /// at; none where the slip is of a whole file, or a value of the drawing.
    pub fn stands_out(&self, row: &ReadingDocument) -> bool {
        match (&self.common, self.named.is_empty()) {
            (Some(_), _) => false,
            (None, true) => row.suspect,
            (None, false) => self.off(&row.file, row.line).is_some(),
        }
    }

    /// How far off a suspect is from what the others say, a component each, as far as that is known.
    pub fn off(&self, file: &str, line: usize) -> Option<&'a [f64]> {
        let mut named = self.named.iter();
        let suspect = named.find(|s| s.file == file && s.line == Some(line))?;
        Some(&suspect.off)
    }

    /// Whether readings that do not fit took part in the registration.
    pub fn doubtful(&self) -> bool {
        self.document.readings.iter().any(|r| r.suspect) && self.document.set_aside.is_empty()
    }

    /// Why none of some rows is marked, though they lie far out: what they have in common.
    pub fn none_marked<'r>(
        &self,
        rows: impl IntoIterator<Item = &'r ReadingDocument>,
    ) -> Option<String> {
        let common = self.common.as_deref()?;
        let far = rows.into_iter().any(|r| r.suspect);
        far.then(|| {
            format!(
                "Some lie beyond chance, but no single reading is marked as wrong (see \"What does not fit\"): \
                 they have something in common. {common}"
            )
        })
    }
}
