// Runs the image of the RP2040 board: node board.mjs IMAGE.uf2 FLASH.bin
//
// Prints the TCP port that its serial line is joined to. FLASH.bin keeps the log between runs. Runs as
// fast as it can; with PACE=1 in the environment, in real time; with PROBES=1, with probes at the pins.

import fs from 'node:fs';
import { ConsoleLogger, LogLevel, Simulator } from 'rp2040js';
import { BootRom } from './rom.mjs';
import { Host } from './host.mjs';
import { AirSensor, OneWireProbe } from './probes.mjs';

const [image, kept] = process.argv.slice(2);
const LOG_FROM = 0x100000;
const NANOS_PER_CYCLE = 8;
const PACE = Number(process.env.PACE ?? 0);
const STEP_NANOS = 1e6;
const [SDA, SCL, SLAB, SUPPLY] = [4, 5, 6, 7];
const BUTTON = 9;
const VSYS = 3;

const fail = (what) => {
  const at = chip.core.PC >>> 0;
  console.error(`emulator: ${what}, at ${at.toString(16)}`);
  process.exit(1);
};

const chip = new Simulator().rp2040;
chip.logger = new ConsoleLogger(LogLevel.Error, false);
const rom = new BootRom(chip, fail);
const host = new Host(chip);

const blocks = fs.readFileSync(image);
for (let at = 0; at < blocks.length; at += 512) {
  const from = blocks.readUInt32LE(at + 12) - 0x10000000;
  chip.flash.set(blocks.subarray(at + 32, at + 288), from);
}
// A file of its own is what survives a power cut.
if (!fs.existsSync(kept)) fs.writeFileSync(kept, chip.flash.subarray(LOG_FROM, 2 * LOG_FROM));
chip.flash.set(fs.readFileSync(kept), LOG_FROM);
const file = fs.openSync(kept, 'r+');
rom.changed = (from, len) => fs.writeSync(file, chip.flash, from, len, from - LOG_FROM);

if (process.env.PROBES) {
  // Slab 21.5 C, supply 35.0625 C, air 25.00 C and 40.9 % (words of the sensor's line).
  new OneWireProbe(chip, SLAB, 344);
  new OneWireProbe(chip, SUPPLY, 561);
  new AirSensor(chip, SDA, SCL, 0x6666, 0x6000);
} else {
  for (const pin of [SDA, SCL, SLAB, SUPPLY]) {
    chip.gpio[pin].setInputValue(true);
    // 0 is driven low; all else is pulled up.
    chip.gpio[pin].addListener((state) => chip.gpio[pin].setInputValue(state !== 0));
  }
}
chip.gpio[BUTTON].setInputValue(true);
// 5.0 V / 3 of 3.3 V in 4096 steps.
chip.adc.channelValues[VSYS] = 2069;

// The second revision of the chip, B2: the emulator's own does not follow the workaround for the USB
// reset of the first.
const info = chip.peripherals[0x40000];
const readInfo = info.readUint32.bind(info);
info.readUint32 = (offset) => (offset === 0 ? 0x20002927 : readInfo(offset));

const watchdog = chip.peripherals[0x40058];
watchdog.onWatchdogTrigger = () => fail('the watchdog was let down or the image restarts itself');

// The emulator enters a handler although interrupts are masked; the real processor only wakes up.
const { core } = chip;
const isPending = () => (core.pendingInterrupts & core.enabledInterrupts) !== 0;
const check = core.checkForInterrupts.bind(core);
core.checkForInterrupts = () => (core.PM ? isPending() : check());

// Whoever started the board ends it by closing its input.
process.stdin.on('end', () => process.exit(0)).resume();

rom.boot();
const started = performance.now();
const run = () => {
  for (let i = 0; i < 200000; i++) {
    if (core.waiting && isPending()) core.waiting = false;
    if (core.waiting) {
      const nanos = chip.clock.nanosToNextAlarm;
      if (nanos === 0) fail('asleep for ever');
      // In real time, in short steps: what comes in meanwhile must not come after the next alarm.
      chip.clock.tick(PACE > 0 ? Math.min(nanos, STEP_NANOS) : nanos);
      i += PACE > 0 ? 200000 : 2000;
    } else {
      chip.clock.tick(core.executeInstruction() * NANOS_PER_CYCLE);
    }
  }
  // A board that somebody talks to keeps the time of whoever talks.
  const ahead = chip.clock.nanos / 1e6 - (performance.now() - started) * PACE;
  if (PACE > 0 && ahead > 0) setTimeout(run, ahead / PACE);
  else setImmediate(run);
};
host.connected = () => host.listen((port) => console.log(port));
run();
