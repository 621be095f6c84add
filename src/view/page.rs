//! The page itself, built into the program: nothing else is ever handed out as a file.

use std::borrow::Cow;

use crate::drawing::ink::dark_style;

/// A file of the page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// Its name after the token; empty for the page itself.
    pub name: &'static str,
    /// Its type.
    pub mime: &'static str,
    /// What stands in it.
    pub bytes: Cow<'static, [u8]>,
}

const HTML: &str = "text/html; charset=utf-8";

const JS: &str = "text/javascript; charset=utf-8";

const CSS: &str = "text/css; charset=utf-8";

/// A file as it is built in: name after the token, type, text.
type Built = (&'static str, &'static str, &'static [u8]);

/// Files of the folder `page`: one line each.
macro_rules! parts {
    ($($name:literal: $file:literal, $mime:expr;)*) => {
        &[$(($name, $mime, include_bytes!(concat!("page/", $file)))),*]
    };
}

const PARTS: &[Built] = parts! {
    "": "index.html", HTML;
    "page.css": "page.css", CSS;
    "announce.js": "announce.js", JS;
    "api.js": "api.js", JS;
    "dialogs.js": "dialogs.js", JS;
    "dom.js": "dom.js", JS;
    "fresh.js": "fresh.js", JS;
    "handles.js": "handles.js", JS;
    "moves.js": "moves.js", JS;
    "page.js": "page.js", JS;
    "point.js": "point.js", JS;
    "points.js": "points.js", JS;
    "readings.js": "readings.js", JS;
    "residuals.js": "residuals.js", JS;
    "save.js": "save.js", JS;
    "scene.js": "scene.js", JS;
    "sheet.js": "sheet.js", JS;
    "state.js": "state.js", JS;
    "stop.js": "stop.js", JS;
    "tip.js": "tip.js", JS;
    "zoom.js": "zoom.js", JS;
};

/// Rules that turn the inks of all pictures into those of dark paper; made, not written.
const INKS: &str = "inks.css";

/// A file of the page by its name.
pub fn part(name: &str) -> Option<Part> {
    if name == INKS {
        return Some(Part {
            name: INKS,
            mime: CSS,
            bytes: Cow::Owned(dark_style().into_bytes()),
        });
    }
    let found = PARTS.iter().find(|(own, ..)| *own == name);
    found.map(|(name, mime, bytes)| Part {
        name,
        mime,
        bytes: Cow::Borrowed(bytes),
    })
}
