//! The random stream behind every draw: documented to the bit, so that a layout can be drawn again years later.
//!
//! Algorithm 1, in full:
//! 1. the 32-byte seed is the key of ChaCha20 with stream number 0 and block counter 0 (no other seeding step);
//! 2. the key stream is read as 32-bit little-endian words;
//! 3. a number below `n` is the high half of `word * n`; the word is thrown away when the low half is below
//!    `2^32 mod n`, so that each number is equally likely;
//! 4. a list is shuffled by exchanging, for `last` from its end down to the second place, the item at `last` with the
//!    one at a number below `last + 1`.
//!
//! # Source
//! Bernstein (2008), ChaCha; Lemire (2019), ACM Trans. Model. Comput. Simul. 29(1), article 3, for step 3; Durstenfeld
//! (1964), Commun. ACM 7, 420, for step 4. Step 1 is checked against RFC 8439, appendix A.1.

use crate::DesignError;
use rand_chacha::ChaCha20Rng;
use rand_core::{Rng, SeedableRng};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// Number of the drawing algorithm, recorded with each draw; it changes if any draw could come out differently.
pub const ALGORITHM: u32 = 1;

/// The 32 bytes that a draw starts from.
///
/// People see 64 hexadecimal digits, and may type those or a whole number.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(try_from = "String", into = "String")]
#[schema(value_type = String, example = "2a00000000000000000000000000000000000000000000000000000000000000")]
pub struct Seed([u8; 32]);

impl Seed {
    /// The seed of these bytes.
    pub fn from_bytes(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// The seed of a number: its eight bytes, least significant first, then zeros.
    pub fn from_number(number: u64) -> Self {
        let mut bytes = [0; 32];
        bytes[..8].copy_from_slice(&number.to_le_bytes());
        Self(bytes)
    }

    /// The 32 bytes.
    pub fn bytes(&self) -> &[u8; 32] {
        &self.0
    }
}

impl fmt::Display for Seed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for Seed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Seed({self})")
    }
}

impl FromStr for Seed {
    type Err = DesignError;

    /// Reads 64 hexadecimal digits (spaces between them do not count), or a whole number from 0 to 2^64 - 1.
    fn from_str(text: &str) -> Result<Self, DesignError> {
        let digits: String = text.chars().filter(|letter| !letter.is_whitespace()).collect();
        let seed = if digits.len() == 64 { from_hexadecimal(&digits) } else { from_decimal(&digits) };
        seed.ok_or_else(|| DesignError::Seed { text: text.to_owned() })
    }
}

impl TryFrom<String> for Seed {
    type Error = DesignError;

    fn try_from(text: String) -> Result<Self, DesignError> {
        text.parse()
    }
}

impl From<Seed> for String {
    fn from(seed: Seed) -> Self {
        seed.to_string()
    }
}

fn from_hexadecimal(digits: &str) -> Option<Seed> {
    let values: Option<Vec<u8>> = digits.chars().map(|digit| digit.to_digit(16).map(|value| value as u8)).collect();
    let mut bytes = [0; 32];
    for (byte, pair) in bytes.iter_mut().zip(values?.chunks_exact(2)) {
        *byte = pair[0] << 4 | pair[1];
    }
    Some(Seed(bytes))
}

fn from_decimal(digits: &str) -> Option<Seed> {
    let only_digits = digits.chars().all(|digit| digit.is_ascii_digit());
    if only_digits { digits.parse().ok().map(Seed::from_number) } else { None }
}

/// A stream of random choices, the same on every machine for the same seed.
pub struct RandomStream {
    words: ChaCha20Rng,
}

impl RandomStream {
    /// The stream that starts at this seed.
    pub fn new(seed: &Seed) -> Self {
        Self { words: ChaCha20Rng::from_seed(seed.0) }
    }

    /// A number from 0 to `bound - 1`, each equally likely; 0 when `bound` is 0 or 1.
    pub fn below(&mut self, bound: u32) -> u32 {
        if bound <= 1 {
            return 0;
        }
        let too_low = bound.wrapping_neg() % bound; // 2^32 mod bound
        loop {
            let product = u64::from(self.words.next_u32()) * u64::from(bound);
            if product as u32 >= too_low {
                return (product >> 32) as u32;
            }
        }
    }

    /// Puts the items in random order, each order equally likely.
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            let bound = u32::try_from(last + 1).expect("a trial's lists are far shorter than 2^32: checked by limits");
            items.swap(last, self.below(bound) as usize);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: RFC 8439, appendix A.1, test vector 1 (key and nonce of zeros, block counter 0), first 16 bytes
    // 76 b8 e0 ad a0 f1 3d 90 40 5d 6a e5 53 86 bd 28.
    #[test]
    fn the_words_are_the_chacha20_key_stream() {
        let mut stream = RandomStream::new(&Seed::from_number(0));
        let words: Vec<u32> = (0..4).map(|_| stream.words.next_u32()).collect();
        assert_eq!(words, [0xade0_b876, 0x903d_f1a0, 0xe56a_5d40, 0x28bd_8653]);
    }

    // By hand from the same key stream: the first word is 0xade0b876 = 2917185654; times 10 is 29171856540, whose
    // high half is 6. The second is 0x903df1a0 = 2419978656; times 7 is 16939850592, high half 3.
    #[test]
    fn a_bounded_draw_is_the_high_half_of_the_product() {
        let mut stream = RandomStream::new(&Seed::from_number(0));
        assert_eq!([stream.below(10), stream.below(7)], [6, 3]);
    }

    #[test]
    fn a_word_in_the_uneven_part_is_thrown_away() {
        // Bound 3 * 2^30: 2^32 mod bound is 2^30, so a quarter of all words must go. A word w is kept when
        // (w * 3 * 2^30) mod 2^32 = 2^30 * (3w mod 4) is at least 2^30, that is unless w is a multiple of 4.
        let bound = 3 << 30;
        let seed = Seed::from_number(7);
        let mut words = RandomStream::new(&seed);
        let kept: Vec<u32> =
            std::iter::repeat_with(|| words.words.next_u32()).filter(|w| w % 4 != 0).take(100).collect();
        let expected: Vec<u32> = kept.iter().map(|w| ((u64::from(*w) * 3) >> 2) as u32).collect();
        let mut stream = RandomStream::new(&seed);
        let drawn: Vec<u32> = (0..100).map(|_| stream.below(bound)).collect();
        assert_eq!(drawn, expected);
    }

    #[test]
    fn a_seed_reads_back_as_shown() {
        let seed = Seed::from_bytes(std::array::from_fn(|index| index as u8 * 7));
        assert_eq!(seed.to_string().parse::<Seed>(), Ok(seed));
        assert_eq!(seed.to_string().to_uppercase().parse::<Seed>(), Ok(seed));
        let json = serde_json::to_string(&seed).expect("a seed is text");
        assert_eq!(serde_json::from_str::<Seed>(&json).expect("the text is a seed"), seed);
    }

    #[test]
    fn a_short_seed_is_its_little_endian_bytes() {
        let seed: Seed = " 2026 ".parse().expect("a whole number is a seed");
        assert_eq!(seed, Seed::from_number(2026));
        assert_eq!(seed.to_string(), format!("ea07{}", "0".repeat(60)));
    }

    #[test]
    fn what_is_no_seed_is_refused() {
        for text in ["", "-1", "+5", "1.5", "18446744073709551616", "abc", &"g".repeat(64), &"é".repeat(32)] {
            let refused = text.parse::<Seed>().expect_err(text);
            assert_eq!(refused, DesignError::Seed { text: text.to_owned() });
        }
    }
}
