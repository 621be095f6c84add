//! Tables changed in place: what is changed is read back, and every other byte stays. Read back by a
//! reader that is none of ours.

use notchpin::table::edit::add_columns;
use notchpin::table::edit::append_line;
use notchpin::table::edit::header;
use notchpin::table::edit::line_of;
use notchpin::table::edit::set_cells;
use proptest::prelude::*;

/// Records of a CSV text with `#` comments, blank lines passed over.
fn records(bytes: &[u8]) -> Vec<Vec<String>> {
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    // A last line without its end would come in two parts.
    let bytes = &[bytes, b"\n"].concat()[..];
    let mut reader = csv_core::ReaderBuilder::new().comment(Some(b'#')).build();
    let (mut output, mut ends) = (vec![0; bytes.len() + 16], vec![0; 64]);
    let mut found = Vec::new();
    let mut rest = bytes;
    loop {
        let (result, read, _, fields) = reader.read_record(rest, &mut output, &mut ends);
        rest = &rest[read..];
        match result {
            csv_core::ReadRecordResult::Record => {
                let mut from = 0;
                let mut record = Vec::new();
                for end in &ends[..fields] {
                    record.push(String::from_utf8(output[from..*end].to_vec()).unwrap());
                    from = *end;
                }
                found.push(record);
            }
            csv_core::ReadRecordResult::End => return found,
            csv_core::ReadRecordResult::InputEmpty => {}
            other => panic!("{other:?}"),
        }
    }
}

/// A cell as people and programs write it, and whether it spans lines.
fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        3 => "[a-z0-9.:-]{1,6}",
        1 => Just(String::new()),
        1 => " {0,2}[a-z0-9.]{1,4} {0,2}",
        2 => "[a-z ,#]{0,6}".prop_map(|t| format!("\"{t}\"")),
        1 => "[a-z]{0,3}".prop_map(|t| format!("\"{t}\"\"{t},\"")),
        1 => Just("\"a\nb\"".to_owned()),
        1 => Just("5\" rule".to_owned()),
    ]
}

/// A table of three columns: what stands in it line by line, records among comments and blank lines.
fn table() -> impl Strategy<Value = (String, Vec<usize>)> {
    // The first cell of a record is not blank, so that no record is passed over.
    let record = (
        "[a-z]{1,5}|\"[a-z,#]{1,5}\"",
        proptest::collection::vec(cell(), 2),
    );
    let part = prop_oneof![
        4 => record.prop_map(|(first, rest)| (true, format!("{first},{}", rest.join(",")))),
        1 => "#[a-z ,\"]{0,8}".prop_map(|t| (false, t)),
        1 => Just((false, String::new())),
    ];
    let parts = proptest::collection::vec(part, 1..8);
    // The other reader ends a comment at a line feed only.
    let ends = prop_oneof![Just("\n"), Just("\r\n")];
    (parts, ends, any::<bool>(), any::<bool>()).prop_map(|(parts, end, mark, closed)| {
        let mut text = format!(
            "{}# one{end}left,gap_mm , note",
            if mark { "\u{FEFF}" } else { "" }
        );
        let mut line = 3;
        let mut rows = Vec::new();
        for (is_record, part) in parts {
            text.push_str(end);
            text.push_str(&part);
            if is_record {
                rows.push(line);
            }
            line += 1 + part.matches('\n').count();
        }
        if closed {
            text.push_str(end);
        }
        (text, rows)
    })
}

fn answer() -> impl Strategy<Value = String> {
    prop_oneof![
        "-?[0-9]{1,3}\\.[0-9]",
        "[a-z,\"#;]{1,6}",
        Just(String::new())
    ]
}

/// The longest beginning and end that two texts share leave at most this much of each in between.
fn differs_within(old: &[u8], new: &[u8]) -> (usize, usize) {
    let head = old.iter().zip(new).take_while(|(a, b)| a == b).count();
    let tail = old[head..]
        .iter()
        .rev()
        .zip(new[head..].iter().rev())
        .take_while(|(a, b)| a == b)
        .count();
    (old.len() - head - tail, new.len() - head - tail)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_changed_cell_is_the_only_change((text, rows) in table(), pick in any::<usize>(), column in 1usize..3, to in answer()) {
        prop_assume!(!rows.is_empty());
        let k = pick % rows.len();
        let new = set_cells(text.as_bytes(), rows[k], &[(column, &to)]).unwrap();
        let (before, after) = (records(text.as_bytes()), records(&new));
        prop_assert_eq!(before.len(), after.len());
        for (i, (old, new)) in before.iter().zip(&after).enumerate() {
            for (c, (old, new)) in old.iter().zip(new).enumerate() {
                if (i, c) == (k + 1, column) {
                    prop_assert_eq!(new.trim(), &to);
                } else {
                    prop_assert_eq!(old, new);
                }
            }
        }
        // What differs is no longer than the cell before and after.
        let (was, is) = differs_within(text.as_bytes(), &new);
        prop_assert!(was <= before[k + 1][column].len() * 2 + 2 && is <= to.len() * 2 + 2);
        // Back again is the file as it was, where the cell was written plainly.
        let old = before[k + 1][column].clone();
        let plain = line_of([old.as_str()]) == old && !old.is_empty();
        if plain && text.contains(&format!(",{old}")) && !text.contains(&format!("\"{old}\"")) {
            let again = set_cells(&new, rows[k], &[(column, old.trim())]).unwrap();
            prop_assert_eq!(String::from_utf8(again).unwrap(), text);
        }
    }

    #[test]
    fn an_added_column_leaves_all_others((text, _) in table()) {
        let new = add_columns(text.as_bytes(), &["use"]).unwrap();
        let (before, after) = (records(text.as_bytes()), records(&new));
        prop_assert_eq!(before.len(), after.len());
        for (i, (old, new)) in before.iter().zip(&after).enumerate() {
            prop_assert_eq!(&old[..], &new[..3]);
            prop_assert_eq!(&new[3], if i == 0 { "use" } else { "" });
        }
        // Only commas and one name came in.
        prop_assert_eq!(new.len(), text.len() + before.len() + "use".len());
        let names = header(&new).unwrap();
        prop_assert_eq!(names, ["left", "gap_mm", "note", "use"].map(str::to_owned));
    }

    #[test]
    fn an_added_row_comes_last_and_the_rest_stays((text, _) in table(), to in proptest::collection::vec(answer(), 2)) {
        let line = line_of(["x", to[0].as_str(), to[1].as_str()]);
        let new = append_line(text.as_bytes(), &line).unwrap();
        prop_assert!(new.starts_with(text.as_bytes()));
        let mut wanted = records(text.as_bytes());
        wanted.push(vec!["x".to_owned(), to[0].clone(), to[1].clone()]);
        prop_assert_eq!(records(&new), wanted);
    }
}
