//! Codes that stand for persons.

use std::fmt;

use crate::error::{Error, Result};

/// A code that stands for a person: 2 to 32 letters A–Z, digits and dashes, at least one
/// digit, so that it is hardly a name. Small letters are taken as capitals.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Code(String);

/// Letters that are not taken for a digit or another letter when read aloud or written by
/// hand, and that make no words (no vowels).
const LETTERS: &[u8] = b"CDFHJKMNPRTWX";
/// Digits likewise.
const DIGITS: &[u8] = b"34679";

impl Code {
    /// Takes what somebody typed.
    ///
    /// # Errors
    /// [`Error::NotACode`].
    pub fn new(text: &str) -> Result<Self> {
        let code = text.trim().to_ascii_uppercase();
        let all = code.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
        let ends = code.starts_with('-') || code.ends_with('-');
        let digit = code.bytes().any(|b| b.is_ascii_digit());
        match (2..=32).contains(&code.len()) && all && digit && !ends {
            true => Ok(Self(code)),
            false => Err(Error::NotACode(text.into())),
        }
    }

    /// A new code such as `K7M-R4T`, one of about 700,000; whether it is free is for the
    /// archive to see.
    pub fn draw() -> Result<Self> {
        let mut rest = random()?;
        let mut pick = |from: &[u8]| {
            let n = from.len() as u64;
            let one = from.get((rest % n) as usize).copied().unwrap_or(b'X');
            rest /= n;
            char::from(one)
        };
        let mut part = || [pick(LETTERS), pick(DIGITS), pick(LETTERS)];
        let (first, second) = (part(), part());
        Ok(Self(first.into_iter().chain(['-']).chain(second).collect()))
    }

    /// The code as it is kept.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A random number from the operating system.
///
/// # Errors
/// [`Error::NoRandom`] where it has none.
pub(crate) fn random() -> Result<u64> {
    getrandom::u64().map_err(|e| Error::NoRandom(e.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_taken_and_names_are_not() {
        for (typed, kept) in [("K7-M2", "K7-M2"), ("k7-m2", "K7-M2"), ("12", "12"), ("a1", "A1")] {
            assert_eq!(Code::new(typed).unwrap().as_str(), kept);
        }
        let long = "A1".repeat(17);
        for name in ["Anna", "Anna-Berg", "1", "", "A 1", "Müller1", "a.b1", "-1", "1-", &long] {
            assert!(matches!(Code::new(name), Err(Error::NotACode(_))), "{name}");
        }
    }

    #[test]
    fn drawn_codes_are_codes_and_differ() {
        let mut drawn: Vec<Code> = (0..200).map(|_| Code::draw().unwrap()).collect();
        drawn.iter().for_each(|code| assert_eq!(&Code::new(code.as_str()).unwrap(), code));
        drawn.sort_by(|a, b| a.0.cmp(&b.0));
        drawn.dedup();
        // Of 200 out of 714,025, hardly more than one pair is the same.
        assert!(drawn.len() > 195, "{}", drawn.len());
    }
}
