//! Register models of I2C sensors. What they know of their sensors is from memory of the data sheets.

use super::target::Registers;

/// A sensor of humidity: command 0xFD measures for 8.3 ms at most, then six bytes are ready. Before
/// that it does not acknowledge.
#[derive(Clone, Debug)]
pub struct HumiditySensor {
    /// The temperature word: -45 °C + 175 °C of full scale.
    pub temperature: u16,
    /// The humidity word: -6 % + 125 % of full scale.
    pub humidity: u16,
    ready_at_ns: Option<u64>,
    answer: Vec<u8>,
}

impl HumiditySensor {
    /// One whose words are these.
    #[must_use]
    pub fn new(temperature: u16, humidity: u16) -> Self {
        Self { temperature, humidity, ready_at_ns: None, answer: Vec::new() }
    }
}

/// The CRC-8 of its words: polynomial 0x31, start 0xFF.
#[must_use]
pub fn word_crc(word: u16) -> u8 {
    word.to_be_bytes().iter().fold(0xFF, |crc, byte| {
        (0..8).fold(crc ^ byte, |crc, _| if crc & 0x80 == 0 { crc << 1 } else { crc << 1 ^ 0x31 })
    })
}

impl Registers for HumiditySensor {
    fn begin(&mut self, now_ns: u64, reads: bool) -> bool {
        !reads || self.ready_at_ns.is_some_and(|ready_at_ns| ready_at_ns <= now_ns)
    }

    fn receive(&mut self, now_ns: u64, byte: u8) -> bool {
        if byte != 0xFD {
            return false;
        }
        self.ready_at_ns = Some(now_ns + 8_300_000);
        self.answer = [self.temperature, self.humidity]
            .iter()
            .flat_map(|word| word.to_be_bytes().into_iter().chain([word_crc(*word)]))
            .collect();
        true
    }

    fn send(&mut self, _now_ns: u64) -> u8 {
        if self.answer.is_empty() { 0xFF } else { self.answer.remove(0) }
    }

    fn power_up(&mut self, _now_ns: u64) {
        (self.ready_at_ns, self.answer) = (None, Vec::new());
    }
}

/// A sensor of temperature with a pointer, a temperature and a configuration register. With
/// `twelve_bits` it obeys the bits of resolution, otherwise it has 9 bits only.
#[derive(Clone, Debug)]
pub struct TemperatureSensor {
    /// In 1/16 °C.
    pub sixteenths: i16,
    /// Whether it can do more than 9 bits.
    pub twelve_bits: bool,
    /// The configuration register.
    pub configuration: u8,
    pointer: u8,
    position: usize,
    powered_at_ns: u64,
}

impl TemperatureSensor {
    /// One that reads `sixteenths`.
    #[must_use]
    pub fn new(sixteenths: i16, twelve_bits: bool) -> Self {
        Self {
            sixteenths,
            twelve_bits,
            configuration: 0,
            pointer: 0,
            position: 0,
            powered_at_ns: 0,
        }
    }

    fn register(&self, now_ns: u64) -> [u8; 2] {
        if self.pointer == 1 {
            return [self.configuration; 2];
        }
        let bits = if self.twelve_bits { 9 + (self.configuration >> 5 & 3) } else { 9 };
        let conversion_ns = 300_000_000 >> (12 - bits);
        if now_ns < self.powered_at_ns + conversion_ns {
            // Not measured yet.
            return [0; 2];
        }
        let mask = u16::MAX << (16 - bits);
        ((self.sixteenths << 4).cast_unsigned() & mask).to_be_bytes()
    }
}

impl Registers for TemperatureSensor {
    fn begin(&mut self, _now_ns: u64, _reads: bool) -> bool {
        self.position = 0;
        true
    }

    fn receive(&mut self, _now_ns: u64, byte: u8) -> bool {
        match (self.position, self.pointer) {
            (0, _) => self.pointer = byte & 3,
            (1, 1) => self.configuration = byte,
            _ => {}
        }
        self.position += 1;
        true
    }

    fn send(&mut self, now_ns: u64) -> u8 {
        let byte = self.register(now_ns)[self.position % 2];
        self.position += 1;
        byte
    }

    fn power_up(&mut self, now_ns: u64) {
        (self.configuration, self.pointer, self.powered_at_ns) = (0, 0, now_ns);
    }
}

/// Sends the same bytes again and again, and takes all it is sent.
#[derive(Clone, Debug)]
pub struct Memory {
    /// What it sends.
    pub sends: Vec<u8>,
    /// What it received.
    pub received: Vec<u8>,
    position: usize,
}

impl Memory {
    /// One that sends `sends`.
    #[must_use]
    pub fn new(sends: &[u8]) -> Self {
        Self { sends: sends.to_vec(), received: Vec::new(), position: 0 }
    }
}

impl Registers for Memory {
    fn begin(&mut self, _now_ns: u64, _reads: bool) -> bool {
        self.position = 0;
        true
    }

    fn receive(&mut self, _now_ns: u64, byte: u8) -> bool {
        self.received.push(byte);
        true
    }

    fn send(&mut self, _now_ns: u64) -> u8 {
        let byte = self.sends[self.position % self.sends.len()];
        self.position += 1;
        byte
    }

    fn power_up(&mut self, _now_ns: u64) {}
}
