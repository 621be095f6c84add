//! The working sheet as Markdown, at most 100 columns wide: to read, to print, to keep with the cell.

use std::fmt::Write;

use crate::report::sheet::HEAD;
use crate::report::sheet::SIGNED;
use crate::report::sheet::STATE;
use crate::report::sheet::cautions;
use crate::report::sheet::entering;
use crate::report::sheet::letter;
use crate::report::sheet::ranges;
use crate::report::sheet::sentence;
use crate::report::sheet::shortly;
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
    out.push_str(&wrap(
        "# ",
        2,
        &format!("Working sheet: {}", md(&sheet.cell)),
    ));
    out.push('\n');
    out.push_str(&wrap("## ", 3, &md(&sheet.title)));
    paragraph(&mut out, "");
    for sentence in &sheet.introduction {
        paragraph(&mut out, &md(sentence));
    }
    for label in HEAD {
        let _ = writeln!(out, "- {label}: {LINE}");
    }
    out.push_str("\n## Before anything is switched on\n\n");
    for caution in cautions() {
        out.push_str(&wrap("- ", 2, &md(&caution)));
    }
    out.push_str(&wrap("- ", 2, &md(STATE)));
    out.push_str("\n## If something moves\n\n");
    for rule in &sheet.rules {
        let text = format!(
            "{} No longer valid then: {}.",
            sentence(rule),
            ranges(&rule.steps)
        );
        out.push_str(&wrap("- ", 2, &md(&text)));
    }
    for (k, group) in sheet.groups.iter().enumerate() {
        head(&mut out, sheet, k, group);
        for step in &group.steps {
            one(&mut out, step);
        }
    }
    out.push_str("\n## At the end\n\n");
    for sentence in entering(sheet) {
        out.push_str(&wrap("- ", 2, &md(&sentence)));
    }
    out.push('\n');
    for label in SIGNED {
        let _ = writeln!(out, "- {label}: {LINE}");
    }
    out
}

fn paragraph(out: &mut String, text: &str) {
    match text.is_empty() {
        true => out.push('\n'),
        false => {
            out.push_str(&wrap("", 0, text));
            out.push('\n');
        }
    }
}

fn head(out: &mut String, sheet: &Sheet, k: usize, group: &Group) {
    let heading = format!("{}. {}", letter(k), md(&group.heading));
    out.push('\n');
    out.push_str(&wrap("## ", 3, &heading));
    out.push('\n');
    paragraph(out, &md(&group.purpose));
    out.push_str(&wrap("- With: ", 2, &md(&group.means)));
    for sentence in &group.how {
        out.push_str(&wrap("- ", 2, &md(sentence)));
    }
    out.push_str(&wrap("- **Caution:** ", 2, &md(&group.caution)));
    for rule in &group.rules {
        out.push_str(&wrap("- ", 2, &md(&sentence(&sheet.rules[*rule]))));
    }
    if !group.also.is_empty() {
        let text = format!(
            "If one of these moves now, start again from the step behind it: {}.",
            shortly(sheet, &group.also)
        );
        out.push_str(&wrap("- ", 2, &md(&text)));
    }
}

fn one(out: &mut String, step: &Step) {
    let _ = writeln!(out, "\n### Step {}: {}\n", step.number, step.name);
    paragraph(out, &md(&format!("{}.", step.words)));
    let list = |cells: &[Given]| {
        let each = cells.iter().map(|g| format!("{} {}", g.label, g.text));
        md(&each.collect::<Vec<_>>().join("; "))
    };
    if !step.drive.is_empty() {
        out.push_str(&wrap("- drive to: ", 2, &list(&step.drive)));
    }
    if !step.given.is_empty() {
        out.push_str(&wrap("- given: ", 2, &list(&step.given)));
    }
    for fill in &step.fill {
        let meaning = match fill.meaning {
            "" => String::new(),
            text => format!(" ({text})"),
        };
        let text = format!("{LINE} {}{meaning}", fill.unit);
        out.push_str(&wrap(&format!("- {}: ", md(&fill.column)), 2, &text));
    }
    let _ = writeln!(out, "- note: {LINE}{LINE}");
    out.push_str("- [ ] taken as described\n");
    let row = format!("row: {}, step {}", md(&step.file), step.number);
    out.push_str(&wrap("- ", 2, &row));
}

/// Text that means nothing in Markdown. Marks of emphasis, code, links and HTML are escaped; so is a word
/// that would begin a list or a heading where a line is wrapped before it.
fn md(text: &str) -> String {
    let words = text.split(|c: char| c.is_whitespace() || c.is_control());
    let words = words.filter(|w| !w.is_empty()).map(|word| {
        let digits = word.trim_start_matches(|c: char| c.is_ascii_digit());
        let numbered = digits.len() < word.len() && (digits == "." || digits == ")");
        let mark = word.chars().all(|c| "#+-=~".contains(c));
        let mut out = String::new();
        let mut last = ' ';
        let mut rest = word.chars().peekable();
        while let Some(c) = rest.next() {
            let inside = |c: Option<&char>| c.is_some_and(|c| c.is_alphanumeric());
            let bare = match c {
                '\\' | '`' | '*' | '[' | ']' | '<' | '>' | '&' | '|' => true,
                // Within a word it is a part of a name.
                '_' => !(last.is_alphanumeric() && inside(rest.peek())),
                '#' | '+' | '-' | '=' | '~' => mark || (c == '~' && last == '~'),
                '.' | ')' => numbered,
                _ => false,
            };
            if bare {
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

    /// By CommonMark 0.31: 2.4 backslash escapes, 4.2 headings, 5.2 list items, 6.2 emphasis, 6.6 raw HTML.
    #[test]
    fn nothing_of_a_name_means_anything() {
        assert_eq!(md("a <b> *c* [d](e)"), r"a \<b\> \*c\* \[d\](e)");
        assert_eq!(
            md("one\n# two\n- three 4. four"),
            r"one \# two \- three 4\. four"
        );
        assert_eq!(md("_x_ gap_mm -40, 12.5"), r"\_x\_ gap_mm -40, 12.5");
        assert_eq!(md("a & b `c` \\"), r"a \& b \`c\` \\");
    }
}
