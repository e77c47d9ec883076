//! Logs that the targets work on, and the inputs that a fuzzer begins with.

use super::input::sound_frame;
use crate::flash::{Random, SECTOR_LEN, SimFlash};
use glueday::archive::{ImportRow, import_blocks, import_id};
use glueday::history::{self, History};
use glueday::job::Job;
use glueday::quantity::Units;
use glueday_firmware::ring::{Boot, RingLog};
use glueday_types::wire::{Message, Reply, Request};
use glueday_types::{
    BLOCK_LEN, BootReason, CentiCelsius, CentiPercent, Entry, LoggerId, MarkKind, Sample,
};
use std::sync::OnceLock;

/// A log as it stands on a flash.
pub(super) struct TrueLog {
    pub(super) logger: LoggerId,
    /// From block 0 on, the open one included.
    pub(super) blocks: Vec<Vec<u8>>,
    /// Bytes written of the open block.
    pub(super) open_len: u16,
}

/// Four blocks and a part of a fifth.
pub(super) fn true_log() -> &'static TrueLog {
    static LOG: OnceLock<TrueLog> = OnceLock::new();
    LOG.get_or_init(|| {
        let logger = LoggerId(*b"fuzzPull");
        let boot = Boot { reason: BootReason::PowerOn, at_s: 0, firmware: (0, 1, 0) };
        let mut ring =
            RingLog::mount(SimFlash::<1>::new(8), logger, 600, boot).expect("an empty flash");
        let mut random = Random(5);
        let mut at_s = 0;
        while (ring.open_block(), ring.open_len()) < (4, 2500) {
            at_s += 600;
            ring.append(&Entry::Sample(sample(at_s, &mut random))).expect("a good flash");
        }
        let (open, open_len) = (ring.open_block() as usize, ring.open_len());
        let bytes = ring.release().bytes();
        let blocks = bytes.chunks(SECTOR_LEN).take(open + 1).map(<[u8]>::to_vec).collect();
        TrueLog { logger, blocks, open_len }
    })
}

fn sample(at_s: u32, random: &mut Random) -> Sample {
    let mut noise = || i16::from(random.byte() % 16);
    Sample {
        at_s,
        slab: Ok(CentiCelsius(2150 + noise())),
        air: Ok(CentiCelsius(2080 + 4 * noise())),
        air_rh: Ok(CentiPercent(4500 + noise().unsigned_abs() * 8)),
        supply: Ok(CentiCelsius(2900 + 8 * noise())),
    }
}

/// Thirty days of a room in which nothing is wrong, up to 2026-03-14T00:00Z.
pub(super) fn good_air() -> &'static History {
    static HISTORY: OnceLock<History> = OnceLock::new();
    HISTORY.get_or_init(|| {
        let mut random = Random(6);
        let end_s = 1_773_446_400;
        // Every half hour: a judgement goes over all of them.
        let rows: Vec<ImportRow> = (0..30 * 48)
            .map(|i| {
                let Sample { slab, air, air_rh, supply, .. } = sample(0, &mut random);
                let utc_s = end_s - (30 * 48 - 1 - i) * 1800;
                ImportRow { utc_s, slab, air, air_rh, supply, line: 1 }
            })
            .collect();
        let log = import_blocks(&rows, import_id(b"good air")).expect("in order");
        history::build(log.blocks.iter().map(Vec::as_slice))
    })
}

/// A seed: the target, a name, the input.
pub type Seed = (&'static str, &'static str, Vec<u8>);

/// What the corpus begins with: real frames, real blocks, files as loggers write them, job files.
#[must_use]
pub fn seeds() -> Vec<Seed> {
    [frames(), links(), pulls(), blocks(), tables(), jobs(), words(), records()].concat()
}

fn frames() -> Vec<Seed> {
    let request = |body| {
        let mut out = [0; 64];
        Message::new(7, body).write(&mut out).expect("it fits").to_vec()
    };
    let reply = |body: Reply<'_>| {
        let mut out = [0; 2048];
        Message::new(7, body).write(&mut out).expect("it fits").to_vec()
    };
    let log = true_log();
    let asked: Vec<u8> = [
        Request::Hello,
        Request::Status,
        Request::Blocks { first: 3, offset: 64, count: 2 },
        Request::SetClock { utc_s: 1_773_446_400 },
        Request::SetInterval { interval_s: 600 },
        Request::Mark { kind: MarkKind::GlueStarted },
        Request::Latest,
        Request::Attest { nonce: [0x5A; 16] },
    ]
    .into_iter()
    .flat_map(request)
    .collect();
    let latest = Some(sample(600, &mut Random(1)));
    let answered: Vec<u8> = [
        Reply::Chunk { block: 2, offset: 0, bytes: &log.blocks[2][..200] },
        Reply::BlocksEnd { next: 3, offset: 0, more: true },
        Reply::Done { boot: 3, at_s: 9000 },
        Reply::Latest { boot: 3, uptime_s: 9000, sample: latest },
    ]
    .into_iter()
    .flat_map(reply)
    .collect();
    vec![
        ("frame", "requests", asked),
        ("frame", "replies", answered),
        ("frame", "newer", sound_frame(&[2, 7, 0])),
        ("frame", "short", vec![2, 7, 0, 1, 0]),
        ("frame", "noise", b"NO CARRIER\r\n\0\0\xFF\0".to_vec()),
    ]
}

fn links() -> Vec<Seed> {
    // Kind 1 is a whole frame of any payload, 2 to 4 a request by its fields, then how many replies
    // are taken: see `link`.
    let hello = [2, 0, 0, 7, 0, 1];
    let blocks = [2, 2, 0, 0, 0, 9, 0, 0, 8, 0, 2];
    let clock = [2, 3, 0x80, 0xA4, 0xB4, 0x69, 0, 0, 0, 0, 0, 9, 0, 1];
    let sampled = [6, 3, 0];
    let restart = [7, 0];
    let fault = [9, 1, 128, 2, 0, 0];
    let go_round = [&sampled[..]; 12].concat();
    vec![
        ("link", "talk", [&[0][..], &hello, &clock, &sampled, &blocks, &restart].concat()),
        ("link", "round", [&[1][..], &go_round, &blocks, &restart, &sampled, &hello].concat()),
        ("link", "faults", [&[3][..], &sampled, &fault, &sampled, &restart, &blocks].concat()),
        ("link", "payload", [&[2][..], &[1, 4, 1, 9, 0, 1, 2]].concat()),
    ]
}

fn pulls() -> Vec<Seed> {
    // The target, what is held, the number of the first request; then one answer after the other.
    let nothing = [2, 0, 0, 0, 7, 0];
    let some = [2, 0b11, 0x12, 0x30, 7, 0];
    let serve = [11, 255];
    let changed = [4, 1, 0, 0, 0, 0, 2, 9, 1, 0xFF];
    let wait = [2, 0xFF, 0xFF];
    let hello = [7, 0];
    let moved = [8, 4, 0, 0, 2, 0, 0];
    let odd = [0, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0, 1, 0, 0, 0, 7, 0];
    vec![
        ("pull", "whole", [&nothing[..], &serve].concat()),
        ("pull", "resumed", [&some[..], &serve, &serve].concat()),
        ("pull", "changed", [&nothing[..], &changed, &serve, &serve].concat()),
        ("pull", "waits", [&nothing[..], &[11, 3], &wait, &hello, &serve].concat()),
        ("pull", "ring-moved", [&nothing[..], &moved, &serve].concat()),
        ("pull", "odd-status", odd.to_vec()),
    ]
}

fn blocks() -> Vec<Seed> {
    let log = true_log();
    let first = log.blocks[0][..600].to_vec();
    // Two short blocks of a ring, without what follows the samples that are looked at.
    let mut two = log.blocks[3][..400].to_vec();
    two.resize(BLOCK_LEN, 0xFF);
    two.extend_from_slice(&log.blocks[4][..400]);
    let numbers = [0; 12];
    let samples = |count: u8| {
        let one = [0, 0x98, 8, 0x34, 8, 0x94, 0x11, 0x54, 0x0B];
        let mut bytes = vec![0, 0, 0, count];
        (0..count).for_each(|_| bytes.extend([&[4][..], &one].concat()));
        bytes
    };
    let mixed = [
        &[0, 2, 0, 6][..],
        // Any body with a right check, damage, a boot, a sample in full, a clock sync, a fault.
        &[0, 3, 1, 2, 3, 0x40],
        &[2, 2, 0x20, 0x11],
        &[3],
        &[4, 2, 9, 0, 0, 0, 0, 0x80, 1, 0x34, 8, 0xFF, 0xFF, 1, 0x54, 0x0B],
        &[4, 4, 5, 0, 0x80, 0xA4, 0xB4, 0x69, 0, 0, 0, 0],
        &[4, 6, 5, 0, 1, 0, 0x80, 1],
    ]
    .concat();
    let full = [0, 0, 0, 0x40];
    vec![
        ("block", "first", [&[0][..], &first].concat()),
        ("block", "two", [&[0x10][..], &two].concat()),
        ("block", "built", [&[1][..], &numbers, &samples(8), &samples(3)].concat()),
        ("block", "mixed", [&[0x81][..], &numbers, &mixed, &mixed].concat()),
        ("block", "full", [&[0x4D][..], &numbers, &full, &full, &full, &mixed].concat()),
        ("block", "odd", [&[0xC1][..], &numbers, &[14, 1, 1, 0x40, 13, 2, 2, 1, 3]].concat()),
    ]
}

fn tables() -> Vec<Seed> {
    let utf_16 = |text: &str| {
        [0xFEFF].into_iter().chain(text.encode_utf16()).flat_map(u16::to_le_bytes).collect()
    };
    let text = |text: &str| text.as_bytes().to_vec();
    let house = include_str!("../../fixtures/intake/renovation-house-indoor-air.csv");
    let house: String = house.lines().take(12).map(|line| format!("{line}\n")).collect();
    vec![
        ("csv", "house", house.into_bytes()),
        (
            "csv",
            "semicolon",
            text(
                "options zone=UTC\ntime;air;rh\n2020-12-18 15:15;21,5;45,25\n2020-12-18 15:25;-3,0;46\n",
            ),
        ),
        (
            "csv",
            "quoted",
            text(
                "options zone=+02:00\n\"time\",\"air (\u{b0}F)\",\"rh\"\r\n\"18.12.2020 15:15\",\"70,5\",\"45,25\"\r\n\"18.12.2020 15:25\",\"71\",\"---\"\r\n",
            ),
        ),
        (
            "csv",
            "preamble",
            text(
                "Site\tHall\n\ndate\ttime\tslab [C]\tair\trh %\tsupply\nd\tt\tC\tC\t%\tC\n2021-01-02T10:00:00Z\t\t1\t2\t3\t4\n",
            ),
        ),
        (
            "csv",
            "us",
            text(
                "options zone=America/New_York format=mdy\ntime,slab,air,rh,supply\n11/01/2020 1:30 AM,20,21,45,30\n11/01/2020 1:50 AM,20,21,45,30\n11/01/2020 1:10 AM,20,21,45,30\n11/01/2020 3:30 PM,20,21,NaN,30\n",
            ),
        ),
        (
            "csv",
            "unix",
            text(
                "options air=2[F] rh=3[fraction] missing=-99\nt,a,b\n1608304500,70,0.45\n1608305100,-99,0.46\n1608305100,-99,0.46\n",
            ),
        ),
        (
            "csv",
            "columns",
            text(
                "options time=1 delimiter=| first-row=2 decimal=comma slab=none\nwhen|Temp 1|RH\n1608304500000|21,5 C|45 %\n1608305100000|21,4 C|44 %\n",
            ),
        ),
        (
            "csv",
            "utf-16",
            utf_16(
                "time,air\r\n2020-12-18 15:15:30+01:00,21.5\r\n2020-12-18 15:25:30+01:00,21.6\r\n",
            ),
        ),
        (
            "csv",
            "faults",
            text(
                "time,air,rh\n2020-12-18 15:15,x,45\n2020-13-18 15:25,21\n,21,45,9\n2020-12-18 15:05,1.234,5,\"45\n",
            ),
        ),
        (
            "csv",
            "newest-first",
            text(
                "options zone=UTC\r\ntime,rh\r2020-12-18 15:35,46\r2020-12-18 15:25,45\r2020-12-18 15:15,44\r",
            ),
        ),
    ]
}

fn jobs() -> Vec<Seed> {
    let site = "[site]\nname = \"Lot 7\"\ntime-zone = \"America/Denver\"\n";
    // Every key of the template in use, in both systems of units.
    let filled = |units| {
        let switched_on = |line: &str| match line.strip_prefix('#') {
            Some(key) if !key.starts_with(' ') && !key.is_empty() => key.to_owned(),
            _ => line.to_owned(),
        };
        let text = Job::template("Lot 7", "America/Denver", units);
        // Without the prose, which takes a fuzzer nowhere.
        let lines = text.lines().map(switched_on).filter(|line| !line.starts_with('#'));
        let short = |line: String| {
            line.split("  #").next().map(str::trim_end).unwrap_or_default().to_owned() + "\n"
        };
        lines.map(short).collect::<String>().into_bytes()
    };
    let rooms = "[[room]]\nname = 'Hall'  # north\nlogger = \"70726f626543686b\"\n[[room]]\nname = \"Den\"\n";
    let probes = "\n[[probe]]\nroom = \"Hall\"\nchannel = \"rh\"\nuncertainty = \"2.5 %\" # sheet\n\n[[probe.check]]\ndate = 2026-02-27\nmethod = \"salt\"\nreference = \"33 %\"\nreading = \"34 %\"\n[[probe]]\nchannel = \"air\"\n";
    let adhesive = "\n# The adhesive.\n[adhesive]\n   traffic = \"24 h\"\n# the end";
    let crlf = format!("{site}{rooms}{probes}{adhesive}").replace('\n', "\r\n");
    vec![
        ("job", "least", site.as_bytes().to_vec()),
        ("job", "filled-us", filled(Units::Us)),
        ("job", "filled-metric", filled(Units::Metric)),
        ("job", "rooms", format!("{site}{rooms}{probes}{adhesive}").into_bytes()),
        ("job", "crlf", crlf.into_bytes()),
        ("job", "one-line", format!("{site}probe = [{{ channel = \"air\" }}]\n").into_bytes()),
        ("job", "dotted", b"site.name = 'a'\nsite.time-zone = \"UTC\"\nadhesive = { traffic = \"24 h\" }\n".to_vec()),
        ("job", "override", format!("{site}[[limit]]\nid = \"air-min\"\nvalue = \"16 C\"\nreason = \"sheet\"\n").into_bytes()),
        ("job", "faults", b"[site]\nnme = \"x\"\narea = 12\n[wood]\nthickness = \"15\"\n[[room]]\nname = \"\"\n= 3\n".to_vec()),
    ]
}

fn words() -> Vec<Seed> {
    [
        ("fahrenheit", "75 F"),
        ("impossible", "999 C"),
        ("fraction", "1-1/2 in"),
        ("rate", "3 lb/1000 ft2/24 h"),
        ("resistance", "0.57 ft2hF/Btu"),
        ("humidity", "45 %RH"),
        ("span", "48 h"),
        ("pressure", "24.9 inHg"),
        ("minus", "\u{2212}0.5 \u{b0}C"),
        ("zone", "America/Denver"),
        ("offset", "UTC+05:30"),
        ("pattern", "%d %b %Y %H:%M"),
        ("column", "air=Temp 1[F]"),
        ("address", "tcp:[::1]:4000"),
        ("id", "70726f626543686b"),
    ]
    .map(|(name, text)| ("word", name, text.as_bytes().to_vec()))
    .to_vec()
}

fn records() -> Vec<Seed> {
    // A PDF with one file, as `fuzzing::record` builds it from its objects.
    let objects: [&[u8]; 5] = [
        b"<< /Type /Catalog /Pages 2 0 R /Names << /EmbeddedFiles << /Names [(record.json) 4 0 R] >> >> /AF [4 0 R] >>",
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 9 9] >>",
        b"<< /Type /Filespec /F (record.json) /UF (record.json) /EF << /F 5 0 R /UF 5 0 R >> >>",
        b"~{\"schema\": 1}",
    ];
    let built = |flags: u8| [&[1, flags], objects.join(&[0][..]).as_slice()].concat();
    let pdf = "%PDF-1.7\n1 0 obj\n<< /Type /Catalog /Pages 2 0 R >>\nendobj\n2 0 obj\n\
               << /Type /Pages /Kids [] /Count 0 >>\nendobj\ntrailer\n<< /Size 3 /Root 1 0 R >>\n";
    // File, place, byte: the key of the manifest's log, and a byte behind the end of a file.
    let changes = [&[2][..], &[3, 0, 200, b'0'], &[0, 0xFF, 0xFF, b' ']].concat();
    vec![
        ("record", "any", [&[0], pdf.as_bytes()].concat()),
        ("record", "built", built(0)),
        ("record", "packed", built(1)),
        ("record", "other-filter", built(0x13)),
        ("record", "changes", changes),
    ]
}
