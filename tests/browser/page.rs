//! A page in a browser: opened, looked at as people with other windows, schemes and papers see it, asked
//! questions. Everything waits; tests read top to bottom.

use std::cell::RefCell;
use std::env;
use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::thread;
use std::time::Duration;
use std::time::Instant;

use fantoccini::Client;
use fantoccini::actions::Actions;
use fantoccini::elements::Element;
use fantoccini::error::CmdError;
use fantoccini::wd::Locator;
use fantoccini::wd::WebDriverCompatibleCommand;
use serde_json::Value;
use serde_json::json;
use tokio::runtime::Handle;

/// How long a page may take over what a test waits for.
const PATIENCE: Duration = Duration::from_secs(10);

/// Window of every test until it asks for another, px.
pub const WINDOW: (u32, u32) = (1280, 900);

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scheme {
    Light,
    Dark,
}

/// Paper, width and height in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Paper {
    pub name: &'static str,
    pub size_mm: (f64, f64),
}

/// ISO 216 A4 and the North American letter size.
pub const PAPERS: [Paper; 2] = [
    Paper {
        name: "A4",
        size_mm: (210.0, 297.0),
    },
    Paper {
        name: "Letter",
        size_mm: (215.9, 279.4),
    },
];

pub struct Page {
    client: Client,
    runtime: Handle,
    seen: RefCell<Seen>,
}

/// What the browser noted since the session was handed to this test.
#[derive(Debug, Default, Clone)]
struct Seen {
    opened: Vec<String>,
    console: Vec<String>,
    requests: Vec<String>,
}

/// A request below `/session/ID/` that WebDriver's standard does not have or the client does not know.
#[derive(Debug)]
struct Ask {
    path: &'static str,
    body: Value,
}

impl WebDriverCompatibleCommand for Ask {
    fn endpoint(
        &self,
        base: &url::Url,
        session: Option<&str>,
    ) -> Result<url::Url, url::ParseError> {
        base.join(&format!(
            "session/{}/{}",
            session.unwrap_or_default(),
            self.path
        ))
    }

    fn method_and_body(&self, _: &url::Url) -> (http::Method, Option<String>) {
        (http::Method::POST, Some(self.body.to_string()))
    }
}

impl Page {
    pub fn new(client: Client, runtime: Handle) -> Self {
        let page = Page {
            client,
            runtime,
            seen: RefCell::default(),
        };
        page.clean();
        page
    }

    fn wait<T>(&self, request: impl Future<Output = Result<T, CmdError>>) -> T {
        match self.runtime.block_on(request) {
            Ok(answer) => answer,
            Err(error) => panic!("the browser: {error}"),
        }
    }

    fn ask(&self, path: &'static str, body: Value) -> Value {
        self.wait(self.client.issue_cmd(Ask { path, body }))
    }

    /// Ends the browser.
    pub fn end(self) {
        // A browser that is gone already is what is wanted.
        let _ = self.runtime.block_on(self.client.close());
    }

    /// Makes the session as new: nothing opened, nothing emulated, nothing noted.
    pub fn clean(&self) {
        self.wait(self.client.goto("about:blank"));
        self.cdp(
            "Emulation.setEmulatedMedia",
            json!({"media": "", "features": []}),
        );
        self.window(WINDOW.0);
        self.note();
        *self.seen.borrow_mut() = Seen::default();
    }

    pub fn open(&self, address: &str) {
        self.seen.borrow_mut().opened.push(address.to_owned());
        self.wait(self.client.goto(address));
    }

    pub fn open_file(&self, path: &Path) {
        let path = path.canonicalize().expect("a page to open");
        let address = url::Url::from_file_path(path).expect("a whole path");
        self.open(address.as_str());
    }

    /// Opens a page that stands in the test.
    pub fn open_text(&self, html: &str) -> tempfile::TempDir {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("page.html");
        fs::write(&path, html).expect("a page");
        self.open_file(&path);
        folder
    }

    /// Chromium's own commands (DevTools protocol).
    pub fn cdp(&self, command: &str, parameters: Value) -> Value {
        self.ask(
            "goog/cdp/execute",
            json!({"cmd": command, "params": parameters}),
        )
    }

    /// The value of the body of a function, run in the page.
    pub fn script(&self, body: &str) -> Value {
        self.script_of(body, Vec::new())
    }

    pub fn script_of(&self, body: &str, arguments: Vec<Value>) -> Value {
        self.wait(self.client.execute(body, arguments))
    }

    /// The texts that a script gives.
    pub fn list(&self, body: &str) -> Vec<String> {
        serde_json::from_value(self.script(body)).expect("a list of texts")
    }

    /// The same where the value comes later: the last argument is to be called with it.
    pub fn script_later(&self, body: &str) -> Value {
        self.wait(self.client.execute_async(body, Vec::new()))
    }

    pub fn title(&self) -> String {
        self.wait(self.client.title())
    }

    /// The only element, or the first one, that the selector fits.
    pub fn find(&self, selector: &str) -> Element {
        match self
            .runtime
            .block_on(self.client.find(Locator::Css(selector)))
        {
            Ok(element) => element,
            Err(error) => panic!("{selector}: {error}"),
        }
    }

    pub fn text(&self, selector: &str) -> String {
        self.wait(self.find(selector).text())
    }

    pub fn attribute(&self, selector: &str, name: &str) -> Option<String> {
        self.wait(self.find(selector).attr(name))
    }

    pub fn click(&self, selector: &str) {
        self.wait(self.find(selector).click());
    }

    /// Types into whatever the selector fits; keys are characters of WebDriver's private area.
    pub fn keys(&self, selector: &str, keys: &str) {
        self.wait(self.find(selector).send_keys(keys));
    }

    pub fn act(&self, actions: impl Into<Actions>) {
        self.wait(self.client.perform_actions(actions));
    }

    /// Waits until the body of a function gives true.
    pub fn until(&self, what: &str, body: &str) {
        let start = Instant::now();
        while self.script(body) != Value::Bool(true) {
            assert!(start.elapsed() < PATIENCE, "waited in vain: {what}");
            thread::sleep(Duration::from_millis(20));
        }
    }

    /// A window of this width, px.
    pub fn window(&self, width: u32) {
        self.cdp(
            "Emulation.setDeviceMetricsOverride",
            json!({"width": width, "height": WINDOW.1, "deviceScaleFactor": 1, "mobile": false}),
        );
    }

    pub fn scheme(&self, scheme: Scheme) {
        self.media("", scheme);
    }

    /// The page as on paper of this width between its margins, px.
    pub fn as_printed(&self, width: u32) {
        self.media("print", Scheme::Light);
        self.window(width);
    }

    fn media(&self, media: &str, scheme: Scheme) {
        let value = match scheme {
            Scheme::Light => "light",
            Scheme::Dark => "dark",
        };
        let features = json!([{"name": "prefers-color-scheme", "value": value}]);
        self.cdp(
            "Emulation.setEmulatedMedia",
            json!({"media": media, "features": features}),
        );
    }

    /// The page as PDF.
    pub fn pdf(&self, paper: Paper) -> Vec<u8> {
        let (width, height) = (paper.size_mm.0 / 10.0, paper.size_mm.1 / 10.0);
        let answer = self.ask("print", json!({"page": {"width": width, "height": height}}));
        decoded(answer.as_str().expect("a PDF as base64"))
    }

    /// Writes a picture of the whole page, if pictures were asked for.
    pub fn picture(&self, name: &str) {
        let Some(folder) = pictures() else { return };
        let size = self.script(
            "const page = document.scrollingElement; return [page.scrollWidth, page.scrollHeight];",
        );
        // Chromium draws no larger picture.
        let height = size[1].as_f64().expect("a height").min(16_000.0);
        let clip = json!({"x": 0, "y": 0, "width": size[0], "height": height, "scale": 1});
        let answer = self.cdp(
            "Page.captureScreenshot",
            json!({"format": "png", "captureBeyondViewport": true, "clip": clip}),
        );
        let png = decoded(answer["data"].as_str().expect("a picture as base64"));
        fs::create_dir_all(&folder).expect("the folder for pictures");
        fs::write(folder.join(format!("{name}.png")), png).expect("a picture");
    }

    /// Pictures in both schemes.
    pub fn pictures(&self, name: &str) {
        for (scheme, word) in [(Scheme::Dark, "dark"), (Scheme::Light, "light")] {
            self.scheme(scheme);
            self.picture(&format!("{name}-{word}"));
        }
    }

    /// What the console said, and what was asked of anything but the opened files and, where an address was
    /// opened, its own server. Both must be empty.
    pub fn noise(&self) -> Vec<String> {
        self.note();
        let seen = self.seen.borrow();
        let foreign = seen
            .requests
            .iter()
            .filter(|request| !own(&seen.opened, request));
        let foreign = foreign.map(|request| format!("asks for {request}"));
        seen.console.iter().cloned().chain(foreign).collect()
    }

    /// Reads the browser's logs, which empties them.
    fn note(&self) {
        let mut seen = self.seen.borrow_mut();
        for entry in lines(&self.ask("se/log", json!({"type": "browser"}))) {
            let (level, message) = (&entry["level"], &entry["message"]);
            if level == "SEVERE" || level == "WARNING" {
                seen.console.push(format!("console, {level}: {message}"));
            }
        }
        for entry in lines(&self.ask("se/log", json!({"type": "performance"}))) {
            let text = entry["message"].as_str().expect("an event as text");
            let event: Value = serde_json::from_str(text).expect("an event");
            let event = &event["message"];
            if event["method"] == "Network.requestWillBeSent" {
                let address = event["params"]["request"]["url"].as_str();
                seen.requests.push(address.expect("an address").to_owned());
            }
        }
    }
}

fn lines(log: &Value) -> &[Value] {
    log.as_array().expect("a list of entries")
}

/// A file may ask for itself only; a page from a server for anything of that server.
fn own(opened: &[String], request: &str) -> bool {
    let Ok(request) = url::Url::parse(request) else {
        return false;
    };
    if ["data", "blob", "about"].contains(&request.scheme()) {
        return true;
    }
    opened
        .iter()
        .filter_map(|o| url::Url::parse(o).ok())
        .any(|page| {
            let (mut asked, mut page) = (request.clone(), page);
            asked.set_fragment(None);
            page.set_fragment(None);
            asked == page || (page.scheme() != "file" && asked.origin() == page.origin())
        })
}

fn pictures() -> Option<PathBuf> {
    env::var_os("NOTCHPIN_PICTURES").map(PathBuf::from)
}

/// RFC 4648, section 4.
fn decoded(base64: &str) -> Vec<u8> {
    let mut out = Vec::with_capacity(base64.len() / 4 * 3);
    let (mut held, mut bits) = (0_u32, 0);
    for byte in base64.bytes().filter(|&b| b != b'=') {
        let six = match byte {
            b'A'..=b'Z' => byte - b'A',
            b'a'..=b'z' => byte - b'a' + 26,
            b'0'..=b'9' => byte - b'0' + 52,
            b'+' => 62,
            b'/' => 63,
            _ => panic!("{byte} in base64"),
        };
        held = held << 6 | u32::from(six);
        bits += 6;
        if bits >= 8 {
            bits -= 8;
            out.push((held >> bits) as u8);
            held &= (1 << bits) - 1;
        }
    }
    out
}
