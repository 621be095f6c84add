//! Opening the page in the person's browser, without its token on a command line that others on this
//! computer could read: what is opened is a file that only this person may read, which leads to the page.

use std::io;
use std::io::Write;
use std::path::Path;
use std::process::Command;
use std::process::Stdio;
use std::thread;

use tempfile::NamedTempFile;

/// What opens a file on this system.
fn opener(file: &Path) -> Command {
    if cfg!(target_os = "windows") {
        let mut command = Command::new("cmd");
        command.args(["/C", "start", ""]).arg(file);
        return command;
    }
    let name = if cfg!(target_os = "macos") {
        "open"
    } else {
        "xdg-open"
    };
    let mut command = Command::new(name);
    command.arg(file);
    command
}

/// The file that leads to an address; it is gone once this is dropped.
fn leading_to(address: &str) -> io::Result<NamedTempFile> {
    // Such files can be read by their owner alone.
    let mut file = tempfile::Builder::new()
        .prefix("notchpin-")
        .suffix(".html")
        .tempfile()?;
    write!(
        file,
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"/><meta http-equiv=\"refresh\" \
         content=\"0; url={address}\"/><title>notchpin</title></head><body><p><a \
         href=\"{address}\">The page of this cell</a></p></body></html>\n"
    )?;
    file.flush()?;
    Ok(file)
}

/// Opens an address; `failed` is called where nothing could be opened. What is returned must be kept as
/// long as the page is served.
pub fn open(address: &str, failed: impl FnOnce() + Send + 'static) -> Option<NamedTempFile> {
    let Ok(file) = leading_to(address) else {
        failed();
        return None;
    };
    spawn(opener(file.path()), failed);
    Some(file)
}

fn spawn(mut command: Command, failed: impl FnOnce() + Send + 'static) {
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
