//! A new row that is not finished yet, kept as a comment: whoever reads the file meanwhile passes over
//! it, whatever it lacks.

use crate::table::edit::line_of;
use crate::table::edit::texts_of;

/// How such a comment begins.
pub const UNFINISHED: &str = "# not finished, notchpin enter goes on with it: ";

/// The comment of the answers given so far: columns as in the header, and what was answered.
pub fn to_comment(answers: &[(String, String)]) -> String {
    let pairs: Vec<String> = answers.iter().map(|(c, t)| format!("{c}={t}")).collect();
    format!("{UNFINISHED}{}", line_of(pairs.iter().map(String::as_str)))
}

/// The answers in such a comment; `None` where it is another one.
pub fn from_comment(comment: &str) -> Option<Vec<(String, String)>> {
    let rest = comment.strip_prefix(UNFINISHED)?;
    let pair = |text: &String| {
        let (column, answer) = text.split_once('=')?;
        Some((column.to_owned(), answer.to_owned()))
    };
    texts_of(rest)?.iter().map(pair).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_come_back_from_their_comment() {
        let answers = [("target", "12:4"), ("dx_mm", ""), ("note", "a, \"b\" = #1")];
        let answers = answers.map(|(c, t)| (c.to_owned(), t.to_owned()));
        let comment = to_comment(&answers);
        assert!(comment.starts_with('#') && !comment.contains('\n'));
        assert_eq!(from_comment(&comment).unwrap(), answers);
        assert_eq!(from_comment("# feature=left"), None);
    }
}
