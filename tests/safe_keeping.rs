//! What must not be lost is not lost: records, inputs and their chain after runs that were killed, on full
//! disks, through links, eight at once.

mod sentences;

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;
use std::time::Instant;

use notchpin::records;
use notchpin::records::chain;
use notchpin::records::chain::Paper;
use sentences::Folder;
use sentences::flat;
use sentences::program;
use sentences::small::TIP;
use sentences::small::good;

/// Every file of a folder but its records, with its bytes.
fn inputs(folder: &Folder) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![folder.root().to_owned()];
    while let Some(at) = open.pop() {
        for entry in fs::read_dir(at).unwrap() {
            let path = entry.unwrap().path();
            match path.is_dir() {
                true if path.ends_with("records") => {}
                true => open.push(path),
                false => {
                    found.insert(path.clone(), fs::read(path).unwrap());
                }
            }
        }
    }
    found
}

/// The records of a folder: numbered from 1 without a gap, every one readable, the chain whole. Returns how
/// many, and how many half-written files stand beside them.
fn whole(folder: &Folder) -> (usize, usize) {
    let (records, others): (Vec<String>, Vec<String>) = folder
        .kept()
        .into_iter()
        .partition(|n| n.starts_with("registration-"));
    for (k, name) in records.iter().enumerate() {
        assert_eq!(*name, format!("registration-{:04}.json", k + 1));
        let body = records::read(&folder.read(&format!("records/{name}"))).unwrap();
        assert_eq!(body.predecessor.is_some(), k > 0, "{name}");
    }
    let papers: Vec<Paper> = records
        .iter()
        .map(|name| Paper {
            name: name.clone(),
            text: Ok(folder.read(&format!("records/{name}"))),
        })
        .collect();
    let list = fs::read_to_string(folder.path("records/list.txt")).ok();
    let found = chain::check(&papers, list.as_deref());
    assert!(found.whole(), "{:?}", found.faults);
    let half = others.iter().filter(|n| n.starts_with(".writing-"));
    let half = half.count();
    let list = usize::from(others.iter().any(|n| n == "list.txt"));
    assert_eq!(
        others.len(),
        half + list,
        "nothing else is left behind: {others:?}"
    );
    (records.len(), half)
}

fn register(folder: &Folder) -> Command {
    let mut command = folder.command(["register"]);
    command.stdout(Stdio::null()).stderr(Stdio::null());
    command
}

/// Killed at 300 moments spread over its run, in folders that already hold some records: each time the old
/// state or the new.
#[test]
fn a_kill_leaves_the_old_state_or_the_new() {
    let folder = good();
    let start = Instant::now();
    for _ in 0..5 {
        assert!(register(&folder).status().unwrap().success());
    }
    let run = start.elapsed() / 5;
    let (mut before, mut after, mut half_written) = (0, 0, 0);
    let mut folder = good();
    for k in 0..300_u32 {
        if k % 30 == 0 {
            folder = good();
        }
        let kept = inputs(&folder);
        let (had, half) = whole(&folder);
        let texts: Vec<String> = (1..=had)
            .map(|n| folder.read(&format!("records/registration-{n:04}.json")))
            .collect();
        let mut child = register(&folder).spawn().unwrap();
        // From the start to a quarter beyond the usual end, in an order that mixes early and late.
        let share = f64::from((k * 7) % 300) / 240.0;
        std::thread::sleep(Duration::from_secs_f64(run.as_secs_f64() * share));
        child.kill().unwrap();
        child.wait().unwrap();
        let (has, left) = whole(&folder);
        assert!(has == had || has == had + 1, "{had} records became {has}");
        match has == had {
            true => before += 1,
            false => after += 1,
        }
        half_written += left - half;
        for (n, text) in texts.iter().enumerate() {
            let name = format!("records/registration-{:04}.json", n + 1);
            assert!(folder.read(&name) == *text, "{name} was changed");
        }
        assert!(inputs(&folder) == kept, "an input was changed");
        if k % 10 == 9 {
            folder.run(["register"]).ends(0);
            assert_eq!(whole(&folder).0, has + 1);
            folder.run(TIP).ends(0);
            folder.run(["history"]).ends(0);
        }
    }
    println!(
        "{before} before, {after} after, {half_written} with a half-written file, run {run:?}"
    );
    assert!(
        before >= 5 && after >= 5,
        "the moments were spread badly: {before} {after}"
    );
}

#[test]
fn eight_at_once_make_one_chain() {
    let folder = good();
    let mut running: Vec<_> = (0..8).map(|_| register(&folder).spawn().unwrap()).collect();
    for child in &mut running {
        assert!(child.wait().unwrap().success());
    }
    assert_eq!(whole(&folder), (8, 0));
    let list = folder.read("records/list.txt");
    for n in 1..=8 {
        assert!(
            list.contains(&format!("registration-{n:04}.json ")),
            "{list}"
        );
    }
    folder
        .run(["history"])
        .ends(0)
        .says("Chain whole, 8 records");
}

#[test]
fn a_file_in_place_of_the_folder_is_a_clear_error() {
    let folder = good().with("records", "not a folder");
    let kept = inputs(&folder);
    let answer = folder.run(["register"]).ends(2);
    let err = flat(&answer.err);
    assert!(
        err.contains("no record could be written") && err.contains("it is not a folder"),
        "{err}"
    );
    assert_eq!(inputs(&folder), kept);
    assert_eq!(folder.read("records"), "not a folder");
    folder.run(["register", "--no-record"]).ends(0);
}

#[cfg(unix)]
mod unix {
    use super::*;
    use std::os::unix::fs::PermissionsExt;
    use std::os::unix::fs::symlink;

    /// Runs the program under a shell that sets something up first.
    fn under(setup: &str, folder: &Folder, arguments: &[&str]) -> std::process::Output {
        Command::new("sh")
            .args(["-c", &format!("{setup} exec \"$0\" \"$@\"")])
            .arg(program().get_program())
            .args(arguments)
            .arg(folder.root())
            .stdin(Stdio::null())
            .output()
            .unwrap()
    }

    /// Every write to a file fails, as on a full disk (EFBIG in place of ENOSPC).
    #[test]
    fn a_full_disk_is_a_clear_error_and_leaves_nothing_half_written() {
        for had in [0, 2] {
            let folder = good();
            for _ in 0..had {
                folder.run(["register"]).ends(0);
            }
            let (kept, list) = (inputs(&folder), folder.records());
            let out = under("trap '' XFSZ; ulimit -f 0;", &folder, &["register"]);
            let err = String::from_utf8(out.stderr).unwrap();
            assert_eq!(out.status.code(), Some(2), "{err}");
            assert!(
                flat(&err).contains("no record could be written in"),
                "{err}"
            );
            assert!(flat(&err).contains("File too large"), "{err}");
            assert_eq!(whole(&folder), (had, 0));
            assert_eq!(folder.records(), list);
            assert_eq!(inputs(&folder), kept);
            folder.run(["register"]).ends(0);
            assert_eq!(whole(&folder), (had + 1, 0));
        }
    }

    /// The answer cannot be printed: an error, and what was recorded is whole.
    #[test]
    fn a_full_standard_output_is_an_error() {
        if !Path::new("/dev/full").exists() {
            println!("skipped: no /dev/full here");
            return;
        }
        let folder = good();
        for arguments in [["register"].as_slice(), &["history"], &["history", "--csv"]] {
            let mut command = folder.command(arguments);
            let full = fs::OpenOptions::new()
                .write(true)
                .open("/dev/full")
                .unwrap();
            let out = command.stdout(full).output().unwrap();
            let err = String::from_utf8(out.stderr).unwrap();
            assert_eq!(out.status.code(), Some(2), "{err}");
            assert!(flat(&err).contains("the answer cannot be written"), "{err}");
            assert!(!err.contains("panicked"), "{err}");
            assert_eq!(whole(&folder), (1, 0));
        }
    }

    #[test]
    fn a_folder_that_may_not_be_written_is_a_clear_error() {
        let folder = good();
        let writable = |mode| {
            fs::set_permissions(folder.root(), fs::Permissions::from_mode(mode)).unwrap();
        };
        writable(0o555);
        let root = fs::write(folder.path("probe"), "").is_ok();
        if root {
            println!(
                "skipped: this user may write anywhere; see the test with a file in place of the folder"
            );
            let _ = fs::remove_file(folder.path("probe"));
            writable(0o755);
            return;
        }
        let answer = folder.run(["register"]);
        writable(0o755);
        answer
            .ends(2)
            .complains("no record could be written")
            .complains("--no-record");
        assert!(folder.records().is_empty());
    }

    #[test]
    fn records_may_be_a_link_to_another_folder() {
        let folder = good();
        let elsewhere = tempfile::tempdir().unwrap();
        symlink(elsewhere.path(), folder.path("records")).unwrap();
        folder.run(["register"]).ends(0);
        folder.run(["register"]).ends(0);
        assert_eq!(whole(&folder), (2, 0));
        assert!(elsewhere.path().join("registration-0002.json").is_file());
        folder.run(["history"]).ends(0);
        folder.run(TIP).ends(0);
    }

    #[test]
    fn a_link_to_a_folder_that_is_not_there_is_a_clear_error() {
        let folder = good();
        let nowhere = folder.path("nowhere");
        symlink(&nowhere, folder.path("records")).unwrap();
        folder
            .run(["register"])
            .ends(2)
            .complains("a link to one that is not there");
        assert!(!nowhere.exists());
    }

    /// The next record's name is taken by a link that leads nowhere: nothing is written through it.
    #[test]
    fn a_link_in_place_of_a_record_is_never_written_through() {
        let folder = good();
        folder.run(["register"]).ends(0);
        let nowhere = folder.path("nowhere.json");
        symlink(&nowhere, folder.path("records/registration-0002.json")).unwrap();
        let answer = folder.run(["register"]).ends(2);
        let err = flat(&answer.err);
        assert!(
            err.contains("registration-0002.json: cannot be read"),
            "{err}"
        );
        assert!(!nowhere.exists(), "the link was followed");
        let link = fs::symlink_metadata(folder.path("records/registration-0002.json")).unwrap();
        assert!(link.file_type().is_symlink(), "the link was replaced");
        folder
            .run(["history"])
            .ends(1)
            .says("registration-0002.json cannot be read");
        fs::remove_file(folder.path("records/registration-0002.json")).unwrap();
        folder.run(["register"]).ends(0);
        assert_eq!(whole(&folder), (2, 0));
    }

    /// A path as long as the system takes, so that only the names in `records` are too long.
    #[test]
    fn a_path_that_is_too_long_for_a_record_is_a_clear_error() {
        let outer = tempfile::tempdir().unwrap();
        let mut root = outer.path().to_owned();
        // PATH_MAX is 4096 with the closing zero: readings/holes.csv still fits, .writing-….tmp does not.
        while root.as_os_str().len() < 4070 {
            let left = 4070 - root.as_os_str().len();
            let part = match left {
                ..=1 => break,
                2..=250 => left - 1,
                251..=300 => 120,
                _ => 200,
            };
            root.push("n".repeat(part));
        }
        let made = fs::create_dir_all(&root);
        if made.is_err() || root.as_os_str().len() != 4070 {
            println!("skipped: no such long path here");
            return;
        }
        let source = good();
        fs::create_dir(root.join("readings")).unwrap();
        for name in [
            "cell.toml",
            "readings/holes.csv",
            "readings/notch.csv",
            "readings/touch.csv",
        ] {
            fs::copy(source.path(name), root.join(name)).unwrap();
        }
        let out = program().arg("register").arg(&root).output().unwrap();
        let err = String::from_utf8(out.stderr).unwrap();
        assert_eq!(out.status.code(), Some(2), "{err}");
        assert!(
            flat(&err).contains("no record could be written in"),
            "{err}"
        );
        assert!(flat(&err).contains("File name too long"), "{err}");
        assert_eq!(fs::read_dir(root.join("records")).unwrap().count(), 0);
    }
}

#[test]
fn a_name_that_no_system_takes_is_a_clear_error() {
    for length in [300, 5000] {
        let name = "n".repeat(length);
        for command in ["register", "history"] {
            let answer = sentences::run(&[command, &name]);
            assert_eq!(answer.status, 2);
            assert!(
                flat(&answer.err).contains("cannot be opened"),
                "{}",
                answer.err
            );
        }
    }
}

#[test]
fn the_last_number_has_none_after_it() {
    let folder = good();
    folder.run(["register"]).ends(0);
    let text = folder.read("records/registration-0001.json");
    let last = format!("records/registration-{}.json", u64::MAX);
    let folder = folder.with(&last, &text);
    folder
        .run(["register"])
        .ends(2)
        .complains("there is no number after it");
    // What is no number of ours is no record.
    let folder = good();
    folder.run(["register"]).ends(0);
    let text = folder.read("records/registration-0001.json");
    for name in [
        "registration-2.json",
        "registration-+007.json",
        "registration-00008.json",
    ] {
        folder.write(&format!("records/{name}"), &text);
    }
    folder.run(["register"]).ends(0);
    assert!(
        folder
            .records()
            .contains(&"registration-0002.json".to_owned())
    );
}
