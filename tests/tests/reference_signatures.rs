//! Ed25519 and the digests under it against published vectors: through the code that the logger signs
//! with, through the code that the host verifies with, and through a crate that neither uses.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "an integration test is test code throughout; a panic here is a failing test"
)]

use ed25519_dalek::{Signature, Verifier as _, VerifyingKey};
use glueday::attest;
use glueday_firmware::Key;
use glueday_types::LoggerId;
use glueday_types::attest::Signed;
use sha2::{Digest as _, Sha256, Sha512};

/// RFC 8032, section 7.1, tests 1 to 3 (from memory; a wrong digit anywhere would fail all three
/// implementations below): seed, public key, message, signature.
const VECTORS: [[&str; 4]; 3] = [
    [
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
    ],
    [
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    ],
    [
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
    ],
];

fn bytes<const N: usize>(hex: &str) -> [u8; N] {
    vec(hex).try_into().unwrap()
}

fn vec(hex: &str) -> Vec<u8> {
    let pairs = hex.as_bytes().chunks(2).map(|pair| std::str::from_utf8(pair).unwrap());
    pairs.map(|pair| u8::from_str_radix(pair, 16).unwrap()).collect()
}

#[test]
fn the_signer_of_the_logger_gives_the_published_signatures() {
    for [seed, public, message, signature] in VECTORS {
        let key = Key::from_seed(&bytes(seed)).unwrap();
        assert_eq!(key.public(), bytes(public));
        assert_eq!(key.sign(&vec(message)), bytes(signature));
    }
}

#[test]
fn verifiers_take_the_published_signatures_and_no_other() {
    for [_, public, message, signature] in VECTORS {
        let (public, message, signature) = (bytes(public), vec(message), bytes::<64>(signature));
        let ours = VerifyingKey::from_bytes(&public).unwrap();
        let other = ed25519_compact::PublicKey::new(public);
        let verified = |message: &[u8], signature: [u8; 64]| {
            let dalek = Signature::from_bytes(&signature);
            let strict = ours.verify_strict(message, &dalek).is_ok();
            assert_eq!(strict, ours.verify(message, &dalek).is_ok());
            let second = ed25519_compact::Signature::new(signature);
            assert_eq!(strict, other.verify(message, &second).is_ok());
            strict
        };
        assert!(verified(&message, signature));
        assert!(!verified(&[&message[..], &[0]].concat(), signature));
        for byte in 0..64 {
            let mut wrong = signature;
            wrong[byte] ^= 4;
            assert!(!verified(&message, wrong), "byte {byte}");
        }
    }
}

/// What the logger signs is taken by the host's verifier, and by a crate of other authors.
#[test]
fn signer_and_verifiers_agree_on_what_is_signed() {
    let logger = LoggerId(*b"agreeing");
    for (i, [seed, public, ..]) in (0..).zip(VECTORS) {
        let key = Key::from_seed(&bytes(seed)).unwrap();
        let nonce = [i; 16];
        let signed = Signed {
            logger,
            nonce,
            open_block: 70_000 + u32::from(i),
            open_len: 300,
            boot: 2,
            uptime_s: 86_400,
            digest: Sha256::digest([i]).into(),
        };
        let signature = key.sign(&signed.to_bytes());
        let attestation = signed.with_signature(&signature);
        assert_eq!(attest::verify(&bytes(public), logger, &nonce, &attestation), Ok(()));
        let other = ed25519_compact::PublicKey::new(bytes(public));
        let signature = ed25519_compact::Signature::new(signature);
        assert!(other.verify(signed.to_bytes(), &signature).is_ok());
    }
}

/// The digests of one block, of two, and of a million letters: the examples that NIST publishes with
/// FIPS 180-4 ("abc" and the two-block messages are in appendices B and C of FIPS 180-2 as well).
#[test]
fn digests_are_the_published_ones() {
    let two_256 = "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq";
    let two_512 = "abcdefghbcdefghicdefghijdefghijkefghijklfghijklmghijklmnhijklmnoijklmnopjklmnopqklmnopqrlmnopqrsmnopqrstnopqrstu";
    let long = "a".repeat(1_000_000);
    for (message, expected) in [
        ("abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (two_256, "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"),
        (&long, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"),
    ] {
        assert_eq!(Sha256::digest(message)[..], vec(expected));
    }
    for (message, expected) in [
        (
            "abc",
            "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f",
        ),
        (
            two_512,
            "8e959b75dae313da8cf4f72814fc143f8f7779c6eb9f7fa17299aeadb6889018501d289e4900f7e4331b99dec4b5433ac7d329eeb6dd26545e96e55b874be909",
        ),
        (
            &long,
            "e718483d0ce769644e2e42c7bc15b4638e1f98b13b2044285632a803afa973ebde0ff244877ea60a4cb0432ce577c31beb009c5c2c49aa2e4eadb217ad8cc09b",
        ),
    ] {
        assert_eq!(Sha512::digest(message)[..], vec(expected));
    }
}
