//! The samples of `flash_budget`, as entries and as bytes.

use super::ID;
use glueday_tests::flash::Random;
use glueday_types::{CentiCelsius, CentiPercent, Cursor, Entry, Header, Sample};

/// Samples without an end: the data set again and again, 600 s apart.
pub(crate) struct Samples {
    air: Vec<(f64, f64)>,
    random: Random,
    slab_c: f64,
    count: u32,
    /// Packs them as the ring does.
    cursor: Cursor,
}

impl Samples {
    pub(crate) fn new() -> Self {
        let path =
            concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/intake/renovation-house-indoor-air.csv");
        let text = std::fs::read_to_string(path).expect("the data set");
        let air: Vec<(f64, f64)> = text
            .lines()
            .skip(1)
            .map(|line| {
                let mut fields = line.split(',').skip(1).map(|field| field.trim().parse().unwrap());
                (fields.next().unwrap(), fields.next().unwrap())
            })
            .collect();
        let slab_c = air[0].0 + 2.0;
        Self { air, random: Random(1), slab_c, count: 0, cursor: start() }
    }

    /// The next sample, and the body that the ring packs for it behind the one before.
    pub(crate) fn next(&mut self) -> (Entry, Vec<u8>) {
        let (air_c, rh_pct) = self.air[self.count as usize % self.air.len()];
        self.slab_c += (air_c + 2.0 - self.slab_c) / 72.0;
        let days = f64::from(self.count) / 144.0;
        let tau = std::f64::consts::TAU;
        let supply_c = 30.0 - 2.5 * (tau * days).sin() - 3.0 * (tau * days / 6.3).sin();
        let temperature = |celsius| Ok(CentiCelsius::from_celsius(celsius).unwrap());
        let entry = Entry::Sample(Sample {
            at_s: self.count * 600,
            slab: temperature(self.slab_c + 0.01 * self.random.gaussian()),
            air: temperature(air_c),
            air_rh: Ok(CentiPercent::from_percent(rh_pct).unwrap()),
            supply: temperature(supply_c + 0.15 * self.random.gaussian()),
        });
        self.count += 1;
        let packed = self.cursor.pack(&entry).unwrap_or_else(|_| {
            self.cursor = start();
            self.cursor.pack(&entry).unwrap()
        });
        self.cursor.advance(&entry, &packed);
        // Between the kind and the check of two bytes; the write unit of this cursor is one.
        (entry, packed[1..packed.len() - 2].to_vec())
    }
}

fn start() -> Cursor {
    Cursor::start(&Header {
        write_unit: 1,
        interval_s: 600,
        logger: ID,
        block: 0,
        boot: 1,
        first_entry: 0,
        previous: [0; 32],
    })
}

/// An entry that can be read by itself.
pub(crate) fn whole_body(entry: &Entry) -> Vec<u8> {
    let mut bytes = [0; 64];
    postcard::to_slice(entry, &mut bytes).unwrap().to_vec()
}
