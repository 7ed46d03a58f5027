//! A bench that runs the whole program in this process, in a folder of its own.

use holdtrue::cli::{Exit, run};
use serde_json::Value;
use std::collections::BTreeMap;
use std::ffi::OsString;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, OnceLock};

/// All example frames.
pub const EXAMPLES: [&str; 7] =
    ["square", "t-joint", "h-frame", "ladder", "trailer", "machine-base", "cargo-trike"];
/// The small ones, for runs that search.
pub const SMALL: [&str; 4] = ["square", "t-joint", "h-frame", "ladder"];

/// What a run said and how it ended.
pub struct Said {
    /// Exit code.
    pub exit: Exit,
    /// Standard output, as bytes: it may be anything.
    pub out: Vec<u8>,
    /// Standard error.
    pub err: String,
}

impl Said {
    /// Standard output as text.
    pub fn text(&self) -> &str {
        std::str::from_utf8(&self.out).expect("the program writes UTF-8")
    }

    /// The same, if the run went well.
    #[track_caller]
    pub fn well(self) -> Said {
        assert_eq!(self.exit, Exit::Ok, "{}", self.err);
        self
    }
}

/// A temporary folder, gone at the end of the test.
pub struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    /// An empty folder.
    pub fn new() -> Bench {
        Bench { folder: tempfile::tempdir().expect("a temporary folder") }
    }

    /// A path in the folder.
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Puts a file there.
    pub fn file(&self, name: &str, bytes: impl AsRef<[u8]>) -> &Bench {
        std::fs::write(self.path(name), bytes).expect("the folder is writable");
        self
    }

    /// Reads a file there.
    #[track_caller]
    pub fn bytes(&self, name: &str) -> Vec<u8> {
        std::fs::read(self.path(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
    }

    /// Names of all files there, sorted: hidden ones too.
    pub fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.folder.path()).expect("the folder is readable");
        let mut names: Vec<String> =
            entries.map(|e| e.expect("entry").file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    /// Runs the program. `@name` is a file in the folder; its path is cut from what was said, so that
    /// texts can be compared in full.
    pub fn run(&self, words: &str) -> Said {
        let said = holdtrue(words.split_whitespace().map(|w| match w.strip_prefix('@') {
            Some(name) => self.path(name).into_os_string(),
            None => w.into(),
        }));
        let folder = format!("{}/", self.folder.path().display());
        Said { err: said.err.replace(&folder, ""), ..said }
    }
}

/// Runs the program with these words after its name; `plan` without the factors of whoever's shop this is.
pub fn holdtrue(words: impl IntoIterator<Item = OsString>) -> Said {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut words: Vec<OsString> = std::iter::once(OsString::from("holdtrue")).chain(words).collect();
    if words.get(1).is_some_and(|w| w == "plan") && !words.iter().any(|w| w == "--shop" || w == "--no-shop") {
        words.push("--no-shop".into());
    }
    let exit = run(words, &mut out, &mut err);
    Said { exit, out, err: String::from_utf8(err).expect("the program complains in UTF-8") }
}

/// The path of an example.
pub fn example(name: &str) -> String {
    format!("{}/examples/{name}.toml", env!("CARGO_MANIFEST_DIR"))
}

/// The plan of an example as an outsider sees it: what `plan FRAME --json -` prints. Kept, because
/// several tests ask for the same.
pub fn plan(name: &str, effort: &str, welders: u8) -> Arc<Value> {
    type Kept = BTreeMap<(String, String, u8), Arc<OnceLock<Arc<Value>>>>;
    static KEPT: Mutex<Kept> = Mutex::new(BTreeMap::new());
    let key = (name.to_string(), effort.to_string(), welders);
    let cell = KEPT.lock().expect("no test panics here").entry(key).or_default().clone();
    cell.get_or_init(|| {
        let words = format!("plan --json - --effort {effort} --welders {welders} --quiet");
        let words = words.split(' ').map(OsString::from).chain([example(name).into()]);
        let said = holdtrue(words).well();
        Arc::new(serde_json::from_slice(&said.out).expect("the plan is JSON"))
    })
    .clone()
}

/// An array of an object.
pub fn array<'a>(value: &'a Value, key: &str) -> &'a [Value] {
    value[key].as_array().unwrap_or_else(|| panic!("{key} is no array: {}", value[key]))
}

/// A string of an object.
pub fn word<'a>(value: &'a Value, key: &str) -> &'a str {
    value[key].as_str().unwrap_or_else(|| panic!("{key} is no string: {value}"))
}

/// A number of an object.
pub fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("{key} is no number: {value}"))
}

/// A whole number of an object.
pub fn count(value: &Value, key: &str) -> usize {
    value[key].as_u64().unwrap_or_else(|| panic!("{key} is no whole number: {value}")) as usize
}

/// Three numbers of an object.
pub fn triple(value: &Value, key: &str) -> [f64; 3] {
    let row = array(value, key);
    assert_eq!(row.len(), 3, "{key}: {row:?}");
    std::array::from_fn(|i| row[i].as_f64().expect("a number"))
}
