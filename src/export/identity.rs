//! Identifiers that come out the same each time, so that a second export replaces the
//! first instead of standing beside it.

use sha2::{Digest, Sha256};

/// 128 bits of a thing: a UUID of version 8 (RFC 9562, 5.8) from SHA-256 of the session's
/// name and the thing's.
fn bits(session: &str, thing: &str) -> u128 {
    let mut hash = Sha256::new();
    for part in ["plumbrise", session, thing] {
        hash.update(part);
        hash.update([0]);
    }
    let mut bytes = [0; 16];
    for (own, of_hash) in bytes.iter_mut().zip(hash.finalize()) {
        *own = of_hash;
    }
    let version = (u128::from_be_bytes(bytes) & !(0xf << 76)) | (8 << 76);
    (version & !(0b11 << 62)) | (0b10 << 62)
}

/// A UUID as URN.
pub(super) fn urn(session: &str, thing: &str) -> String {
    let hex = format!("{:032x}", bits(session, thing));
    let (a, rest) = hex.split_at(8);
    let (b, rest) = rest.split_at(4);
    let (c, rest) = rest.split_at(4);
    let (d, e) = rest.split_at(4);
    format!("urn:uuid:{a}-{b}-{c}-{d}-{e}")
}

/// A unique identifier of DICOM: the same UUID as a decimal number under 2.25 (PS3.5 B.2).
#[cfg(feature = "dicom")]
pub(super) fn uid(session: &str, thing: &str) -> String {
    format!("2.25.{}", bits(session, thing))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Version and variant stand where RFC 9562, section 4, puts them; digest and text are
    /// those of Python: `uuid.UUID(bytes=hashlib.sha256(b"plumbrise\0a1\0set\0").digest()[:16])`
    /// with these six bits set.
    #[test]
    fn a_urn_is_a_uuid_of_version_8() {
        let urn = urn("a1", "set");
        assert_eq!(urn, "urn:uuid:a48967af-41df-8d12-bd70-085a96194fd6");
        assert_eq!(urn.as_bytes()[9 + 14], b'8');
    }
}
