//! Questions to standard output, answers from standard input, line by line.

use std::io;
use std::io::BufRead;
use std::io::IsTerminal;
use std::io::Read;

use crate::cli::Console;
use crate::cli::Failure;

/// Nobody types a longer line.
const LONGEST: u64 = 64 << 10;

/// The conversation.
pub struct Talk<'c> {
    console: &'c Console,
    /// Whether what is answered stands on the screen by itself.
    seen: bool,
}

impl<'c> Talk<'c> {
    /// With the person at the terminal, or with what comes through a pipe.
    pub fn new(console: &'c Console) -> Self {
        Talk {
            console,
            seen: io::stdin().is_terminal(),
        }
    }

    /// Says something.
    pub fn say(&self, text: &str) -> Result<(), Failure> {
        self.console.answer(text)
    }

    /// Asks; `None` at the end of the input.
    pub fn ask(&self, question: &str) -> Result<Option<String>, Failure> {
        self.say(question)?;
        let mut bytes = Vec::new();
        let read = io::stdin()
            .lock()
            .take(LONGEST)
            .read_until(b'\n', &mut bytes);
        let size = read.map_err(|e| {
            Failure::Message(format!(
                "the answers cannot be read: {e}; what was answered before is saved"
            ))
        })?;
        if size == 0 {
            self.say("\n")?;
            return Ok(None);
        }
        if size as u64 == LONGEST {
            return Err(Failure::Message(
                "an answer of more than 64 KiB: give one reading a line; what was answered before is \
                 saved"
                    .to_owned(),
            ));
        }
        let line = String::from_utf8_lossy(&bytes).trim().to_owned();
        if !self.seen {
            let shown: String = line.chars().filter(|c| !c.is_control()).collect();
            self.say(&format!("{shown}\n"))?;
        }
        Ok(Some(line))
    }
}
