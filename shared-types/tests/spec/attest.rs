//! Section 5: what is signed, from the values that the text gives.

use crate::examples::{assert_bytes, bytes};
use crate::log::{LOGGER, block};
use ed25519_dalek::{Signature, VerifyingKey};
use glueday_types::attest::Signed;
use sha2::{Digest as _, Sha256};

fn signed() -> Signed {
    Signed {
        logger: LOGGER,
        nonce: core::array::from_fn(|i| 0xA0 + u8::try_from(i).unwrap()),
        open_block: 7,
        open_len: 284,
        boot: 5,
        uptime_s: 86_400,
        digest: Sha256::digest(block()).into(),
    }
}

#[test]
fn what_is_signed_is_written_and_read_as_shown() {
    assert_bytes("signed", &signed().to_bytes());
    let shown = bytes("signed");
    assert_eq!(Signed::from_bytes(&shown), Some(signed()));
    assert_eq!(Signed::from_bytes(&shown[..93]), None);
    assert_eq!(Signed::from_bytes(&[shown.as_slice(), &[0]].concat()), None);
    let mut other = shown;
    other[23] = b'2';
    assert_eq!(Signed::from_bytes(&other), None, "another form");
}

/// The signature on the page was made by a few lines of Python after RFC 8032, and not by the crates
/// that the project signs and verifies with.
#[test]
fn the_signature_shown_is_true() {
    let key = VerifyingKey::from_bytes(&bytes("signed-public-key").try_into().unwrap()).unwrap();
    let signature: [u8; 64] = bytes("signed-signature").try_into().unwrap();
    let attestation = signed().with_signature(&signature);
    assert_eq!(attestation.signature(), signature);
    assert_eq!(
        (attestation.signature_r[0], attestation.signature_s[0]),
        (signature[0], signature[32])
    );
    assert_eq!(Signed::of(LOGGER, signed().nonce, &attestation), signed());
    let verified = key.verify_strict(&bytes("signed"), &Signature::from_bytes(&signature));
    assert!(verified.is_ok(), "{verified:?}");
}
