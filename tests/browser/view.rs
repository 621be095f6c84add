//! The page of `view` with a hand on it: pointer, keys, typing. What it shows is what the command line says.

use std::collections::BTreeMap;
use std::fs;
use std::io::BufRead;
use std::io::BufReader;
use std::io::Read;
use std::path::Path;
use std::process::Child;
use std::process::ChildStdout;
use std::process::Stdio;
use std::time::Duration;
use std::time::Instant;

use fantoccini::actions::InputSource;
use fantoccini::actions::MOUSE_BUTTON_LEFT;
use fantoccini::actions::MouseActions;
use fantoccini::actions::PointerAction;
use fantoccini::key::Key;
use serde_json::Value;
use serde_json::json;

use crate::checks::narrow_and_wide;
use crate::checks::open_to_all;
use crate::checks::quiet;
use crate::checks::right;
use crate::driver::browse;
use crate::page::Page;
use crate::page::Scheme;
use crate::sentences::Folder;

/// Largest difference between the interface and the command line, which compute by the same functions, mm
/// and degrees.
const SAME: f64 = 1e-9;

/// How long the program may take to end, once told.
const END: Duration = Duration::from_secs(5);

/// The program, serving a registered copy of the glazing bench.
struct View {
    folder: Folder,
    serving: Child,
    /// Kept open: a program whose output nobody takes may end.
    said: BufReader<ChildStdout>,
}

impl Drop for View {
    fn drop(&mut self) {
        // It may have ended by itself, as it was told to.
        let _ = self.serving.kill();
        let _ = self.serving.wait();
    }
}

impl View {
    /// Starts it and opens its page.
    fn open(page: &Page) -> View {
        let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-cells/glazing-bench");
        let folder = Folder::copy_of(&demo);
        let registered = folder.run(["register"]);
        assert_eq!(registered.status, 0, "{}", registered.err);
        let mut serving = folder
            .command(["view", "--no-open"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts");
        let said = BufReader::new(serving.stdout.take().expect("its output"));
        let mut view = View {
            folder,
            serving,
            said,
        };
        let lines = view.said.by_ref().lines();
        let address = lines.map_while(Result::ok).find_map(|line| {
            let word = |word: &&str| word.starts_with("http://127.0.0.1:");
            line.split_whitespace().find(word).map(str::to_owned)
        });
        page.open(&address.expect("an address on standard output"));
        page.until(
            "both drawings with handles, and a tip",
            "return ['plan', 'elevation'].every(name => document.querySelector(
               `#${name} [data-handle=tip]`)) && document.querySelector('#tip dd') !== null;",
        );
        view
    }

    /// Files of the cell folder with their contents.
    fn files(&self) -> BTreeMap<String, Vec<u8>> {
        let mut files = BTreeMap::new();
        gather(self.folder.root(), self.folder.root(), &mut files);
        files
    }
}

fn gather(root: &Path, folder: &Path, files: &mut BTreeMap<String, Vec<u8>>) {
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            gather(root, &path, files);
        } else {
            let name = path.strip_prefix(root).expect("below the root");
            files.insert(name.display().to_string(), fs::read(&path).expect("a file"));
        }
    }
}

fn handle(view: &str, id: &str) -> String {
    format!("#{view} [data-handle={id}]")
}

/// Where the reading of an axis is typed.
fn field(axis: &str) -> String {
    format!("input[aria-describedby~='wrong-{axis}']")
}

/// What an axis reads on the page.
fn reading(page: &Page, axis: &str) -> f64 {
    let shown = page.script(&format!(
        "return document.querySelector(\"{}\").value;",
        field(axis)
    ));
    let shown = shown.as_str().expect("a text");
    shown
        .parse()
        .unwrap_or_else(|_| panic!("{axis} reads {shown:?}"))
}

fn tip(page: &Page) -> String {
    page.text("#tip")
}

/// Waits until something that a script gives is another than before.
fn changed<T: PartialEq + std::fmt::Debug>(what: &str, before: &T, now: impl Fn() -> T) -> T {
    let start = Instant::now();
    loop {
        let now = now();
        if now != *before {
            return now;
        }
        assert!(
            start.elapsed() < Duration::from_secs(10),
            "{what} stays {now:?}"
        );
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// Takes hold of a handle and moves the hand by so many px, in steps.
fn drag(page: &Page, selector: &str, by: (f64, f64)) {
    page.script_of(
        "document.querySelector(arguments[0]).scrollIntoView({block: 'center'});",
        vec![json!(selector)],
    );
    let start = PointerAction::MoveToElement {
        element: page.find(selector),
        duration: None,
        x: 0.0,
        y: 0.0,
    };
    let mut hand = MouseActions::new("hand".to_owned())
        .then(start)
        .then(PointerAction::Down {
            button: MOUSE_BUTTON_LEFT,
        });
    for _ in 0..10 {
        hand = hand.then(PointerAction::MoveBy {
            duration: Some(Duration::from_millis(20)),
            x: by.0 / 10.0,
            y: by.1 / 10.0,
        });
    }
    page.act(hand.then(PointerAction::Up {
        button: MOUSE_BUTTON_LEFT,
    }));
}

/// A request to the interface, from the page: `(status, answer)`.
fn post(page: &Page, path: &str, body: &Value) -> (u64, Value) {
    let answer = page.script_later(&format!(
        "const done = arguments[arguments.length - 1];
         fetch('api/{path}', {{method: 'POST', headers: {{'Content-Type': 'application/json'}},
           body: JSON.stringify({body})}})
           .then(async answer => done([answer.status, await answer.json()]), error => done([0, String(error)]));"
    ));
    (answer[0].as_u64().expect("a status"), answer[1].clone())
}

fn near(a: &Value, b: &Value, what: &str) {
    let (a, b) = (a.as_f64().expect(what), b.as_f64().expect(what));
    assert!((a - b).abs() <= SAME, "{what}: {a} and {b}");
}

#[test]
fn the_page_is_sound() {
    browse(|page| {
        let _view = View::open(page);
        let about = "the page of view";
        assert!(!page.title().is_empty(), "a title");
        right(page, about, "headings()");
        narrow_and_wide(page, about, &["words()"]);
        open_to_all(page, about);
        page.pictures("view");
        page.window(360);
        page.picture("view-narrow");
        quiet(page, about);
    });
}

#[test]
fn a_hand_moves_carriage_and_tip() {
    browse(|page| {
        let _view = View::open(page);
        let (before, place) = (reading(page, "track"), tip(page));
        drag(page, &handle("plan", "track"), (40.0, 0.0));
        let after = changed("the track's reading", &before, || reading(page, "track"));
        // The track of this cell rises with x, which points to the right.
        assert!(after > before, "{before} to {after}");
        let place = changed("the tip", &place, || tip(page));

        let joints = reading(page, "j1");
        drag(page, &handle("plan", "tip"), (-15.0, 10.0));
        changed("the tip", &place, || tip(page));
        changed("the first joint", &joints, || reading(page, "j1"));
        assert_eq!(
            reading(page, "track"),
            after,
            "the track stays where the tip is drawn"
        );

        let times = page.script("return window.notchpinTimes;");
        let times = times.as_array().expect("a list");
        let ms: Vec<f64> = times.iter().map(|t| t.as_f64().expect("ms")).collect();
        assert!(ms.len() >= 2, "{ms:?}");
        let worst = ms.iter().copied().fold(0.0, f64::max);
        println!("answers to {} drags, at most {worst:.0} ms", ms.len());
        page.picture("view-dragged");
        quiet(page, "after dragging");
    });
}

#[test]
fn keys_turn_a_joint_by_its_step() {
    browse(|page| {
        let _view = View::open(page);
        let before = reading(page, "j2");
        let up: char = Key::Up.into();
        page.keys(&handle("elevation", "j2"), &up.to_string());
        let after = changed("the joint's reading", &before, || reading(page, "j2"));
        assert!((after - before - 1.0).abs() < 0.011, "{before} to {after}");
        let now = page.attribute(&handle("elevation", "j2"), "aria-valuenow");
        let now: f64 = now.expect("a value").parse().expect("a number");
        assert!((now - after).abs() < 0.011, "{now} told, {after} shown");
        quiet(page, "after keys");
    });
}

#[test]
fn a_step_of_a_joint_does_not_undo_one_of_the_tip_under_way() {
    browse(|page| {
        let _view = View::open(page);
        let (base, shoulder) = (reading(page, "j1"), reading(page, "j2"));
        // In one breath, so that the second comes before the first is answered. Upwards the base stays.
        page.script_of(
            "const key = (on, key) => document.querySelector(on).dispatchEvent(
               new KeyboardEvent('keydown', {key, shiftKey: true, bubbles: true, cancelable: true}));
             key(arguments[0], 'ArrowUp');
             key(arguments[1], 'ArrowRight');",
            vec![
                json!(handle("elevation", "tip")),
                json!(handle("plan", "j1")),
            ],
        );
        let after = changed("the base's reading", &base, || reading(page, "j1"));
        assert!((after - base - 10.0).abs() < 0.011, "{base} to {after}");
        let lifted = reading(page, "j2");
        assert!((lifted - shoulder).abs() > 0.1, "{shoulder} to {lifted}");
        quiet(page, "after two steps");
    });
}

#[test]
fn a_typed_reading_is_taken_and_nonsense_is_not() {
    browse(|page| {
        let _view = View::open(page);
        let place = tip(page);
        let typed = |text: &str| {
            page.script(&format!(
                "document.querySelector(\"{}\").select();",
                field("track")
            ));
            let enter: char = Key::Enter.into();
            page.keys(&field("track"), &format!("{text}{enter}"));
        };
        typed("412.5");
        changed("the tip", &place, || tip(page));
        assert_eq!(reading(page, "track"), 412.5);
        let place = tip(page);
        typed("much");
        page.until(
            "the field to say that it is wrong",
            &format!(
                "return document.querySelector(\"{}\").getAttribute('aria-invalid') === 'true';",
                field("track")
            ),
        );
        assert_eq!(tip(page), place);
        quiet(page, "after typing");
    });
}

/// The same stand by `api/stand`, by `notchpin tip --json`, and as text on the page.
#[test]
fn page_and_command_line_agree_on_the_tip() {
    browse(|page| {
        let view = View::open(page);
        let joints = [80.0, -40.0, 75.0, 50.0, 5.0];
        let stand = json!({"track": 250.0, "table": 30.0, "joints": joints});
        for (geometry, drawn) in [("registered", None), ("drawn", Some("--as-drawn"))] {
            let (status, state) = post(
                page,
                "stand",
                &json!({"geometry": geometry, "stand": stand}),
            );
            assert_eq!(status, 200, "{state}");
            let arguments = [
                "tip",
                "--track",
                "250",
                "--table",
                "30",
                "--joints=80,-40,75,50,5",
                "--json",
            ];
            let arguments: Vec<&str> = arguments.into_iter().chain(drawn).collect();
            let told = view.folder.run(arguments).ends(0).json();
            for frame in ["plate", "platter"] {
                let (here, there) = (&state["tip"][frame], &told[frame]);
                for (k, axis) in ["x_mm", "y_mm", "z_mm"].iter().enumerate() {
                    near(
                        &here["at_mm"][k],
                        &there[*axis],
                        &format!("{geometry} {frame} {axis}"),
                    );
                }
                for angle in ["elevation_deg", "azimuth_deg", "roll_deg"] {
                    near(
                        &here[angle],
                        &there[angle],
                        &format!("{geometry} {frame} {angle}"),
                    );
                }
                match drawn {
                    None => near(&here["u95_mm"], &there["u95_mm"], &format!("{frame} u95")),
                    Some(_) => assert_eq!(
                        (&here["u95_mm"], &there["u95_mm"]),
                        (&Value::Null, &Value::Null)
                    ),
                }
            }
            if drawn.is_none() {
                let enter: char = Key::Enter.into();
                let readings = [("track", 250.0), ("table", 30.0)].into_iter();
                let names = ["j1", "j2", "j3", "j4", "j5"];
                for (axis, value) in readings.chain(names.into_iter().zip(joints)) {
                    let field = field(axis);
                    page.script(&format!("document.querySelector(\"{field}\").select();"));
                    page.keys(&field, &format!("{value}{enter}"));
                }
                let text = state["tip"]["plate"]["text"]["at"]
                    .as_str()
                    .expect("a text")
                    .to_owned();
                page.until(
                    &format!("the tip on the page to be {text}"),
                    &format!(
                        "return document.querySelector('#tip').textContent.includes({});",
                        json!(text)
                    ),
                );
            }
        }
        quiet(page, "after comparing");
    });
}

#[test]
fn a_point_is_shown_gone_to_and_mapped() {
    browse(|page| {
        let _view = View::open(page);
        page.until(
            "all points to be worked out",
            "return document.querySelectorAll('#points [data-show]').length === 8
               && !document.querySelector('#points').textContent.includes('not known yet');",
        );
        page.click("[data-show=tile_edge]");
        page.until(
            "postures and a map of the point",
            "return document.querySelectorAll('#point-body li button').length > 0
               && document.querySelector('#point-body .map svg') !== null;",
        );
        let place = tip(page);
        page.click("#point-body li button");
        let place = changed("the tip", &place, || tip(page));
        page.pictures("view-point");
        // The middle of the map.
        page.click("#point-body .map svg");
        page.until(
            "an answer to the click in the map",
            "return /^Held|best posture at/.test(document.querySelector('#point-body .line').textContent);",
        );
        println!(
            "tip {place}, then {}: {}",
            tip(page),
            page.text("#point-body .line")
        );
        // With keys: the cross-hair tells where it is before anything moves.
        let place = tip(page);
        let left: char = Key::Left.into();
        page.keys("#point-body .map", &left.to_string());
        page.until(
            "what is under the cross-hair",
            "return /^Cross-hair at track .*: /.test(document.querySelector('#point-body .line').textContent);",
        );
        assert_eq!(tip(page), place);
        open_to_all(page, "the page of view with a point");
        quiet(page, "after a point");
    });
}

#[test]
fn registered_and_drawn_differ() {
    browse(|page| {
        let _view = View::open(page);
        let registered = tip(page);
        assert_eq!(
            page.attribute("#geometry", "aria-checked").as_deref(),
            Some("true")
        );
        page.click("#geometry");
        let drawn = changed("the tip", &registered, || tip(page));
        assert_eq!(
            page.attribute("#geometry", "aria-checked").as_deref(),
            Some("false")
        );
        // Nobody stands as drawn: nothing to keep, and no verdict of the registration on it.
        let kept = || page.attribute("#save-open", "aria-disabled");
        assert_eq!(kept().as_deref(), Some("true"));
        assert!(
            page.text("#save-why").contains("as drawn"),
            "{}",
            page.text("#save-why")
        );
        page.click("#save-open");
        assert_eq!(
            page.script("return document.querySelector('#save').open;"),
            false
        );
        assert!(!page.text("#title-block").contains("accepted"));
        assert!(
            page.text("#notes")
                .contains("As registered the tip would be")
        );
        page.scheme(Scheme::Light);
        page.picture("view-drawn");
        page.click("#geometry");
        changed("the tip", &drawn, || tip(page));
        assert_eq!(kept().as_deref(), Some("false"));
        assert!(page.text("#title-block").contains("accepted"));
        quiet(page, "after switching");
    });
}

#[test]
fn saving_asks_first_and_writes_one_line() {
    browse(|page| {
        let view = View::open(page);
        let before = view.files();
        page.click("#save-open");
        page.keys("#save [name=name]", "new_spot");
        page.click("#save [type=submit]");
        page.until(
            "the line that would be written",
            "return document.querySelector('#save').textContent.includes('new_spot,');",
        );
        assert!(view.files() == before, "written before it was confirmed");
        page.picture("view-saving");
        page.click("#save [type=submit]");
        page.until(
            "the dialog to close",
            "return !document.querySelector('#save').open;",
        );
        let after = view.files();
        let new: Vec<&String> = after
            .keys()
            .filter(|name| !before.contains_key(*name))
            .collect();
        assert_eq!(new, ["taught-on-page.csv"]);
        for (name, text) in &before {
            assert!(after[name] == *text, "{name} is another");
        }
        let text = String::from_utf8(after["taught-on-page.csv"].clone()).expect("text");
        assert_eq!(
            text.lines()
                .filter(|line| line.starts_with("new_spot,"))
                .count(),
            1,
            "{text}"
        );

        let stand = json!({"track": 300.0, "table": 45.0, "joints": [90, -34, 80, 44, 0]});
        let again = json!({"geometry": "registered", "stand": stand, "name": "new_spot", "frame": "plate",
            "confirmed": true});
        let (status, answer) = post(page, "save", &again);
        assert_eq!(status, 409, "{answer}");
        assert!(view.files() == after, "a name that is taken was written");
    });
}

#[test]
fn a_cell_that_was_changed_is_told() {
    browse(|page| {
        let view = View::open(page);
        assert_eq!(page.text("#changed"), "");
        assert!(view.folder.run(["register"]).status < 2);
        page.until(
            "the page to say so",
            "return document.querySelector('#changed').textContent.includes('registration-0002.json was added');",
        );
        page.picture("view-changed");
        quiet(page, "after a change of the cell");
    });
}

#[test]
fn stopping_ends_the_program() {
    browse(|page| {
        let mut view = View::open(page);
        page.click("#stop-open");
        page.click("#stop [type=submit]");
        let start = Instant::now();
        let status = loop {
            if let Some(status) = view.serving.try_wait().expect("a process") {
                break status;
            }
            assert!(start.elapsed() < END, "it goes on");
            std::thread::sleep(Duration::from_millis(20));
        };
        assert!(status.success(), "{status}");
        page.picture("view-stopped");
    });
}
