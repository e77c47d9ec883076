// The USB host: enumerates the board, and joins its serial line to a TCP port.

import net from 'node:net';
import { DataDirection, SetupRecipient, SetupType, USBCDC, createSetupPacket } from 'rp2040js';

const SET_CONTROL_LINE_STATE = 0x22;

// A board has so long to take up its address (USB 2.0, section 9.2.6.3). The emulator's own host asks
// again at once.
const RECOVERY_NANOS = 2e6;

export class Host {
  constructor(chip) {
    this.line = new USBCDC(chip.usbCtrl);
    this.usb = chip.usbCtrl;
    const setUp = this.usb.sendSetupPacket.bind(this.usb);
    this.usb.sendSetupPacket = (packet) => {
      chip.clock.createAlarm(() => setUp(packet)).schedule(RECOVERY_NANOS);
    };
    this.out = [];
    this.asked = new Map();
    this.client = null;
    this.setups = [];
    this.settingUp = false;
    const written = this.usb.onEndpointWrite;
    this.usb.onEndpointWrite = (endpoint, bytes) => {
      written(endpoint, bytes);
      if (endpoint === 0 && bytes.length === 0) {
        this.settingUp = false;
        this.nextSetup();
        this.feed();
      }
    };
    // The emulator's own answers a read that has nothing with an empty packet, again and again. A
    // host asks again and sends nothing.
    // The board asks at the reset already, before it has said which endpoint is for what.
    this.usb.onEndpointRead = (endpoint, size) => {
      this.asked.set(endpoint, size);
      this.feed();
    };
    this.line.onDeviceConnected = () => this.connected?.();
    this.line.onSerialData = (bytes) => this.client?.write(bytes);
  }

  feed() {
    const endpoint = this.line.outEndpoint;
    const size = this.asked.get(endpoint);
    // A port is open, or closed, before bytes go through it.
    if (size !== undefined && this.out.length > 0 && !this.settingUp) {
      this.asked.delete(endpoint);
      this.usb.endpointReadDone(endpoint, Uint8Array.from(this.out.splice(0, size)));
    }
  }

  // The emulator's own asks the device; the class standard (PSTN 1.2) wants the interface asked.
  setDtr(raised) {
    const packet = createSetupPacket({
      dataDirection: DataDirection.HostToDevice,
      type: SetupType.Class,
      recipient: SetupRecipient.Interface,
      bRequest: SET_CONTROL_LINE_STATE,
      wValue: raised ? 1 : 0,
      wIndex: 0,
      wLength: 0,
    });
    this.setups.push(packet);
    this.nextSetup();
  }

  // One at a time, as on the bus: the next when the board has answered the one before.
  nextSetup() {
    if (!this.settingUp && this.setups.length > 0) {
      this.settingUp = true;
      this.usb.sendSetupPacket(this.setups.shift());
    }
  }

  listen(ready) {
    const server = net.createServer((client) => {
      // A serial port is open once at a time.
      if (this.client) this.client.once('close', () => this.open(client));
      else this.open(client);
    });
    server.listen(0, '127.0.0.1', () => ready(server.address().port));
  }

  open(client) {
    this.client = client;
    client.setNoDelay(true);
    this.setDtr(true);
    client.on('data', (bytes) => {
      this.out.push(...bytes);
      this.feed();
    });
    client.on('error', () => {});
    client.on('close', () => {
      this.client = null;
      this.out = [];
      this.setDtr(false);
    });
  }
}
