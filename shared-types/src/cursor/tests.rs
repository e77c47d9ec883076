use super::*;
use crate::{Absent, CentiCelsius, CentiPercent, LoggerId};

const HEADER: Header = Header {
    write_unit: 1,
    interval_s: 600,
    logger: LoggerId(*b"exampleA"),
    block: 3,
    boot: 2,
    first_entry: 40,
    previous: [7; 32],
};

fn sample(at_s: u32, slab: i16) -> Sample {
    Sample {
        at_s,
        slab: Ok(CentiCelsius(slab)),
        air: Ok(CentiCelsius(2150)),
        air_rh: Ok(CentiPercent(4500)),
        supply: Err(Absent::NotFitted),
    }
}

/// An entry of a newer version: the check is right, the body makes no sense here.
fn pack_unknown(place: &Cursor, body: &[u8]) -> Packed {
    let kind = ENTRY_BIT | u8::try_from(body.len()).unwrap();
    let check = entry_check(place.header_check, place.offset, kind, body);
    place.fill(&[&[kind], body, &check.to_le_bytes()]).unwrap()
}

#[test]
fn a_check_that_ends_in_ff_is_read_without_its_last_byte() {
    let mut seen = 0;
    for at_s in 0..4096 {
        let entry = Entry::Mark { at_s, kind: crate::MarkKind::Button };
        let packed = Cursor::start(&HEADER).pack(&entry).unwrap();
        let written = packed.iter().rposition(|byte| *byte != ERASED).unwrap() + 1;
        seen += usize::from(written < packed.len());
        assert_eq!(Cursor::start(&HEADER).read(&packed[..written]), Found::Entry(entry));

        let offset = 64 + u16::try_from(at_s).unwrap() / 2;
        let place = Cursor { offset, ..Cursor::start(&HEADER) };
        let at = place.offset + 66;
        let Ok(mark) = place.pack_resume(at) else { continue };
        let written = mark.iter().rposition(|byte| *byte != ERASED).unwrap() + 1;
        seen += usize::from(written < mark.len()) << 16;
        assert!(place.is_resume(at, &mark[..written]));
    }
    // About one in 256 of either.
    assert!(seen & 0xFFFF > 4 && seen >> 16 > 4, "{seen:x}");
}

#[test]
fn a_resume_mark_never_completes_a_torn_entry() {
    // Tears off each number of bytes: a mark that started right there would stand where the
    // rest of the entry was meant to go.
    let mut swallowed = 0;
    for at_s in 0..2000 {
        let place = Cursor::start(&HEADER);
        let entry = Entry::Mark { at_s, kind: crate::MarkKind::Button };
        let whole = place.pack(&entry).unwrap();
        for torn in 1..whole.len() {
            let end = HEADER_LEN + torn;
            let read_behind = |at: u16| {
                let mut block = [ERASED; 256];
                block[HEADER_LEN..end].copy_from_slice(&whole[..torn]);
                let mark = place.pack_resume(at).unwrap();
                block[usize::from(at)..][..mark.len()].copy_from_slice(&mark);
                { place }.read(&block[HEADER_LEN..])
            };
            let before = { place }.read(&whole[..torn]);
            let end = u16::try_from(end).unwrap();
            assert_eq!(read_behind(place.resume_place(end).unwrap()), before, "{at_s} {torn}");
            swallowed += usize::from(read_behind(end) != before);
        }
    }
    // That is why: right behind the torn bytes it would happen.
    assert!(swallowed > 0);
}

#[test]
fn resume_marks_go_to_a_unit_clear_of_what_was_torn() {
    for write_unit in [1, 2, 4, 8, 16, 32] {
        let place = Cursor { offset: 128, ..Cursor::start(&Header { write_unit, ..HEADER }) };
        let at = place.resume_place(131).unwrap();
        assert!(at >= 131 + 65 && at < 131 + 65 + u16::from(write_unit));
        assert_eq!(at % u16::from(write_unit), 0);
        for damage_end in 128..=4096 {
            let fits = place.resume_place(damage_end);
            assert!(fits.is_none_or(|at| place.pack_resume(at).is_ok()), "{damage_end}");
        }
        assert_eq!(place.resume_place(u16::MAX), None);
    }
    let place = Cursor::start(&HEADER);
    assert_eq!(place.resume_place(4096 - 12 - 65), Some(4096 - 12));
    assert_eq!(place.resume_place(4096 - 12 - 64), None);
}

#[test]
fn nothing_is_read_across_the_end_of_a_block() {
    let entry = Entry::Mark { at_s: 1, kind: crate::MarkKind::Button };
    let last = Cursor { offset: 4096 - 6, ..Cursor::start(&HEADER) };
    let packed = last.pack(&entry).unwrap();
    assert_eq!(packed.len(), 6);
    assert_eq!({ last }.read(&packed), Found::Entry(entry));
    let over = Cursor { offset: last.offset + 1, ..last };
    assert_eq!(over.pack(&entry), Err(PackError::BlockFull));
    // An entry that lacks its last byte there, and that would be 0xFF: it is not read either.
    let lacking = (0..=u16::MAX).find_map(|at_s| {
        let [low, high] = at_s.to_le_bytes();
        let body = [3, low, high];
        let check = entry_check(over.header_check, over.offset, packed[0], &body).to_le_bytes();
        (check[1] == ERASED).then(|| [&packed[..1], &body, &check[..1]].concat())
    });
    let lacking = lacking.unwrap();
    assert_eq!(usize::from(over.offset) + lacking.len(), BLOCK_LEN);
    assert_eq!({ over }.read(&lacking), Found::Damaged);
    assert_eq!({ over }.read(&[&lacking[..], &[ERASED]].concat()), Found::Damaged);

    // Nor a mark.
    let at = 4096 - 11;
    let mut places = (64..at).map(|offset| Cursor { offset, ..last });
    let place = places.find(|place| place.resume_check(at) >> 24 == 0xFF).unwrap();
    let [c0, c1, c2, _] = place.resume_check(at).to_le_bytes();
    let mark = [&RESUME_MAGIC[..], &place.offset.to_le_bytes(), &at.to_le_bytes(), &[c0, c1, c2]];
    assert!(!place.is_resume(at, &mark.concat()));
    assert_eq!(last.pack_resume(4096 - 12).unwrap().len(), RESUME_LEN);
    assert_eq!(last.pack_resume(4096 - 11), Err(PackError::BlockFull));
}

#[test]
fn a_step_behind_an_entry_of_a_newer_version_is_not_taken_from_an_older_sample() {
    // The newer logger: a sample, one with a reason that is unknown here, and a step from that.
    let mut writer = Cursor::start(&HEADER);
    let mut flash = std::vec::Vec::new();
    let mut put = |writer: &mut Cursor, entry: Entry, packed: Packed| {
        flash.extend_from_slice(&packed);
        writer.advance(&entry, &packed);
    };
    let first = Entry::Sample(sample(0, 2000));
    let packed = writer.pack(&first).unwrap();
    put(&mut writer, first, packed);
    let second = Entry::Sample(sample(600, 2100));
    // Sample, 600 s, slab Err(reason 63).
    let packed = pack_unknown(&writer, &[0x00, 0xD8, 0x04, 0x01, 0x3F]);
    put(&mut writer, second, packed);
    for (at_s, slab) in [(1200, 2110), (1900, 2120), (2500, 2130)] {
        let entry = Entry::Sample(sample(at_s, slab));
        let packed = writer.pack(&entry).unwrap();
        put(&mut writer, entry, packed);
    }

    let mut reader = Cursor::start(&HEADER);
    let found: std::vec::Vec<Found> = (0..5)
        .map(|_| reader.read(flash.get(usize::from(reader.offset()) - HEADER_LEN..).unwrap()))
        .collect();
    assert_eq!(found[0], Found::Entry(first));
    assert_eq!(found[1..3], [Found::Unknown, Found::Unknown]);
    // An irregular interval: written in full, and read again from there on.
    assert_eq!(found[3], Found::Entry(Entry::Sample(sample(1900, 2120))));
    assert_eq!(found[4], Found::Entry(Entry::Sample(sample(2500, 2130))));
    assert_eq!(reader.number(), 45);
    assert_eq!(reader, writer);
}

/// Writes a sample, then whatever `between` does, then a sample one interval later.
fn sample_behind(between: impl Fn(&mut Cursor)) -> (Cursor, Packed) {
    let mut cursor = Cursor::start(&HEADER);
    let first = Entry::Sample(sample(0, 2000));
    let packed = cursor.pack(&first).unwrap();
    cursor.advance(&first, &packed);
    between(&mut cursor);
    let packed = cursor.pack(&Entry::Sample(sample(600, 2001))).unwrap();
    (cursor, packed)
}

#[test]
fn samples_behind_a_boot_or_a_resume_mark_are_written_in_full() {
    let (_, packed) = sample_behind(|cursor| {
        let mark = Entry::Mark { at_s: 9, kind: crate::MarkKind::Sanded };
        let packed = cursor.pack(&mark).unwrap();
        cursor.advance(&mark, &packed);
    });
    assert_eq!(packed[0] & ENTRY_BIT, 0, "a step");
    let step = packed;

    let reboot = |cursor: &mut Cursor| {
        let reason = crate::BootReason::PowerOn;
        let boot = Entry::Boot { boot: 3, at_s: 0, reason, firmware: (0, 1, 0) };
        let packed = cursor.pack(&boot).unwrap();
        cursor.advance(&boot, &packed);
    };
    let resume = |cursor: &mut Cursor| cursor.resume(cursor.resume_place(90).unwrap());
    for (mut cursor, packed) in [sample_behind(reboot), sample_behind(resume)] {
        assert_eq!(cursor.last_sample(), None);
        assert_eq!(packed[0] & ENTRY_BIT, ENTRY_BIT);
        // A step there has nothing to count from.
        let body = &step[1..step.len() - 2];
        let check = entry_check(cursor.header_check, cursor.offset, step[0], body);
        let bytes = [&step[..1], body, &check.to_le_bytes()].concat();
        assert_eq!(cursor.read(&bytes), Found::Unknown);
    }
}
