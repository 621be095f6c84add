//! One chromedriver for all tests of this target, and browser sessions that are handed from test to test.
//!
//! Whatever becomes of the tests, nothing is left running: a small shell holds the read end of a pipe, and
//! when this process is gone, in whatever way, the pipe ends and the shell ends all that was started.

use std::env;
use std::fs;
use std::io::Write;
use std::panic::AssertUnwindSafe;
use std::panic::catch_unwind;
use std::panic::resume_unwind;
use std::path::Path;
use std::path::PathBuf;
use std::process::Child;
use std::process::Command;
use std::process::Stdio;
use std::sync::Mutex;
use std::sync::OnceLock;
use std::thread;
use std::time::Duration;
use std::time::Instant;

use fantoccini::Client;
use fantoccini::wd::Capabilities;
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::json;
use tokio::runtime::Builder;
use tokio::runtime::Handle;

use crate::page::Page;

/// How long chromedriver may take until it answers; a machine that does much else is slow.
const PATIENCE: Duration = Duration::from_secs(30);

/// Fetches nothing of its own, asks nothing, stores nothing outside its profile folder.
const FLAGS: [&str; 10] = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--hide-scrollbars",
];

/// First argument: the folder of this run; second: chromedriver. Lines read are processes of browsers. A
/// process is ended only if its command line still names that folder. Signals are ignored after chromedriver
/// was started, as it would ignore them too.
const KEEPER: &str = r#"
"$2" --port=0 >"$1/chromedriver.txt" 2>&1 </dev/null &
driver=$!
trap '' INT HUP TERM
browsers=
while read -r line; do browsers="$browsers $line"; done
kill "$driver"
for browser in $browsers; do
    if tr '\0' ' ' <"/proc/$browser/cmdline" 2>/dev/null | grep -qF "$1"; then kill "$browser"; fi
done
wait
for attempt in 1 2 3 4 5; do
    rm -rf "$1" && break
    sleep 0.2
done
"#;

struct Programs {
    chromium: PathBuf,
    chromedriver: PathBuf,
}

/// What is running.
struct Driver {
    programs: Programs,
    folder: PathBuf,
    port: u16,
    runtime: Handle,
    keeper: Mutex<Child>,
    idle: Mutex<Vec<Page>>,
}

/// Runs a test in a browser. Without one it says so on standard error, where the test harness does not
/// swallow it, or fails if a browser was asked for.
pub fn browse(test: impl FnOnce(&Page)) {
    let driver = match driver() {
        Ok(driver) => driver,
        Err(missing) => {
            let said = format!(
                "browser tests DID NOT RUN: no {missing}; install chromium and chromium-driver\n"
            );
            assert!(
                env::var("NOTCHPIN_BROWSER").as_deref() != Ok("required"),
                "{said}"
            );
            let _ = std::io::stderr().write_all(said.as_bytes());
            return;
        }
    };
    let waiting = driver.idle.lock().expect("no test holds this").pop();
    let page = waiting.unwrap_or_else(|| driver.session());
    match catch_unwind(AssertUnwindSafe(|| test(&page))) {
        Ok(()) => {
            page.clean();
            driver.idle.lock().expect("no test holds this").push(page);
        }
        Err(failure) => {
            page.end();
            resume_unwind(failure);
        }
    }
}

fn driver() -> Result<&'static Driver, &'static str> {
    static DRIVER: OnceLock<Result<Driver, &'static str>> = OnceLock::new();
    let driver = DRIVER.get_or_init(|| Ok(start(programs()?)));
    driver.as_ref().map_err(|missing| *missing)
}

fn programs() -> Result<Programs, &'static str> {
    if !cfg!(target_os = "linux") {
        return Err("Chromium is looked for on Linux only");
    }
    let named = env::var_os("CHROMIUM").map(PathBuf::from);
    let chromium = match named {
        Some(path) => Some(path).filter(|path| path.is_file()),
        None => found("chromium").or_else(|| found("chromium-browser")),
    };
    Ok(Programs {
        chromium: chromium.ok_or("Chromium found")?,
        chromedriver: found("chromedriver").ok_or("chromedriver found")?,
    })
}

/// Where a shell would find the program.
fn found(name: &str) -> Option<PathBuf> {
    let path = env::var_os("PATH")?;
    env::split_paths(&path)
        .chain([PathBuf::from("/usr/bin")])
        .map(|folder| folder.join(name))
        .find(|path| path.is_file())
}

fn start(programs: Programs) -> Driver {
    let folder = tempfile::Builder::new()
        .prefix("notchpin-browser-")
        .tempdir()
        .expect("a temporary folder")
        .keep();
    // Output goes nowhere: a pipe that waits for the end of the tests' output would wait for this too.
    let keeper = Command::new("sh")
        .args(["-c", KEEPER, "keeper"])
        .arg(&folder)
        .arg(&programs.chromedriver)
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("a shell");
    let port = port(&folder.join("chromedriver.txt"));
    let runtime = Builder::new_current_thread()
        .enable_all()
        .build()
        .expect("a runtime");
    let handle = runtime.handle().clone();
    // Carries the requests of all tests.
    thread::spawn(move || runtime.block_on(std::future::pending::<()>()));
    Driver {
        programs,
        folder,
        port,
        runtime: handle,
        keeper: Mutex::new(keeper),
        idle: Mutex::new(Vec::new()),
    }
}

/// The port that chromedriver chose.
fn port(said: &Path) -> u16 {
    let start = Instant::now();
    loop {
        let text = fs::read_to_string(said).unwrap_or_default();
        let after = text.split("successfully on port ").nth(1);
        if let Some((port, _)) = after.and_then(|rest| rest.split_once('.')) {
            return port.parse().expect("a port");
        }
        assert!(
            start.elapsed() < PATIENCE,
            "chromedriver does not start: {text:?}"
        );
        thread::sleep(Duration::from_millis(10));
    }
}

impl Driver {
    /// A new browser with an empty profile.
    fn session(&self) -> Page {
        let profile = tempfile::Builder::new()
            .prefix("profile-")
            .tempdir_in(&self.folder)
            .expect("a folder for the profile")
            .keep();
        let mut flags: Vec<String> = FLAGS.iter().map(|&flag| flag.to_owned()).collect();
        flags.push(format!("--user-data-dir={}", profile.display()));
        let wanted = json!({
            "browserName": "chrome",
            "pageLoadStrategy": "normal",
            "goog:loggingPrefs": {"browser": "ALL", "performance": "ALL"},
            "goog:chromeOptions": {"binary": self.programs.chromium, "args": flags},
        });
        let wanted: Capabilities = serde_json::from_value(wanted).expect("capabilities");
        let address = format!("http://127.0.0.1:{}", self.port);
        let client = self
            .runtime
            .block_on(Client::with_capabilities_and_connector(
                &address,
                &wanted,
                HttpConnector::new(),
            ))
            .expect("a browser session");
        let process = client
            .capabilities()
            .and_then(|known| known.get("goog:processID"))
            .expect("the process of the browser");
        let mut keeper = self.keeper.lock().expect("no test holds this");
        let pipe = keeper.stdin.as_mut().expect("a pipe to the shell");
        writeln!(pipe, "{process}").expect("the keeper listens");
        Page::new(client, self.runtime.clone())
    }
}
