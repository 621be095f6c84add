//! How the report looks: on light and dark screens, on a telephone, on paper.

use crate::drawing::ink::dark_style;
use crate::pictures::WIDE;

/// No `size` under `@page`: the report goes on the paper that is in the printer.
const PLAIN: &str = "
:root { color-scheme: light dark; --ink: #171f26; --soft: #565f66; --paper: #fff; --line: #8d959b;
  --faint: #eeeeec; --alarm: #8e1b1b; --good: #00506b; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem; max-width: 62rem; color: var(--ink); background: var(--paper);
  font: 16px/1.45 sans-serif; overflow-wrap: break-word; }
h1 { font-size: 1.6em; line-height: 1.2; margin: 0 0 .4em; }
h2 { font-size: 1.2em; line-height: 1.25; margin: 2em 0 .4em; break-after: avoid; }
h3 { font-size: 1em; margin: 1.4em 0 .3em; break-after: avoid; }
p, ul, ol, dl { margin: .5em 0; max-width: 46rem; }
ul, ol { padding-left: 1.4em; }
a { color: inherit; }
a:focus-visible, .scroll:focus-visible { outline: 3px solid var(--ink); outline-offset: 2px; }
.verdict { border: 2px solid var(--ink); padding: .6em .9em; margin: 0 0 1em; }
.verdict strong { display: block; font-size: 1.35em; letter-spacing: .06em; }
.verdict.look, .verdict.undetermined { border-width: 5px; border-style: double; }
.verdict.look strong, .verdict.undetermined strong { color: var(--alarm); }
.verdict.accepted strong { color: var(--good); }
.caution { border-left: 5px solid var(--alarm); padding: .1em 0 .1em .9em; margin: 1em 0;
  break-inside: avoid; }
.caution h2 { margin-top: .3em; }
small { color: var(--soft); }
dl.origin { display: grid; grid-template-columns: max-content 1fr; gap: .15em 1em; }
dl.origin dt { color: var(--soft); }
dl.origin dd { margin: 0; overflow-wrap: anywhere; }
nav ul { columns: 2 16rem; list-style: none; padding: 0; }
nav li { padding: .2em 0; break-inside: avoid; }
nav a { display: inline-block; padding: .25em 0; }
/* The shade at an edge says that there is more to the side. */
.scroll { overflow-x: auto; margin: .6em 0;
  background: linear-gradient(to right, var(--paper) 40%, transparent) left / 2rem 100%,
    linear-gradient(to left, var(--paper) 40%, transparent) right / 2rem 100%,
    linear-gradient(to right, var(--line), transparent) left / .7rem 100%,
    linear-gradient(to left, var(--line), transparent) right / .7rem 100%;
  background-repeat: no-repeat; background-attachment: local, local, scroll, scroll; }
table { border-collapse: collapse; font-variant-numeric: tabular-nums; }
caption { text-align: left; padding: .3em 0; color: var(--soft); }
th, td { border-bottom: 1px solid var(--line); padding: .25em .8em .25em 0; text-align: left;
  vertical-align: top; font-weight: normal; }
thead th { border-bottom: 2px solid var(--ink); font-weight: bold; vertical-align: bottom; }
.n, .rows td { text-align: right; white-space: nowrap; }
/* Thousands of rows: what each column is like is said once. */
.rows td:nth-child(5) { text-align: left; white-space: normal; }
.rows tbody th, .values td span { white-space: nowrap; }
.off { color: var(--alarm); font-weight: bold; }
.digest { font-family: monospace; overflow-wrap: anywhere; font-size: .85em; }
figure { margin: 0; }
figcaption { max-width: 46rem; margin: 0 0 .6em; }
figure svg { display: block; max-width: 100%; height: auto; }
.narrow, .stamp { display: none; }
footer { margin-top: 2.5em; border-top: 1px solid var(--line); padding-top: .8em; max-width: 46rem; }
";

const TELEPHONE: &str = "
  .wide { display: none; } .narrow { display: block; }
  body { padding: .7rem; }
  dl.origin { grid-template-columns: 1fr; } dl.origin dd { margin-bottom: .4em; }
  table { font-size: .875rem; }
  th, td { padding-right: .55em; }
  /* What must not be missed is in sight without a push to the side. */
  .values .n { white-space: normal; }
  .rows td:nth-child(5) { min-width: 6.5em; }
";

const PRINT: &str = "
@media print {
  :root { color-scheme: light; }
  body { padding: 0; max-width: none; font-size: 10pt; }
  nav { display: none; }
  .wide { display: block; } .narrow { display: none; }
  .stamp { display: block; position: fixed; top: 0; right: 0; margin: 0; padding: 1mm 3mm; border: 1.5pt solid;
    background: #fff; font-weight: bold; }
  .scroll { overflow: visible; background: none; }
  .drawing, figure { break-inside: avoid; }
  /* Two drawings fit on a page then. */
  figure svg { max-height: 200mm; max-width: 84%; }
  thead { display: table-header-group; }
  tr { break-inside: avoid; }
  /* Narrow tables stand beside each other: less paper. */
  .values, .columns { columns: 2; column-gap: 8mm; }
  .columns h3:first-child { margin-top: 0; }
  .rows th, .rows td { font-size: 7.5pt; padding-right: .5em; }
  /* No heading alone at the foot of a page, and no row alone at the head of one. */
  h2 + p, h2 + .scroll, h3 + .scroll, caption + thead, tbody tr:nth-child(-n+2), tbody tr:last-child {
    break-before: avoid; }
  caption, thead { break-after: avoid; }
  table { font-size: 8.5pt; }
}
@page { margin: 14mm 13mm; }
";

/// The style sheet.
pub fn style() -> String {
    format!(
        "{PLAIN}@media screen and (prefers-color-scheme: dark) {{\n:root {{ --ink: #e6eaed; --soft: \
         #a8b2ba; --paper: #14181c; --line: #59636b; --faint: #262c32; --alarm: #ff9a8a; --good: \
         #7cc0f2; }}\n{}}}\n@media screen and (max-width: {}px) {{{TELEPHONE}}}\n{PRINT}",
        dark_style(),
        WIDE * 0.8
    )
}
