// A boot ROM in miniature: the functions that the image asks the real one for, found in the same way
// (RP2040 data sheet, section 2.8.3, from memory), each as a breakpoint that is carried out here.
//
// Flash rules are held: programs and erases start in RAM with interrupts masked, touch the log only,
// turn ones into zeros only, and nothing reads the flash before it is made readable again.

const FLASH = 0x10000000;
const LOG_FROM = 0x100000;
const LOG_END = 0x200000;
const PAGE_NANOS = 400e3;
const ERASE_NANOS = 400e6;

const STUBS_AT = 0x100;
const BX_LR = 0x4770;
const BKPT = 0xbe00;

export class BootRom {
  constructor(chip, fail) {
    this.chip = chip;
    this.fail = fail;
    this.readable = true;
    this.codes = ['', 'P3', 'R3', 'L3', 'T3', 'MS', 'S4', 'MC', 'C4', 'IF', 'EX', 'RE', 'RP', 'FC'];
    const rom = new Uint16Array(8192);
    rom[0x10 / 2] = 0x754d;
    rom[0x12 / 2] = 0x0301;
    rom[0x14 / 2] = 0x80;
    rom[0x16 / 2] = 0x90;
    rom[0x18 / 2] = STUBS_AT | 1;
    this.codes.forEach((_, i) => {
      rom[STUBS_AT / 2 + 2 * i] = BKPT | i;
      rom[STUBS_AT / 2 + 2 * i + 1] = BX_LR;
    });
    chip.loadBootrom(new Uint32Array(rom.buffer));
    chip.onBreak = (number) => this.call(number);
    this.watchReads();
    this.watchSsi();
  }

  // Does what the ROM does at power-on: the first 252 bytes of the flash into RAM, and on from there.
  boot() {
    const { chip } = this;
    const stage = chip.flash.slice(0, 256);
    chip.sram.set(stage, 0x41f00);
    chip.core.reset();
    chip.core.SP = 0x20041f00;
    chip.core.LR = 0;
    chip.core.PC = 0x20041f00;
    this.readable = false;
  }

  watchReads() {
    const { chip } = this;
    for (const name of ['readUint8', 'readUint16', 'readUint32']) {
      const read = chip[name].bind(chip);
      chip[name] = (address) => {
        if (!this.readable && address >= FLASH && address < 0x14000000) {
          this.fail(`flash read at ${address.toString(16)} while it is not readable`);
        }
        return read(address);
      };
    }
  }

  // The second stage of the boot ends with a mode byte in a register and the controller on.
  watchSsi() {
    const ssi = this.chip.peripherals[0x18000];
    const write = ssi.writeUint32.bind(ssi);
    let mode = 0;
    ssi.writeUint32 = (offset, value) => {
      if (offset === 0xf4) mode = value >>> 24;
      if (offset === 0x08) this.readable = value === 1 && mode === 0xa0;
      write(offset, value);
    };
  }

  call(number) {
    const { core, sram, flash } = this.chip;
    const [a, b, c] = core.registers;
    const code = this.codes[number];
    const answer = (value) => {
      core.registers[0] = value | 0;
    };
    if (number === 0) {
      const wanted = String.fromCharCode(b & 0xff, (b >> 8) & 0xff);
      const i = this.codes.indexOf(wanted);
      if (i < 1) this.fail(`the image asks for ROM function ${wanted}`);
      answer(STUBS_AT + 4 * i + 1);
      return;
    }
    switch (code) {
      case 'P3':
        answer([...Array(32).keys()].filter((i) => (a >>> i) & 1).length);
        return;
      case 'R3':
        answer([...Array(32).keys()].reduce((r, i) => r | (((a >>> i) & 1) << (31 - i)), 0));
        return;
      case 'L3':
        answer(Math.clz32(a));
        return;
      case 'T3':
        answer(a === 0 ? 32 : 31 - Math.clz32(a & -a));
        return;
      case 'MS':
      case 'S4':
        for (let i = 0; i < c >>> 0; i++) this.chip.writeUint8((a >>> 0) + i, b & 0xff);
        return;
      case 'MC':
      case 'C4':
        for (let i = 0; i < c >>> 0; i++) {
          this.chip.writeUint8((a >>> 0) + i, this.chip.readUint8((b >>> 0) + i));
        }
        return;
      case 'IF':
        return;
      case 'EX':
        this.mustRunFromRam(code);
        this.readable = false;
        return;
      case 'RE':
        this.mustRunFromRam(code);
        if (this.readable || c !== 0x10000) this.fail('an erase out of order');
        if (a % 4096 || b !== 4096 || a < LOG_FROM || a + b > LOG_END) {
          this.fail(`erase of ${b} at ${a.toString(16)}`);
        }
        flash.fill(0xff, a, a + b);
        this.changed(a, b);
        this.chip.clock.tick(ERASE_NANOS);
        return;
      case 'RP': {
        this.mustRunFromRam(code);
        const from = (b >>> 0) - 0x20000000;
        if (this.readable || from < 0 || from + c > sram.length) this.fail('a program out of order');
        if (a % 256 || c !== 256 || a < LOG_FROM || a + c > LOG_END) {
          this.fail(`program of ${c} at ${a.toString(16)}`);
        }
        for (let i = 0; i < c; i++) flash[a + i] &= sram[from + i];
        this.changed(a, c);
        this.chip.clock.tick(PAGE_NANOS);
        return;
      }
      case 'FC':
        return;
    }
    this.fail(`breakpoint ${number}`);
  }

  mustRunFromRam(code) {
    const { core } = this.chip;
    if (core.LR >>> 28 !== 2 || !core.PM) this.fail(`${code} called from ${core.LR.toString(16)}`);
  }
}
