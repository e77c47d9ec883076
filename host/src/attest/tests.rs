use super::*;
use ed25519_dalek::{Signer as _, SigningKey};
use glueday_types::header::Header;
use glueday_types::{BootReason, Cursor, Entry};

const LOGGER: LoggerId = LoggerId(*b"exampleA");
const NONCE: [u8; 16] = [0xA5; 16];

/// An open block with a boot and a mark.
fn block() -> Vec<u8> {
    let header = Header {
        write_unit: 1,
        interval_s: 600,
        logger: LOGGER,
        block: 7,
        boot: 2,
        first_entry: 90,
        previous: [9; 32],
    };
    let mut bytes = header.to_bytes().to_vec();
    let mut cursor = Cursor::start(&header);
    for entry in [
        Entry::Boot { boot: 3, at_s: 0, reason: BootReason::PowerOn, firmware: (0, 1, 0) },
        Entry::PowerLow { at_s: 600, supply_mv: 3200 },
    ] {
        let packed = cursor.pack(&entry).unwrap();
        bytes.extend_from_slice(&packed);
        cursor.advance(&entry, &packed);
    }
    bytes
}

fn key(seed: u8) -> SigningKey {
    SigningKey::from_bytes(&[seed; 32])
}

fn public(seed: u8) -> [u8; 32] {
    key(seed).verifying_key().to_bytes()
}

fn signed_by(seed: u8, nonce: [u8; 16], bytes: &[u8]) -> Attestation {
    let signed = Signed {
        logger: LOGGER,
        nonce,
        open_block: 7,
        open_len: u16::try_from(bytes.len()).unwrap(),
        boot: 3,
        uptime_s: 700,
        digest: Sha256::digest(bytes).into(),
    };
    signed.with_signature(&key(seed).sign(&signed.to_bytes()).to_bytes())
}

fn known<'a>(public_key: &'a [u8; 32], earlier: &'a [(i64, [u8; 16], Attestation)]) -> Known<'a> {
    Known { public_key, shown_key: None, logger: LOGGER, now_s: 1000, earlier }
}

#[test]
fn a_true_attestation_is_taken() {
    let attestation = signed_by(1, NONCE, &block());
    assert_eq!(verify(&public(1), LOGGER, &NONCE, &attestation), Ok(()));
    assert_eq!(known(&public(1), &[]).judge(&NONCE, &attestation), Ok(()));
    assert_eq!(compare(&attestation, &block()), Ok(()));
    let mut sealed = block();
    sealed.resize(4096, 0xFF);
    assert_eq!(compare(&attestation, &sealed), Ok(()), "the block was sealed since");
}

/// Every bit of everything that goes into the signature, and of the signature itself.
#[test]
fn one_wrong_bit_anywhere_is_found() {
    let good = signed_by(1, NONCE, &block());
    let signed = Signed::of(LOGGER, NONCE, &good).to_bytes();
    let wrong = Err(Untrue::WrongSignature { besides: None });
    let check = |bytes: [u8; 94], signature: [u8; 64], what: String| {
        let Some(read) = Signed::from_bytes(&bytes) else { return false };
        let attestation = read.with_signature(&signature);
        assert_eq!(verify(&public(1), read.logger, &read.nonce, &attestation), wrong, "{what}");
        true
    };
    let mut read = 0;
    for bit in 0..94 * 8 {
        let mut bytes = signed;
        bytes[bit / 8] ^= 1 << (bit % 8);
        read += usize::from(check(bytes, good.signature(), format!("signed bit {bit}")));
    }
    assert_eq!(read, 70 * 8, "all but those of the domain");
    for bit in 0..64 * 8 {
        let mut signature = good.signature();
        signature[bit / 8] ^= 1 << (bit % 8);
        assert!(check(signed, signature, format!("bit {bit} of the signature")));
    }
    for bit in 0..256 {
        let mut public = public(1);
        public[bit / 8] ^= 1 << (bit % 8);
        let found = verify(&public, LOGGER, &NONCE, &good);
        assert!(found == wrong || found == Err(Untrue::NoSuchKey), "bit {bit} of the key");
    }
}

/// Each field that does not fit the log has its own words.
#[test]
fn each_field_is_compared_with_the_log() {
    let bytes = block();
    let good = signed_by(1, NONCE, &bytes);
    let len = good.open_len;
    let mut other = good;
    other.digest[0] ^= 1;
    assert_eq!(compare(&other, &bytes), Err(Mismatch::Digest { block: 7, len }));
    other = Attestation { open_len: len - 1, ..good };
    assert_eq!(compare(&other, &bytes), Err(Mismatch::Digest { block: 7, len: len - 1 }));
    other = Attestation { open_len: len + 1, ..good };
    let held_len = bytes.len();
    assert_eq!(
        compare(&other, &bytes),
        Err(Mismatch::NotHeld { block: 7, len: len + 1, held_len })
    );
    assert_eq!(compare(&good, &[]), Err(Mismatch::NotHeld { block: 7, len, held_len: 0 }));
    for len in [0, 63, 4097, u16::MAX] {
        let other = Attestation { open_len: len, ..good };
        assert_eq!(compare(&other, &bytes), Err(Mismatch::Length { len }));
    }
    other = Attestation { boot: 2, ..good };
    assert_eq!(compare(&other, &bytes), Err(Mismatch::Boot { said: 2, found: 3 }));
    other = Attestation { uptime_s: 599, ..good };
    assert_eq!(compare(&other, &bytes), Err(Mismatch::Uptime { said: 599, found: 600 }));
    let mut changed = bytes;
    changed[80] ^= 1;
    assert_eq!(compare(&good, &changed), Err(Mismatch::Digest { block: 7, len }));
}

#[test]
fn every_cause_has_a_name() {
    let bytes = block();
    let own = public(1);
    let fresh = signed_by(1, NONCE, &bytes);
    let old_nonce = [1; 16];
    let old = signed_by(1, old_nonce, &bytes[..64]);
    let earlier = [(400, old_nonce, old)];
    let known = known(&own, &earlier);

    assert_eq!(known.judge(&NONCE, &fresh), Ok(()));
    assert_eq!(known.judge(&NONCE, &old), Err(Untrue::Replayed { ago_s: 600 }));
    assert_eq!(known.judge(&old_nonce, &old), Err(Untrue::NonceUsed));
    let wrong = Err(Untrue::WrongSignature { besides: None });
    let other = signed_by(2, NONCE, &bytes);
    assert_eq!(known.judge(&NONCE, &other), wrong);
    let shown = public(2);
    let shows_it = Known { shown_key: Some(&shown), ..known };
    assert_eq!(shows_it.judge(&NONCE, &other), Err(Untrue::OtherKey));
    assert_eq!(shows_it.judge(&NONCE, &fresh), Ok(()), "the pinned key counts, not the shown one");

    let back = signed_by(1, NONCE, &bytes[..64]);
    let further = [(400, old_nonce, fresh)];
    let found = Known { earlier: &further, ..known }.judge(&NONCE, &back);
    assert!(
        matches!(found, Err(Untrue::NotThisLog { mismatch: Mismatch::BehindEarlier { .. } })),
        "{found:?}"
    );
}

/// Strict verification: a key or a point of small order would let one signature fit any message.
#[test]
fn keys_of_small_order_are_none() {
    let attestation = signed_by(1, NONCE, &block());
    // The neutral element, and a point of order 2 (RFC 8032, section 5.1: y = 1 and y = -1).
    let mut one = [0; 32];
    one[0] = 1;
    let mut minus_one = [0xFF; 32];
    (minus_one[0], minus_one[31]) = (0xEC, 0x7F);
    for key in [one, minus_one] {
        assert_eq!(verify(&key, LOGGER, &NONCE, &attestation), Err(Untrue::NoSuchKey));
    }
    let mut free = attestation;
    (free.signature_r, free.signature_s) = (one, [0; 32]);
    assert_eq!(verify(&one, LOGGER, &NONCE, &free), Err(Untrue::NoSuchKey));
}

#[test]
fn messages_differ_and_say_what_to_do() {
    let not_held = Mismatch::NotHeld { block: 7, len: 100, held_len: 64 };
    let all = [
        Untrue::NoSuchKey,
        Untrue::WrongSignature { besides: None },
        Untrue::WrongSignature { besides: Some(not_held) },
        Untrue::OtherKey,
        Untrue::Replayed { ago_s: 600 },
        Untrue::NonceUsed,
        Untrue::NotThisLog { mismatch: not_held },
        Untrue::NotThisLog { mismatch: Mismatch::Digest { block: 7, len: 100 } },
        Untrue::NotThisLog { mismatch: Mismatch::Length { len: 3 } },
        Untrue::NotThisLog { mismatch: Mismatch::Boot { said: 1, found: 2 } },
        Untrue::NotThisLog { mismatch: Mismatch::Uptime { said: 1, found: 2 } },
    ];
    let texts: std::collections::BTreeSet<String> = all.iter().map(ToString::to_string).collect();
    assert_eq!(texts.len(), all.len());
    for text in texts {
        assert!(text.contains(": ") && !text.contains("{"), "{text}");
    }
}
