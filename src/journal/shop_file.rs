//! The shop's own factors on disk.

use super::disk::{Disk, RealDisk};
use super::words::Error;
use crate::job::shop::Shop;
use std::fs::OpenOptions;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// The place of the shop file in the user's configuration directory.
///
/// # Errors
/// This machine has no home directory.
pub fn default_shop_path() -> Result<PathBuf, Error> {
    use etcetera::BaseStrategy;
    let base = etcetera::base_strategy::choose_base_strategy().map_err(|_| Error::NoHome)?;
    Ok(base.config_dir().join("holdtrue").join("shop.toml"))
}

/// A shop file, which need not exist yet.
#[derive(Debug, Clone)]
pub struct ShopFile {
    path: PathBuf,
}

impl ShopFile {
    /// The shop file at this place, or at the usual one.
    ///
    /// # Errors
    /// No place is named and this machine has no home directory.
    pub fn at(path: Option<&Path>) -> Result<ShopFile, Error> {
        Ok(ShopFile { path: path.map_or_else(default_shop_path, |p| Ok(p.into()))? })
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What is in it; a shop without jobs if there is no file.
    ///
    /// # Errors
    /// It cannot be read or understood.
    pub fn load(&self) -> Result<Shop, Error> {
        match std::fs::read_to_string(&self.path) {
            Ok(text) => Shop::read(&text).map_err(|why| Error::Shop { path: self.path.clone(), why }),
            // A home that is no folder has no shop file in it either.
            Err(e) if matches!(e.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => {
                Ok(Shop::default())
            }
            Err(e) => Err(Error::io(&self.path, "read the shop file", e)),
        }
    }

    /// Change what is in it. Two programs at once do it one after the other.
    ///
    /// # Errors
    /// It cannot be read, understood or written; then it is as it was.
    pub fn change(&self, change: impl FnOnce(Shop) -> Shop) -> Result<Shop, Error> {
        let _lock = self.lock()?;
        let shop = change(self.load()?);
        self.write(&shop.text())?;
        Ok(shop)
    }

    /// Begin anew, with the shop's own materials. What was in it is kept beside it; goes out: where.
    ///
    /// # Errors
    /// The disk says no; then the file is as it was.
    pub fn reset(&self) -> Result<Option<PathBuf>, Error> {
        let _lock = self.lock()?;
        let kept = match std::fs::read(&self.path) {
            Ok(bytes) => Some(self.keep(&bytes)?),
            Err(e) if e.kind() == ErrorKind::NotFound => None,
            Err(e) => return Err(Error::io(&self.path, "read the shop file", e)),
        };
        // They were typed, not learnt; a file that cannot be understood loses them here, not beside it.
        let materials = self.load().map(|s| s.materials).unwrap_or_default();
        self.write(&Shop { materials, ..Shop::default() }.text())?;
        Ok(kept)
    }

    /// Keep these bytes under a name that is free.
    fn keep(&self, bytes: &[u8]) -> Result<PathBuf, Error> {
        for n in 1..10_000 {
            let path = self.path.with_extension(format!("old-{n}.toml"));
            match RealDisk.create_new(&path, bytes) {
                Ok(()) => return Ok(path),
                Err(e) if e.kind() == ErrorKind::AlreadyExists => {}
                Err(e) => return Err(Error::io(&path, "keep the old shop file", e)),
            }
        }
        Err(Error::io(&self.path, "keep the old shop file", ErrorKind::AlreadyExists.into()))
    }

    fn write(&self, text: &str) -> Result<(), Error> {
        RealDisk
            .replace(&self.path, text.as_bytes())
            .map_err(|e| Error::io(&self.path, "write the shop file", e))
    }

    /// The file itself is replaced when it is written, so the lock is on a file beside it.
    fn lock(&self) -> Result<std::fs::File, Error> {
        if let Some(folder) = self.path.parent() {
            std::fs::create_dir_all(folder).map_err(|e| Error::io(folder, "make the folder", e))?;
        }
        let path = self.path.with_extension("lock");
        let file = OpenOptions::new()
            .create(true)
            .append(true)
            .open(&path)
            .map_err(|e| Error::io(&path, "lock the shop file", e))?;
        file.lock().map_err(|e| Error::io(&path, "lock the shop file", e))?;
        Ok(file)
    }
}
