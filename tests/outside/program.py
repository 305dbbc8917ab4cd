"""Runs the `guardrow` binary as a person or a script would, and talks to its server on loopback."""

import json
import os
import re
import subprocess
import urllib.error
import urllib.request
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

BINARY = Path(os.environ.get("GUARDROW", Path(__file__).parents[2] / "target/debug/guardrow")).resolve()
# A debug build on two busy cores; nothing below takes a tenth of it on its own.
PATIENCE_S = 240


@dataclass
class Answer:
    code: int
    out: str
    err: str

    def json(self):
        return json.loads(self.out)

    def error(self):
        """The one JSON object that a command with --json puts on standard error."""
        return json.loads(self.err)["error"]


def run(*arguments, environment=None):
    """Runs a command to its end, whatever its exit code."""
    done = subprocess.run(
        [str(BINARY), *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        stdin=subprocess.DEVNULL,
        env={**os.environ, **(environment or {})},
    )
    assert "panicked" not in done.stderr, done.stderr
    return Answer(done.returncode, done.stdout, done.stderr)


def run_well(*arguments):
    """Runs a command that has to succeed."""
    answer = run(*arguments)
    assert answer.code == 0, f"guardrow {' '.join(map(str, arguments))}: exit {answer.code}\n{answer.err}"
    return answer


@dataclass
class Refusal(Exception):
    """An answer of the server that is no success."""

    status: int
    error: dict


@dataclass
class Server:
    url: str

    def ask(self, method, path, body=None):
        request = urllib.request.Request(self.url + path, method=method)
        if body is not None:
            request.data = json.dumps(body).encode()
            request.add_header("content-type", "application/json")
        if method != "GET":
            request.add_header("x-guardrow", "1")
        try:
            with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
                return json.loads(answer.read())
        except urllib.error.HTTPError as refused:
            raise Refusal(refused.code, json.loads(refused.read())["error"]) from None

    def get(self, path):
        return self.ask("GET", path)

    def post(self, path, body):
        return self.ask("POST", path, body)

    def put(self, path, body):
        return self.ask("PUT", path, body)


@contextmanager
def served(station):
    """Serves a station on a free port of this machine until the block ends."""
    process = subprocess.Popen(
        [str(BINARY), "serve", str(station), "--port", "0"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        line = process.stdout.readline()
        address = re.search(r"http://\S+", line)
        assert address, f"the server did not say where it listens: {line!r} {process.stderr.read() if process.poll() is not None else ''}"
        url = address.group(0).rstrip("/.")
        assert re.match(r"http://(127\.0\.0\.1|localhost):\d+$", url), url
        yield Server(url)
    finally:
        process.terminate()
        try:
            process.wait(timeout=30)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        process.stdout.close()
        process.stderr.close()
