//! A logger that answers on the wire, written from the formats alone: it shares no code with the real
//! one but the types of messages, entries and blocks.

use glueday_firmware::Key;
use glueday_types::attest::Signed;
use glueday_types::frame::Collector;
use glueday_types::header::{BLOCK_LEN, FORMAT_VERSION};
use glueday_types::wire::{
    self, Attestation, CHUNK_LEN, Identity, Message, REPLY_FRAME_LEN_MAX, REQUEST_FRAME_LEN_MAX,
    Refusal, Reply, Request, Status, WIRE_VERSION, WIRE_VERSION_MIN,
};
use glueday_types::{
    BootReason, CentiCelsius, CentiPercent, Cursor, Entry, Header, LoggerId, Sample, digest,
};
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, VecDeque};

/// A log in memory, with the logger's side of the wire.
#[derive(Clone, Debug)]
pub struct ToyLogger {
    /// Its id.
    pub id: LoggerId,
    /// What it has in its ring: whole blocks, and the open one as far as it is written.
    pub blocks: BTreeMap<u32, Vec<u8>>,
    /// All entries that it ever wrote, by number and boot.
    pub entries: Vec<(u32, u32, Entry)>,
    /// Requests that it took, in order.
    pub requests: Vec<Request>,
    /// Whether it leaves out the erased end of a finished block.
    pub trims: bool,
    /// Entries that it writes by itself while a run is sent, one after each chunk.
    pub busy: bool,
    /// Replies to requests that change something which get lost although the request is done.
    pub mute: u32,
    /// The public key that it shows.
    pub public_key: Option<[u8; 32]>,
    /// What it signs with.
    pub key: Option<Key>,
    /// What becomes of a signed answer before it is sent.
    pub alter: Option<fn(&mut Attestation)>,
    /// Samples that it takes between two questions, just before it signs.
    pub late_samples: u32,
    ring: u32,
    write_unit: u8,
    interval_s: u16,
    boot: u32,
    now_s: u32,
    cursor: Option<Cursor>,
    collector: Collector<REQUEST_FRAME_LEN_MAX>,
    replies: VecDeque<Vec<u8>>,
    run: Option<Run>,
    /// Number of the last change and its reply; another request of the number is not done again.
    changed: Option<(u16, Vec<u8>)>,
}

#[derive(Clone, Copy, Debug)]
struct Run {
    number: u16,
    block: u32,
    offset: usize,
    left: u16,
}

impl ToyLogger {
    /// A logger that was switched on for the first time, with room for `ring` blocks.
    #[must_use]
    pub fn new(id: [u8; 8], ring: u32, write_unit: u8) -> Self {
        let mut logger = Self {
            id: LoggerId(id),
            blocks: BTreeMap::new(),
            entries: Vec::new(),
            requests: Vec::new(),
            trims: false,
            busy: false,
            mute: 0,
            public_key: None,
            key: None,
            alter: None,
            late_samples: 0,
            ring,
            write_unit,
            interval_s: 600,
            boot: 0,
            now_s: 0,
            cursor: None,
            collector: Collector::new(),
            replies: VecDeque::new(),
            run: None,
            changed: None,
        };
        logger.restart(BootReason::PowerOn);
        logger
    }

    /// Starts anew: seconds and link state are lost, the log is not.
    pub fn restart(&mut self, reason: BootReason) {
        self.boot += 1;
        self.now_s = 0;
        self.collector = Collector::new();
        self.replies.clear();
        self.run = None;
        self.changed = None;
        self.append(Entry::Boot { boot: self.boot, at_s: 0, reason, firmware: (0, 1, 0) });
    }

    /// Writes samples at the nominal interval, with values that a pattern of `salt` makes.
    pub fn sample(&mut self, count: u32, salt: u32) {
        for n in 0..count {
            self.now_s += u32::from(self.interval_s);
            let noise =
                |k: u32| ((n + salt * 1000 + k * 77).wrapping_mul(2_654_435_761) >> 24) % 23;
            let celsius = |base: i16, k: u32| {
                if (n + k).is_multiple_of(97) {
                    Err(glueday_types::Absent::NoAnswer)
                } else {
                    Ok(CentiCelsius(base + i16::try_from(noise(k)).unwrap_or(0)))
                }
            };
            self.append(Entry::Sample(Sample {
                at_s: self.now_s,
                slab: celsius(1910, 1),
                air: celsius(2050, 2),
                air_rh: Ok(CentiPercent(4600 + u16::try_from(noise(3)).unwrap_or(0))),
                supply: celsius(2600, 4),
            }));
        }
    }

    /// Writes one entry, into the next block when this one is full.
    pub fn append(&mut self, entry: Entry) {
        let packed = self.cursor.and_then(|cursor| cursor.pack(&entry).ok());
        let Some((packed, mut cursor)) = packed.zip(self.cursor) else {
            self.next_block();
            return self.append(entry);
        };
        let number = cursor.number();
        cursor.advance(&entry, &packed);
        self.entries.push((number, cursor.boot(), entry));
        if let Some(mut open) = self.blocks.last_entry() {
            open.get_mut().extend_from_slice(&packed);
        }
        self.cursor = Some(cursor);
    }

    fn next_block(&mut self) {
        let (block, previous) = match self.blocks.last_entry() {
            None => (0, [0; 32]),
            Some(mut open) => {
                open.get_mut().resize(BLOCK_LEN, 0xFF);
                (open.key() + 1, digest(open.get()))
            }
        };
        let header = Header {
            write_unit: self.write_unit,
            interval_s: self.interval_s,
            logger: self.id,
            block,
            boot: self.boot,
            first_entry: self.cursor.map_or(0, |cursor| cursor.number()),
            previous,
        };
        self.cursor = Some(Cursor::start(&header));
        self.blocks.insert(block, header.to_bytes().to_vec());
        while self.blocks.len() > usize::try_from(self.ring).unwrap_or(usize::MAX) {
            self.blocks.pop_first();
        }
    }

    fn oldest(&self) -> u32 {
        self.blocks.first_key_value().map_or(0, |(number, _)| *number)
    }

    fn newest(&self) -> u32 {
        self.blocks.last_key_value().map_or(0, |(number, _)| *number)
    }

    /// How it is.
    #[must_use]
    pub fn status(&self) -> Status {
        Status {
            boot: self.boot,
            uptime_s: self.now_s,
            interval_s: self.interval_s,
            oldest_block: self.oldest(),
            open_block: self.newest(),
            open_len: self.cursor.map_or(0, |cursor| cursor.offset()),
            entries: self.cursor.map_or(0, |cursor| cursor.number()),
            lost_entries: 0,
            resumed: 0,
            supply_mv: None,
            slab: Ok(()),
            air: Ok(()),
            supply: Ok(()),
        }
    }

    /// Takes bytes from the host.
    pub fn receive(&mut self, bytes: &[u8]) {
        for byte in bytes {
            let Some(Ok(payload)) = self.collector.push(*byte) else { continue };
            if let Ok(message) = wire::read::<Request>(payload) {
                self.run = None;
                self.requests.push(message.body);
                let before = self.replies.len();
                let changes = matches!(
                    message.body,
                    Request::SetClock { .. } | Request::SetInterval { .. } | Request::Mark { .. }
                );
                match &self.changed {
                    Some((number, reply)) if changes && *number == message.number => {
                        self.replies.push_back(reply.clone());
                    }
                    _ => self.answer(message.number, message.body),
                }
                if changes {
                    let reply = self.replies.back().cloned().unwrap_or_default();
                    self.changed = Some((message.number, reply));
                } else if message.body == Request::Hello {
                    self.changed = None;
                }
                if self.mute > 0 && changes {
                    self.mute -= 1;
                    self.replies.truncate(before);
                }
            }
        }
    }

    fn answer(&mut self, number: u16, request: Request) {
        let reply = match request {
            Request::Hello => Reply::Hello(Identity {
                wire_version_min: WIRE_VERSION_MIN,
                wire_version: WIRE_VERSION,
                format_version: FORMAT_VERSION,
                logger: self.id,
                firmware: (0, 1, 0),
                blocks: self.ring,
                public_key: self.public_key,
            }),
            Request::Status => Reply::Status(self.status()),
            Request::Blocks { first, offset, count } => {
                let (oldest, newest) = (self.oldest(), self.newest());
                if (oldest..=newest).contains(&first) {
                    let offset = usize::from(offset);
                    self.run = Some(Run { number, block: first, offset, left: count });
                    return;
                }
                Reply::Refused(Refusal::NoSuchBlock { oldest, newest })
            }
            Request::SetClock { utc_s } => {
                self.append(Entry::ClockSet { at_s: self.now_s, utc_s });
                Reply::Done { boot: self.boot, at_s: self.now_s }
            }
            Request::SetInterval { interval_s: 0 } => Reply::Refused(Refusal::BadValue),
            Request::SetInterval { interval_s } => {
                self.interval_s = interval_s;
                self.append(Entry::SettingsChanged { at_s: self.now_s, interval_s });
                Reply::Done { boot: self.boot, at_s: self.now_s }
            }
            Request::Mark { kind } => {
                self.append(Entry::Mark { at_s: self.now_s, kind });
                Reply::Done { boot: self.boot, at_s: self.now_s }
            }
            Request::Latest => Reply::Latest {
                boot: self.boot,
                uptime_s: self.now_s,
                sample: self.cursor.and_then(|cursor| cursor.last_sample()),
            },
            Request::Attest { nonce } => match self.attest(nonce) {
                Some(attestation) => Reply::Attested(attestation),
                None => Reply::Refused(Refusal::NoKey),
            },
        };
        self.replies.push_back(frame(number, &reply));
    }

    /// Has it sign from now on, with a key of this seed, which it shows.
    pub fn sign_with(&mut self, seed: u8) {
        self.key = Key::from_seed(&[seed; 32]);
        self.public_key = self.key.as_ref().map(Key::public);
    }

    /// The head of its log, signed.
    pub fn attest(&mut self, nonce: [u8; 16]) -> Option<Attestation> {
        let key = self.key.clone()?;
        self.sample(self.late_samples, 3);
        let (open_block, open) = self.blocks.last_key_value()?;
        let signed = Signed {
            logger: self.id,
            nonce,
            open_block: *open_block,
            open_len: u16::try_from(open.len()).ok()?,
            boot: self.boot,
            uptime_s: self.now_s,
            digest: Sha256::digest(open).into(),
        };
        let mut attestation = signed.with_signature(&key.sign(&signed.to_bytes()));
        if let Some(alter) = self.alter {
            alter(&mut attestation);
        }
        Some(attestation)
    }

    /// The next frame that it sends, if it has one.
    pub fn next_frame(&mut self) -> Option<Vec<u8>> {
        if let Some(reply) = self.replies.pop_front() {
            return Some(reply);
        }
        let run = self.run?;
        if self.busy {
            self.sample(1, 9);
        }
        let Some(bytes) = self.blocks.get(&run.block).filter(|_| run.left > 0) else {
            self.run = None;
            let more = run.block <= self.newest();
            let offset = u16::try_from(run.offset).unwrap_or(0);
            let end = Reply::BlocksEnd { next: run.block, offset, more };
            return Some(frame(run.number, &end));
        };
        let open = run.block == self.newest();
        let written = if self.trims && !open {
            bytes.iter().rposition(|byte| *byte != 0xFF).map_or(0, |at| at + 1)
        } else {
            bytes.len()
        };
        let end = (run.offset + CHUNK_LEN).min(written).max(run.offset);
        let chunk = bytes.get(run.offset..end).unwrap_or_default();
        if chunk.is_empty() {
            let left = if open { 0 } else { run.left - 1 };
            let (block, offset) = if open { (run.block, run.offset) } else { (run.block + 1, 0) };
            self.run = Some(Run { block, offset, left, ..run });
            return self.next_frame();
        }
        let offset = u16::try_from(run.offset).unwrap_or(0);
        let sent = frame(run.number, &Reply::Chunk { block: run.block, offset, bytes: chunk });
        self.run = Some(Run { offset: end, ..run });
        Some(sent)
    }
}

impl super::FarEnd for ToyLogger {
    fn receive(&mut self, bytes: &[u8], _: u32) {
        Self::receive(self, bytes);
    }

    fn next_frame(&mut self, _: u32) -> Option<Vec<u8>> {
        Self::next_frame(self)
    }

    fn restart(&mut self, _: u32) {
        Self::restart(self, BootReason::BrownOut);
    }
}

/// A reply as a frame.
#[must_use]
pub fn frame(number: u16, reply: &Reply<'_>) -> Vec<u8> {
    let mut out = [0; REPLY_FRAME_LEN_MAX];
    Message::new(number, reply).write(&mut out).map(|frame| frame.to_vec()).unwrap_or_default()
}
