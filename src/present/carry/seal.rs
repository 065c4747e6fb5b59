//! Encrypts what only the passphrase may show: AES-256-GCM under a key by PBKDF2 with HMAC-SHA-256, both as
//! browsers have them. Layer: `present`.

use aes_gcm::aead::{Aead, KeyInit};
use aes_gcm::{Aes256Gcm, Nonce};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use pbkdf2::pbkdf2_hmac;
use sha2::Sha256;

use super::Sealed;
use crate::error::{Error, Result};

/// Rounds of the key derivation.
///
/// # References
/// OWASP, Password Storage Cheat Sheet 2023: 600,000 for PBKDF2 with HMAC-SHA-256 (from memory).
pub const ITERATIONS: u32 = 600_000;

/// Encrypts the text. Salt and nonce must come from a generator of random numbers and be used once.
///
/// # Errors
/// When the text is too long for the cipher.
pub fn seal(text: &str, passphrase: &str, salt: [u8; 16], nonce: [u8; 12]) -> Result<Sealed> {
    let mut key = [0_u8; 32];
    pbkdf2_hmac::<Sha256>(passphrase.as_bytes(), &salt, ITERATIONS, &mut key);
    let refuse = || Error::program("the sensitive places cannot be encrypted");
    let cipher = Aes256Gcm::new_from_slice(&key).map_err(|_| refuse())?;
    let data = cipher.encrypt(&Nonce::from(nonce), text.as_bytes()).map_err(|_| refuse())?;
    Ok(Sealed {
        iterations: ITERATIONS,
        salt: STANDARD.encode(salt),
        nonce: STANDARD.encode(nonce),
        data: STANDARD.encode(data),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn key_derivation_matches_the_published_value() {
        // RFC 7914, section 11: PBKDF2-HMAC-SHA-256, "passwd", "salt", one round, first 8 of 64 bytes
        let mut key = [0_u8; 64];
        pbkdf2_hmac::<Sha256>(b"passwd", b"salt", 1, &mut key);
        assert_eq!(key[..8], [0x55, 0xac, 0x04, 0x6e, 0x56, 0xe3, 0x08, 0x9f]);
    }

    #[test]
    fn the_text_is_not_in_the_output_and_the_tag_is_added() {
        let sealed = seal("Lantern Flat -42.61", "correct horse", [1; 16], [2; 12]).unwrap();
        let data = STANDARD.decode(&sealed.data).unwrap();
        assert_eq!(data.len(), 19 + 16);
        assert!(!data.windows(7).any(|part| part == b"Lantern"));
        let other = seal("Lantern Flat -42.61", "correct horsf", [1; 16], [2; 12]).unwrap();
        assert_ne!(sealed.data, other.data);
    }
}
