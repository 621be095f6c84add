//! Tables as people write them: what is read, and what is said about what cannot be read.

use notchpin::diagnose::Problem;
use notchpin::diagnose::Problems;
use notchpin::table::Columns;
use notchpin::table::MAX_TABLE_BYTES;
use notchpin::table::MAX_TABLE_ERRORS;
use notchpin::table::Table;
use notchpin::table::Unit;
use notchpin::table::common;
use notchpin::table::common::Use;
use notchpin::units::Approach;
use proptest::prelude::*;

const FEATURE: usize = 0;
const COUNT: usize = 1;
const GAP: usize = 2;
const TILT: usize = 3;

#[derive(Debug, Clone, PartialEq)]
struct Read {
    line: usize,
    feature: String,
    count: Option<f64>,
    gap_mm: Option<f64>,
    tilt_rad: Option<f64>,
}

fn columns() -> Columns {
    let columns = Columns::new().text("feature").number("count").length("gap");
    columns.angle("tilt").optional().bookkeeping(Unit::Mm)
}

fn read(bytes: &[u8]) -> (Vec<Read>, Vec<Problem>) {
    let mut problems = Problems::default();
    let mut rows = Vec::new();
    if let Some(table) = Table::read("readings/holes.csv", bytes, &columns(), &mut problems) {
        table.for_each(&mut problems, |row| {
            let read = Read {
                line: row.line(),
                feature: row.text(FEATURE).to_owned(),
                count: row.number(COUNT),
                gap_mm: row.length_mm(GAP),
                tilt_rad: row.angle_rad(TILT),
            };
            if !row.is_bad() {
                rows.push(read);
            }
        });
    }
    (rows, problems.iter().cloned().collect())
}

fn good(text: &str) -> Vec<Read> {
    let (rows, problems) = read(text.as_bytes());
    assert_eq!(problems, [], "{text:?}");
    rows
}

/// The only problem of a text, which must stand at `place` and say `parts`.
#[track_caller]
fn fails(text: &str, place: (usize, usize), parts: &[&str]) -> Problem {
    let (_, problems) = read(text.as_bytes());
    assert_eq!(problems.len(), 1, "{text:?}: {problems:#?}");
    let problem = problems[0].clone();
    let said = problem
        .to_string()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    let stands = (problem.line, problem.column);
    assert_eq!(stands, (Some(place.0), Some(place.1)), "{text:?}: {said}");
    assert_eq!(problem.file, "readings/holes.csv");
    for part in parts {
        assert!(said.contains(part), "{part:?} is not in {said:?}");
    }
    problem
}

fn foot(line: usize, count: f64, gap_mm: Option<f64>) -> Read {
    Read {
        line,
        feature: "left_foot".to_owned(),
        count: Some(count),
        gap_mm,
        tilt_rad: None,
    }
}

#[test]
fn rows_know_their_physical_lines() {
    let text = "# by hand\n\nfeature,count,gap_mm,note\nleft_foot,3.5,0.25,\n# more\n\
                left_foot,-4,,\"two\nlines, \"\"quoted\"\"\"\n\n , ,\t,\nleft_foot,+1e1,-2,end";
    let expected = [
        foot(4, 3.5, Some(0.25)),
        foot(6, -4.0, None),
        foot(10, 10.0, Some(-2.0)),
    ];
    assert_eq!(good(text), expected);
    for end in ["\r\n", "\r"] {
        assert_eq!(good(&text.replace('\n', end)), expected, "{end:?}");
    }
    assert_eq!(good(&format!("\u{FEFF}{text}\n")), expected);
}

#[test]
fn units_are_converted_by_the_header() {
    // An inch is 25.4 mm; 90° is half of pi.
    let rows = good("gap_in,tilt_deg,count,feature\n0.5,90,1,left_foot\n");
    assert_eq!(rows[0].gap_mm, Some(12.7));
    let quarter = std::f64::consts::FRAC_PI_2;
    assert!((rows[0].tilt_rad.unwrap() - quarter).abs() < 1e-15);
}

#[test]
fn nothing_is_zero_rows() {
    for text in [
        "",
        "\n\n",
        "# only a comment",
        "\u{FEFF}",
        "feature,count,gap_mm",
        " \r\n",
    ] {
        assert_eq!(good(text), [], "{text:?}");
    }
}

#[test]
fn wrong_headers_say_what_is_meant() {
    let place = (1, 15);
    fails(
        "feature,count,gap_deg\n",
        place,
        &["gap is a length: write gap_mm or gap_in"],
    );
    fails(
        "feature,count,gap\n",
        place,
        &["gap is a length: write gap_mm or gap_in"],
    );
    fails("feature,count,gap_cm\n", place, &["gap is a length"]);
    fails(
        "feature,count,gpa_mm\n",
        place,
        &["the column gpa_mm", "write gap_mm if"],
    );
    fails("feature,count,Gap_mm\n", place, &["write gap_mm"]);
    fails(
        "feature,count,zebra,gap_mm\n",
        place,
        &["remove the column"],
    );
    fails(
        "feature,count,,gap_mm\n",
        place,
        &["a column without a name"],
    );
    fails(
        "feature,count,gap_mm,gap_in\n",
        (1, 22),
        &["keep either gap_mm or gap_in"],
    );
    fails(
        "feature,count,count,gap_mm\n",
        place,
        &["remove one of the two columns count"],
    );
    fails(
        "count_mm,feature,gap_mm\n",
        (1, 1),
        &["count stands without a unit: write count"],
    );
    fails(
        "gap_mm,count,feature,tilt_rad\n",
        (1, 22),
        &["angle in degrees: write tilt_deg"],
    );
    fails(
        "#\nfeature,gap_mm\n",
        (2, 1),
        &["no column count", "add the column count"],
    );
    fails("feature;count;gap_mm\nx;1;2\n", (1, 1), &["by semicolons"]);
    fails("feature,\"count\n", (1, 9), &["closing quote"]);
}

#[test]
fn rows_must_have_the_cells_of_the_header() {
    let header = "feature,count,gap_mm\n";
    fails(
        &format!("{header}a,1\n"),
        (2, 4),
        &["(gap_mm)", "2 cells", "3 cells", "its comma"],
    );
    fails(
        &format!("{header}a,1,2,5\n"),
        (2, 7),
        &["4 cells", "double quotes"],
    );
    fails(&format!("{header}\"µ\n\",1\n"), (3, 4), &["2 cells"]);
    assert_eq!(good(&format!("{header},,,,\n,\n  \n, ,\n")), []);
}

#[test]
fn cells_that_are_no_numbers_are_placed_and_explained() {
    for (cell, parts) in [
        ("8x", ["found 8x", "write only the number, such as 8"]),
        ("\"1,5\"", ["found 1,5", "write 1.5"]),
        ("NaN", ["found NaN", "leave the cell empty"]),
        ("-inf", ["found -inf", "finite"]),
        ("0x10", ["found 0x10", "decimal digits"]),
        (
            "\u{2212}5",
            ["found \u{2212}5", "write -5, with the minus sign '-'"],
        ),
        ("1e400", ["found 1e400", "smaller number"]),
    ] {
        let text = format!("feature,gap_mm,count\n\"µ\r\nµ\",{cell},1\n");
        let problem = fails(&text, (3, 4), &parts);
        assert_eq!(problem.field.as_deref(), Some("gap_mm"));
    }
    fails(
        "feature,gap_in,count\na,1e308,1\n",
        (2, 3),
        &["found 1e308", "smaller number"],
    );
    fails("feature,count,gap_mm\na,  \"b\",1\n", (2, 3), &["found b"]);
}

#[test]
fn quotes_that_do_not_match_are_placed() {
    let header = "feature,count,gap_mm\n";
    fails(
        &format!("{header}a,1,\"x\n\n"),
        (2, 5),
        &["closing quote before the end"],
    );
    let text = format!("{header}\"a\"b,1,2\nleft_foot,1,2\n");
    fails(
        &text,
        (2, 4),
        &["comma or the end of the line after a closing quote"],
    );
    assert_eq!(read(text.as_bytes()).0, [foot(3, 1.0, Some(2.0))]);
}

#[test]
fn bytes_that_are_not_utf8_are_placed() {
    let (_, problems) = read(b"\xEF\xBB\xBFfeature,count,gap_mm\n\xC2\xB5,\xFF1,2\n");
    assert_eq!(problems.len(), 1);
    assert_eq!((problems[0].line, problems[0].column), (Some(2), Some(3)));
    assert_eq!(problems[0].found, "the byte 0xFF");
}

#[test]
fn a_table_beyond_the_limit_is_refused_unread() {
    let (_, problems) = read(&vec![b'\n'; MAX_TABLE_BYTES + 1]);
    assert!(problems[0].expected.contains("256 MiB"), "{problems:?}");
}

#[test]
fn a_file_full_of_errors_is_not_reported_line_by_line() {
    let text = format!("feature,count,gap_mm\n{}", "a,b,1\n".repeat(10_000));
    let (_, problems) = read(text.as_bytes());
    assert_eq!(problems.len(), MAX_TABLE_ERRORS + 1);
    assert_eq!(problems[MAX_TABLE_ERRORS].line, Some(MAX_TABLE_ERRORS + 2));
}

#[test]
fn shared_columns_are_understood() {
    let columns = Columns::new()
        .joints(3)
        .text("approach")
        .optional()
        .bookkeeping(Unit::Mm);
    let slot = |name| columns.slot(name);
    let text =
        "j1,j2,j3,approach,use,u_in\n1,2,,up,,\n1,2,3,cw,no,0.1\n1,,,,maybe,0\n,2,3,left,yes,-1\n";
    let mut problems = Problems::default();
    let table = Table::read("t.csv", text.as_bytes(), &columns, &mut problems).unwrap();
    let mut seen = Vec::new();
    table.for_each(&mut problems, |row| {
        seen.push((
            common::joints(row, slot("j1"), 3, 2, "the body is j2")[..3].to_vec(),
            common::approach_of_table(row, slot("approach"), -1.0),
            common::use_row(row, slot("use")),
            common::uncertainty(row, slot("u"), Unit::Mm, 0.4),
            row.is_bad(),
        ));
    });
    let (one, two, three) = (Some(1.0), Some(2.0), Some(3.0));
    let expected = [
        (vec![one, two, None], Approach::Up, Use::Yes, 0.4, false),
        (
            vec![one, two, three],
            Approach::Up,
            Use::No,
            0.1 * 25.4,
            false,
        ),
        (
            vec![one, None, None],
            Approach::Unnoted,
            Use::Yes,
            0.4,
            true,
        ),
        (
            vec![None, two, three],
            Approach::Unnoted,
            Use::Yes,
            0.4,
            true,
        ),
    ];
    assert_eq!(seen, expected);
    let placed: Vec<_> = problems
        .iter()
        .map(|p| (p.line, p.field.as_deref()))
        .collect();
    let expected = [
        (Some(4), Some("j2")),
        (Some(4), Some("use")),
        (Some(4), Some("u_in")),
        (Some(5), Some("j1")),
        (Some(5), Some("approach")),
        (Some(5), Some("u_in")),
    ];
    assert_eq!(placed, expected);
    assert_eq!(
        problems.iter().next().unwrap().expected,
        "a number: the body is j2"
    );
}

#[test]
fn needed_cells_say_why_and_warnings_do_not_spoil_a_row() {
    let columns = Columns::new().text("name").number("table").optional();
    let mut problems = Problems::default();
    let table = Table::read("t.csv", b"name\nleft\n", &columns, &mut problems).unwrap();
    table.for_each(&mut problems, |row| {
        row.warn(0, "a feature of the carriage", "look");
        assert!(!row.is_bad());
        assert_eq!(row.needed_number(1, "the mark is on the platter"), None);
        assert!(row.is_bad());
        assert_eq!(row.needed_text(0, ""), Some("left"));
    });
    let said: Vec<_> = problems
        .iter()
        .map(|p| (p.column, p.advice.as_str()))
        .collect();
    assert_eq!(said, [(Some(1), "look"), (Some(1), "add the column table")]);
}

/// A cell of `csv`, quoted where the format asks for it.
fn written(cell: &str) -> String {
    match cell.contains([',', '"', '\n', '\r', '#']) {
        true => format!("\"{}\"", cell.replace('"', "\"\"")),
        false => cell.to_owned(),
    }
}

/// All cells of a text as `csv-core` splits it, records of a single empty cell left out.
fn split_by_csv_core(text: &str) -> Vec<Vec<String>> {
    let mut reader = csv_core::ReaderBuilder::new().comment(Some(b'#')).build();
    let (mut output, mut ends) = (vec![0; text.len() + 1], vec![0; text.len() + 2]);
    let mut rest = text.as_bytes();
    let mut rows = Vec::new();
    let (mut filled, mut ended) = (0, 0);
    loop {
        let (result, read, wrote, cells) =
            reader.read_record(rest, &mut output[filled..], &mut ends[ended..]);
        rest = &rest[read..];
        (filled, ended) = (filled + wrote, ended + cells);
        match result {
            csv_core::ReadRecordResult::End => return rows,
            csv_core::ReadRecordResult::Record => {
                let mut from = 0;
                let cell = |end: &usize| {
                    let text = String::from_utf8(output[from..*end].to_vec()).unwrap();
                    from = *end;
                    text
                };
                rows.push(ends[..ended].iter().map(cell).collect());
                (filled, ended) = (0, 0);
            }
            _ => {}
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1500))]

    #[test]
    fn any_bytes_are_read_without_a_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
        read(&bytes);
        read(&[b"feature,count,gap_mm\n".as_slice(), &bytes].concat());
    }

    #[test]
    fn any_marks_are_read_without_a_panic(text in "[,\"\n\r# 1.\u{2212}µa-]{0,200}") {
        read(text.as_bytes());
        let (_, problems) = read(format!("feature,count,gap_mm\n{text}").as_bytes());
        let lines = text.split(['\n', '\r']).count() + 1;
        for problem in problems {
            prop_assert!(problem.line.unwrap() <= lines, "{problem}");
        }
    }

    #[test]
    fn tables_come_back_as_written(
        rows in proptest::collection::vec(("[a-z ,\"\n\r#µ]{0,40}x", any::<i32>(), -1e6..1e6f64), 0..20),
        order in Just(["feature", "count", "gap_mm"]).prop_shuffle(),
        end in prop_oneof![Just("\n"), Just("\r\n"), Just("\r")],
    ) {
        let mut text = order.join(",") + end;
        let mut expected = Vec::new();
        for (feature, count, gap) in rows {
            let line = text.replace("\r\n", "\n").split(['\n', '\r']).count();
            let cell = |name: &&str| match *name {
                "feature" => written(&feature),
                "count" => count.to_string(),
                _ => gap.to_string(),
            };
            let cells: Vec<String> = order.iter().map(cell).collect();
            text += &(cells.join(",") + end);
            expected.push(Read {
                line,
                feature: feature.trim().to_owned(),
                count: Some(f64::from(count)),
                gap_mm: Some(gap),
                tilt_rad: None,
            });
        }
        prop_assert_eq!(good(&text), expected);
    }

    /// `csv-core` knows nothing of lines and blanks but splits by the same rules.
    #[test]
    fn cells_are_split_as_by_csv_core(
        rows in proptest::collection::vec(proptest::array::uniform3("[a-z,\"\n\r#]{0,30}"), 0..12),
    ) {
        let mut text = String::from("a,b,c\n");
        for row in &rows {
            text += &(row.clone().map(|c| written(&c)).join(",") + "\n");
        }
        let columns = Columns::new().text("a").text("b").text("c");
        let mut problems = Problems::default();
        let table = Table::read("t.csv", text.as_bytes(), &columns, &mut problems).unwrap();
        let mut ours = Vec::new();
        table.for_each(&mut problems, |row| {
            ours.push([0, 1, 2].map(|slot| row.text(slot).to_owned()).to_vec());
        });
        let mut theirs = split_by_csv_core(&text);
        theirs.remove(0);
        for cell in theirs.iter_mut().flatten() {
            *cell = cell.trim().to_owned();
        }
        theirs.retain(|row| row.iter().any(|cell| !cell.is_empty()));
        prop_assert_eq!(ours, theirs);
        prop_assert!(problems.is_empty());
    }
}
