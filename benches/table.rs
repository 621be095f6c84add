//! Speed of reading a table: a million rows into typed rows that know their lines.
//!
//! `split_only` is the state machine of `csv-core` splitting the same text into cells without
//! reading a single number; it stands beside for scale.

use std::fmt::Write as _;
use std::hint::black_box;

use criterion::Criterion;
use criterion::Throughput;
use criterion::criterion_group;
use criterion::criterion_main;
use notchpin::diagnose::Problems;
use notchpin::table::Columns;
use notchpin::table::Table;

const ROWS: usize = 1_000_000;

/// A row as a caller keeps it. Field by field, for `touch.csv` of a six-joint arm.
#[allow(dead_code)] // the fields are written, as a caller would, and only their number is read
struct Touch {
    line: usize,
    track: Option<f64>,
    joints: [f64; 6],
    offset_mm: [f64; 3],
}

/// Readings with two to four decimals, a quarter of them negative.
fn text() -> String {
    let mut text = String::from("track,j1,j2,j3,j4,j5,j6,dx_mm,dy_mm,dz_mm\n");
    let mut state = 0x2545_F491_4F6C_DD1D_u64;
    let mut draw = |range: f64| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        ((state >> 11) as f64 / (1u64 << 53) as f64 - 0.25) * range
    };
    for _ in 0..ROWS {
        write!(text, "{:.2}", 900.0 + draw(400.0)).unwrap();
        for _ in 0..6 {
            write!(text, ",{:.3}", draw(160.0)).unwrap();
        }
        for _ in 0..3 {
            write!(text, ",{:.2}", draw(8.0)).unwrap();
        }
        text.push('\n');
    }
    text
}

fn columns() -> Columns {
    let columns = Columns::new()
        .text("target")
        .optional()
        .number("track")
        .joints(6);
    columns.length("dx").length("dy").length("dz")
}

fn typed(text: &str, columns: &Columns) -> Vec<Touch> {
    let mut problems = Problems::default();
    let table = Table::read("touch.csv", text.as_bytes(), columns, &mut problems).unwrap();
    let (track, j1, dx) = (
        columns.slot("track"),
        columns.slot("j1"),
        columns.slot("dx"),
    );
    let mut rows = Vec::with_capacity(ROWS);
    table.for_each(&mut problems, |row| {
        let track = row.number(track);
        let joints = std::array::from_fn(|k| row.needed_number(j1 + k, "").unwrap_or(0.0));
        let offset_mm = std::array::from_fn(|k| row.length_mm(dx + k).unwrap_or(0.0));
        if !row.is_bad() {
            let line = row.line();
            rows.push(Touch {
                line,
                track,
                joints,
                offset_mm,
            });
        }
    });
    assert!(problems.is_empty() && rows.len() == ROWS);
    rows
}

/// The same numbers, added up instead of kept: without the memory of the rows.
fn streamed(text: &str, columns: &Columns) -> f64 {
    let mut problems = Problems::default();
    let table = Table::read("touch.csv", text.as_bytes(), columns, &mut problems).unwrap();
    let (track, dx) = (columns.slot("track"), columns.slot("dx"));
    let mut sum = 0.0;
    table.for_each(&mut problems, |row| {
        for slot in track..dx {
            sum += row.number(slot).unwrap_or(0.0);
        }
        for slot in dx..dx + 3 {
            sum += row.length_mm(slot).unwrap_or(0.0);
        }
    });
    assert!(problems.is_empty());
    sum
}

fn split_only(text: &str) -> usize {
    let mut reader = csv_core::Reader::new();
    let (mut output, mut ends) = ([0; 4096], [0; 16]);
    let (mut rest, mut cells) = (text.as_bytes(), 0);
    loop {
        let (result, read, _, ended) = reader.read_record(rest, &mut output, &mut ends);
        rest = &rest[read..];
        cells += ended;
        if result == csv_core::ReadRecordResult::End {
            return cells;
        }
    }
}

fn table(c: &mut Criterion) {
    let text = text();
    let columns = columns();
    let mut group = c.benchmark_group("table");
    group.sample_size(20);
    group.throughput(Throughput::BytesDecimal(text.len() as u64));
    group.bench_function("typed_rows", |b| {
        b.iter(|| typed(black_box(&text), &columns))
    });
    group.bench_function("streamed", |b| {
        b.iter(|| streamed(black_box(&text), &columns))
    });
    group.bench_function("split_only", |b| b.iter(|| split_only(black_box(&text))));
    group.finish();
}

criterion_group!(benches, table);
criterion_main!(benches);
