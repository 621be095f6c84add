//! A line that was typed, understood.

/// What a line says at a question.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Said<'t> {
    /// `?`: explain the column.
    Help,
    /// `back`: the question before.
    Back,
    /// `later`: leave this row for now.
    Later,
    /// `q`: stop.
    Quit,
    /// Nothing: what stands in brackets, else an empty cell.
    Nothing,
    /// `-`: an empty cell.
    Empty,
    /// Marks that no reading has: an arrow key was pressed, or the text is no text.
    Garbled,
    /// An answer.
    Text(&'t str),
}

/// Understands a line. A text in double quotes is an answer whatever it says, so that a mark may be
/// called `back`.
pub fn said(line: &str) -> Said<'_> {
    let text = line.trim();
    if text.chars().any(|c| c.is_control() || c == '\u{FFFD}') {
        return Said::Garbled;
    }
    match text {
        "" => Said::Nothing,
        "-" => Said::Empty,
        "?" => Said::Help,
        "back" => Said::Back,
        "later" => Said::Later,
        "q" | "quit" => Said::Quit,
        _ => {
            let bare = text.strip_prefix('"').and_then(|t| t.strip_suffix('"'));
            Said::Text(bare.map_or(text, str::trim))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_told_from_answers() {
        assert_eq!(said(" ? \n"), Said::Help);
        assert_eq!(said("back"), Said::Back);
        assert_eq!(said("\"back\""), Said::Text("back"));
        assert_eq!(said("-"), Said::Empty);
        assert_eq!(said("-1.5\r\n"), Said::Text("-1.5"));
        assert_eq!(said(" \t"), Said::Nothing);
        assert_eq!(said("\u{1b}[D9"), Said::Garbled);
    }
}
