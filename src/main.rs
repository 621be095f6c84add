//! The command `notchpin`: all of it is in the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    notchpin::cli::run(std::env::args_os())
}
