// An empty station of its own for a walk, served on a free port of this machine.

import { execFileSync, spawn } from 'node:child_process';
import { resolve } from 'node:path';
import { createInterface } from 'node:readline';

const BINARY = resolve(process.env.GUARDROW ?? new URL('../../target/debug/guardrow', import.meta.url).pathname);

export function newStation(folder, name) {
  execFileSync(BINARY, ['new', folder, '--name', name], { stdio: ['ignore', 'ignore', 'inherit'] });
}

/** Serves the station until `close` is called. */
export async function serve(folder) {
  const process = spawn(BINARY, ['serve', folder, '--port', '0'], { stdio: ['ignore', 'pipe', 'inherit'] });
  const ended = new Promise((done) => process.once('exit', done));
  const lines = createInterface({ input: process.stdout });
  const url = await new Promise((found, failed) => {
    lines.on('line', (line) => {
      const address = /http:\/\/(127\.0\.0\.1|localhost):\d+/.exec(line);
      if (address) found(address[0]);
    });
    process.once('exit', (code) => failed(new Error(`the server ended with ${code} before it listened`)));
  });
  const close = async () => {
    process.kill('SIGTERM');
    await ended;
  };
  const get = async (path) => {
    const answer = await fetch(url + path);
    if (!answer.ok) throw new Error(`${path}: ${answer.status} ${await answer.text()}`);
    return answer.headers.get('content-type')?.includes('json') ? answer.json() : answer.arrayBuffer();
  };
  return { url, get, close };
}
