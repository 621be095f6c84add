//! Stand-alone fits against figures from outside the project, hand-worked examples and laws.
//! Sources and tolerances: `tests/reference/*/SOURCE.md`.

mod circles;
mod circular;
mod harmonic;
mod laws;
mod line;
mod rigid;
mod support;
mod turns;
mod worked;
