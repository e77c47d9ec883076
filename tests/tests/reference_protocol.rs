//! The encodings on the wire against published check values, with the crates that the project uses.
//!
//! The signature point (`ed25519`, RFC 8032) waits for the code that signs.
#![allow(
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::unwrap_used,
    reason = "an integration test is test code throughout; a panic here is a failing test"
)]

mod reference_points;

use std::collections::BTreeMap;

use crc::{
    Algorithm, CRC_16_ARC, CRC_16_IBM_3740, CRC_16_KERMIT, CRC_16_MODBUS, CRC_16_XMODEM,
    CRC_32_ISCSI, CRC_32_ISO_HDLC, Crc,
};
use ed25519_dalek::{Signer, SigningKey};
use reference_points::{PROTOCOL, Point, assert_counts, listed, points};
use serde::Serialize;
use serde_json::Value;
use sha2::{Digest, Sha256};

#[test]
fn encodings_meet_every_published_point() {
    let mut checked = BTreeMap::new();
    for point in points() {
        if !listed(PROTOCOL, &point.quantity) {
            continue;
        }
        *checked.entry(point.quantity.clone()).or_insert(0) += 1;
        let context = format!("{} ({}); {}", point.id, point.quantity, point.source);
        assert!(point.tolerance.holds(0.0, 0.0) && !point.tolerance.holds(1.0, 0.0), "{context}");
        let further = !point.xcheck.is_empty() || point.table.is_some() || point.passes.is_some();
        assert!(!further, "{context}: says more than is compared here");
        if point.quantity == "cobs_encode_long" {
            check_long(&point);
        } else if point.quantity == "ed25519" {
            check_signature(&point);
        } else {
            assert_eq!(point.expected, Value::from(compute(&point)), "{context}");
        }
    }
    assert_counts(&checked, PROTOCOL);
}

/// The encoding of a point by the project's crates, in hexadecimal.
fn compute(point: &Point) -> String {
    match point.quantity.as_str() {
        "crc_check_hex" => checksum(point.text("algorithm"), point.text("ascii").as_bytes()),
        "cobs_encode_hex" => {
            assert_eq!(point.text("delimiter"), "not included", "{}", point.id);
            hex(&stuffed(&bytes(point.text("hex"))))
        }
        "postcard_varint_u16_hex" => packed(&integer::<u16>(point)),
        "postcard_varint_i16_hex" => packed(&integer::<i16>(point)),
        "postcard_varint_u32_hex" => packed(&integer::<u32>(point)),
        "postcard_varint_i32_hex" => packed(&integer::<i32>(point)),
        "postcard_f32_hex" => {
            // The value is exact in 32 bits: widened again, it is the same.
            let value: f32 = serde_json::from_value(point.inputs["value"].clone()).unwrap();
            assert_eq!(f64::from(value), point.number("value"), "{}", point.id);
            packed(&value)
        }
        "postcard_f64_hex" => packed(&point.number("value")),
        "postcard_tuple_hex" => {
            assert_eq!(point.text("value"), "(1u8,300u16,-2i16,true)", "{}", point.id);
            packed(&(1_u8, 300_u16, -2_i16, true))
        }
        "postcard_str_hex" => packed(&point.text("value")),
        "sha256_hex" => hex(&Sha256::digest(point.text("ascii").as_bytes())),
        other => panic!("{}: nobody answers for the quantity {other:?}", point.id),
    }
}

/// A message too long for one group: its length, first and last bytes are published.
fn check_long(point: &Point) {
    let message: Vec<u8> = match point.text("bytes") {
        "01..FE" => (1..=0xFE).collect(),
        "01..FF" => (1..=0xFF).collect(),
        "02..FF,00" => (2..=0xFF).chain([0]).collect(),
        other => panic!("{}: bytes {other:?}", point.id),
    };
    let encoded = stuffed(&message);
    let text = hex(&encoded);
    let expected = |field: &str| &point.expected[field];
    assert_eq!(expected("length").as_u64(), Some(encoded.len() as u64), "{}", point.id);
    assert!(text.starts_with(expected("head").as_str().unwrap()), "{}: {text}", point.id);
    assert!(text.ends_with(expected("tail").as_str().unwrap()), "{}: {text}", point.id);
}

/// Checksum of a message by the name that the catalogue gives to the algorithm.
fn checksum(algorithm: &str, message: &[u8]) -> String {
    let wide = |algorithm: &'static Algorithm<u32>| {
        format!("{:08x}", Crc::<u32>::new(algorithm).checksum(message))
    };
    let narrow = |algorithm: &'static Algorithm<u16>| {
        format!("{:04x}", Crc::<u16>::new(algorithm).checksum(message))
    };
    match algorithm {
        "CRC-32/ISO-HDLC" => wide(&CRC_32_ISO_HDLC),
        "CRC-32/ISCSI" => wide(&CRC_32_ISCSI),
        "CRC-16/XMODEM" => narrow(&CRC_16_XMODEM),
        "CRC-16/IBM-3740" => narrow(&CRC_16_IBM_3740),
        "CRC-16/MODBUS" => narrow(&CRC_16_MODBUS),
        "CRC-16/ARC" => narrow(&CRC_16_ARC),
        "CRC-16/KERMIT" => narrow(&CRC_16_KERMIT),
        other => panic!("no algorithm {other:?}"),
    }
}

/// COBS without its delimiter, checked to decode again.
fn stuffed(message: &[u8]) -> Vec<u8> {
    let mut encoded = vec![0; cobs::max_encoding_length(message.len())];
    let length = cobs::encode(message, &mut encoded);
    encoded.truncate(length);
    assert!(!encoded.contains(&0));
    let mut decoded = vec![0; encoded.len()];
    let length = cobs::decode(&encoded, &mut decoded).unwrap();
    assert_eq!(decoded[..length], *message);
    encoded
}

/// A value as postcard writes it.
fn packed(value: &impl Serialize) -> String {
    hex(postcard::to_slice(value, &mut [0; 64]).unwrap())
}

fn integer<T: TryFrom<i64>>(point: &Point) -> T {
    let value = point.inputs["value"].as_i64().expect("an integer");
    T::try_from(value).unwrap_or_else(|_| panic!("{}: {value} does not fit", point.id))
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Public key and signature of a seed and a message.
fn check_signature(point: &Point) {
    let seed: [u8; 32] = bytes(point.text("seed")).try_into().unwrap();
    let message = bytes(point.text("message_hex"));
    let key = SigningKey::from_bytes(&seed);
    let signature = key.sign(&message);
    let found = serde_json::json!({
        "public": hex(key.verifying_key().as_bytes()),
        "signature": hex(&signature.to_bytes()),
    });
    assert_eq!(point.expected, found, "{}; {}", point.id, point.source);
    assert!(key.verifying_key().verify_strict(&message, &signature).is_ok());
}

fn bytes(hex: &str) -> Vec<u8> {
    hex.as_bytes()
        .chunks(2)
        .map(|pair| u8::from_str_radix(std::str::from_utf8(pair).unwrap(), 16).unwrap())
        .collect()
}

/// Further check values of the catalogue of parametrised CRC algorithms.
#[test]
fn other_checksums_of_the_catalogue() {
    assert_eq!(checksum("CRC-32/ISCSI", b"123456789"), "e3069283");
    assert_eq!(checksum("CRC-16/KERMIT", b"123456789"), "2189");
}

/// The table of postcard's wire format prints FF FF 02 for 32767, which is a misprint: zigzag makes
/// it 65534, and as a varint that is FE FF 03.
#[test]
fn the_largest_i16_is_not_what_the_specification_prints() {
    assert_eq!(packed(&i16::MAX), "feff03");
    assert_eq!(postcard::from_bytes::<i16>(&[0xFE, 0xFF, 0x03]), Ok(i16::MAX));
    assert!(postcard::from_bytes::<i16>(&[0xFF, 0xFF, 0x02]) != Ok(i16::MAX));
}

/// A number can be written with more bytes than it needs, so that two messages may mean the same:
/// digests are taken over the bytes received, never over a message encoded again.
#[test]
fn postcard_takes_padded_numbers_but_not_overlong_ones() {
    assert_eq!(postcard::from_bytes::<u16>(&[0x80, 0x00]), Ok(0));
    assert!(postcard::from_bytes::<u16>(&[0x80, 0x80, 0x80, 0x00]).is_err());
}
