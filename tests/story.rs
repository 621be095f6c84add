//! docs/after-the-move.md told once more by the program: every command of the page is run as printed, in
//! its order, in one folder, and every line that the page quotes is printed then.

use std::path::Path;
use std::process::Command;

/// A command of the page with the lines that are quoted beneath it.
struct Scene {
    command: String,
    quoted: Vec<String>,
}

/// Blocks of the page: `$ notchpin …` and what follows, up to the next command or the end of the block.
fn scenes(page: &str) -> Vec<Scene> {
    let mut scenes: Vec<Scene> = Vec::new();
    for block in page.split("```text\n").skip(1) {
        let block = block.split("\n```").next().unwrap_or_default();
        for line in block.lines() {
            match line.strip_prefix("$ ") {
                Some(command) => scenes.push(Scene {
                    command: command.to_owned(),
                    quoted: Vec::new(),
                }),
                None => scenes
                    .last_mut()
                    .expect("a block begins with its command")
                    .quoted
                    .push(line.to_owned()),
            }
        }
    }
    scenes
}

/// The words of a command line; double quotes hold words together.
fn words(command: &str) -> Vec<String> {
    let mut words = Vec::new();
    for (k, part) in command.split('"').enumerate() {
        match k % 2 {
            1 => words.push(part.to_owned()),
            _ => words.extend(part.split_whitespace().map(str::to_owned)),
        }
    }
    words
}

#[test]
fn the_story_after_the_move_is_true() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let page = std::fs::read_to_string(root.join("docs/after-the-move.md"))
        .expect("the page")
        .replace("\r\n", "\n");
    let bench = tempfile::tempdir().expect("a temporary folder");
    let (mut run, mut quoted) = (0, 0);
    let mut seen: Vec<String> = Vec::new();
    for scene in scenes(&page) {
        let words = words(&scene.command);
        assert_eq!(words[0], "notchpin", "{}", scene.command);
        let out = Command::new(env!("CARGO_BIN_EXE_notchpin"))
            .args(&words[1..])
            .current_dir(bench.path())
            .stdin(std::process::Stdio::null())
            .output()
            .expect("the program runs");
        let status = out.status.code().expect("the program ends by itself");
        let text = String::from_utf8(out.stdout).expect("text")
            + &String::from_utf8(out.stderr).expect("text");
        assert!(status < 2, "{}: status {status}\n{text}", scene.command);
        for line in scene
            .quoted
            .iter()
            .filter(|l| !l.trim().is_empty() && *l != "…")
        {
            assert!(
                text.contains(line.as_str()),
                "{}: {line:?} is not printed in\n{text}",
                scene.command
            );
            quoted += 1;
        }
        seen.push(words[1].clone());
        run += 1;
    }
    for command in [
        "new", "register", "recheck", "sheet", "compare", "transfer", "history",
    ] {
        assert!(
            seen.iter().any(|s| s == command),
            "the story uses {command}"
        );
    }
    assert!(run >= 12 && quoted >= 35, "{run} commands, {quoted} lines");
}
