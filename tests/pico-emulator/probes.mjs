// The probes at the pins, bit by bit as their data sheets describe them (from memory).

const US = 1e3;

// CRC of 1-Wire: x^8 + x^5 + x^4 + 1, the lowest bit first.
const crc1Wire = (bytes) =>
  bytes.reduce((crc, byte) => {
    let c = crc ^ byte;
    for (let i = 0; i < 8; i++) c = c & 1 ? (c >> 1) ^ 0x8c : c >> 1;
    return c;
  }, 0);

// CRC of the air sensor's words: x^8 + x^5 + x^4 + 1 too, the highest bit first, from ones.
const crcWord = (bytes) =>
  bytes.reduce((crc, byte) => {
    let c = crc ^ byte;
    for (let i = 0; i < 8; i++) c = c & 0x80 ? ((c << 1) ^ 0x31) & 0xff : c << 1;
    return c;
  }, 0xff);

// A wire with a pull-up: low when the board or a probe pulls it down.
class Wire {
  constructor(chip, pin) {
    this.gpio = chip.gpio[pin];
    this.board = true;
    this.probe = true;
    this.level = true;
    this.gpio.setInputValue(true);
    this.gpio.addListener((state) => {
      this.board = state !== 0;
      this.update();
    });
  }

  pull(high) {
    this.probe = high;
    this.update();
  }

  update() {
    const level = this.board && this.probe;
    if (level === this.level) return;
    this.level = level;
    this.gpio.setInputValue(level);
    this.moved?.(level);
  }
}

// A temperature probe on 1-Wire. Holds each bit no longer than it must.
export class OneWireProbe {
  constructor(chip, pin, sixteenths) {
    this.chip = chip;
    this.wire = new Wire(chip, pin);
    this.sixteenths = sixteenths;
    this.scratchpad = [0x50, 0x05, 0x4b, 0x46, 0x7f, 0xff, 0x0c, 0x10];
    this.readyAt = 0;
    this.reset();
    this.alarms = [];
    let fell = 0;
    this.wire.moved = () => {};
    const { gpio } = this.wire;
    gpio.addListener((state) => {
      const now = chip.clock.nanos;
      if (state === 0) {
        fell = now;
        this.slotBegins();
      } else if (fell > 0) {
        this.slotEnds(now - fell);
        fell = 0;
      }
    });
  }

  after(nanos, action) {
    this.chip.clock.createAlarm(action).schedule(nanos);
  }

  reset() {
    this.heard = [];
    this.command = null;
    this.out = null;
  }

  slotBegins() {
    const bit = this.nextBit();
    if (bit === 0) {
      // The bit is there for 15 us from the edge, and not a moment longer.
      this.wire.pull(false);
      this.after(15 * US, () => this.wire.pull(true));
    }
  }

  nextBit() {
    if (this.command === 0x44) return this.chip.clock.nanos < this.readyAt ? 0 : 1;
    if (this.out === null) return null;
    const at = this.at++;
    return at < this.out.length * 8 ? (this.out[at >> 3] >> (at & 7)) & 1 : 1;
  }

  slotEnds(nanos) {
    if (nanos >= 480 * US) {
      this.reset();
      this.after(30 * US, () => this.wire.pull(false));
      this.after(150 * US, () => this.wire.pull(true));
    } else if (this.out === null && this.command !== 0x44) {
      this.hear(nanos < 15 * US ? 1 : 0);
    }
  }

  hear(bit) {
    this.heard.push(bit);
    if (this.heard.length % 8) return;
    const bytes = [];
    for (let i = 0; i < this.heard.length; i += 8) {
      bytes.push(this.heard.slice(i, i + 8).reduce((byte, b, n) => byte | (b << n), 0));
    }
    const [rom, command, high, low, settings] = bytes;
    if (rom !== 0xcc || command === undefined) return;
    if (command === 0x4e && bytes.length === 5) {
      this.scratchpad.splice(2, 3, high, low, settings);
    } else if (command === 0x44) {
      this.command = command;
      this.readyAt = this.chip.clock.nanos + 750e6;
      const raw = this.sixteenths & 0xffff;
      this.scratchpad.splice(0, 2, raw & 0xff, raw >> 8);
    } else if (command === 0xbe) {
      this.out = [...this.scratchpad, crc1Wire(this.scratchpad)];
      this.at = 0;
    }
  }
}

// The air sensor on I2C at 0x44, with the raw words of its line.
export class AirSensor {
  constructor(chip, sda, scl, rawT, rawRh) {
    this.data = new Wire(chip, sda);
    this.clock = new Wire(chip, scl);
    this.words = [rawT, rawRh].flatMap((raw) => {
      const word = [raw >> 8, raw & 0xff];
      return [...word, crcWord(word)];
    });
    this.state = 'idle';
    this.data.moved = (high) => {
      if (!this.clock.level || !this.data.probe) return;
      this.state = high ? 'idle' : 'address';
      this.bits = [];
    };
    this.clock.moved = (high) => (high ? this.rises() : this.falls());
  }

  rises() {
    if (this.state === 'idle') return;
    this.bits.push(this.data.level ? 1 : 0);
  }

  // Bits change while the clock is low: eight, then the acknowledgement.
  falls() {
    if (this.state === 'idle') return;
    const n = this.bits.length;
    const reading = this.state === 'read';
    if (n === 8 && !reading) {
      const byte = this.bits.reduce((b, bit) => (b << 1) | bit, 0);
      if (this.state === 'address') {
        this.mine = byte >> 1 === 0x44;
        this.next = byte & 1 ? 'read' : 'write';
      }
      if (this.mine) this.data.pull(false);
      return;
    }
    if (n === 9) {
      if (this.state === 'address') {
        this.state = this.mine ? this.next : 'idle';
        this.at = 0;
      } else if (reading) {
        // Not acknowledged by the board: it has what it wants.
        if (this.bits[8] === 1) this.state = 'idle';
        this.at++;
      }
      this.bits = [];
      this.data.pull(true);
      if (this.state === 'read') this.show(0);
      return;
    }
    if (reading) {
      if (n === 8) this.data.pull(true);
      else this.show(n);
    }
  }

  show(n) {
    const byte = this.words[this.at] ?? 0xff;
    this.data.pull(((byte >> (7 - n)) & 1) === 1);
  }
}
