use super::*;

fn records(source: &str) -> Vec<(usize, Vec<String>)> {
    let mut scanner = Scanner::new(source, 0, 1);
    let mut cells = Cells::new(8);
    let mut all = Vec::new();
    while let Some(record) = scanner.next_record(&mut cells) {
        assert_eq!(record.misquoted, None, "{source:?}");
        let row = (0..cells.count()).map(|i| cells.text(source, i).to_owned());
        all.push((record.line, row.collect()));
    }
    all
}

fn row(line: usize, cells: &[&str]) -> (usize, Vec<String>) {
    (line, cells.iter().map(|c| (*c).to_owned()).collect())
}

#[test]
fn every_kind_of_line_end_counts_one_line() {
    for end in ["\n", "\r\n", "\r"] {
        let source = ["a,b", "# no, \"comment", "", "1,2", "\"x", "\",3", "4,"].join(end);
        let inside = format!("x{end}");
        let expected = [
            row(1, &["a", "b"]),
            row(4, &["1", "2"]),
            row(5, &[&inside, "3"]),
            row(7, &["4", ""]),
        ];
        assert_eq!(records(&source), expected, "{end:?}");
    }
}

#[test]
fn quotes_may_stand_between_blanks_and_be_doubled() {
    let source = "a, \"b, \"\"c\"\"\" ,\"\",3\"\n";
    assert_eq!(records(source), [row(1, &["a", "b, \"c\"", "", "3\""])]);
}

#[test]
fn marks_beyond_the_first_block_are_found() {
    let long = "x".repeat(200);
    let source = format!("{long},{long}\n{long},\"{long}\"");
    assert_eq!(
        records(&source),
        [row(1, &[&long, &long]), row(2, &[&long, &long])]
    );
}

#[test]
fn unmatched_quotes_are_placed() {
    let mut cells = Cells::new(4);
    let mut scanner = Scanner::new("a,\"b\" c,d\ne", 0, 1);
    let record = scanner.next_record(&mut cells).unwrap();
    assert_eq!(record.misquoted, Some(Misquoted::TextAfter(6)));
    assert_eq!(scanner.next_record(&mut cells).unwrap().line, 2);
    let record = Scanner::new("a,\"b\nc", 0, 1)
        .next_record(&mut cells)
        .unwrap();
    assert_eq!(record.misquoted, Some(Misquoted::Unclosed(2)));
}

#[test]
fn places_are_counted_in_characters() {
    assert_eq!(place("µµ,x\r\ny,z", 0, 1, 5), (1, 4));
    assert_eq!(place("a,b\r\ny,z", 0, 1, 7), (2, 3));
    assert_eq!(place("a,b\ry,z", 0, 1, 6), (2, 3));
}
