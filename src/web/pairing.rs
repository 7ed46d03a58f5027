//! Who may come in from the shop's network: the pairing code, the marks that paired devices carry,
//! and patience with wrong codes.
//!
//! A mark is `nonce.until.seal`; the seal is an HMAC-SHA256 (RFC 2104) over the rest with a key that
//! stays on this machine, so that a server that is started anew knows its devices again without
//! keeping a list.

use rand::TryRng;
use rand::rngs::SysRng;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Digits of the code: enough that guessing within the limits below takes decades.
const DIGITS: usize = 8;
/// Wrong codes from one address before it must wait.
const WRONG_EACH: usize = 5;
/// Wrong codes from all addresses together before all must wait.
const WRONG_ALL: usize = 40;
/// For how long wrong codes are remembered.
const PATIENCE: Duration = Duration::from_secs(600);
/// For how long a device stays paired, s.
pub const MARK_S: i64 = 30 * 24 * 3600;

/// Who may come in.
pub struct Pairing {
    key: [u8; 32],
    code: String,
    wrong: Mutex<BTreeMap<IpAddr, Vec<Instant>>>,
}

/// What came of a code.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// Right: the mark for this device.
    Welcome(String),
    /// Wrong.
    Wrong,
    /// Too many wrong ones: come back after so many seconds.
    Wait(u64),
}

impl Pairing {
    /// With the key of this machine and a new code.
    ///
    /// # Errors
    /// The machine has no source of random numbers.
    pub fn new(key: [u8; 32]) -> Result<Pairing, String> {
        let mut code = String::new();
        while code.len() < DIGITS {
            let [byte] = random::<1>()?;
            // 250 is the largest multiple of ten in a byte: each digit equally likely.
            if byte < 250 {
                code.push(char::from(b'0' + byte % 10));
            }
        }
        Ok(Pairing { key, code, wrong: Mutex::new(BTreeMap::new()) })
    }

    /// The code to type.
    pub fn code(&self) -> &str {
        &self.code
    }

    /// Try a code. Blanks and dashes in it do not matter.
    pub fn try_code(&self, typed: &str, from: IpAddr, now_s: i64) -> Answer {
        let mut wrong = self.wrong.lock().unwrap_or_else(PoisonError::into_inner);
        for times in wrong.values_mut() {
            times.retain(|t| t.elapsed() < PATIENCE);
        }
        wrong.retain(|_, t| !t.is_empty());
        let own = wrong.get(&from).map_or(0, Vec::len);
        let all: usize = wrong.values().map(Vec::len).sum();
        if own >= WRONG_EACH || all >= WRONG_ALL {
            let times = wrong.get(&from).filter(|_| own >= WRONG_EACH);
            let oldest = times.into_iter().chain(wrong.values()).flatten().min();
            let left = oldest.map_or(PATIENCE, |t| PATIENCE.saturating_sub(t.elapsed()));
            return Answer::Wait(left.as_secs() + 1);
        }
        let typed: String = typed.chars().filter(|c| !c.is_whitespace() && *c != '-').collect();
        if !same(typed.as_bytes(), self.code.as_bytes()) {
            wrong.entry(from).or_default().push(Instant::now());
            return Answer::Wrong;
        }
        match random::<12>() {
            Ok(nonce) => {
                let nonce: String = nonce.iter().map(|b| format!("{b:02x}")).collect();
                let body = format!("{nonce}.{}", now_s + MARK_S);
                Answer::Welcome(format!("{body}.{}", self.seal(&body)))
            }
            Err(_) => Answer::Wait(60),
        }
    }

    /// Whether a mark is one of ours and still good.
    pub fn knows(&self, mark: &str, now_s: i64) -> bool {
        let Some((body, seal)) = mark.rsplit_once('.') else { return false };
        let until = body.rsplit_once('.').and_then(|(_, t)| t.parse::<i64>().ok());
        same(seal.as_bytes(), self.seal(body).as_bytes()) && until.is_some_and(|t| t > now_s)
    }

    fn seal(&self, body: &str) -> String {
        let text = format!("holdtrue device {body}");
        hmac(&self.key, text.as_bytes()).iter().map(|b| format!("{b:02x}")).collect()
    }
}

/// A new key for this machine.
///
/// # Errors
/// The machine has no source of random numbers; in words.
pub fn random_key() -> Result<[u8; 32], String> {
    random()
}

/// Random bytes of the machine.
///
/// # Errors
/// It has none; in words.
pub fn random<const N: usize>() -> Result<[u8; N], String> {
    let mut bytes = [0; N];
    SysRng.try_fill_bytes(&mut bytes).map_err(|e| format!("this machine gives no random numbers: {e}"))?;
    Ok(bytes)
}

/// HMAC with SHA-256, RFC 2104; keys up to one block.
fn hmac(key: &[u8; 32], text: &[u8]) -> [u8; 32] {
    const BLOCK: usize = 64;
    let pad = |with: u8| {
        let mut block = [with; BLOCK];
        for (b, k) in block.iter_mut().zip(key) {
            *b ^= k;
        }
        block
    };
    let inner = Sha256::new().chain_update(pad(0x36)).chain_update(text).finalize();
    Sha256::new().chain_update(pad(0x5c)).chain_update(inner).finalize().into()
}

/// Compares in a time that does not tell where two texts differ.
fn same(a: &[u8], b: &[u8]) -> bool {
    a.len() == b.len() && a.iter().zip(b).fold(0, |d, (x, y)| d | (x ^ y)) == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    const HERE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 168, 1, 7));
    const THERE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 168, 1, 8));

    fn hex(bytes: &[u8]) -> String {
        bytes.iter().map(|b| format!("{b:02x}")).collect()
    }

    /// RFC 4231, test cases 1 and 2; their keys of 20 and 4 bytes filled up with zeros to 32, which
    /// HMAC does itself (RFC 2104: keys shorter than a block are filled up with zeros).
    #[test]
    fn the_seal_is_the_published_one() {
        let mut key = [0; 32];
        key[..20].fill(0x0b);
        assert_eq!(
            hex(&hmac(&key, b"Hi There")),
            "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7"
        );
        let mut key = [0; 32];
        key[..4].copy_from_slice(b"Jefe");
        assert_eq!(
            hex(&hmac(&key, b"what do ya want for nothing?")),
            "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
        );
    }

    #[test]
    fn a_right_code_gives_a_mark_that_is_known_and_no_other_is() {
        let p = Pairing::new([7; 32]).unwrap();
        assert!(p.code().len() == DIGITS && p.code().bytes().all(|b| b.is_ascii_digit()));
        let spaced = format!("{} {}", &p.code()[..4], &p.code()[4..]);
        let Answer::Welcome(mark) = p.try_code(&spaced, HERE, 1000) else { panic!() };
        assert!(p.knows(&mark, 1000) && p.knows(&mark, 1000 + MARK_S - 1));
        assert!(!p.knows(&mark, 1000 + MARK_S), "a mark does not last for ever");
        assert!(!Pairing::new([8; 32]).unwrap().knows(&mark, 1000), "another machine's mark");
        let again = Pairing::new([7; 32]).unwrap();
        assert!(again.knows(&mark, 1000), "the server was started anew");
        let (body, seal) = mark.rsplit_once('.').unwrap();
        let (nonce, _) = body.rsplit_once('.').unwrap();
        for forged in
            [format!("{nonce}.{}.{seal}", 1000 + 9 * MARK_S), seal.into(), String::new(), "..".into()]
        {
            assert!(!p.knows(&forged, 1000), "{forged}");
        }
    }

    #[test]
    fn guesses_are_limited_for_one_address_and_for_all() {
        let p = Pairing::new([7; 32]).unwrap();
        for _ in 0..WRONG_EACH {
            assert_eq!(p.try_code("00", HERE, 0), Answer::Wrong);
        }
        assert!(
            matches!(p.try_code(p.code(), HERE, 0), Answer::Wait(s) if s <= 601),
            "even the right one waits"
        );
        assert!(matches!(p.try_code(p.code(), THERE, 0), Answer::Welcome(_)), "others do not");
        for i in 0..(WRONG_ALL - WRONG_EACH) {
            let ip = IpAddr::V4(std::net::Ipv4Addr::new(10, 0, 0, i as u8));
            assert_eq!(p.try_code("1", ip, 0), Answer::Wrong);
        }
        assert!(matches!(p.try_code(p.code(), THERE, 0), Answer::Wait(_)));
    }
}
