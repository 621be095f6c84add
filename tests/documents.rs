//! What README and the demo cells quote is what the program prints now.

use std::path::Path;
use std::process::Command;

fn printed(cell: &str) -> String {
    let out = Command::new(env!("CARGO_BIN_EXE_notchpin"))
        .args(["register", cell, "--no-record"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("the program runs");
    String::from_utf8(out.stdout).expect("text")
}

fn read(file: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
    std::fs::read_to_string(path)
        .expect(file)
        .replace("\r\n", "\n")
}

#[test]
fn readme_shows_the_real_output_of_its_own_command() {
    let readme = read("README.md");
    let command = "cargo run --release -- register demo-cells/glazing-bench --no-record";
    assert!(readme.contains(command), "README gives the command");
    let quoted = readme
        .split("```text\n")
        .skip(1)
        .filter_map(|rest| rest.split("\n```").next())
        .find(|block| block.starts_with("ACCEPTED"))
        .expect("README quotes the verdict");
    assert_eq!(quoted, printed("demo-cells/glazing-bench").trim_end());
}

/// Blocks of docs/tasks.md that follow `<!-- notchpin ARGUMENTS -->` are lines of what that command prints.
#[test]
fn the_page_on_tasks_quotes_the_real_output() {
    let page = read("docs/tasks.md");
    let mut quoted = 0;
    for part in page.split("<!-- notchpin ").skip(1) {
        let (arguments, rest) = part.split_once(" -->").expect("the end of the remark");
        let out = Command::new(env!("CARGO_BIN_EXE_notchpin"))
            .args(arguments.split(' '))
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .output()
            .expect("the program runs");
        let real = String::from_utf8(out.stdout).expect("text");
        let block = rest
            .split("```text\n")
            .nth(1)
            .and_then(|b| b.split("\n```").next());
        for line in block.expect("a block").lines().filter(|l| *l != "…") {
            assert!(real.contains(line), "{arguments}: {line:?} is not printed");
            quoted += 1;
        }
    }
    assert!(quoted >= 25, "{quoted}");
}

/// Blocks of docs/doubt.md that follow `<!-- notchpin ARGUMENTS -->` are lines of what that command prints.
#[test]
fn the_page_on_doubt_quotes_the_real_output() {
    let page = read("docs/doubt.md");
    let mut quoted = 0;
    for part in page.split("<!-- notchpin register ").skip(1) {
        let (cell, rest) = part.split_once(" -->").expect("the end of the remark");
        let real = printed(cell);
        let block = rest
            .split("```text\n")
            .nth(1)
            .and_then(|b| b.split("\n```").next());
        for line in block.expect("a block").lines().filter(|l| *l != "…") {
            assert!(real.contains(line), "{cell}: {line:?} is not printed");
            quoted += 1;
        }
    }
    assert!(quoted >= 6, "{quoted}");
}

#[test]
fn the_stories_of_the_demo_cells_quote_the_real_output() {
    for cell in [
        "glazing-bench",
        "inch-rows",
        "six-joint",
        "slips",
        "slips-undetermined",
        "read-twice",
        "glaze-line",
        "shifted-track",
    ] {
        let folder = format!("demo-cells/{cell}");
        let real = printed(&folder);
        let story = read(&format!("{folder}/README.md"));
        let starts = |line: &&str| {
            let heads = ["    ACCEPTED", "    LOOK", "    UNDETERMINED"];
            heads.iter().any(|head| line.starts_with(head))
        };
        let quoted: Vec<&str> = story
            .lines()
            .skip_while(|line| !starts(line))
            .take_while(|line| line.is_empty() || line.starts_with("    "))
            .map(str::trim)
            .filter(|line| !line.is_empty() && *line != "…" && !line.starts_with("notchpin"))
            .collect();
        assert!(!quoted.is_empty(), "{cell}: its README quotes the verdict");
        for line in quoted {
            assert!(real.contains(line), "{cell}: {line:?} is not printed");
        }
    }
}
