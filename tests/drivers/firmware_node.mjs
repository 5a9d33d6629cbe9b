// Real MicroPython, built for WebAssembly, with the board's own line.py on it.
//   node firmware_node.mjs MICROPYTHON LINE STORY            the story; prints "MS HEX" a line
//   node firmware_node.mjs MICROPYTHON LINE STORY live       an adapter on stdin and stdout, in real time
//   node firmware_node.mjs MICROPYTHON LINE STORY board      main.py and board.py on a machine module of numbers
import fs from "node:fs";
import { pathToFileURL } from "node:url";

const [micropython, line, story, live] = process.argv.slice(2);
const { loadMicroPython } = await import(pathToFileURL(micropython));
const mp = await loadMicroPython({
  heapsize: 192 * 1024, // about what the board has left
  linebuffer: false,
  stdout: (bytes) => fs.writeSync(1, bytes),
});
mp.FS.writeFile("/line.py", fs.readFileSync(line, "utf8"));
mp.FS.writeFile("/firmware_story.py", fs.readFileSync(story, "utf8"));
mp.runPython("import sys; sys.path.append('/'); import line, firmware_story");

if (live === "board") {
  const here = new URL(".", import.meta.url).pathname;
  const files = new URL(".", pathToFileURL(line)).pathname;
  for (const name of ["board.py", "main.py"]) mp.FS.writeFile("/" + name, fs.readFileSync(files + name, "utf8"));
  mp.FS.writeFile("/machine.py", fs.readFileSync(here + "firmware_machine.py", "utf8"));
  mp.runPython(`
import machine, time
class Module: pass
sys.modules["select"] = machine
fake = Module(); fake.ticks_ms = machine.ticks_ms; fake.ticks_add = machine.ticks_add
sys.modules["time"] = fake
tiny = Module(); tiny.alloc_emergency_exception_buf = lambda n: None; tiny.kbd_intr = lambda n: None
sys.modules["micropython"] = tiny
out = Module(); out.buffer = Module(); out.buffer.write = lambda data: print(data.decode(), end="")
usb = Module(); usb.stdout = out; usb.stdin = None
sys.modules["sys"] = usb
try:
    import main
except machine.Done:
    pass
for n, pin in sorted(machine.Pin.made.items()):
    print("pin", n, pin.pull == machine.Pin.PULL_UP, pin.trigger, pin.hard)
`);
} else if (!live) {
  mp.runPython("for ms, data in firmware_story.story(line): print(ms, data.hex())");
} else {
  mp.runPython(`
import time
period = time.ticks_add(0, -1) + 1
closed = [False] * 3
def pin(k):
    return lambda: closed[k]
adapter = line.Adapter("north", [pin(k) for k in range(3)], 1, [lambda: 2055],
    lambda data: print(data.decode(), end=""), time.ticks_ms(), period)
def contact(k, now):
    closed[k] = now
    adapter.levels[k].moved(time.ticks_ms())
def step():
    adapter.step(time.ticks_ms())
`);
  const step = mp.globals.get("step");
  const hear = (data) => mp.runPython(`adapter.hear(bytes.fromhex("${data.toString("hex")}"))`);
  process.stdin.on("data", hear);
  process.stdin.on("error", () => process.exit(0)); // the line was closed
  const began = Date.now();
  let pulses = 0;
  let closed = false;
  setInterval(() => {
    const ms = Date.now() - began;
    if (ms >= 1000 && !closed) {
      closed = true;
      mp.runPython("contact(0, True)");
    }
    if (ms >= 42 * (pulses + 1)) {
      pulses += 1;
      mp.runPython("adapter.counters[0].pulse(time.ticks_ms())");
    }
    step();
  }, 1);
}
