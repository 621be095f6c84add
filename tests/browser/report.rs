//! The report of each demo cell in a browser and on paper: one file that needs nothing else.

use std::path::Path;

use crate::checks::narrow_and_wide;
use crate::checks::open_to_all;
use crate::checks::printable;
use crate::checks::quiet;
use crate::checks::right;
use crate::driver::browse;
use crate::page::Scheme;
use crate::sentences::Folder;

fn all_is_well(cell: &str) {
    browse(|page| {
        let demo = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("demo-cells")
            .join(cell);
        let folder = Folder::copy_of(&demo);
        // 1 where a person must look at something, 2 where nothing settles some value and there is no record.
        let registered = folder.run(["register"]);
        let determined = matches!(registered.status, 0 | 1);
        assert!(
            determined || registered.out.starts_with("UNDETERMINED"),
            "{}",
            registered.err
        );
        assert_eq!(folder.records().is_empty(), !determined);
        let file = folder.path("r.html");
        let told = folder.run(["report", "--out", file.to_str().unwrap()]);
        assert!(matches!(told.status, 0 | 1), "{}", told.err);
        assert!(
            told.out.contains("r.html"),
            "the path is told: {}",
            told.out
        );
        page.open_file(&file);

        let about = format!("report of {cell}");
        assert!(!page.title().trim().is_empty(), "{about} has no title");
        for question in ["headings()", "selfContained()", "tables()"] {
            right(page, &about, question);
        }
        for address in page.list("return [...document.querySelectorAll('a[href$=json]')].map(a => a.getAttribute('href'));") {
            assert!(folder.path(&address).is_file(), "{about} leads to {address}, which is not there");
        }
        narrow_and_wide(page, &about, &["figures()", "words()"]);
        for scheme in [Scheme::Dark, Scheme::Light] {
            page.scheme(scheme);
            right(page, &format!("{about}, {scheme:?}"), "figures()");
        }
        open_to_all(page, &about);
        printable(page, &about, 1);
        page.pictures(&format!("report-{cell}"));
        page.window(360);
        page.picture(&format!("report-{cell}-narrow"));
        quiet(page, &about);
    });
}

#[test]
fn the_report_of_the_glazing_bench() {
    all_is_well("glazing-bench");
}

#[test]
fn the_report_of_a_cell_with_tasks() {
    all_is_well("glaze-line");
}

#[test]
fn the_report_of_a_cell_in_inches() {
    all_is_well("inch-rows");
}

#[test]
fn the_report_of_readings_taken_twice() {
    all_is_well("read-twice");
}

#[test]
fn the_report_after_a_move() {
    all_is_well("shifted-track");
}

#[test]
fn the_report_of_a_cell_with_six_joints() {
    all_is_well("six-joint");
}

#[test]
fn the_report_of_readings_that_do_not_fit() {
    all_is_well("slips");
}

#[test]
fn the_report_of_what_is_undetermined() {
    all_is_well("slips-undetermined");
}
