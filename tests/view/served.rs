//! The program serving its page, and asking it by raw bytes.

use std::collections::BTreeMap;
use std::fs;
use std::io::BufRead;
use std::io::BufReader;
use std::io::Read;
use std::io::Write;
use std::net::TcpStream;
use std::path::Path;
use std::process::Child;
use std::process::Stdio;
use std::thread;
use std::time::Duration;
use std::time::Instant;

use crate::sentences::Folder;
use serde_json::Value;
use serde_json::json;
use sha2::Digest;
use sha2::Sha256;

/// Nothing takes so long, not even on a slow machine that has other work.
pub const LONG: Duration = Duration::from_secs(180);

/// A page being served.
pub struct Served {
    pub child: Child,
    pub port: u16,
    pub token: String,
}

/// What came back.
pub struct Reply {
    pub status: u16,
    pub head: String,
    pub body: String,
}

impl Reply {
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.body).unwrap_or_else(|e| panic!("{e}: {}", self.body))
    }

    #[track_caller]
    pub fn is(self, status: u16) -> Reply {
        assert_eq!(self.status, status, "{}\n{}", self.head, self.body);
        self
    }
}

pub fn demo(name: &str) -> Folder {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-cells");
    Folder::copy_of(&root.join(name))
}

/// A demo cell with a record.
pub fn registered(name: &str) -> Folder {
    let folder = demo(name);
    let answer = folder.run(["register"]);
    assert!(answer.status < 2, "{}", answer.err);
    folder
}

impl Served {
    pub fn start(folder: &Folder, more: &[&str]) -> Served {
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

    pub fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    /// Sends bytes as they are; what comes back before the other side closes or a while is over.
    pub fn raw(&self, bytes: &[u8]) -> String {
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

    pub fn reply(&self, bytes: &[u8]) -> Reply {
        let text = self.raw(bytes);
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
        let status = head.split(' ').nth(1).and_then(|s| s.parse().ok());
        Reply {
            status: status.unwrap_or(0),
            head: head.to_owned(),
            body: body.to_owned(),
        }
    }

    pub fn get(&self, rest: &str) -> Reply {
        let (token, host) = (&self.token, self.host());
        self.reply(
            format!("GET /{token}/{rest} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n")
                .as_bytes(),
        )
    }

    pub fn post_text(&self, name: &str, body: &str) -> Reply {
        let (token, host) = (&self.token, self.host());
        let head = format!(
            "POST /{token}/api/{name} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\n\
             Content-Type: application/json\r\nContent-Length: {}\r\nConnection: close\r\n\r\n",
            body.len()
        );
        self.reply(&[head.as_bytes(), body.as_bytes()].concat())
    }

    pub fn post(&self, name: &str, body: &Value) -> Reply {
        self.post_text(name, &body.to_string())
    }

    pub fn state(&self, name: &str, body: Value) -> Value {
        self.post(name, &body).is(200).json()
    }

    /// Waits until it answers.
    pub fn still_answers(&self) {
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
    pub fn ends(mut self) -> Option<i32> {
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

pub fn close(a: &Value, b: &Value, within: f64) -> bool {
    (a.as_f64().unwrap() - b.as_f64().unwrap()).abs() <= within
}

/// Digests of all files of a folder.
pub fn digests(root: &Path) -> BTreeMap<String, Vec<u8>> {
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

pub fn bench_stand() -> Value {
    json!({"track": 300.0, "table": 45.0, "joints": [90.0, -34.0, 80.0, 44.0, 0.0]})
}
