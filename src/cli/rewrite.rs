//! A file that a person may have open elsewhere, written anew: whole or not at all, and never over
//! something that was not read before.

use std::fs;
use std::io;
use std::io::Write;
use std::path::Path;

use crate::cli::papers;

/// Why a file was not written.
#[derive(Debug)]
pub enum Unwritten {
    /// It is another one than was read: somebody else saved it meanwhile.
    Changed,
    /// It could not be read or written.
    Io(io::Error),
}

impl From<io::Error> for Unwritten {
    fn from(e: io::Error) -> Self {
        Unwritten::Io(e)
    }
}

/// Writes `new` in the place of a file that must still hold `old`; `None`: it must not be there yet.
///
/// The text goes into a file of its own in the same folder, is synced, and gets the name in one step:
/// whoever looks sees the old file or the new one. A link stays a link, rights stay as they were.
pub fn replace(path: &Path, old: Option<&[u8]>, new: &[u8]) -> Result<(), Unwritten> {
    let target = match old {
        Some(_) => fs::canonicalize(path).map_err(gone)?,
        None => path.to_owned(),
    };
    let parent = target.parent().filter(|p| !p.as_os_str().is_empty());
    let folder = parent.unwrap_or(Path::new("."));
    if old.is_none() {
        fs::create_dir_all(folder)?;
    }
    let mut file = tempfile::Builder::new()
        .prefix(".writing-")
        .suffix(".tmp")
        .tempfile_in(folder)?;
    file.write_all(new)?;
    if old.is_some() {
        let rights = fs::metadata(&target).map_err(gone)?.permissions();
        // A new file could take its name, but that is not what the mark on it asks for.
        if rights.readonly() {
            return Err(io::Error::from(io::ErrorKind::PermissionDenied).into());
        }
        file.as_file().set_permissions(rights)?;
    }
    file.as_file().sync_all()?;
    match old {
        Some(old) => {
            // As late as can be.
            if fs::read(&target).map_err(gone)? != old {
                return Err(Unwritten::Changed);
            }
            file.persist(&target).map_err(|e| e.error)?;
        }
        None => {
            file.persist_noclobber(&target)
                .map_err(|e| match e.error.kind() {
                    io::ErrorKind::AlreadyExists => Unwritten::Changed,
                    _ => Unwritten::Io(e.error),
                })?;
        }
    }
    papers::sync(folder);
    Ok(())
}

/// A file that went away has changed.
fn gone(e: io::Error) -> Unwritten {
    match e.kind() {
        io::ErrorKind::NotFound => Unwritten::Changed,
        _ => Unwritten::Io(e),
    }
}
