//! By what an erased code is known again when it is told.
//!
//! Codes are short: those that are drawn are some 700,000, so whoever has the archive can
//! try them all. Nothing hides a code from them that must be recognised without a secret;
//! what can be done is to make each try dear. scrypt takes much memory as well as time, so
//! that graphics cards gain less. The archive's id is the salt: random, so that nothing
//! prepared beforehand helps, and the same for all of its codes and back-ups, so that one
//! run is enough to look a code up among any number of erased ones, and one copy of an
//! archive knows what was erased in another.

use serde::{Deserialize, Serialize};

use crate::error::{Error, Remedy, Result};
use crate::files;

/// In which form an erased code is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Form {
    /// SHA-256 of the archive's id followed by the code, as archives of the first schema
    /// have it; all codes are tried in a second.
    Sha256,
    /// scrypt (RFC 7914) of the code, the archive's id as salt; all drawn codes take one
    /// core some days, many cores or a graphics card less.
    Scrypt,
}

/// N = 2^17, r = 8, p = 1: 128 MiB and a third of a second. The least that OWASP's Password
/// Storage Cheat Sheet names for scrypt.
const COST: Cost = Cost { log_n: 17, r: 8, p: 1 };

#[derive(Clone, Copy)]
struct Cost {
    log_n: u8,
    r: u32,
    p: u32,
}

/// A code in a form, hex.
pub(super) fn digest(form: Form, archive: &str, code: &str) -> Result<String> {
    match form {
        Form::Sha256 => Ok(files::sha256_of(format!("{archive}{code}").as_bytes())),
        Form::Scrypt => {
            let key: [u8; 32] = scrypt(code.as_bytes(), archive.as_bytes(), COST)?;
            Ok(key.iter().map(|byte| format!("{byte:02x}")).collect())
        }
    }
}

fn scrypt<const N: usize>(password: &[u8], salt: &[u8], cost: Cost) -> Result<[u8; N]> {
    let mut key = [0; N];
    let parameters = scrypt::Params::new(cost.log_n, cost.r, cost.p).ok();
    let made = parameters.and_then(|p| scrypt::scrypt(password, salt, &p, &mut key).ok());
    made.map(|()| key).ok_or_else(|| Error::Archive {
        path: "scrypt".into(),
        why: "the code cannot be brought into the form that is kept".into(),
        remedy: Remedy::Report,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 7914, section 12, second and third vector.
    #[test]
    fn scrypt_gives_the_published_keys() {
        let published = [
            (
                ("password", "NaCl", Cost { log_n: 10, r: 8, p: 16 }),
                "fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162\
                 2eaf30d92e22a3886ff109279d9830dac727afb94a83ee6d8360cbdfa2cc0640",
            ),
            (
                ("pleaseletmein", "SodiumChloride", Cost { log_n: 14, r: 8, p: 1 }),
                "7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2\
                 d5432955613f0fcf62d49705242a9af9e61e85dc0d651e40dfcf017b45575887",
            ),
        ];
        for ((password, salt, cost), expected) in published {
            let key: [u8; 64] = scrypt(password.as_bytes(), salt.as_bytes(), cost).unwrap();
            let hex: String = key.iter().map(|byte| format!("{byte:02x}")).collect();
            assert_eq!(hex, expected);
        }
    }
}
