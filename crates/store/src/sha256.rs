//! The fingerprint of a file.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use sha2::Digest;

/// SHA-256 of a file's bytes, written as 64 hexadecimal digits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct Sha256([u8; 32]);

impl Sha256 {
    /// The fingerprint of these bytes.
    pub fn of(bytes: &[u8]) -> Self {
        Self(sha2::Sha256::digest(bytes).into())
    }
}

impl fmt::Display for Sha256 {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

/// A text that is not 64 hexadecimal digits.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is not a SHA-256 fingerprint: 64 hexadecimal digits were expected")]
pub struct Sha256Error(String);

impl FromStr for Sha256 {
    type Err = Sha256Error;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let wrong = || Sha256Error(text.to_owned());
        if text.len() != 64 || !text.bytes().all(|byte| byte.is_ascii_hexdigit()) {
            return Err(wrong());
        }
        let mut bytes = [0; 32];
        for (i, byte) in bytes.iter_mut().enumerate() {
            *byte = u8::from_str_radix(&text[2 * i..2 * i + 2], 16).map_err(|_| wrong())?;
        }
        Ok(Self(bytes))
    }
}

impl From<Sha256> for String {
    fn from(hash: Sha256) -> Self {
        hash.to_string()
    }
}

impl TryFrom<String> for Sha256 {
    type Error = Sha256Error;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        text.parse()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: FIPS 180-2 (2002), appendix B.1, message "abc".
    #[test]
    fn published_example() {
        let hash = Sha256::of(b"abc");
        assert_eq!(hash.to_string(), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        assert_eq!(hash.to_string().parse(), Ok(hash));
    }

    #[test]
    fn other_texts_are_refused() {
        for text in ["", "ba78", &"g".repeat(64), &"é".repeat(32)] {
            assert!(text.parse::<Sha256>().is_err(), "{text}");
        }
    }
}
