//! Errors of the TOML reader in plain words.

use toml::de::Error;

use crate::cell::parse::places::Places;
use crate::cell::parse::reader::Finding;
use crate::cell::parse::reader::quoted;
use crate::diagnose::Severity;

/// Beginnings of messages after which the reader finds its way again on the next line.
const HARMLESS: [&str; 18] = [
    "duplicate key",
    "cannot extend",
    "string values must be quoted",
    "invalid boolean",
    "unexpected leading zero",
    "invalid fraction",
    "invalid exponent",
    "invalid integer",
    "invalid date",
    "invalid time",
    "invalid basic string",
    "invalid literal string",
    "invalid comment",
    "invalid unquoted key",
    "missing escaped value",
    "unexpected key or value",
    "key with no value",
    "extra `=`",
];

/// Adds the syntax errors to the findings, and drops the findings that they may have caused.
pub(super) fn merge(errors: &[Error], findings: &mut Vec<Finding>, places: &Places<'_>) {
    if errors.is_empty() {
        return;
    }
    // The one error without a place is that of keys nested too deeply.
    let placeless = errors.iter().any(|e| e.span().is_none());
    let deepest = if placeless { places.deepest() } else { 0 };
    let at = |e: &Error| e.span().map_or(deepest, |span| span.start);
    let mut errors: Vec<_> = errors.iter().collect();
    errors.sort_by_key(|e| at(e));
    let offsets: Vec<_> = errors.iter().map(|e| at(e)).collect();
    let lines: Vec<_> = offsets.iter().map(|o| places.line(*o)).collect();
    let lost = errors
        .iter()
        .find(|e| !HARMLESS.iter().any(|start| e.message().starts_with(start)))
        .map_or(usize::MAX, |e| at(e));
    findings.retain(|finding| {
        let first = offsets.partition_point(|o| *o < finding.span.start);
        let touched = offsets.get(first).is_some_and(|o| *o <= finding.span.end);
        let line = places.line(finding.span.start);
        !finding.absence
            && finding.span.start < lost
            && !touched
            && lines.binary_search(&line).is_err()
    });
    // One slip of syntax makes several errors; what follows on its line is left out.
    let mut last_line = 0;
    for error in errors {
        let line = places.line(at(error));
        let duplicate = error.message() == "duplicate key";
        if line != last_line || duplicate {
            findings.push(finding(error, at(error), places));
        }
        last_line = line;
        if at(error) >= lost {
            // What follows may be seen wrongly: a list without its end swallows the file.
            break;
        }
    }
}

fn finding(error: &Error, start: usize, places: &Places<'_>) -> Finding {
    let span = error.span().unwrap_or(start..start);
    let line = places.line_text(span.start).trim();
    let message = error.message();
    let (expected, advice) = plain(message);
    let found = match message {
        "duplicate key" => {
            let key = places.slice(&span).trim_matches(['"', '\'']);
            format!("{} for the second time", quoted(key))
        }
        _ if line.is_empty() => "the end of the line".to_owned(),
        _ => quoted(line),
    };
    Finding {
        span,
        severity: Severity::Error,
        absence: false,
        field: String::new(),
        found,
        expected,
        advice: advice.to_owned(),
    }
}

/// What should stand there and what to do.
fn plain(message: &str) -> (String, &'static str) {
    let starts = |beginnings: &[&str]| beginnings.iter().any(|b| message.starts_with(b));
    let (expected, advice) = if starts(&["duplicate key"]) {
        (
            "each key once in its table, and each table once in the file",
            "remove one of the two, or give it another name",
        )
    } else if starts(&["cannot extend"]) {
        (
            "a key that is either a value or a table",
            "the part before the dot already has a value above: remove one of the two",
        )
    } else if starts(&[
        "string values must be quoted",
        "invalid boolean",
        "missing value",
    ]) {
        (
            "a value: a number, a text in double quotes, or a list",
            "put a text in double quotes; a number has a decimal point, and numbers of a list have commas between",
        )
    } else if starts(&["unexpected leading zero"]) {
        (
            "a number without leading zeros",
            "remove the zeros in front",
        )
    } else if starts(&["invalid fraction", "invalid exponent", "invalid integer"]) {
        (
            "a complete number",
            "write digits before and after the decimal point, such as 1.0",
        )
    } else if starts(&["invalid date", "invalid time", "invalid offset"]) {
        ("a number or a text", "put a text in double quotes")
    } else if message.contains("unclosed array") {
        ("`]` at the end of the list", "close the list with `]`")
    } else if message.contains("missing comma") || message.contains("in array") {
        (
            "`,` between values and `]` at the end of a list",
            "put the comma in, or close the list, which may have begun on a line above",
        )
    } else if starts(&["extra comma"]) {
        ("one comma between two values", "remove the comma")
    } else if message.contains("inline table") {
        (
            "`{ key = value, key = value }`",
            "close the braces on the same line",
        )
    } else if message.contains("unclosed") {
        ("`]` at the end of the table's name", "close the bracket")
    } else if starts(&["key with no value", "extra `=`", "invalid key-value pair"]) {
        ("`key = value`", "put one `=` between the key and its value")
    } else if starts(&["unexpected key or value", "unexpected content"]) {
        (
            "the end of the line after the value",
            "write one key a line, with a decimal point, not a comma, in numbers; lists stand in square brackets",
        )
    } else if message.contains("string") {
        (
            "a text that ends with the quote that it began with",
            "add the closing quote",
        )
    } else if starts(&["invalid unquoted key", "unquoted keys"]) {
        (
            "a key of letters (a to z, A to Z), digits, `_` and `-`",
            "correct the key",
        )
    } else if starts(&["missing escaped value", "too few unicode"]) {
        (
            "a backslash only where it is doubled",
            "write `\\\\` for a backslash",
        )
    } else if starts(&["carriage return"]) {
        (
            "lines that end with a line feed",
            "save the file with Unix or Windows line ends",
        )
    } else if message.contains("recursi") {
        ("tables within tables only a few deep", "remove the nesting")
    } else {
        let expected = message.split_once(", expected ").map(|(_, e)| e);
        let expected = expected.filter(|e| *e != "nothing").unwrap_or("valid TOML");
        return (
            expected.to_owned(),
            "correct the line; the example in the manual shows the form",
        );
    };
    (expected.to_owned(), advice)
}
