//! Reads fields from the front of an input. What is not there reads as zero.

use arbitrary::{Arbitrary, Unstructured};
use glueday_types::{Absent, CentiCelsius, CentiPercent, Entry, MarkKind, Probe, Reading, Sample};

pub(super) struct Input<'a>(Unstructured<'a>);

impl<'a> Input<'a> {
    pub(super) fn new(data: &'a [u8]) -> Self {
        Self(Unstructured::new(data))
    }

    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// An integer or an array of bytes, little-endian.
    pub(super) fn take<T: Arbitrary<'a>>(&mut self) -> T {
        T::arbitrary(&mut self.0).expect("numbers are filled up with zeros")
    }

    /// A number below `limit`.
    pub(super) fn below(&mut self, limit: u8) -> u8 {
        self.take::<u8>() % limit
    }

    /// One of `choices`.
    pub(super) fn of<T: Copy>(&mut self, choices: &[T]) -> T {
        choices[usize::from(self.take::<u8>()) % choices.len()]
    }

    /// So many bytes, or as many as are left.
    pub(super) fn bytes(&mut self, len: usize) -> &'a [u8] {
        self.0.bytes(len.min(self.0.len())).expect("as many as there are")
    }

    /// A length in one byte, and that many bytes.
    pub(super) fn some_bytes(&mut self) -> &'a [u8] {
        let len = self.take::<u8>();
        self.bytes(usize::from(len))
    }

    /// All that is left.
    pub(super) fn rest(&mut self) -> &'a [u8] {
        self.bytes(usize::MAX)
    }

    fn absent(&mut self) -> Absent {
        self.of(&[Absent::NotFitted, Absent::NoAnswer, Absent::BadChecksum, Absent::EmptyCell])
    }

    pub(super) fn celsius(&mut self) -> Reading<CentiCelsius> {
        match self.take::<i16>() {
            i16::MIN => Err(self.absent()),
            value => Ok(CentiCelsius(value)),
        }
    }

    pub(super) fn percent(&mut self) -> Reading<CentiPercent> {
        match self.take::<u16>() {
            u16::MAX => Err(self.absent()),
            value => Ok(CentiPercent(value)),
        }
    }

    pub(super) fn mark(&mut self) -> MarkKind {
        self.of(&[MarkKind::Button, MarkKind::Delivered, MarkKind::GlueStarted, MarkKind::HeatOn])
    }

    /// Any entry but a boot, which only the logger writes; `at_s` is the time of the one before.
    pub(super) fn entry(&mut self, at_s: &mut u32) -> Entry {
        let kind = self.below(8);
        *at_s = match kind {
            // The usual distance of samples, and any other.
            0 | 1 => at_s.wrapping_add(600),
            2 => self.take(),
            _ => at_s.wrapping_add(self.take::<u16>().into()),
        };
        let at_s = *at_s;
        match kind {
            0..=3 => Entry::Sample(Sample {
                at_s,
                slab: self.celsius(),
                air: self.celsius(),
                air_rh: self.percent(),
                supply: self.celsius(),
            }),
            4 => Entry::ClockSet { at_s, utc_s: self.take() },
            5 => Entry::SettingsChanged { at_s, interval_s: self.take() },
            6 => {
                let probe = self.of(&[Probe::Slab, Probe::Air, Probe::Supply]);
                let state = self.celsius().map(|_| ());
                Entry::ProbeChanged { at_s, probe, state }
            }
            _ => Entry::Mark { at_s, kind: self.mark() },
        }
    }
}

/// Any payload as a frame with a right checksum, so that what is behind the checksum is reached.
pub(super) fn sound_frame(payload: &[u8]) -> Vec<u8> {
    let check = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(payload);
    // Consistent overhead byte stuffing (Cheshire and Baker 1999): each run without zeros behind a
    // byte that says where the next zero is.
    let mut frame = Vec::new();
    let mut run = Vec::new();
    let mut close = |run: &mut Vec<u8>| {
        frame.push(u8::try_from(run.len() + 1).expect("at most 254 bytes"));
        frame.append(run);
    };
    for byte in payload.iter().copied().chain(check.to_le_bytes()) {
        if byte == 0 || run.len() == 254 {
            close(&mut run);
        }
        if byte != 0 {
            run.push(byte);
        }
    }
    close(&mut run);
    frame.push(0);
    frame
}
