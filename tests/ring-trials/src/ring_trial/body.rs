//! Bodies of entries by section 3 of the format's page, without the codec that the logger uses.

use glueday_types::{
    Absent, BootReason, CentiCelsius, CentiPercent, Entry, MarkKind, Probe, Reading, Sample,
};

/// What is left of a body.
struct Bytes<'a>(&'a [u8]);

impl Bytes<'_> {
    fn byte(&mut self) -> Option<u8> {
        let (first, rest) = self.0.split_first()?;
        self.0 = rest;
        Some(*first)
    }

    /// A varint of a value with this many bits.
    fn varint(&mut self, bits: u32) -> Option<u64> {
        let mut value: u128 = 0;
        for shift in (0..bits).step_by(7) {
            let byte = self.byte()?;
            value |= u128::from(byte & 0x7F) << shift;
            if byte & 0x80 == 0 {
                return (value >> bits == 0).then_some(value as u64);
            }
        }
        None
    }

    fn u16(&mut self) -> Option<u16> {
        self.varint(16).map(|value| value as u16)
    }

    fn u32(&mut self) -> Option<u32> {
        self.varint(32).map(|value| value as u32)
    }

    fn zigzag(&mut self, bits: u32) -> Option<i64> {
        let value = self.varint(bits)?;
        Some((value >> 1) as i64 ^ -((value & 1) as i64))
    }

    fn i16(&mut self) -> Option<i16> {
        self.zigzag(16).map(|value| value as i16)
    }

    /// One of the variants of a table.
    fn of<T: Copy>(&mut self, table: &[T]) -> Option<T> {
        table.get(usize::try_from(self.varint(32)?).ok()?).copied()
    }

    fn absent(&mut self) -> Option<Absent> {
        self.of(&[
            Absent::NotFitted,
            Absent::NoAnswer,
            Absent::BadChecksum,
            Absent::OutOfRange,
            Absent::BusFault,
            Absent::EmptyCell,
        ])
    }

    fn result<T>(&mut self, value: impl FnOnce(&mut Self) -> Option<T>) -> Option<Reading<T>> {
        match self.varint(32)? {
            0 => value(self).map(Ok),
            1 => self.absent().map(Err),
            _ => None,
        }
    }

    fn celsius(&mut self) -> Option<Reading<CentiCelsius>> {
        self.result(|bytes| bytes.i16().map(CentiCelsius))
    }

    fn entry(&mut self) -> Option<Entry> {
        let number = self.varint(32)?;
        Some(match number {
            0 => Entry::Sample(Sample {
                at_s: self.u32()?,
                slab: self.celsius()?,
                air: self.celsius()?,
                air_rh: self.result(|bytes| bytes.u16().map(CentiPercent))?,
                supply: self.celsius()?,
            }),
            1 => Entry::Boot {
                boot: self.u32()?,
                at_s: self.u32()?,
                reason: self.of(&[
                    BootReason::PowerOn,
                    BootReason::Watchdog,
                    BootReason::BrownOut,
                    BootReason::Restart,
                    BootReason::ResetPin,
                    BootReason::Unknown,
                ])?,
                firmware: (self.byte()?, self.byte()?, self.byte()?),
            },
            2 => Entry::ClockSet { at_s: self.u32()?, utc_s: self.zigzag(64)? },
            3 => Entry::Mark {
                at_s: self.u32()?,
                kind: self.of(&[
                    MarkKind::Button,
                    MarkKind::Delivered,
                    MarkKind::BarrierRolled,
                    MarkKind::GlueStarted,
                    MarkKind::GlueFinished,
                    MarkKind::Sanded,
                    MarkKind::HeatOn,
                ])?,
            },
            4 => Entry::SettingsChanged { at_s: self.u32()?, interval_s: self.u16()? },
            5 => Entry::ProbeChanged {
                at_s: self.u32()?,
                probe: self.of(&[Probe::Slab, Probe::Air, Probe::Supply])?,
                state: self.result(|_| Some(()))?,
            },
            6 => Entry::PowerLow { at_s: self.u32()?, supply_mv: self.u16()? },
            _ => return None,
        })
    }
}

/// The entry whose body this is; `None` when it is not understood.
pub(super) fn entry(body: &[u8]) -> Option<Entry> {
    let mut bytes = Bytes(body);
    bytes.entry().filter(|_| bytes.0.is_empty())
}

/// The sample that a step with this body leads to from the last one.
pub(super) fn step(body: &[u8], last: Option<&Sample>, interval_s: u16) -> Option<Sample> {
    let mut bytes = Bytes(body);
    let changes = [bytes.i16()?, bytes.i16()?, bytes.i16()?, bytes.i16()?];
    let last = last.filter(|_| bytes.0.is_empty())?;
    let celsius = |reading: Reading<CentiCelsius>, change: i16| match reading {
        Ok(CentiCelsius(value)) => value.checked_add(change).map(|v| Ok(CentiCelsius(v))),
        Err(reason) => (change == 0).then_some(Err(reason)),
    };
    Some(Sample {
        at_s: last.at_s.checked_add(u32::from(interval_s))?,
        slab: celsius(last.slab, changes[0])?,
        air: celsius(last.air, changes[1])?,
        air_rh: match last.air_rh {
            Ok(CentiPercent(value)) => {
                Ok(CentiPercent(u16::try_from(i32::from(value) + i32::from(changes[2])).ok()?))
            }
            Err(reason) if changes[2] == 0 => Err(reason),
            Err(_) => return None,
        },
        supply: celsius(last.supply, changes[3])?,
    })
}
