//! What the signature of an [`Attestation`] covers.
//!
//! ```text
//!  0           24          32      48      52    54     58       62       94
//!  +-----------+-----------+-------+-------+-----+------+--------+--------+
//!  | domain    | logger id | nonce | open  | len | boot | uptime | digest |
//!  | 24 B text |    8 B    | 16 B  |  u32  | u16 | u32  |  u32   |  32 B  |
//!  +-----------+-----------+-------+-------+-----+------+--------+--------+
//! ```
//! All integers are little-endian. The signature is Ed25519 (RFC 8032, section 5.1, without context
//! and without hashing before) over these 94 bytes. The written bytes of the open block begin with a
//! header that names the digest of the block before, and so on down to block 0: what is signed covers
//! the whole log up to there.

use crate::header::LoggerId;
use crate::wire::Attestation;

/// The text that begins the signed bytes, so that they cannot be taken for anything else that a key
/// ever signs. Another layout gets another number.
pub const DOMAIN: [u8; 24] = *b"glueday log head, form 1";
/// How many bytes are signed.
pub const SIGNED_LEN: usize = 94;

/// The head of a log, as it is signed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Signed {
    /// Whose log.
    pub logger: LoggerId,
    /// What the host chose at random.
    pub nonce: [u8; 16],
    /// The block that entries are written to.
    pub open_block: u32,
    /// Bytes written of it, its header included.
    pub open_len: u16,
    /// The boot.
    pub boot: u32,
    /// Seconds since then.
    pub uptime_s: u32,
    /// SHA-256 (FIPS 180-4) of the written bytes of the open block.
    pub digest: [u8; 32],
}

impl Signed {
    /// What was signed if `attestation` is the answer of `logger` to `nonce`.
    #[must_use]
    pub fn of(logger: LoggerId, nonce: [u8; 16], attestation: &Attestation) -> Self {
        let Attestation { open_block, open_len, boot, uptime_s, digest, .. } = *attestation;
        Self { logger, nonce, open_block, open_len, boot, uptime_s, digest }
    }

    /// The answer to the host, with the signature over [`Signed::to_bytes`].
    #[must_use]
    pub fn with_signature(&self, signature: &[u8; 64]) -> Attestation {
        let mut halves = [[0; 32]; 2];
        for (to, from) in halves.as_flattened_mut().iter_mut().zip(signature) {
            *to = *from;
        }
        let Self { open_block, open_len, boot, uptime_s, digest, .. } = *self;
        let [signature_r, signature_s] = halves;
        Attestation { open_block, open_len, boot, uptime_s, digest, signature_r, signature_s }
    }

    /// The bytes that are signed.
    #[must_use]
    pub fn to_bytes(&self) -> [u8; SIGNED_LEN] {
        let mut bytes = [0; SIGNED_LEN];
        let parts: [&[u8]; 8] = [
            &DOMAIN,
            &self.logger.0,
            &self.nonce,
            &self.open_block.to_le_bytes(),
            &self.open_len.to_le_bytes(),
            &self.boot.to_le_bytes(),
            &self.uptime_s.to_le_bytes(),
            &self.digest,
        ];
        for (to, from) in bytes.iter_mut().zip(parts.into_iter().flatten()) {
            *to = *from;
        }
        bytes
    }

    /// Reads the bytes that were signed; `None` when they do not begin with [`DOMAIN`] or are not
    /// [`SIGNED_LEN`] bytes.
    #[must_use]
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        let rest = bytes.strip_prefix(&DOMAIN)?;
        let (&logger, rest) = rest.split_first_chunk()?;
        let (&nonce, rest) = rest.split_first_chunk()?;
        let (&open_block, rest) = rest.split_first_chunk()?;
        let (&open_len, rest) = rest.split_first_chunk()?;
        let (&boot, rest) = rest.split_first_chunk()?;
        let (&uptime_s, rest) = rest.split_first_chunk()?;
        let digest = rest.try_into().ok()?;
        Some(Self {
            logger: LoggerId(logger),
            nonce,
            open_block: u32::from_le_bytes(open_block),
            open_len: u16::from_le_bytes(open_len),
            boot: u32::from_le_bytes(boot),
            uptime_s: u32::from_le_bytes(uptime_s),
            digest,
        })
    }
}

impl Attestation {
    /// The signature as RFC 8032 writes it: R, then S.
    #[must_use]
    pub fn signature(&self) -> [u8; 64] {
        let mut signature = [0; 64];
        let halves = self.signature_r.iter().chain(&self.signature_s);
        for (to, from) in signature.iter_mut().zip(halves) {
            *to = *from;
        }
        signature
    }
}

const _: () = assert!(SIGNED_LEN == DOMAIN.len() + 8 + 16 + 4 + 2 + 4 + 4 + 32);
