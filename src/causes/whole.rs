//! Slips of a whole file or of cell.toml: the pitch, the direction of an axis, inches throughout.

use crate::bench::Bench;
use crate::bench::Source;
use crate::causes::solved::SMALL;
use crate::causes::solved::Solved;
use crate::causes::solved::Start;
use crate::causes::solved::all;
use crate::causes::solved::solve;
use crate::cell::Cell;
use crate::diagnose::Problems;
use crate::fit::assess::GLOBAL_LIMIT;
use crate::parameters::Unknowns;
use crate::readings;
use crate::readings::slips::MM_PER_INCH;
use crate::readings::slips::SlipKind;
use crate::readings::slips::plain;

/// Pitches of perforated plates in use, mm (*common practice*).
const PITCHES_MM: [f64; 11] = [
    25.4, 50.0, 25.0, 100.0, 50.8, 12.5, 12.7, 40.0, 30.0, 20.0, 75.0,
];
/// ln of how much rarer a slip of a whole file or cell is than the commonest slip in one row.
pub const RARITY: f64 = 2.0;
/// So many of the most promising are solved from all starts.
const SOLVED: usize = 2;

/// In larger networks only what leaves less than this share of S is looked at further.
const PROMISING: f64 = 0.5;

/// A cell or its files as they might have been meant.
struct Meant {
    kind: SlipKind,
    file: String,
    column: String,
    found: String,
    suggested: String,
    bench: Bench,
}

/// A slip that would explain everything at once.
#[derive(Debug, Clone)]
pub struct WholeSlip {
    /// What sort.
    pub kind: SlipKind,
    /// The file to change.
    pub file: String,
    /// Key or column.
    pub column: String,
    /// As it stands there.
    pub found: String,
    /// As it should.
    pub suggested: String,
    /// S of all readings with this put right.
    pub chi2: f64,
}

/// Slips of the whole with which all readings agree, the least S first.
pub fn whole(bench: &Bench, unknowns: &Unknowns, plain: &Solved) -> Vec<WholeSlip> {
    let mut tried: Vec<(Meant, f64)> = Vec::new();
    for meant in everything(bench) {
        let used: Vec<usize> = plain.used.clone();
        let start = Start::Roughly(&plain.minimum.x);
        let nominal = &meant.bench.cell.nominal;
        let solved = solve(nominal, unknowns, &all(&meant.bench), used, start);
        let chi2 = solved.map_or(f64::INFINITY, |s| s.minimum.chi2);
        tried.push((meant, chi2));
    }
    tried.sort_by(|a, b| a.1.total_cmp(&b.1));
    let small = plain.minimum.whitened.len() * plain.unknowns.len() < SMALL;
    let mut found = Vec::new();
    for (k, (meant, near)) in tried.into_iter().take(SOLVED + 3).enumerate() {
        // Nothing gained nearby: only where runs are cheap is it worth the whole search.
        let promising = near < PROMISING * plain.minimum.chi2;
        let anywhere = k < SOLVED && (promising || small);
        if !promising && !small {
            continue;
        }
        let used: Vec<usize> = plain.used.clone();
        let nominal = &meant.bench.cell.nominal;
        let start = match anywhere {
            true => Start::Anywhere,
            false => Start::Near(&plain.minimum.x),
        };
        let Some(solved) = solve(nominal, unknowns, &all(&meant.bench), used, start) else {
            continue;
        };
        if agrees(&solved) && solved.minimum.chi2 < plain.minimum.chi2 {
            found.push(WholeSlip {
                kind: meant.kind,
                file: meant.file,
                column: meant.column,
                found: meant.found,
                suggested: meant.suggested,
                chi2: solved.minimum.chi2,
            });
        }
    }
    found.sort_by(|a, b| a.chi2.total_cmp(&b.chi2));
    found
}

/// Nothing stands out: the global test holds, and of all residuals together not one is beyond what
/// chance brings in one of a thousand such registrations (Bonferroni).
pub fn agrees(solved: &Solved) -> bool {
    let assessment = &solved.assessment;
    let tests = assessment.readings.iter().copied();
    let ties = assessment.found.iter().filter_map(|f| f.tolerance);
    let all: Vec<f64> = tests.chain(ties).filter_map(|t| t.standardized).collect();
    let limit = GLOBAL_LIMIT / all.len().max(1) as f64;
    assessment.global_test_holds()
        && all
            .iter()
            .all(|w| crate::fit::chi2::chi2_upper_tail(w * w, 1) >= limit)
}

fn everything(bench: &Bench) -> Vec<Meant> {
    let mut list = Vec::new();
    pitches(bench, &mut list);
    scales(bench, &mut list);
    units(bench, &mut list);
    list
}

/// The same files read for another cell.
fn reread(bench: &Bench, cell: Cell) -> Option<Bench> {
    let mut again = Bench::new(cell);
    let mut problems = Problems::default();
    for source in &bench.sources {
        again.read(
            source.kind,
            &source.name,
            source.bytes.clone(),
            &mut problems,
        );
    }
    let same = again.taken.len() == bench.taken.len() && !problems.has_errors();
    same.then_some(again)
}

fn pitches(bench: &Bench, list: &mut Vec<Meant>) {
    let grid = &bench.cell.plate;
    let unit = if grid.in_inches { "in" } else { "mm" };
    let written = |mm: f64| plain(if grid.in_inches { mm / MM_PER_INCH } else { mm });
    let square = grid.pitch_x_mm == grid.pitch_y_mm;
    for pitch in PITCHES_MM {
        for (key, along) in [
            ("pitch", [true, true]),
            ("pitch_x", [true, false]),
            ("pitch_y", [false, true]),
        ] {
            let was = if along[0] {
                grid.pitch_x_mm
            } else {
                grid.pitch_y_mm
            };
            if (key == "pitch") != square || (was - pitch).abs() < 1e-6 {
                continue;
            }
            let mut cell = bench.cell.clone();
            let ratio = [
                if along[0] {
                    pitch / grid.pitch_x_mm
                } else {
                    1.0
                },
                if along[1] {
                    pitch / grid.pitch_y_mm
                } else {
                    1.0
                },
            ];
            cell.plate.pitch_x_mm *= ratio[0];
            cell.plate.pitch_y_mm *= ratio[1];
            for (mark, at) in cell.marks.iter().zip(&mut cell.nominal.marks_mm) {
                if mark.in_hole {
                    at.x *= ratio[0];
                    at.y *= ratio[1];
                }
            }
            if let Some(meant) = reread(bench, cell) {
                list.push(Meant {
                    kind: SlipKind::Pitch,
                    file: "cell.toml".to_owned(),
                    column: format!("plate.{key}_{unit}"),
                    found: written(was),
                    suggested: written(pitch),
                    bench: meant,
                });
            }
        }
    }
}

/// Directions reversed, and a track whose readings are inches.
fn scales(bench: &Bench, list: &mut Vec<Meant>) {
    let mut push = |cell: Cell, kind: SlipKind, column: String, was: f64, is: f64| {
        if let Some(meant) = reread(bench, cell) {
            list.push(Meant {
                kind,
                file: "cell.toml".to_owned(),
                column,
                found: plain(was),
                suggested: plain(is),
                bench: meant,
            });
        }
    };
    let nominal = &bench.cell.nominal;
    if let Some(track) = &nominal.track {
        let was = track.scale_mm;
        for (factor, kind) in [
            (-1.0, SlipKind::Direction),
            (MM_PER_INCH, SlipKind::Unit),
            (1.0 / MM_PER_INCH, SlipKind::Unit),
        ] {
            let mut cell = bench.cell.clone();
            if let Some(track) = &mut cell.nominal.track {
                track.scale_mm *= factor;
                track.sense *= factor.signum();
            }
            push(cell, kind, "track.scale".to_owned(), was, was * factor);
        }
    }
    if let Some(table) = &nominal.turntable {
        let mut cell = bench.cell.clone();
        if let Some(table) = &mut cell.nominal.turntable {
            table.scale_rad *= -1.0;
            table.sense *= -1.0;
        }
        let was = table.scale_rad.to_degrees();
        let column = "turntable.scale".to_owned();
        push(cell, SlipKind::Direction, column, was, -was);
    }
    for (index, joint) in nominal.joints.iter().enumerate() {
        let mut cell = bench.cell.clone();
        cell.nominal.joints[index].scale_rad *= -1.0;
        let was = joint.scale_rad.to_degrees();
        let column = format!("arm.j{}.scale", index + 1);
        push(cell, SlipKind::Direction, column, was, -was);
    }
}

/// A column of lengths that was read in the other unit throughout: its header should say so.
fn units(bench: &Bench, list: &mut Vec<Meant>) {
    for source in &bench.sources {
        let lengths = readings::lengths_of(source.kind);
        let mut groups: Vec<Vec<&str>> = lengths.iter().map(|c| vec![*c]).collect();
        if lengths.len() > 1 {
            groups.push(lengths.to_vec());
        }
        for group in groups {
            let Some((bytes, names)) = other_header(source, &group) else {
                continue;
            };
            let mut changed = bench.clone();
            for s in &mut changed.sources {
                if s.name == source.name {
                    s.bytes = bytes.clone().into();
                }
            }
            if let Some(meant) = reread(&changed, bench.cell.clone()) {
                let join = |k: usize| {
                    let all: Vec<&str> = names.iter().map(|n| n[k].as_str()).collect();
                    all.join(", ")
                };
                list.push(Meant {
                    kind: SlipKind::Unit,
                    file: source.name.to_string(),
                    column: join(0),
                    found: join(0),
                    suggested: join(1),
                    bench: meant,
                });
            }
        }
    }
}

/// The file with some columns of its header in the other unit, and their names before and after.
fn other_header(source: &Source, columns: &[&str]) -> Option<(Vec<u8>, Vec<[String; 2]>)> {
    let text = std::str::from_utf8(&source.bytes).ok()?;
    let mut start = 0;
    for line in text.split_inclusive('\n') {
        let bare = line.trim_start_matches('\u{feff}').trim();
        if bare.is_empty() || bare.starts_with('#') {
            start += line.len();
            continue;
        }
        let mut names = Vec::new();
        let cells: Vec<String> = line
            .split(',')
            .map(|cell| {
                let name = cell.trim().trim_matches('"').trim_start_matches('\u{feff}');
                let other = columns.iter().find_map(|c| match name.strip_prefix(c)? {
                    "_mm" => Some(format!("{c}_in")),
                    "_in" => Some(format!("{c}_mm")),
                    _ => None,
                });
                match other {
                    Some(other) => {
                        names.push([name.to_owned(), other.clone()]);
                        cell.replace(name, &other)
                    }
                    None => cell.to_owned(),
                }
            })
            .collect();
        if names.is_empty() {
            return None;
        }
        let end = start + line.len();
        let changed = format!("{}{}{}", &text[..start], cells.join(","), &text[end..]);
        return Some((changed.into_bytes(), names));
    }
    None
}
