// A stream of server-sent events as node's own http gives it: every frame written to every viewer as it comes.
// node stream.mjs FRAMES MILLISECONDS. The first line answers the port, each later one publishes FRAMES frames so far apart.
import { createServer } from "node:http";
import { createInterface } from "node:readline";

const frames = Number(process.argv[2]);
const apart_ms = Number(process.argv[3]);
const viewers = new Set();
const server = createServer((request, response) => {
  response.writeHead(200, { "Content-Type": "text/event-stream" });
  response.flushHeaders();
  request.socket.setNoDelay(true);
  viewers.add(response);
  response.on("close", () => viewers.delete(response));
});
// The clock that C++ calls steady.
const now_s = () => Number(process.hrtime.bigint()) * 1e-9;
const pause = (ms) => new Promise((done) => setTimeout(done, ms));
let number = 0;

async function publish() {
  const began = now_s();
  for (let i = 1; i <= frames; ++i) {
    await pause(apart_ms);
    const channel = (mean) => ({ samples: 500, lowest: mean - 1, highest: mean + 1, mean });
    const text = `id: ${++number}\ndata: ${JSON.stringify({ channels: [channel(0.001), channel(5000)], event: "frame", from_s: now_s(), to_s: i })}\n\n`;
    for (const viewer of viewers) viewer.write(text);
  }
  return now_s() - began;
}

server.listen(0, "127.0.0.1", async () => {
  let begun = false;
  for await (const _ of createInterface({ input: process.stdin })) {
    console.log(begun ? `${await publish()} ${frames}` : `0 ${server.address().port}`);
    begun = true;
  }
  process.exit();
});
