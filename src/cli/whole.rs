//! New files, whole or not at all, over nothing that is there.

use std::fs;
use std::io;
use std::io::Write;
use std::path::Path;

use tempfile::NamedTempFile;

use crate::cli::Failure;

/// A file in the making, in the folder where it will stand, synced; readable as any new file is.
pub fn begun(folder: &Path, text: &str) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".writing-").suffix(".tmp");
    // To be read by others at the same bench.
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let mut file = builder.tempfile_in(folder)?;
    file.write_all(text.as_bytes())?;
    file.as_file().sync_all()?;
    Ok(file)
}

/// Writes a new file that somebody asked for with `--out`. One that is there is never touched, and the
/// folders of a cell in which the program looks for its own are no place for others.
pub fn write_new(root: &Path, path: &Path, text: &str) -> Result<(), Failure> {
    let refuse = |why: String| {
        Failure::Message(format!(
            "{} cannot be written: {why}; nothing was written",
            path.display()
        ))
    };
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    for own in ["records", "readings", "recheck", "tasks"] {
        if let (Ok(a), Ok(b)) = (fs::canonicalize(folder), fs::canonicalize(root.join(own)))
            && a == b
        {
            return Err(refuse(format!(
                "the folder {own} of the cell is for what the program itself looks for there; give another place"
            )));
        }
    }
    let attempt = || -> io::Result<()> {
        begun(folder, text)?
            .persist_noclobber(path)
            .map_err(|e| e.error)?;
        Ok(())
    };
    attempt().map_err(|e| match e.kind() {
        io::ErrorKind::AlreadyExists => refuse(
            "it is there already, and nothing is overwritten; give another name, or move it away"
                .to_owned(),
        ),
        _ => refuse(format!(
            "{e}; give a file in a folder that exists and may be written"
        )),
    })
}
