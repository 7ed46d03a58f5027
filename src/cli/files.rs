//! Reading input files and writing output files, with words for what goes wrong.

use super::args::Common;
use super::exit::{Exit, Stop};
use crate::fault::{self, Fault};
use crate::frame::{self, Frame};
use crate::library::Material;
use sha2::{Digest, Sha256};
use std::io::{IsTerminal, Read, Write};
use std::path::Path;

/// A frame with the text it came from.
pub struct FrameText {
    /// The frame.
    pub frame: Frame,
    /// The file's text.
    pub text: String,
    /// SHA-256 of the file's bytes, hex.
    pub sha256: String,
    /// Warnings that came with it.
    pub warnings: Vec<Fault>,
    /// The path as typed.
    pub path: String,
    /// Text of the shop file whose factors or materials the frame uses; empty if it uses none.
    pub shop: String,
}

/// Read a frame file, which may name materials of the shop; all faults are shown at once.
pub fn read_frame(path: &Path, shop: &[Material]) -> Result<FrameText, Stop> {
    let shown = path.display().to_string();
    let bytes = read(path)?;
    let sha256 = hex(&Sha256::digest(&bytes));
    let text = frame::decode(&bytes).map_err(|f| faults(&f, "", &shown))?.to_string();
    let checked = frame::read_with(&text, shop).map_err(|f| faults(&f, &text, &shown))?;
    Ok(FrameText {
        frame: checked.value,
        text,
        sha256,
        warnings: checked.warnings,
        path: shown,
        shop: String::new(),
    })
}

pub fn read(path: &Path) -> Result<Vec<u8>, Stop> {
    let mut bytes = Vec::new();
    let read = if path == Path::new("-") {
        std::io::stdin().lock().read_to_end(&mut bytes)
    } else {
        std::fs::File::open(path).and_then(|mut f| f.read_to_end(&mut bytes))
    };
    read.map_err(|e| Stop::new(Exit::NoInput, format!("error: cannot read {}: {e}", path.display())))?;
    Ok(bytes)
}

/// Faults as a reason to stop.
pub fn faults(faults: &[Fault], text: &str, path: &str) -> Stop {
    let colour = colour(std::io::stderr().is_terminal());
    // The rendering ends with the count; this goes on from there.
    let mut words = fault::render(faults, text, path, colour).trim_end().to_string();
    words.push_str(&format!(" in {path}; nothing was planned\n"));
    Stop::new(Exit::BadInput, words)
}

/// Whether to use colour for a stream that is, or is not, a terminal (`NO_COLOR`, `CLICOLOR_FORCE`).
pub fn colour(terminal: bool) -> bool {
    let set = |name| std::env::var_os(name).is_some_and(|v| !v.is_empty());
    !set("NO_COLOR") && (terminal || set("CLICOLOR_FORCE"))
}

/// Show warnings on standard error, unless `--quiet`.
pub fn warn(f: &FrameText, more: &[Fault], common: &Common, err: &mut dyn Write) {
    let all: Vec<Fault> = f.warnings.iter().chain(more).cloned().collect();
    if !all.is_empty() && !common.quiet {
        let _ =
            write!(err, "{}", fault::render(&all, &f.text, &f.path, colour(std::io::stderr().is_terminal())));
    }
}

/// Whether an output may be written. Asked before the work begins too: nobody wants to hear it after a
/// long search.
pub fn free(path: &Path, force: bool) -> Result<(), Stop> {
    if path != Path::new("-") && path.exists() && !force {
        let words = format!("error: {} is already there; choose another name or say --force", path.display());
        return Err(Stop::new(Exit::CannotCreate, words));
    }
    Ok(())
}

/// Write a whole file: beside its place first, then moved there, so that an old file is never lost
/// to a failed run. `-` is standard output.
pub fn write(path: &Path, bytes: &[u8], force: bool, out: &mut dyn Write) -> Result<(), Stop> {
    if path == Path::new("-") {
        return out.write_all(bytes).map_err(Stop::from);
    }
    free(path, force)?;
    let folder = match path.parent() {
        Some(p) if !p.as_os_str().is_empty() => p,
        _ => Path::new("."),
    };
    let cannot = |e: std::io::Error| {
        let exit = if e.kind() == std::io::ErrorKind::StorageFull { Exit::Io } else { Exit::CannotCreate };
        Stop::new(exit, format!("error: cannot write {}: {e}", path.display()))
    };
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o644));
    }
    let mut beside = builder.prefix(".holdtrue-").tempfile_in(folder).map_err(cannot)?;
    beside.write_all(bytes).and_then(|()| beside.as_file().sync_all()).map_err(cannot)?;
    beside.persist(path).map_err(|e| cannot(e.error))?;
    Ok(())
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

/// Width of the terminal in columns; 80 when there is none.
pub fn width() -> u16 {
    std::env::var("COLUMNS")
        .ok()
        .and_then(|c| c.parse().ok())
        .or_else(|| terminal_size::terminal_size().map(|(w, _)| w.0))
        .unwrap_or(80)
        .clamp(60, 120)
}
