//! What the record needs of a disk, so that a test can put a full or dying one in its place.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::Path;

/// A disk.
pub trait Disk: Send + Sync {
    /// Open an existing file for reading, or for reading and appending.
    ///
    /// # Errors
    /// As the disk says.
    fn open(&self, path: &Path, write: bool) -> io::Result<Box<dyn DiskFile>>;

    /// Write a new file whole: beside its place, flushed, then put in its place. It is there with
    /// all its bytes or not at all.
    ///
    /// # Errors
    /// As the disk says; `AlreadyExists` if there is a file of this name.
    fn create_new(&self, path: &Path, bytes: &[u8]) -> io::Result<()>;

    /// As [`Disk::create_new`], replacing a file of this name if there is one.
    ///
    /// # Errors
    /// As the disk says; then the old file is as it was.
    fn replace(&self, path: &Path, bytes: &[u8]) -> io::Result<()>;
}

/// An open file.
pub trait DiskFile {
    /// Everything in it, from the start.
    ///
    /// # Errors
    /// As the disk says.
    fn read_all(&mut self) -> io::Result<Vec<u8>>;
    /// Add bytes at the end.
    ///
    /// # Errors
    /// As the disk says; part of the bytes may have been written.
    fn append(&mut self, bytes: &[u8]) -> io::Result<()>;
    /// Do not return before what was written is on the disk.
    ///
    /// # Errors
    /// As the disk says; then it is unknown what is on the disk.
    fn sync(&mut self) -> io::Result<()>;
    /// Cut the file to this length.
    ///
    /// # Errors
    /// As the disk says.
    fn cut(&mut self, length: u64) -> io::Result<()>;
    /// Try for the lock, shared or exclusive; false if somebody else has it.
    ///
    /// # Errors
    /// The disk cannot lock.
    fn try_lock(&self, exclusive: bool) -> io::Result<bool>;
}

/// The disk of this machine.
#[derive(Debug, Clone, Copy)]
pub struct RealDisk;

/// A record larger than this is not one of ours, bytes.
const LARGEST: u64 = 1 << 28;

impl Disk for RealDisk {
    fn open(&self, path: &Path, write: bool) -> io::Result<Box<dyn DiskFile>> {
        if path.is_dir() {
            return Err(io::Error::from(io::ErrorKind::IsADirectory));
        }
        let file = OpenOptions::new().read(true).append(write).open(path)?;
        Ok(Box::new(RealFile(file)))
    }

    fn create_new(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        let beside = beside(path, bytes)?;
        beside.persist_noclobber(path).map_err(|e| e.error)?;
        sync_folder(path);
        Ok(())
    }

    fn replace(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        // A link is followed: the file it names is replaced, not the link.
        let path = std::fs::canonicalize(path).unwrap_or_else(|_| path.into());
        let beside = beside(&path, bytes)?;
        beside.persist(&path).map_err(|e| e.error)?;
        sync_folder(&path);
        Ok(())
    }
}

struct RealFile(File);

impl DiskFile for RealFile {
    fn read_all(&mut self) -> io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        self.0.seek(SeekFrom::Start(0))?;
        (&mut self.0).take(LARGEST + 1).read_to_end(&mut bytes)?;
        if bytes.len() as u64 > LARGEST {
            return Err(io::Error::from(io::ErrorKind::FileTooLarge));
        }
        Ok(bytes)
    }
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.0.write_all(bytes)
    }
    fn sync(&mut self) -> io::Result<()> {
        self.0.sync_data()
    }
    fn cut(&mut self, length: u64) -> io::Result<()> {
        self.0.set_len(length)
    }
    fn try_lock(&self, exclusive: bool) -> io::Result<bool> {
        match if exclusive { self.0.try_lock() } else { self.0.try_lock_shared() } {
            Ok(()) => Ok(true),
            Err(TryLockError::WouldBlock) => Ok(false),
            Err(TryLockError::Error(e)) => Err(e),
        }
    }
}

fn folder(path: &Path) -> &Path {
    match path.parent() {
        Some(p) if !p.as_os_str().is_empty() => p,
        _ => Path::new("."),
    }
}

fn beside(path: &Path, bytes: &[u8]) -> io::Result<tempfile::NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".holdtrue-");
    // The shop's other user must be able to read it too; tempfile makes files private.
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let mut file = builder.tempfile_in(folder(path))?;
    file.write_all(bytes)?;
    file.as_file().sync_all()?;
    Ok(file)
}

/// Without this a new name may be lost in a power cut although the file's bytes are not. Not every
/// system can do it; nothing more can be done about that.
fn sync_folder(path: &Path) {
    if let Ok(f) = File::open(folder(path)) {
        let _ = f.sync_all();
    }
}
