//! What is wrong with an input, where it stands, and what to do about it.

use std::fmt;

/// Whether a problem stops the work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Severity {
    /// The input cannot be used.
    Error,
    /// The input can be used, but a person should look at it.
    Warning,
}

/// One thing that is wrong with an input file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// Does it stop the work?
    pub severity: Severity,
    /// File as the user would name it, relative to the cell folder: `readings/holes.csv`.
    pub file: String,
    /// Physical line, the first being 1.
    pub line: Option<usize>,
    /// Character in the line, the first being 1.
    pub column: Option<usize>,
    /// Name of the column or key, where there is one: `count`, `track.at_mm`.
    pub field: Option<String>,
    /// What stands there.
    pub found: String,
    /// What should stand there.
    pub expected: String,
    /// What to do now.
    pub advice: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let kind = match self.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
        };
        write!(f, "{kind}: {}", self.file)?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        if let Some(column) = self.column {
            write!(f, ", column {column}")?;
        }
        if let Some(field) = &self.field {
            write!(f, " ({field})")?;
        }
        for (label, text) in [
            ("found", &self.found),
            ("expected", &self.expected),
            ("to do", &self.advice),
        ] {
            if !text.is_empty() {
                write_wrapped(f, label, text)?;
            }
        }
        Ok(())
    }
}

/// Writes `  label     text`, wrapped at 100 columns with the text hanging.
fn write_wrapped(f: &mut fmt::Formatter<'_>, label: &str, text: &str) -> fmt::Result {
    const HANG: usize = 12;
    let mut width = HANG;
    write!(f, "\n  {label:<9} ")?;
    for (i, word) in text.split_whitespace().enumerate() {
        let len = word.chars().count();
        if i > 0 && width + 1 + len > 98 {
            write!(f, "\n{:HANG$}", "")?;
            width = HANG;
        } else if i > 0 {
            f.write_str(" ")?;
            width += 1;
        }
        f.write_str(word)?;
        width += len;
    }
    Ok(())
}

/// All problems found in a set of inputs, in the order found.
#[derive(Debug, Clone, Default)]
pub struct Problems {
    list: Vec<Problem>,
}

impl Problems {
    /// Adds one.
    pub fn push(&mut self, problem: Problem) {
        self.list.push(problem);
    }
    /// Whether anything stops the work.
    pub fn has_errors(&self) -> bool {
        self.list.iter().any(|p| p.severity == Severity::Error)
    }
    /// All of them.
    pub fn iter(&self) -> impl Iterator<Item = &Problem> {
        self.list.iter()
    }
    /// How many.
    pub fn len(&self) -> usize {
        self.list.len()
    }
    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }
}

/// The known name nearest to a misspelt one, if any is near enough to be meant.
pub fn nearest<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    known
        .into_iter()
        .map(|k| (strsim::jaro_winkler(name, k), k))
        .filter(|(score, _)| *score > 0.75)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, k)| k)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_misspelt_name_finds_its_neighbour() {
        let known = ["pitch_mm", "columns", "rows"];
        assert_eq!(nearest("pich_mm", known), Some("pitch_mm"));
        assert_eq!(nearest("zebra", known), None);
    }
}
