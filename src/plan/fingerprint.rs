//! The short name of a plan: eight letters and figures that can be read aloud over the noise.

use sha2::{Digest, Sha256};

/// No I, L, O, U: nothing that reads like something else.
const ALPHABET: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";

/// Eight characters from everything that decides a plan: the frame file's checksum, the options, and
/// the order (labels with direction and welder).
pub fn fingerprint(parts: &[String]) -> String {
    let mut hash = Sha256::new();
    for p in parts {
        // The length keeps ("ab", "c") apart from ("a", "bc").
        hash.update((p.len() as u64).to_le_bytes());
        hash.update(p.as_bytes());
    }
    let digest = hash.finalize();
    let mut bits = u64::from_be_bytes(digest[..8].try_into().expect("eight bytes"));
    (0..8)
        .map(|_| {
            let c = ALPHABET[(bits >> 59) as usize] as char;
            bits <<= 5;
            c
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eight_characters_that_depend_on_every_part() {
        let a = fingerprint(&["ab".into(), "c".into()]);
        assert_eq!(a.len(), 8);
        assert_ne!(a, fingerprint(&["a".into(), "bc".into()]));
        assert_ne!(a, fingerprint(&["ab".into(), "d".into()]));
        assert_eq!(a, fingerprint(&["ab".into(), "c".into()]));
    }
}
