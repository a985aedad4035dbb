"""Stand-in hosts on a real socket of this machine, for clients in processes of their own."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import httpx


@contextmanager
def served(
    answer: Callable[[httpx.Request], httpx.Response], *, below: str = "", seen_as: str = ""
) -> Iterator[str]:
    """Serves a stand-in while the block runs; gives the address.

    below    the part of a path that is taken off before the stand-in sees it
    seen_as  the address that the stand-in believes it has; its own where left out
    """
    lock = threading.Lock()
    faults: list[Exception] = []

    class Handler(BaseHTTPRequestHandler):
        def _answer(self) -> None:
            content = self.rfile.read(int(self.headers.get("content-length", 0)))
            asked = f"{seen_as or address}{self.path.removeprefix(below)}"
            headers = dict(self.headers.items())
            request = httpx.Request(self.command, asked, headers=headers, content=content)
            try:
                with lock:
                    response = answer(request)
            except Exception as error:
                faults.append(error)
                response = httpx.Response(400, json={"message": f"{type(error).__name__}: {error}"})
            self._send(response)

        def _send(self, response: httpx.Response) -> None:
            self.send_response(response.status_code)
            for name in ("content-type", "link", "retry-after"):
                if name in response.headers:
                    value = response.headers[name].replace(seen_as or address, address + below)
                    self.send_header(name, value)
            self.send_header("content-length", str(len(response.content)))
            self.end_headers()
            self.wfile.write(response.content)

        do_GET = do_POST = do_PATCH = do_PUT = do_DELETE = _answer  # noqa: N815  asked for so

        def log_message(self, *_: object) -> None:
            """Quiet."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    address = f"http://127.0.0.1:{server.server_port}"
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield address
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
    assert not faults, faults
