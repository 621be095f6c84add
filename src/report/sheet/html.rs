//! The working sheet as one HTML page that needs nothing else: no script, no font, no picture. It prints
//! in black on A4 and Letter and can be filled in on a tablet. It is well-formed XML too.

use std::fmt::Write;

use crate::drawing::ink::dark_style;
use crate::drawing::svg::escaped;
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
use crate::sheet::Given;
use crate::sheet::Group;
use crate::sheet::Sheet;
use crate::sheet::Step;

/// No `size` under `@page`: the sheet goes on the paper that is in the printer.
const STYLE: &str = "
:root { color-scheme: light dark; --ink: #000; --paper: #fff; --line: #000; --faint: #eee; }
@media screen and (prefers-color-scheme: dark) {
  :root { --ink: #eee; --paper: #161616; --line: #999; --faint: #2a2a2a; }
}
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem; max-width: 60rem; color: var(--ink); background: var(--paper);
  font: 16px/1.4 sans-serif; overflow-wrap: anywhere; }
h1 { font-size: 1.5em; margin: 0; }
h2 { font-size: 1.2em; margin: 1.6em 0 .4em; break-after: avoid; }
p, ul { margin: .4em 0; }
ul { padding-left: 1.3em; }
table { width: 100%; border-collapse: collapse; margin: .6em 0; table-layout: fixed; }
th, td { border: 1px solid var(--line); padding: .4em; text-align: left; vertical-align: top; }
caption { text-align: left; font-size: .85em; padding-bottom: .2em; break-after: avoid; }
thead { display: table-header-group; }
thead th { background: var(--faint); }
tr { break-inside: avoid; }
.n { width: 3.8em; } .what { width: auto; } .fill { width: 38%; } .from { width: 6em; } .spoilt { width: 26%; }
.number { font-size: 1.4em; font-weight: bold; }
.drive { font-weight: bold; }
.row { font-size: .85em; }
.box { border: 2px solid var(--line); padding: .3em .8em; margin: .8em 0; break-inside: avoid; }
.about { break-inside: avoid; break-after: avoid; }
.boxes { display: flex; flex-wrap: wrap; gap: .6em 1em; }
.boxes label { flex: 1 1 14rem; }
label { display: block; margin: 0 0 .4em; }
input[type=text], textarea { display: block; width: 100%; min-height: 2.6em; padding: .3em;
  font: inherit; color: inherit; background: transparent; border: 1px solid var(--line); border-radius: 0; }
textarea { min-height: 3.2em; resize: vertical; }
input[type=checkbox] { width: 1.5em; height: 1.5em; vertical-align: middle; }
.tick { margin-top: .6em; }
figure { margin: 1em 0; break-inside: avoid; }
figure svg { display: block; width: 100%; max-width: 45rem; height: auto; }
@media print {
  :root { color-scheme: light; --ink: #000; --paper: #fff; --line: #000; --faint: #fff; }
  /* Lines lie half outside of what they go round; the printer cuts at the margin. */
  body { padding: 0 1px; max-width: none; font-size: 10.5pt; }
  /* With its caption it must fit on the lower of the two papers. */
  figure svg { max-height: 20cm; }
  .screen { display: none; }
}
@page { margin: 15mm 13mm; }
";

/// The sheet.
pub fn html(sheet: &Sheet) -> String {
    html_with(sheet, None)
}

/// The sheet with a drawing of the cell, as SVG, that says where things are.
pub fn html_with(sheet: &Sheet, drawing: Option<&str>) -> String {
    let mut out = String::new();
    let name = format!("{}: {}", escaped(&sheet.cell), escaped(&sheet.title));
    out.push_str("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n");
    out.push_str("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n");
    // Whatever a name may try: nothing is loaded, sent or run.
    out.push_str(
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src \
         'unsafe-inline'; form-action 'none'\"/>\n",
    );
    let dark = match drawing {
        Some(_) => format!(
            "@media screen and (prefers-color-scheme: dark) {{\n{}}}\n",
            dark_style()
        ),
        None => String::new(),
    };
    let _ = writeln!(
        out,
        "<title>{name}</title>\n<style>{STYLE}{dark}</style>\n</head>\n<body>\n<main>"
    );
    let _ = writeln!(
        out,
        "<h1>Working sheet: {}</h1>\n<h2>{}</h2>",
        escaped(&sheet.cell),
        escaped(&sheet.title)
    );
    for sentence in &sheet.introduction {
        let _ = writeln!(out, "<p>{}</p>", escaped(sentence));
    }
    // Without a script nothing of the page is kept.
    out.push_str(
        "<p class=\"screen\"><strong>Filled in on a screen: print it, or save it as PDF, before you close it. \
         The page keeps nothing.</strong></p>\n",
    );
    boxes(&mut out, &HEAD);
    out.push_str("<div class=\"box\">\n<h2>Before anything is switched on</h2>\n");
    let mut before = cautions();
    before.push(STATE.to_owned());
    list(&mut out, &before);
    out.push_str("</div>\n");
    if let Some(svg) = drawing {
        let _ = writeln!(
            out,
            "<figure>\n<figcaption>The cell from above, as it is known before these steps: crosses are marks, \
             diamonds points.</figcaption>\n{svg}</figure>"
        );
    }
    rules(&mut out, sheet);
    for (k, group) in sheet.groups.iter().enumerate() {
        let heading = format!("{}. {}", letter(k), group.heading);
        about(&mut out, sheet, group, &heading);
        let numbers: Vec<usize> = group.steps.iter().map(|step| step.number).collect();
        // Widths are those of the columns: the first row, which would give them otherwise, is one cell.
        let _ = writeln!(
            out,
            "<table>\n<caption>Steps of {}: {}</caption>\n<colgroup><col class=\"n\"/><col class=\"what\"/><col \
             class=\"fill\"/></colgroup>\n<thead>\n<tr><th scope=\"colgroup\" colspan=\"3\">{}</th></tr>\n\
             <tr><th scope=\"col\">Step</th><th scope=\"col\">What to do</th><th scope=\"col\">Write \
             down</th></tr>\n</thead>\n<tbody>",
            letter(k),
            ranges(&numbers),
            escaped(&heading)
        );
        for step in &group.steps {
            one(&mut out, step);
        }
        out.push_str("</tbody>\n</table>\n");
    }
    out.push_str("<div class=\"box\">\n<h2>At the end</h2>\n");
    list(&mut out, &entering(sheet));
    boxes(&mut out, &SIGNED);
    out.push_str("</div>\n</main>\n</body>\n</html>\n");
    out
}

fn list(out: &mut String, sentences: &[String]) {
    out.push_str("<ul>\n");
    for sentence in sentences {
        let _ = writeln!(out, "<li>{}</li>", escaped(sentence));
    }
    out.push_str("</ul>\n");
}

/// Text fields throughout: a date field prints its pattern where it is empty, and the keys for numbers of
/// some tablets have no minus.
fn field(label: &str, after: &str) -> String {
    format!(
        "<label>{}<input type=\"text\" autocomplete=\"off\"/>{}</label>",
        escaped(label),
        escaped(after)
    )
}

fn boxes(out: &mut String, labels: &[&str]) {
    out.push_str("<div class=\"boxes\">\n");
    for label in labels {
        let _ = writeln!(out, "{}", field(label, ""));
    }
    out.push_str("</div>\n");
}

fn rules(out: &mut String, sheet: &Sheet) {
    if sheet.rules.is_empty() {
        return;
    }
    out.push_str(
        "<h2>If something moves</h2>\n<table>\n<caption>From where to start \
         again</caption>\n<thead>\n<tr><th scope=\"col\" class=\"what\">What happened</th><th \
         scope=\"col\" class=\"spoilt\">No longer valid: steps</th></tr>\n</thead>\n<tbody>\n",
    );
    for rule in &sheet.rules {
        let _ = writeln!(
            out,
            "<tr><td>{}</td><td>{}</td></tr>",
            escaped(&sentence(rule)),
            ranges(&rule.steps)
        );
    }
    out.push_str("</tbody>\n</table>\n");
}

fn about(out: &mut String, sheet: &Sheet, group: &Group, heading: &str) {
    let _ = writeln!(
        out,
        "<div class=\"about\">\n<h2>{}</h2>\n<p>{}</p>\n<p>With: {}</p>",
        escaped(heading),
        escaped(&group.purpose),
        escaped(&group.means)
    );
    list(out, &group.how);
    let _ = writeln!(
        out,
        "<p class=\"box\"><strong>Caution.</strong> {}</p>",
        escaped(&group.caution)
    );
    for rule in over(sheet, group) {
        let _ = writeln!(out, "<p>{}</p>", escaped(&rule));
    }
    out.push_str("</div>\n");
}

fn one(out: &mut String, step: &Step) {
    let cells = |cells: &[Given]| {
        let each = cells.iter().map(|g| format!("{} {}", g.label, g.text));
        escaped(&each.collect::<Vec<_>>().join("; "))
    };
    let _ = writeln!(
        out,
        "<tr id=\"step-{0}\">\n<td class=\"number\">{0}</td>\n<td>\n<p><strong>{1}</strong></p>",
        step.number,
        escaped(step.name)
    );
    let _ = writeln!(out, "<p>{}</p>", escaped(&full(&step.words)));
    if !step.drive.is_empty() {
        let _ = writeln!(
            out,
            "<p class=\"drive\">{}: {}</p>",
            driven(step),
            cells(&step.drive)
        );
    }
    if !step.given.is_empty() {
        let _ = writeln!(out, "<p>Given: {}</p>", cells(&step.given));
    }
    let _ = writeln!(
        out,
        "<p class=\"row\">Row: {}, step {}</p>\n</td>\n<td>",
        escaped(&step.file),
        step.number
    );
    for fill in &step.fill {
        let label = format!("{} ({})", fill.column, fill.unit);
        let _ = writeln!(out, "{}", field(&label, fill.meaning));
    }
    out.push_str(
        "<label>Note<textarea rows=\"2\" autocomplete=\"off\"></textarea></label>\n<label class=\"tick\">\
         <input type=\"checkbox\" autocomplete=\"off\"/> taken as described</label>\n</td>\n</tr>\n",
    );
}
