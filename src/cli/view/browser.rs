//! Opening the page in the person's browser.

use std::process::Command;
use std::process::Stdio;
use std::thread;

/// What opens an address on this system.
fn opener(address: &str) -> Command {
    if cfg!(target_os = "windows") {
        let mut command = Command::new("cmd");
        command.args(["/C", "start", "", address]);
        return command;
    }
    let name = if cfg!(target_os = "macos") {
        "open"
    } else {
        "xdg-open"
    };
    let mut command = Command::new(name);
    command.arg(address);
    command
}

/// Opens an address; `failed` is called where nothing could be opened.
pub fn open(address: &str, failed: impl FnOnce() + Send + 'static) {
    let mut command = opener(address);
    command
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    // Ctrl-C in this terminal ends the server, not the browser.
    #[cfg(unix)]
    {
        use std::os::unix::process::CommandExt;
        command.process_group(0);
    }
    thread::spawn(move || {
        let ended = command.spawn().and_then(|mut child| child.wait());
        if !ended.is_ok_and(|status| status.success()) {
            failed();
        }
    });
}
