//! The working sheet in a browser and on paper.

use std::fs;
use std::path::Path;

use crate::checks::WIDTHS;
use crate::checks::narrow_and_wide;
use crate::checks::none;
use crate::checks::open_to_all;
use crate::checks::printable;
use crate::checks::quiet;
use crate::checks::right;
use crate::driver::browse;
use crate::page::Page;
use crate::sentences::Folder;

fn sheet(page: &Page, cell: &str) -> Folder {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("demo-cells")
        .join(cell);
    let folder = Folder::copy_of(&demo);
    let file = folder.path("sheet.html");
    let answer = folder.run(["sheet", "--out", file.to_str().unwrap()]);
    assert_eq!(answer.status, 0, "{}", answer.err);
    assert!(fs::metadata(&file).is_ok(), "{}", answer.out);
    page.open_file(&file);
    folder
}

fn all_is_well(cell: &str) {
    browse(|page| {
        let folder = sheet(page, cell);
        let about = format!("working sheet of {cell}");
        assert!(page.title().contains("ommissioning"), "{}", page.title());
        for question in ["headings()", "selfContained()", "tables()"] {
            right(page, &about, question);
        }
        open_to_all(page, &about);
        narrow_and_wide(page, &about, &["figures()", "words()"]);
        printable(page, &about, 1);
        quiet(page, &about);
        page.pictures(&format!("sheet-{cell}"));
        drop(folder);
    });
}

#[test]
fn the_sheet_of_the_glazing_bench() {
    all_is_well("glazing-bench");
}

#[test]
fn the_sheet_of_a_cell_in_inches() {
    all_is_well("inch-rows");
}

#[test]
fn the_sheet_of_a_cell_with_six_joints() {
    all_is_well("six-joint");
}

/// A step's number takes little room: what to do and what to write down have the rest.
#[test]
fn columns_are_as_wide_as_what_they_hold() {
    browse(|page| {
        let _folder = sheet(page, "slips");
        let widths = page.script(
            "return [...document.querySelectorAll('td.number')].map(cell =>
               cell.getBoundingClientRect().width / cell.closest('table').getBoundingClientRect().width);",
        );
        let widths = widths.as_array().expect("a list");
        assert!(!widths.is_empty(), "no step");
        for width in widths {
            let width = width.as_f64().expect("a number");
            assert!(width < 0.1, "{width} of the table");
        }
        for width in WIDTHS {
            page.window(width);
            let broken = page.list(
                "return [...document.querySelectorAll('thead th')].filter(head => {
                   const line = document.createRange();
                   line.selectNodeContents(head);
                   return !head.textContent.includes(' ') && line.getClientRects().length > 1;
                 }).map(head => head.textContent);",
            );
            none(
                &format!("heads broken within a word at {width} px"),
                &broken,
            );
        }
    });
}
