//! Disks that fill up, fail, or are not there.

use super::record::folder;
use super::{at, header, tick};
use holdtrue::job::Event;
use holdtrue::journal::{self, Disk, DiskFile, Error, RealDisk};
use std::io;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

/// A disk that has room for so many more bytes; writes what fits, like a real one.
struct SmallDisk {
    room: Arc<AtomicI64>,
    cuts_fail: bool,
}

struct SmallFile {
    file: Box<dyn DiskFile>,
    room: Arc<AtomicI64>,
    cuts_fail: bool,
}

impl Disk for SmallDisk {
    fn open(&self, path: &Path, write: bool) -> io::Result<Box<dyn DiskFile>> {
        let file = RealDisk.open(path, write)?;
        Ok(Box::new(SmallFile { file, room: self.room.clone(), cuts_fail: self.cuts_fail }))
    }
    fn create_new(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        if self.room.load(Ordering::SeqCst) < bytes.len() as i64 {
            return Err(io::Error::from(io::ErrorKind::StorageFull));
        }
        RealDisk.create_new(path, bytes)
    }
    fn replace(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        self.create_new(path, bytes)
    }
}

impl DiskFile for SmallFile {
    fn read_all(&mut self) -> io::Result<Vec<u8>> {
        self.file.read_all()
    }
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        let room = self.room.load(Ordering::SeqCst).max(0) as usize;
        let fits = room.min(bytes.len());
        self.file.append(&bytes[..fits])?;
        self.room.fetch_sub(fits as i64, Ordering::SeqCst);
        if fits < bytes.len() { Err(io::Error::from(io::ErrorKind::StorageFull)) } else { Ok(()) }
    }
    fn sync(&mut self) -> io::Result<()> {
        self.file.sync()
    }
    fn cut(&mut self, length: u64) -> io::Result<()> {
        if self.cuts_fail { Err(io::Error::other("gone")) } else { self.file.cut(length) }
    }
    fn try_lock(&self, exclusive: bool) -> io::Result<bool> {
        self.file.try_lock(exclusive)
    }
}

/// Whatever room is left: the tick is either acknowledged and there, or refused and not there.
#[test]
fn a_disk_that_fills_up_loses_nothing_acknowledged() {
    for room in (0..600).step_by(23) {
        for cuts_fail in [false, true] {
            let (_dir, path) = folder();
            let mut begun = journal::create(&path, header()).unwrap();
            begun.append(&[Event::GateOpened { why: "of the disk here".into() }], "test", at(0)).unwrap();
            let disk = SmallDisk { room: Arc::new(AtomicI64::new(room)), cuts_fail };
            let (mut j, _) = journal::open_on(Arc::new(disk), &path).unwrap();
            let mut acknowledged = 0;
            let labels = ["clamp-1", "J1a-t1", "J1a-t2", "J1a-1/1", "J2a-1/1"];
            for l in labels {
                match j.append(&[tick(l)], "test", at(1)) {
                    Ok(_) => acknowledged += 1,
                    Err(e) => {
                        assert!(e.to_string().contains("the disk is full"), "{e}");
                        assert_eq!(matches!(e, Error::Unsure { .. }), cuts_fail);
                        break;
                    }
                }
            }
            assert_eq!(j.job().done.len(), acknowledged);
            let (mut after, notices) = journal::open(&path).unwrap();
            assert_eq!(after.job().done.len(), acknowledged, "room {room}");
            assert!(cuts_fail || notices.is_empty(), "{notices:?}");
            // With room again, work goes on.
            if acknowledged < labels.len() {
                after.append(&[tick(labels[acknowledged])], "test", at(2)).unwrap();
                assert_eq!(journal::open(&path).unwrap().0.job().done.len(), acknowledged + 1);
            }
        }
    }
}

#[test]
fn a_full_disk_at_the_beginning_leaves_no_file() {
    let (_dir, path) = folder();
    let disk = SmallDisk { room: Arc::new(AtomicI64::new(10)), cuts_fail: false };
    let e = journal::create_on(Arc::new(disk), &path, header()).err().unwrap();
    assert!(e.to_string().contains("the disk is full"), "{e}");
    assert!(!path.exists());
}

/// A disk whose every call fails the same way.
struct DeadDisk(io::ErrorKind);

impl Disk for DeadDisk {
    fn open(&self, _: &Path, _: bool) -> io::Result<Box<dyn DiskFile>> {
        Err(io::Error::from(self.0))
    }
    fn create_new(&self, _: &Path, _: &[u8]) -> io::Result<()> {
        Err(io::Error::from(self.0))
    }
    fn replace(&self, _: &Path, _: &[u8]) -> io::Result<()> {
        Err(io::Error::from(self.0))
    }
}

#[test]
fn errors_of_the_disk_are_said_in_plain_words_with_a_way_out() {
    for (kind, words) in [
        (io::ErrorKind::ReadOnlyFilesystem, "the disk is read-only"),
        (io::ErrorKind::PermissionDenied, "no permission"),
        (io::ErrorKind::QuotaExceeded, "the disk is full"),
        (io::ErrorKind::NotFound, "there is no such file or folder"),
    ] {
        let e = journal::create_on(Arc::new(DeadDisk(kind)), Path::new("x.job"), header()).err().unwrap();
        assert!(e.to_string().contains(words), "{e}");
        assert!(e.help().is_some(), "{e}");
    }
}

#[test]
fn a_number_that_is_none_never_reaches_the_record() {
    let (_dir, path) = folder();
    let mut j = journal::create(&path, header()).unwrap();
    let before = std::fs::read(&path).unwrap();
    for bad in [f64::NAN, f64::INFINITY] {
        assert!(j.append(&[super::measured("width", bad, 0.5)], "", at(0)).is_err());
        assert!(j.append(&[super::measured("width", 600.0, bad)], "", at(0)).is_err());
        assert!(j.append(&[Event::Temperature { joint: "J1".into(), value_c: bad }], "", at(0)).is_err());
    }
    assert_eq!(std::fs::read(&path).unwrap(), before);
    let mut h = header();
    h.controls[0].nominal = f64::NAN;
    assert!(matches!(journal::create(&path.with_extension("2"), h), Err(Error::NotFinite)));
}
