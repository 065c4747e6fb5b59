//! Computes the content security policy of a page: only its own style and program, by digest, and
//! embedded images. Layer: `present`.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

use crate::present::markup::Element;

/// The policy as a `meta` element.
///
/// # References
/// W3C, Content Security Policy Level 3, sections 2.3.1 and 6.
pub(super) fn of(styles: &[&str], programs: &[&str]) -> Element {
    let policy = format!(
        "default-src 'none'; style-src {}; script-src {}; img-src data:; base-uri 'none'; \
         form-action 'none'",
        digests(styles),
        digests(programs)
    );
    Element::new("meta").set("http-equiv", "Content-Security-Policy").set("content", policy)
}

fn digests(texts: &[&str]) -> String {
    let digests: Vec<String> = texts
        .iter()
        .map(|text| format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text.as_bytes()))))
        .collect();
    digests.join(" ")
}

/// A JPEG as a data URL.
pub(super) fn jpeg(bytes: &[u8]) -> String {
    format!("data:image/jpeg;base64,{}", STANDARD.encode(bytes))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digest_matches_published_example() {
        // FIPS 180-4 example, SHA-256 of "abc", in base 64
        assert_eq!(digests(&["abc"]), "'sha256-ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0='");
    }
}
