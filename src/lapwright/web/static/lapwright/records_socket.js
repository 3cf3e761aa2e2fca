// Tells whoever asks what the server says of new records, over a socket that mends itself.

const WAITS_MS = [500, 1000, 2000, 4000, 8000]; // between attempts to connect

export function onRecords(told) {
  let attempts = 0;
  function connect() {
    const scheme = window.location.protocol === "https:" ? "wss" : "ws";
    const socket = new WebSocket(`${scheme}://${window.location.host}/live?records`);
    socket.addEventListener("message", (event) => {
      attempts = 0;
      told(JSON.parse(event.data));
    });
    socket.addEventListener("close", () => {
      const wait = WAITS_MS[Math.min(attempts, WAITS_MS.length - 1)];
      attempts += 1;
      window.setTimeout(connect, wait);
    });
  }
  connect();
}
