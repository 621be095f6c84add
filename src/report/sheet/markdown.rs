//! The working sheet as Markdown, at most 100 columns wide: to read, to print, to keep with the cell.

use std::fmt::Write;

use crate::report::sheet::HEAD;
use crate::report::sheet::SIGNED;
use crate::report::sheet::STATE;
use crate::report::sheet::cautions;
use crate::report::sheet::driven;
use crate::report::sheet::entering;
use crate::report::sheet::full;
use crate::report::sheet::letter;
use crate::report::sheet::over;
use crate::report::sheet::ranges;
use crate::report::sheet::sentence;
use crate::report::words::wrap;
use crate::sheet::Given;
use crate::sheet::Group;
use crate::sheet::Sheet;
use crate::sheet::Step;

/// To write on.
const LINE: &str = "________________";

/// The sheet.
pub fn markdown(sheet: &Sheet) -> String {
    let mut out = String::new();
    heading(&mut out, "#", &format!("Working sheet: {}", sheet.cell));
    heading(&mut out, "##", &sheet.title);
    for sentence in &sheet.introduction {
        paragraph(&mut out, sentence);
    }
    for label in HEAD {
        let _ = writeln!(out, "- {label}: {LINE}");
    }
    out.push_str("\n## Before anything is switched on\n\n");
    for caution in cautions() {
        out.push_str(&put("- ", 2, &caution));
    }
    out.push_str(&put("- ", 2, STATE));
    out.push_str("\n## If something moves\n\n");
    for rule in &sheet.rules {
        let text = format!(
            "{} No longer valid then: {}.",
            sentence(rule),
            ranges(&rule.steps)
        );
        out.push_str(&put("- ", 2, &text));
    }
    for (k, group) in sheet.groups.iter().enumerate() {
        head(&mut out, sheet, k, group);
        for step in &group.steps {
            one(&mut out, step);
        }
    }
    out.push_str("\n## At the end\n\n");
    for sentence in entering(sheet) {
        out.push_str(&put("- ", 2, &sentence));
    }
    out.push('\n');
    for label in SIGNED {
        let _ = writeln!(out, "- {label}: {LINE}");
    }
    out
}

/// On one line, however long the name is: a heading ends where its line does.
fn heading(out: &mut String, level: &str, text: &str) {
    let _ = writeln!(out, "{level} {}\n", md(text));
}

fn paragraph(out: &mut String, text: &str) {
    out.push_str(&put("", 0, text));
    out.push('\n');
}

fn head(out: &mut String, sheet: &Sheet, k: usize, group: &Group) {
    out.push('\n');
    heading(out, "##", &format!("{}. {}", letter(k), group.heading));
    paragraph(out, &group.purpose);
    out.push_str(&put("- With: ", 2, &group.means));
    for sentence in &group.how {
        out.push_str(&put("- ", 2, sentence));
    }
    out.push_str(&put("- **Caution:** ", 2, &group.caution));
    for rule in over(sheet, group) {
        out.push_str(&put("- ", 2, &rule));
    }
}

fn one(out: &mut String, step: &Step) {
    let _ = writeln!(out, "\n### Step {}: {}\n", step.number, step.name);
    paragraph(out, &full(&step.words));
    let list = |cells: &[Given]| {
        let each = cells.iter().map(|g| format!("{} {}", g.label, g.text));
        each.collect::<Vec<_>>().join("; ")
    };
    if !step.drive.is_empty() {
        out.push_str(&put(
            "- ",
            2,
            &format!("{}: {}", driven(step), list(&step.drive)),
        ));
    }
    if !step.given.is_empty() {
        out.push_str(&put("- Given: ", 2, &list(&step.given)));
    }
    for fill in &step.fill {
        let meaning = match fill.meaning {
            "" => String::new(),
            text => format!(" ({text})"),
        };
        let text = format!("{LINE} {}{meaning}", fill.unit);
        out.push_str(&put(&format!("- {}: ", fill.column), 2, &text));
    }
    let _ = writeln!(out, "- Note: {LINE}{LINE}");
    out.push_str("- [ ] taken as described\n");
    let row = format!("{}, step {}", step.file, step.number);
    out.push_str(&put("- Row: ", 2, &row));
}

/// Wrapped text that means nothing in Markdown, also where a line begins with it.
fn put(first: &str, indent: usize, text: &str) -> String {
    let mut out = String::new();
    for (k, line) in wrap(first, indent, &md(text)).lines().enumerate() {
        let at = if k == 0 { first.len() } else { indent };
        let (before, text) = line.split_at(at.min(line.len()));
        let word = text.split(' ').next().unwrap_or_default();
        let digits = word.trim_start_matches(|c: char| c.is_ascii_digit());
        let numbered = digits.len() < word.len() && (digits == "." || digits == ")");
        let marks = !word.is_empty() && word.chars().all(|c| "#+-=~".contains(c));
        out.push_str(before);
        match (marks, numbered) {
            (true, _) => out.push('\\'),
            (_, true) => out.push_str(&word[..word.len() - 1]),
            _ => {}
        }
        let rest = match numbered {
            true => {
                out.push('\\');
                &text[word.len() - 1..]
            }
            false => text,
        };
        out.push_str(rest);
        out.push('\n');
    }
    out
}

/// Text without marks of emphasis, code, links and HTML, on one line.
fn md(text: &str) -> String {
    let words = text.split(|c: char| c.is_whitespace() || c.is_control());
    let words = words.filter(|w| !w.is_empty()).map(|word| {
        let mut out = String::new();
        let mut last = ' ';
        let mut rest = word.chars().peekable();
        while let Some(c) = rest.next() {
            let within = last.is_alphanumeric() && rest.peek().is_some_and(|c| c.is_alphanumeric());
            // To write on: a row of them alone means nothing.
            let line = word.chars().all(|c| c == '_');
            let marks = "\\`*[]<>&|~".contains(c) || (c == '_' && !within && !line);
            if marks {
                out.push('\\');
            }
            out.push(c);
            last = c;
        }
        out
    });
    words.collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::md;
    use super::put;

    /// By CommonMark 0.31: 2.4 backslash escapes, 6.2 emphasis, 6.3 links, 6.6 raw HTML.
    #[test]
    fn nothing_of_a_name_means_anything() {
        assert_eq!(md("a <b> *c* [d](e)"), r"a \<b\> \*c\* \[d\](e)");
        assert_eq!(md("_x_ gap_mm -40, 12.5"), r"\_x\_ gap_mm -40, 12.5");
        assert_eq!(md("a & b `c` \\"), r"a \& b \`c\` \\");
    }

    /// By CommonMark 0.31: 4.2 headings, 5.2 list items, which may begin any line.
    #[test]
    fn no_line_begins_a_list_or_a_heading() {
        assert_eq!(put("- ", 2, "- one 1. two"), "- \\- one 1. two\n");
        let long = format!("{} # b {} 1. c", "a".repeat(97), "d".repeat(92));
        let lines = put("", 0, &long);
        let lines: Vec<&str> = lines.lines().skip(1).collect();
        assert_eq!(lines[0], format!("\\# b {}", "d".repeat(92)));
        assert_eq!(lines[1], "1\\. c");
    }
}
