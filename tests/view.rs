//! `notchpin view` as a child process, asked by raw bytes: what it answers, what it keeps out, what it
//! writes and that it writes nothing else.

mod sentences;

use std::collections::BTreeMap;
use std::fs;
use std::io::BufRead;
use std::io::BufReader;
use std::io::Read;
use std::io::Write;
use std::net::IpAddr;
use std::net::SocketAddr;
use std::net::TcpStream;
use std::net::UdpSocket;
use std::path::Path;
use std::process::Child;
use std::process::Command;
use std::process::Stdio;
use std::thread;
use std::time::Duration;
use std::time::Instant;

use sentences::Folder;
use serde_json::Value;
use serde_json::json;
use sha2::Digest;
use sha2::Sha256;

/// Nothing takes so long, not even on a slow machine that has other work.
const LONG: Duration = Duration::from_secs(180);

/// A page being served.
struct Served {
    child: Child,
    port: u16,
    token: String,
}

/// What came back.
struct Reply {
    status: u16,
    head: String,
    body: String,
}

impl Reply {
    fn json(&self) -> Value {
        serde_json::from_str(&self.body).unwrap_or_else(|e| panic!("{e}: {}", self.body))
    }

    #[track_caller]
    fn is(self, status: u16) -> Reply {
        assert_eq!(self.status, status, "{}\n{}", self.head, self.body);
        self
    }
}

fn demo(name: &str) -> Folder {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-cells");
    Folder::copy_of(&root.join(name))
}

/// A demo cell with a record.
fn registered(name: &str) -> Folder {
    let folder = demo(name);
    let answer = folder.run(["register"]);
    assert!(answer.status < 2, "{}", answer.err);
    folder
}

impl Served {
    fn start(folder: &Folder, more: &[&str]) -> Served {
        let mut command = folder.command(["view", "--no-open"]);
        command
            .args(more)
            .stdout(Stdio::piped())
            .stderr(Stdio::null());
        let mut child = command.spawn().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap())
            .read_line(&mut line)
            .unwrap();
        let rest = line.trim().strip_prefix("http://127.0.0.1:").unwrap();
        let (port, token) = rest.split_once('/').unwrap();
        let token = token.strip_suffix('/').unwrap();
        assert!(token.len() >= 32, "{token}");
        Served {
            child,
            port: port.parse().unwrap(),
            token: token.to_owned(),
        }
    }

    fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    /// Sends bytes as they are; what comes back before the other side closes or a while is over.
    fn raw(&self, bytes: &[u8]) -> String {
        let Ok(mut stream) = TcpStream::connect(("127.0.0.1", self.port)) else {
            return String::new();
        };
        stream.set_read_timeout(Some(LONG)).unwrap();
        // It may close before all is sent.
        let _ = stream.write_all(bytes);
        let mut back = Vec::new();
        let _ = stream.read_to_end(&mut back);
        String::from_utf8_lossy(&back).into_owned()
    }

    fn reply(&self, bytes: &[u8]) -> Reply {
        let text = self.raw(bytes);
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
        let status = head.split(' ').nth(1).and_then(|s| s.parse().ok());
        Reply {
            status: status.unwrap_or(0),
            head: head.to_owned(),
            body: body.to_owned(),
        }
    }

    fn get(&self, rest: &str) -> Reply {
        let (token, host) = (&self.token, self.host());
        self.reply(
            format!("GET /{token}/{rest} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n")
                .as_bytes(),
        )
    }

    fn post_text(&self, name: &str, body: &str) -> Reply {
        let (token, host) = (&self.token, self.host());
        let head = format!(
            "POST /{token}/api/{name} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\n\
             Content-Type: application/json\r\nContent-Length: {}\r\nConnection: close\r\n\r\n",
            body.len()
        );
        self.reply(&[head.as_bytes(), body.as_bytes()].concat())
    }

    fn post(&self, name: &str, body: &Value) -> Reply {
        self.post_text(name, &body.to_string())
    }

    fn state(&self, name: &str, body: Value) -> Value {
        self.post(name, &body).is(200).json()
    }

    /// Waits until it answers.
    fn still_answers(&self) {
        // Where it had too much to do, in a moment.
        let start = Instant::now();
        loop {
            let status = self.get("").status;
            if status == 200 {
                return;
            }
            assert!(start.elapsed() < LONG, "{status}");
            thread::sleep(Duration::from_millis(100));
        }
    }

    /// Waits for its end.
    fn ends(mut self) -> Option<i32> {
        let start = Instant::now();
        while start.elapsed() < LONG {
            if let Some(status) = self.child.try_wait().unwrap() {
                return status.code();
            }
            thread::sleep(Duration::from_millis(20));
        }
        panic!("it does not end");
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn close(a: &Value, b: &Value, within: f64) -> bool {
    (a.as_f64().unwrap() - b.as_f64().unwrap()).abs() <= within
}

/// Digests of all files of a folder.
fn digests(root: &Path) -> BTreeMap<String, Vec<u8>> {
    fn walk(folder: &Path, root: &Path, into: &mut BTreeMap<String, Vec<u8>>) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(&path, root, into);
            } else {
                let name = path.strip_prefix(root).unwrap().display().to_string();
                into.insert(name, Sha256::digest(fs::read(&path).unwrap()).to_vec());
            }
        }
    }
    let mut all = BTreeMap::new();
    walk(root, root, &mut all);
    all
}

fn bench_stand() -> Value {
    json!({"track": 300.0, "table": 45.0, "joints": [90.0, -34.0, 80.0, 44.0, 0.0]})
}

#[test]
fn the_page_and_what_does_not_change() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let page = server.get("").is(200);
    assert!(page.body.contains("<html"));
    for head in [
        "content-security-policy: default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; \
         connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
        "x-content-type-options: nosniff",
        "referrer-policy: no-referrer",
        "cross-origin-opener-policy: same-origin",
        "cross-origin-resource-policy: same-origin",
        "cache-control: no-store",
        "content-type: text/html",
    ] {
        assert!(page.head.contains(head), "{head} in {}", page.head);
    }
    assert!(server.get("inks.css").is(200).head.contains("text/css"));
    let cell = server.get("api/cell").is(200).json();
    assert_eq!(cell["format"], 1);
    assert_eq!(cell["geometries"], json!(["registered", "drawn"]));
    let ids: Vec<&str> = cell["axes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|a| a["id"].as_str().unwrap())
        .collect();
    assert_eq!(ids, ["track", "table", "j1", "j2", "j3", "j4", "j5"]);
    assert_eq!(cell["axes"][0]["low"], 0.0);
    assert_eq!(cell["axes"][1]["endless"], true);
    assert_eq!(cell["axes"][1]["low"], Value::Null);
    // As in the cell file: scale 1, as drawn its limits are readings; registered, j2's zero is found.
    assert!(close(&cell["axes"][2]["low"], &json!(-165.0), 3.0));
    for geometry in ["registered", "drawn"] {
        for view in ["plan", "elevation"] {
            let svg = cell["drawings"][geometry][view].as_str().unwrap();
            assert!(
                svg.contains("<g class=\"moving\">\n</g>"),
                "{geometry} {view}"
            );
        }
        assert_eq!(cell["start"][geometry]["geometry"], geometry);
    }
    assert!(
        cell["caution"]
            .as_str()
            .unwrap()
            .contains("prove each new position slowly")
    );
    let names: Vec<&str> = cell["points"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p["name"].as_str().unwrap())
        .collect();
    assert!(names.contains(&"tile_edge"));
}

#[test]
fn the_tip_is_that_of_the_command() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    for (geometry, more) in [("registered", ""), ("drawn", "--as-drawn")] {
        let mut arguments = vec![
            "tip",
            "--track",
            "300",
            "--table",
            "45",
            "--joints=90,-34,80,44,0",
            "--json",
        ];
        if !more.is_empty() {
            arguments.push(more);
        }
        let told = folder.run(&arguments).ends(0).json();
        let state = server.state(
            "stand",
            json!({"geometry": geometry, "stand": bench_stand()}),
        );
        for frame in ["plate", "platter"] {
            let (tip, cli) = (&state["tip"][frame], &told[frame]);
            for (k, key) in ["x_mm", "y_mm", "z_mm"].iter().enumerate() {
                assert!(close(&tip["at_mm"][k], &cli[key], 1e-9), "{frame} {key}");
            }
            for key in ["elevation_deg", "azimuth_deg", "roll_deg"] {
                assert!(close(&tip[key], &cli[key], 1e-9), "{frame} {key}");
            }
            match geometry {
                "registered" => assert!(close(&tip["u95_mm"], &cli["u95_mm"], 1e-9)),
                _ => assert_eq!(
                    (&tip["u95_mm"], &tip["text"]["u95"]),
                    (&Value::Null, &json!(""))
                ),
            }
        }
        assert_eq!(state["stand"], bench_stand());
        assert_eq!(state["held"], Value::Null);
    }
}

/// The place of a handle in a view.
fn handle(state: &Value, id: &str, view: &str) -> (f64, f64) {
    let handles = state["handles"].as_array().unwrap();
    let found = handles.iter().find(|h| h["id"] == id && h["view"] == view);
    let at = &found.unwrap_or_else(|| panic!("no {id} in {view}"))["at"];
    (at[0].as_f64().unwrap(), at[1].as_f64().unwrap())
}

fn joints(state: &Value) -> Vec<f64> {
    let joints = state["stand"]["joints"].as_array().unwrap();
    joints.iter().map(|j| j.as_f64().unwrap()).collect()
}

#[test]
fn the_tip_dragged_to_where_it_is_stays_and_there_and_back_comes_back() {
    for name in ["glazing-bench", "six-joint"] {
        let folder = registered(name);
        let server = Served::start(&folder, &[]);
        let cell = server.get("api/cell").is(200).json();
        for geometry in ["registered", "drawn"] {
            let start = &cell["start"][geometry];
            let drag = |stand: &Value, view: &str, key: &str, to: (f64, f64)| {
                server.state(
                    "drag",
                    json!({"geometry": geometry, "stand": stand, "handle": "tip", "view": view, key: [to.0, to.1]}),
                )
            };
            for view in ["plan", "elevation"] {
                let still = drag(&start["stand"], view, "to", handle(start, "tip", view));
                for (a, b) in joints(&still).iter().zip(joints(start)) {
                    assert!((a - b).abs() < 1e-6, "{name} {geometry} {view}: {a} {b}");
                }
                let exactly = drag(&start["stand"], view, "by_mm", (0.0, 0.0));
                assert_eq!(exactly["stand"], start["stand"]);
                let there = drag(&start["stand"], view, "by_mm", (4.0, 3.0));
                assert_eq!(there["held"], Value::Null, "{name} {geometry} {view}");
                // In plan z stays and x and y move by 4 and 3; in elevation y stays, x and z move.
                let (moved, kept) = if view == "plan" {
                    ([0, 1], 2)
                } else {
                    ([0, 2], 1)
                };
                let at =
                    |state: &Value, k: usize| state["tip"]["plate"]["at_mm"][k].as_f64().unwrap();
                for (k, by) in moved.into_iter().zip([4.0, 3.0]) {
                    assert!((at(&there, k) - at(start, k) - by).abs() < 1e-6);
                }
                assert!((at(&there, kept) - at(start, kept)).abs() < 1e-6);
                assert_eq!(there["stand"]["track"], start["stand"]["track"]);
                let back = drag(&there["stand"], view, "by_mm", (-4.0, -3.0));
                for (a, b) in joints(&back).iter().zip(joints(start)) {
                    assert!((a - b).abs() < 1e-6, "{name} {geometry} {view}: {a} {b}");
                }
            }
            // Far beyond what any arm here reaches: as far as it goes, and why.
            let far = drag(&start["stand"], "plan", "by_mm", (0.0, 2500.0));
            assert!(far["held"].as_str().unwrap().len() > 5);
            assert!(
                far["axes"]
                    .as_array()
                    .unwrap()
                    .iter()
                    .all(|a| a["inside"] == true)
            );
        }
    }
}

#[test]
fn carriage_platter_and_joints_follow_the_hand_within_their_limits() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let ask = |stand: &Value, handle: &str, view: &str, to: (f64, f64)| {
        server.state(
            "drag",
            json!({"geometry": "drawn", "stand": stand, "handle": handle, "view": view, "to": [to.0, to.1]}),
        )
    };
    let start = server.state(
        "stand",
        json!({"geometry": "drawn", "stand": bench_stand()}),
    );
    // As drawn the track runs along x with scale 1: a shift of the carriage in the picture is one of the
    // reading, by the picture's scale, whatever happens across.
    let one = server.state(
        "stand",
        json!({"geometry": "drawn", "stand": {"track": 400.0, "table": 45.0, "joints": [90.0, -34.0, 80.0, 44.0, 0.0]}}),
    );
    let (a, b) = (
        handle(&start, "track", "plan"),
        handle(&one, "track", "plan"),
    );
    let there = ask(&start["stand"], "track", "plan", (b.0, b.1 + 37.0));
    assert!(close(&there["stand"]["track"], &json!(400.0), 1e-6));
    let end = ask(&start["stand"], "track", "plan", (a.0 + 1e5, a.1));
    assert!(close(&end["stand"]["track"], &json!(900.0), 1e-6));
    assert_eq!(end["axes"][0]["inside"], true);
    assert!(end["held"].as_str().unwrap().contains("end of its travel"));
    // Each joint and the platter dragged to where it would be at another reading comes to that reading.
    let base = bench_stand();
    for (id, by, views) in [
        ("table", 30.0, &["plan"][..]),
        ("j1", -25.0, &["plan"]),
        ("j3", 10.0, &["elevation"]),
    ] {
        let mut other = base.clone();
        match id {
            "table" => other["table"] = json!(45.0 + by),
            _ => {
                let k: usize = id[1..].parse::<usize>().unwrap() - 1;
                other["joints"][k] = json!(base["joints"][k].as_f64().unwrap() + by);
            }
        }
        // Seen from the side, links that turn in the picture's plane: the base at 0.
        let mut from = base.clone();
        if id == "j3" {
            from["joints"][0] = json!(0.0);
            other["joints"][0] = json!(0.0);
        }
        let goal = server.state("stand", json!({"geometry": "drawn", "stand": other}));
        for view in views {
            let there = ask(&from, id, view, handle(&goal, id, view));
            assert_eq!(there["held"], Value::Null);
            let same = |a: &Value, b: &Value| close(a, b, 1e-6);
            assert!(
                same(&there["stand"]["table"], &other["table"]),
                "{id} {view}"
            );
            for k in 0..5 {
                assert!(
                    same(&there["stand"]["joints"][k], &other["joints"][k]),
                    "{id} {view} {there}"
                );
            }
        }
    }
}

#[test]
fn a_place_is_reached_and_points_are_told() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let cell = server.get("api/cell").is(200).json();
    let start = &cell["start"]["registered"];
    let tip = &start["tip"]["plate"];
    let at: Vec<f64> = (0..3).map(|k| tip["at_mm"][k].as_f64().unwrap()).collect();
    let goal = [at[0] + 20.0, at[1] - 15.0, at[2] + 30.0];
    let there = server.state(
        "place",
        json!({"geometry": "registered", "stand": start["stand"], "frame": "plate", "at_mm": goal, "elevation_deg": null}),
    );
    assert_eq!(there["held"], Value::Null);
    for k in 0..3 {
        assert!(close(
            &there["tip"]["plate"]["at_mm"][k],
            &json!(goal[k]),
            1e-6
        ));
    }
    let nowhere = server.state(
        "place",
        json!({"geometry": "registered", "stand": start["stand"], "frame": "plate", "at_mm": [9000, 0, 0]}),
    );
    assert!(nowhere["held"].is_string());
    assert_eq!(nowhere["stand"], start["stand"]);
    // All points, once they are known, as `reach` tells them.
    let began = Instant::now();
    let points = loop {
        let told = server.state("points", json!({"geometry": "registered"}));
        if told["pending"] == false {
            break told;
        }
        assert!(began.elapsed() < LONG * 3);
        thread::sleep(Duration::from_millis(200));
    };
    let reach = folder.run(["reach", "--json"]).json();
    let told = points["points"].as_array().unwrap();
    assert_eq!(told.len(), reach["points"].as_array().unwrap().len());
    for (a, b) in told.iter().zip(reach["points"].as_array().unwrap()) {
        assert_eq!((&a["name"], &a["reachable"]), (&b["name"], &b["reachable"]));
        let margin = &b["best"]["margins"]["limit_margin_deg"];
        assert_eq!(&a["margin_deg"], margin, "{}", a["name"]);
    }
    let one = server.state(
        "point",
        json!({"geometry": "registered", "name": "tile_edge", "stand": start["stand"]}),
    );
    let from: Vec<&str> = one["postures"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p["from"].as_str().unwrap())
        .collect();
    assert!(
        from.contains(&"best") && from.contains(&"taught"),
        "{from:?}"
    );
    assert!(one["map"].as_str().unwrap().starts_with("<svg"));
    // Each posture leads to the point: the same place on the platter, from wherever.
    let places: Vec<Value> = one["postures"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| {
            server.state(
                "stand",
                json!({"geometry": "registered", "stand": p["stand"]}),
            )["tip"]["platter"]["at_mm"]
                .clone()
        })
        .collect();
    for place in &places {
        for k in 0..3 {
            assert!(close(&place[k], &places[0][k], 1e-5), "{places:?}");
        }
    }
    // The middle of the map's plot lies in it; a corner of the sheet does not.
    let beside = server.state(
        "map",
        json!({"geometry": "registered", "name": "tile_edge", "stand": start["stand"], "to": [1.0, 1.0]}),
    );
    assert!(beside["held"].as_str().unwrap().contains("beside"));
    // Places all over the plot: where the point is reached the tip stands on it, elsewhere it says so.
    let mut reached = 0;
    for x in [150.0, 300.0, 450.0, 600.0] {
        for y in [120.0, 250.0, 400.0] {
            let there = server.state(
                "map",
                json!({"geometry": "registered", "name": "tile_edge", "stand": start["stand"], "to": [x, y]}),
            );
            if there["held"].is_string() {
                assert_eq!(there["stand"], start["stand"]);
                continue;
            }
            reached += 1;
            for k in 0..3 {
                let at = &there["tip"]["platter"]["at_mm"][k];
                assert!(close(at, &places[0][k], 1e-5), "{at} {places:?}");
            }
        }
    }
    assert!(reached > 0);
    let missing = json!({"geometry": "registered", "name": "tile_egde", "stand": start["stand"]});
    let why = server.post("point", &missing).is(404).json();
    assert!(why["error"].as_str().unwrap().contains("tile_edge"));
}

#[test]
fn hostile_bytes_are_kept_out_and_it_still_answers() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let (token, host) = (server.token.clone(), server.host());
    let before = digests(folder.root());
    let status = |text: String| server.reply(text.as_bytes()).status;
    let get = |path: &str, heads: &str| {
        status(format!(
            "GET {path} HTTP/1.1\r\n{heads}Connection: close\r\n\r\n"
        ))
    };
    let good = format!("Host: {host}\r\n");
    assert_eq!(get(&format!("/{token}/"), &good), 200);
    // Wrong token: nothing told.
    let wrong = server.reply(
        format!(
            "GET /{}/ HTTP/1.1\r\n{good}Connection: close\r\n\r\n",
            "0".repeat(48)
        )
        .as_bytes(),
    );
    assert_eq!((wrong.status, wrong.body.as_str()), (404, ""));
    assert_eq!(get("/", &good), 404);
    // Host and origin.
    assert!([400, 403].contains(&get(&format!("/{token}/"), "")));
    assert_eq!(
        get(
            &format!("/{token}/"),
            &format!("Host: evil.example:{}\r\n", server.port)
        ),
        403
    );
    assert_eq!(get(&format!("/{token}/"), "Host: 127.0.0.1\r\n"), 403);
    assert_eq!(get(&format!("/{token}/"), &format!("{good}{good}")), 403);
    assert_eq!(
        get(
            &format!("/{token}/"),
            &format!("{good}Origin: http://evil.example\r\n")
        ),
        403
    );
    assert_eq!(
        get(
            &format!("/{token}/"),
            &format!("{good}Sec-Fetch-Site: cross-site\r\n")
        ),
        403
    );
    let body = json!({"geometry": "registered", "stand": bench_stand()}).to_string();
    let post = |heads: &str| {
        status(format!(
            "POST /{token}/api/stand HTTP/1.1\r\n{good}{heads}Content-Length: {}\r\nConnection: close\r\n\r\n{body}",
            body.len()
        ))
    };
    let origin = format!("Origin: http://{host}\r\n");
    let kind = "Content-Type: application/json\r\n";
    assert_eq!(post(&format!("{origin}{kind}")), 200);
    assert_eq!(post(kind), 403);
    assert_eq!(post(&format!("Origin: null\r\n{kind}")), 403);
    assert_eq!(post(&format!("Origin: http://evil.example\r\n{kind}")), 403);
    assert_eq!(post(&origin), 415);
    assert_eq!(post(&format!("{origin}Content-Type: text/plain\r\n")), 415);
    assert_eq!(get(&format!("/{token}/api/stand"), &good), 405);
    assert_eq!(
        status(format!(
            "DELETE /{token}/ HTTP/1.1\r\n{good}Connection: close\r\n\r\n"
        )),
        405
    );
    assert_eq!(server.post_text("nothing", "{}").status, 404);
    // Paths that would lead out of a folder, were there one.
    for path in [
        "../../etc/passwd",
        "..%2f..%2fetc/passwd",
        "%2e%2e/%2e%2e/etc/passwd",
        "..\\..\\etc\\passwd",
        "cell.toml",
        "page/index.html",
        "/etc/passwd",
        "index.html%00",
        "./",
        "api/../cell.toml",
        "src/main.rs",
    ] {
        let status = get(&format!("/{token}/{path}"), &good);
        assert!([400, 404, 405].contains(&status), "{path}: {status}");
    }
    for path in [
        format!("/{token}/../{token}/"),
        format!("//{token}/"),
        format!("/./{token}/"),
    ] {
        assert!([400, 404].contains(&get(&path, &good)), "{path}");
    }
    // Heads and bodies that are too large, told beforehand or not.
    let large = get(
        &format!("/{token}/"),
        &format!("{good}X-Large: {}\r\n", "x".repeat(40_000)),
    );
    assert!([431, 400, 0].contains(&large), "{large}");
    let many = get(
        &format!("/{token}/"),
        &format!("{good}{}", "X-Many: y\r\n".repeat(500)),
    );
    assert!([431, 400, 0].contains(&many), "{many}");
    let long = get(&format!("/{token}/{}", "a".repeat(40_000)), &good);
    assert!([414, 431, 400, 0].contains(&long), "{long}");
    let told = server
        .post_text("stand", &format!("{{\"x\":\"{}\"}}", "y".repeat(100_000)))
        .status;
    assert!([413, 0].contains(&told), "{told}");
    let mut chunked = format!(
        "POST /{token}/api/stand HTTP/1.1\r\n{good}{origin}{kind}Transfer-Encoding: chunked\r\nConnection: close\r\n\r\n"
    );
    for _ in 0..100 {
        chunked.push_str(&format!("400\r\n{}\r\n", " ".repeat(0x400)));
    }
    chunked.push_str("0\r\n\r\n");
    let chunked = status(chunked);
    assert!([413, 0].contains(&chunked), "{chunked}");
    // Bytes that are no request.
    for garbage in [
        &b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03"[..],
        b"\0\0\0\0\r\n\r\n",
        b"GET\r\n\r\n",
        b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
        b"GET / HTTP/9.9\r\n\r\n",
        b"POST / HTTP/1.1\r\nContent-Length: -1\r\n\r\n",
        b"POST / HTTP/1.1\r\nContent-Length: 5\r\nContent-Length: 6\r\nTransfer-Encoding: chunked\r\n\r\n",
    ] {
        let back = server.raw(garbage);
        assert!(!back.contains(" 200 "), "{back}");
    }
    let piped = format!(
        "GET /{token}/ HTTP/1.1\r\n{good}\r\nGARBAGE \x01\x02\r\n\r\nGET /{token}/ HTTP/1.1\r\n{good}\r\n"
    );
    let back = server.raw(piped.as_bytes());
    assert_eq!(back.matches("HTTP/1.1 200").count(), 1, "{back}");
    server.still_answers();
    assert_eq!(digests(folder.root()), before);
}

#[test]
fn questions_that_make_no_sense_are_refused_in_a_sentence() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let stand = bench_stand().to_string();
    let refused = |name: &str, body: &str| {
        let reply = server.post_text(name, body);
        assert!(
            [400, 404].contains(&reply.status),
            "{name} {body}: {}",
            reply.status
        );
        assert!(reply.json()["error"].as_str().unwrap().len() > 10, "{body}");
    };
    for body in [
        "",
        "{",
        "[]",
        "null",
        "{}",
        "{\"geometry\":\"registered\"}",
        "\u{feff}{}",
        "{\"geometry\":\"other\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,0]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,0,0]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":null,\"table\":0,\"joints\":[0,0,0,0,0]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,NaN]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,1e999]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,-1e300]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,\"1\"]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,0],\"more\":1}}",
        "{\"geometry\":\"drawn\",\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,0]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,0]}} trailing",
    ] {
        refused("stand", body);
    }
    refused("stand", &"[".repeat(60_000));
    refused(
        "stand",
        &format!("{{\"geometry\":{}", "{\"a\":".repeat(5_000)),
    );
    let many = vec!["0"; 20_000].join(",");
    refused(
        "stand",
        &format!(
            "{{\"geometry\":\"drawn\",\"stand\":{{\"track\":0,\"table\":0,\"joints\":[{many}]}}}}"
        ),
    );
    for (handle, view, to) in [
        ("j0", "plan", "\"to\":[0,0]"),
        ("j6", "plan", "\"to\":[0,0]"),
        ("j99999999999999999999", "plan", "\"to\":[0,0]"),
        ("", "plan", "\"to\":[0,0]"),
        ("elbow", "plan", "\"to\":[0,0]"),
        ("tip", "front", "\"to\":[0,0]"),
        ("tip", "plan", "\"to\":[0]"),
        ("tip", "plan", "\"to\":[0,0,0]"),
        ("tip", "plan", "\"to\":[1e30,0]"),
        ("tip", "plan", "\"to\":[0,0],\"by_mm\":[0,0]"),
        ("tip", "plan", "\"by_mm\":[1e9,0]"),
        ("j1", "plan", "\"by_mm\":[1,0]"),
    ] {
        refused(
            "drag",
            &format!(
                "{{\"geometry\":\"drawn\",\"stand\":{stand},\"handle\":\"{handle}\",\"view\":\"{view}\",{to}}}"
            ),
        );
    }
    refused(
        "place",
        &format!(
            "{{\"geometry\":\"drawn\",\"stand\":{stand},\"frame\":\"plate\",\"at_mm\":[1e8,0,0]}}"
        ),
    );
    refused(
        "place",
        &format!(
            "{{\"geometry\":\"drawn\",\"stand\":{stand},\"frame\":\"plate\",\"at_mm\":[0,0,0],\"elevation_deg\":91}}"
        ),
    );
    refused(
        "point",
        &format!(
            "{{\"geometry\":\"drawn\",\"stand\":{stand},\"name\":\"{}\"}}",
            "n".repeat(5_000)
        ),
    );
    // The largest numbers that are let in do no harm.
    let far = json!({"geometry": "drawn", "stand": {"track": 1e7, "table": -1e7, "joints": [1e7, 1e7, -1e7, 1e7, 1e7]}});
    let state = server.state("stand", far);
    assert!(!state["looks"].as_array().unwrap().is_empty());
    for handle in ["tip", "track", "table", "j1", "j3"] {
        server.state("drag", json!({
            "geometry": "drawn", "handle": handle, "view": "elevation", "to": [1e6, -1e6], "stand": state["stand"]
        }));
    }
    server.still_answers();
}

#[test]
fn many_at_once_and_too_many_a_second() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    // Connections that say nothing, more than there are places.
    let idle: Vec<TcpStream> = (0..200)
        .filter_map(|_| TcpStream::connect(("127.0.0.1", server.port)).ok())
        .collect();
    assert_eq!(idle.len(), 200);
    // They give way to one that knows the token, at once.
    let begun = Instant::now();
    server.get("").is(200);
    assert!(begun.elapsed() < Duration::from_secs(8));
    drop(idle);
    server.still_answers();
    // One that sends its head a byte at a time is not waited for for ever.
    let mut slow = TcpStream::connect(("127.0.0.1", server.port)).unwrap();
    slow.set_read_timeout(Some(Duration::from_millis(10)))
        .unwrap();
    let begun = Instant::now();
    let mut closed = false;
    while begun.elapsed() < Duration::from_secs(30) && !closed {
        let mut buffer = [0; 100];
        closed = slow.write_all(b"G").is_err() || matches!(slow.read(&mut buffer), Ok(0));
        thread::sleep(Duration::from_millis(250));
    }
    let after = begun.elapsed();
    assert!(
        closed && after > Duration::from_secs(1),
        "{closed} after {after:?}"
    );
    // Over one connection, as fast as it goes: some are asked to wait, and told how long.
    let one = format!(
        "GET /{}/ HTTP/1.1\r\nHost: {}\r\n\r\n",
        server.token,
        server.host()
    );
    let all = format!(
        "{}{}",
        one.repeat(1500),
        one.replace("\r\n\r\n", "\r\nConnection: close\r\n\r\n")
    );
    let port = server.port;
    let sent = Instant::now();
    let mut stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
    let mut reader = stream.try_clone().unwrap();
    let back = thread::spawn(move || {
        let mut text = String::new();
        let _ = reader.read_to_string(&mut text);
        text
    });
    let _ = stream.write_all(all.as_bytes());
    let back = back.join().unwrap();
    let took = sent.elapsed().as_secs_f64();
    let (fine, busy) = (
        back.matches("HTTP/1.1 200").count(),
        back.matches("HTTP/1.1 429").count(),
    );
    assert!(fine >= 200 && fine + busy == 1501, "{fine} {busy}");
    // 200 at once and 400 a second; a slow machine may not get to more by itself.
    assert!(
        fine as f64 <= 201.0 + 400.0 * took,
        "{fine} in {took} seconds"
    );
    assert_eq!(back.matches("retry-after: 1").count(), busy);
    server.still_answers();
}

/// Pages of others ask as fast as they can and get nothing; the page itself is answered meanwhile.
#[test]
fn requests_without_the_token_take_nothing_from_the_page() {
    let folder = demo("glazing-bench");
    let server = Served::start(&folder, &["--as-drawn"]);
    let host = server.host();
    let one = format!("GET /wrong/ HTTP/1.1\r\nHost: {host}\r\n\r\n");
    let begun = Instant::now();
    let (mut told, mut busy) = (0, 0);
    for _ in 0..600 {
        // Its connection is closed, though it did not ask for that.
        let reply = server.reply(one.as_bytes());
        assert_eq!(reply.body, "");
        match reply.status {
            404 => told += 1,
            429 => busy += 1,
            other => panic!("{other}"),
        }
    }
    let took = begun.elapsed().as_secs_f64();
    assert_eq!(told + busy, 600);
    assert!(
        told as f64 <= 101.0 + 50.0 * took,
        "{told} in {took} seconds"
    );
    // At once, without waiting.
    for _ in 0..50 {
        server.get("").is(200);
    }
}

#[test]
fn nothing_listens_on_other_addresses() {
    let folder = demo("glazing-bench");
    let server = Served::start(&folder, &["--as-drawn"]);
    server.still_answers();
    // No packet is sent: this only asks which address would be used.
    let own = UdpSocket::bind("0.0.0.0:0").and_then(|socket| {
        socket.connect("192.0.2.1:9")?;
        socket.local_addr()
    });
    let mut others: Vec<IpAddr> = vec!["127.0.0.2".parse().unwrap(), "::1".parse().unwrap()];
    others.extend(own.ok().map(|a| a.ip()).filter(|ip| !ip.is_loopback()));
    for ip in others {
        let to = SocketAddr::new(ip, server.port);
        let open = TcpStream::connect_timeout(&to, Duration::from_secs(2));
        assert!(open.is_err(), "{ip} answers");
    }
}

#[test]
fn a_row_is_kept_only_when_confirmed_and_nothing_else_is_written() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let cell = server.get("api/cell").is(200).json();
    let stand = cell["start"]["registered"]["stand"].clone();
    let ask = |name: &str, confirmed: bool| {
        server.post("save", &json!({
            "geometry": "registered", "stand": stand, "name": name, "frame": "platter", "confirmed": confirmed
        }))
    };
    let before = digests(folder.root());
    let looked = ask("new_spot", false).is(200).json();
    assert_eq!(
        (&looked["file"], &looked["written"]),
        (&json!("taught-on-page.csv"), &json!(false))
    );
    assert!(looked["text"].as_str().unwrap().contains("taught.csv"));
    assert_eq!(digests(folder.root()), before);
    let hostile = [
        "",
        "tile_edge",
        "rack_pick",
        "=1+1",
        "+1",
        "-1",
        "@x",
        "a,b",
        "a\nb",
        "a\"b",
        "../x",
        "a b",
        "ä",
        "a\u{0}b",
        "a\u{202e}b",
        &"n".repeat(61),
    ];
    for name in hostile {
        let status = ask(name, true).status;
        assert!([400, 409].contains(&status), "{name:?}: {status}");
    }
    let given = folder.read("points.csv");
    let given = given
        .lines()
        .find(|l| !l.starts_with('#') && !l.starts_with("name"))
        .unwrap();
    let given = given.split(',').next().unwrap();
    assert_eq!(ask(given, true).status, 409);
    assert_eq!(digests(folder.root()), before);
    let written = ask("new_spot", true).is(200).json();
    assert_eq!(written["written"], true);
    assert_eq!(ask("new_spot", true).status, 409);
    assert_eq!(ask("other-spot", true).status, 200);
    let mut after = digests(folder.root());
    assert!(after.remove("taught-on-page.csv").is_some());
    assert_eq!(after, before);
    let text = folder.read("taught-on-page.csv");
    assert!(text.contains(written["row"].as_str().unwrap()));
    // The rows are those of taught.csv: put there they are read, and lead to the same place.
    let rows: Vec<&str> = text.lines().filter(|l| !l.starts_with('#')).collect();
    assert_eq!(rows[0], "name,frame,track,table,j1,j2,j3,j4,j5,record");
    assert_eq!(rows.len(), 3);
    folder.write("taught.csv", &format!("{}\n", rows.join("\n")));
    let check = folder.run([
        "reach", "--json", "--point", "new_spot", "--track", "300", "--table", "45",
    ]);
    assert!(check.status < 2, "{}", check.err);
    // As drawn, or beyond a limit: not kept.
    let mut out = stand.clone();
    out["joints"][1] = json!(300.0);
    for (geometry, stand) in [("drawn", &stand), ("registered", &out)] {
        let body = json!({"geometry": geometry, "stand": stand, "name": "spot3", "frame": "plate", "confirmed": true});
        assert_eq!(server.post("save", &body).status, 400);
    }
}

/// Every axis at each of its limits as the page is told them: within, nothing to look at in that, and kept.
#[test]
fn a_reading_at_a_limit_is_within_it() {
    for name in ["glazing-bench", "inch-rows"] {
        let folder = registered(name);
        let server = Served::start(&folder, &[]);
        let cell = server.get("api/cell").is(200).json();
        for (k, axis) in cell["axes"].as_array().unwrap().iter().enumerate() {
            for end in ["low", "high"] {
                let Some(limit) = axis[end].as_f64() else {
                    continue;
                };
                let mut stand = cell["start"]["registered"]["stand"].clone();
                let id = axis["id"].as_str().unwrap();
                match id.strip_prefix('j') {
                    Some(j) => stand["joints"][j.parse::<usize>().unwrap() - 1] = json!(limit),
                    None => stand[id] = json!(limit),
                }
                let state =
                    server.state("stand", json!({"geometry": "registered", "stand": stand}));
                assert_eq!(state["axes"][k]["inside"], true, "{name} {id} {end}");
                let looks = state["looks"].to_string();
                assert!(!looks.contains("beyond its"), "{name} {id} {end}: {looks}");
                let body = json!({
                    "geometry": "registered", "stand": stand, "name": format!("{id}-{end}"),
                    "frame": "plate", "confirmed": false
                });
                server.post("save", &body).is(200);
            }
        }
    }
}

#[test]
fn what_stands_in_the_place_of_the_file_is_left_alone() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let cell = server.get("api/cell").is(200).json();
    let stand = cell["start"]["registered"]["stand"].clone();
    let ask = |confirmed: bool| {
        let body = json!({"geometry": "registered", "stand": stand, "name": "spot", "frame": "plate", "confirmed": confirmed});
        server.post("save", &body)
    };
    let save = || ask(true).status;
    let path = folder.path("taught-on-page.csv");
    let other = folder.path("other.txt");
    fs::write(&other, "untouched\n").unwrap();
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(&other, &path).unwrap();
        assert_eq!(save(), 409);
        fs::remove_file(&path).unwrap();
        std::os::unix::fs::symlink(folder.path("nowhere"), &path).unwrap();
        assert_eq!(save(), 409);
        assert!(!folder.path("nowhere").exists());
        fs::remove_file(&path).unwrap();
        fs::hard_link(&other, &path).unwrap();
        assert_eq!(save(), 409);
        fs::remove_file(&path).unwrap();
    }
    fs::create_dir(&path).unwrap();
    assert_eq!(save(), 409);
    fs::remove_dir(&path).unwrap();
    for odd in [
        "a,b,c\n1,2,3\n",
        "name,frame,track,table,j1,j2,j3,j4,j5,record\nbroken row\n",
    ] {
        fs::write(&path, odd).unwrap();
        assert_eq!(save(), 409, "{odd}");
        assert_eq!(fs::read_to_string(&path).unwrap(), odd);
        // What would be refused is not promised either.
        assert_eq!(ask(false).status, 409, "{odd}");
    }
    fs::remove_file(&path).unwrap();
    // A name in a file that cannot be read may be this one.
    for name in ["points.csv", "taught.csv"] {
        let good = folder.read(name);
        folder.write(name, &format!("{good}\nspot,plate\n"));
        let why = ask(true).is(409).json();
        assert!(why["error"].as_str().unwrap().contains(name), "{why}");
        assert!(!path.exists());
        folder.write(name, &good);
    }
    assert_eq!(fs::read_to_string(&other).unwrap(), "untouched\n");
    // A last line without its end does not swallow the row.
    let header = "name,frame,track,table,j1,j2,j3,j4,j5,record";
    fs::write(&path, format!("{header}\nfirst,plate,1,2,3,4,5,6,7,")).unwrap();
    assert_eq!(save(), 200);
    assert_eq!(fs::read_to_string(&path).unwrap().lines().count(), 3);
    // Lines end as those that are there.
    fs::write(&path, format!("{header}\r\nfirst,plate,1,2,3,4,5,6,7,\r\n")).unwrap();
    assert_eq!(save(), 200);
    let text = fs::read_to_string(&path).unwrap();
    assert_eq!(
        (text.matches("\r\n").count(), text.matches('\n').count()),
        (3, 3)
    );
}

/// A program that holds the file open and locked, as a spreadsheet may, does not stop the page.
#[test]
fn a_file_that_another_program_holds_is_not_waited_for_without_end() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let cell = server.get("api/cell").is(200).json();
    let body = json!({
        "geometry": "registered", "stand": cell["start"]["registered"]["stand"], "name": "spot",
        "frame": "plate", "confirmed": true
    });
    let path = folder.path("taught-on-page.csv");
    let held = fs::File::create(&path).unwrap();
    held.lock().unwrap();
    let why = server.post("save", &body).is(409).json();
    let why = why["error"].as_str().unwrap();
    assert!(why.contains("in use by another program"), "{why}");
    assert_eq!(fs::metadata(&path).unwrap().len(), 0);
    held.unlock().unwrap();
    server.post("save", &body).is(200);
}

#[test]
fn two_pages_of_one_cell_lose_no_row() {
    let folder = registered("glazing-bench");
    let servers = [Served::start(&folder, &[]), Served::start(&folder, &[])];
    let cell = servers[0].get("api/cell").is(200).json();
    let stand = cell["start"]["registered"]["stand"].clone();
    thread::scope(|scope| {
        for (s, server) in servers.iter().enumerate() {
            for t in 0..2 {
                let stand = &stand;
                scope.spawn(move || {
                    for k in 0..10 {
                        let body = json!({
                            "geometry": "registered", "stand": stand, "name": format!("p{s}-{t}-{k}"),
                            "frame": "plate", "confirmed": true
                        });
                        server.post("save", &body).is(200);
                    }
                });
            }
        }
    });
    let text = folder.read("taught-on-page.csv");
    let rows = text.lines().filter(|l| l.starts_with('p'));
    let names: std::collections::BTreeSet<&str> =
        rows.map(|l| l.split(',').next().unwrap()).collect();
    assert_eq!(names.len(), 40);
    assert_eq!(text.lines().filter(|l| l.starts_with("name,")).count(), 1);
}

#[test]
fn it_stops_with_status_0() {
    let folder = demo("glazing-bench");
    // Not registered: as drawn alone, and it says so.
    let server = Served::start(&folder, &[]);
    let cell = server.get("api/cell").is(200).json();
    assert_eq!(cell["geometries"], json!(["drawn"]));
    assert_eq!(cell["verdict"], Value::Null);
    let body = json!({"geometry": "registered", "stand": bench_stand()});
    assert_eq!(server.post("stand", &body).status, 404);
    assert_eq!(server.post("stop", &json!({})).is(200).body, "{}");
    assert_eq!(server.ends(), Some(0));
    if cfg!(unix) {
        for signal in ["-INT", "-TERM"] {
            let server = Served::start(&folder, &["--as-drawn"]);
            server.still_answers();
            let id = server.child.id().to_string();
            assert!(
                Command::new("kill")
                    .args([signal, &id])
                    .status()
                    .unwrap()
                    .success()
            );
            assert_eq!(server.ends(), Some(0), "{signal}");
        }
    }
}

/// All files of the page are built in, under their own names.
#[test]
fn every_file_of_the_page_is_served() {
    let folder = demo("glazing-bench");
    let server = Served::start(&folder, &["--as-drawn"]);
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/view/page");
    for entry in fs::read_dir(page).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap();
        let asked = if name == "index.html" { "" } else { name };
        let reply = server.get(asked).is(200);
        assert_eq!(reply.body, fs::read_to_string(&path).unwrap(), "{name}");
    }
}
