//! The page itself, built into the program: nothing else is ever handed out as a file.

/// A file of the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Part {
    /// Its name after the token; empty for the page itself.
    pub name: &'static str,
    /// Its type.
    pub mime: &'static str,
    /// What stands in it.
    pub bytes: &'static [u8],
}

const HTML: &str = "text/html; charset=utf-8";

/// All of them.
pub const PARTS: &[Part] = &[Part {
    name: "",
    mime: HTML,
    bytes: include_bytes!("page/index.html"),
}];

/// One of them by its name.
pub fn part(name: &str) -> Option<&'static Part> {
    PARTS.iter().find(|p| p.name == name)
}
