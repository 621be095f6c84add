//! Pages as a browser shows them: what is wrong with them that no reader of their text would see.
//!
//! They need Chromium and chromedriver (`CHROMIUM` names another one). Without these they say so, or fail
//! where `NOTCHPIN_BROWSER=required`. `NOTCHPIN_PICTURES=FOLDER` keeps pictures of the pages.

#[path = "../sentences/mod.rs"]
mod sentences;

mod checks;
mod driver;
mod harness;
mod page;
mod report;
mod sheet;
mod view;
