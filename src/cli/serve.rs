//! `serve`: the shop page of a job.

use super::args::{Common, ServeArgs};
use super::exit::{Exit, Stop};
use crate::journal;
use crate::web::{self, Listen, Pairing, Server};
use std::io::{ErrorKind, Write};
use std::path::PathBuf;

pub fn run(a: &ServeArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let (journal, notices) = journal::open(&a.record).map_err(super::job::stop)?;
    if !common.quiet {
        for n in notices {
            writeln!(err, "note: {n}")?;
        }
    }
    let shop = if a.shop { Some(pairing(a.forget, err)?) } else { None };
    let name = journal.job().header.name.clone();
    let listen = Listen { port: a.port, shop, units: common.units.map(Into::into) };
    let server = Server::new(journal, listen).map_err(|e| no_server(e, a.port))?;
    writeln!(out, "{name}: the shop page")?;
    for address in &server.addresses {
        writeln!(out, "  {address}")?;
    }
    if let Some(code) = server.code() {
        writeln!(out, "pairing code: {} {}", &code[..4], &code[4..])?;
        match server.addresses.first() {
            Some(first) => writeln!(out, "{}", square(&format!("{first}pair?code={code}")))?,
            None => writeln!(
                out,
                "this machine has no IPv4 address on a shop network; the page is open here only (over IPv6 it serves \
                 this machine alone)"
            )?,
        }
        writeln!(
            out,
            "Nothing on this network is encrypted: use one that you trust. A paired device stays paired for 30 days; \
             --forget ends that."
        )?;
    }
    writeln!(out, "Ctrl-C ends it; nothing is lost by that.")?;
    out.flush()?;
    server.run().map_err(|e| Stop::new(Exit::Io, format!("error: the page cannot be served: {e}")))
}

fn no_server(e: Result<std::io::Error, String>, port: u16) -> Stop {
    match e {
        Err(words) => Stop::new(Exit::BadInput, format!("error: {words}")),
        Ok(e) if e.kind() == ErrorKind::AddrInUse => Stop::new(
            Exit::Busy,
            format!("error: port {port} is taken by another program\nhelp: name another one with --port"),
        ),
        Ok(e) if e.kind() == ErrorKind::PermissionDenied => Stop::new(
            Exit::Usage,
            format!("error: port {port} is not for you\nhelp: name one above 1023 with --port"),
        ),
        Ok(e) => Stop::new(Exit::Io, format!("error: cannot listen on port {port}: {e}")),
    }
}

/// The key of this machine; made when there is none. Without a home it lasts as long as the server.
fn pairing(forget: bool, err: &mut dyn Write) -> Result<Pairing, Stop> {
    let stop = |e: String| Stop::new(Exit::Io, format!("error: {e}"));
    let key = match journal::default_shop_path() {
        Ok(beside) => key(beside.with_file_name("page.key"), forget).map_err(stop)?,
        Err(_) => {
            writeln!(
                err,
                "note: this machine has no home directory; devices must be paired anew at every start"
            )?;
            web::random_key().map_err(stop)?
        }
    };
    Pairing::new(key).map_err(stop)
}

fn key(path: PathBuf, forget: bool) -> Result<[u8; 32], String> {
    let said = |doing: &str, e: std::io::Error| format!("cannot {doing} {}: {e}", path.display());
    match std::fs::read_to_string(&path) {
        Ok(text) if !forget => {
            return from_hex(text.trim()).ok_or_else(|| {
                format!("{} is no key of this program\nhelp: --forget makes a new one", path.display())
            });
        }
        Err(e) if e.kind() != ErrorKind::NotFound => return Err(said("read", e)),
        _ => {}
    }
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(|e| said("make the folder of", e))?;
    }
    let key = web::random_key()?;
    let hex: String = key.iter().map(|b| format!("{b:02x}")).collect();
    // A temporary file of this crate is private to its owner, and stays so in its place.
    let folder = path.parent().unwrap_or(std::path::Path::new("."));
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(|e| said("write", e))?;
    writeln!(file, "{hex}").and_then(|()| file.as_file().sync_all()).map_err(|e| said("write", e))?;
    file.persist(&path).map_err(|e| said("write", e.error))?;
    Ok(key)
}

fn from_hex(text: &str) -> Option<[u8; 32]> {
    let mut key = [0; 32];
    if text.len() != 64 || !text.is_ascii() {
        return None;
    }
    for (i, byte) in key.iter_mut().enumerate() {
        *byte = u8::from_str_radix(&text[2 * i..2 * i + 2], 16).ok()?;
    }
    Some(key)
}

/// A square code for the terminal, dark on light whatever the terminal's colours are.
fn square(text: &str) -> String {
    match qrcode::QrCode::new(text) {
        Ok(code) => {
            let mut dense = code.render::<qrcode::render::unicode::Dense1x2>();
            dense
                .dark_color(qrcode::render::unicode::Dense1x2::Dark)
                .light_color(qrcode::render::unicode::Dense1x2::Light)
                .build()
        }
        Err(_) => String::new(),
    }
}
