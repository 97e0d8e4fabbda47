"""Two receivers on loopback: one takes webhooks, one takes mail; both keep what came."""

import contextlib
import http.server
import json
import socketserver
import threading


@contextlib.contextmanager
def webhook(answers=(200,)):
    """An address that takes JSON; each post gets the next of some answers, the last for ever."""
    came, left = [], list(answers)

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_POST(self):
            body = self.rfile.read(int(self.headers["content-length"]))
            status = left.pop(0) if len(left) > 1 else left[0]
            if status == 200:
                came.append(json.loads(body))
            self.send_response(status)
            self.end_headers()

        def log_message(self, *_):
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"json://127.0.0.1:{server.server_port}/", came
    finally:
        server.shutdown()
        server.server_close()


@contextlib.contextmanager
def mailbox():
    """An address that takes mail by the few words of SMTP that a sender needs."""
    came = []

    class Handler(socketserver.StreamRequestHandler):
        def say(self, text):
            self.wfile.write(text.encode() + b"\r\n")

        def handle(self):
            self.say("220 here")
            while line := self.rfile.readline():
                word = line[:4].upper()
                if word == b"DATA":
                    self.say("354 go on")
                    lines = []
                    while (text := self.rfile.readline()) not in (b".\r\n", b""):
                        lines.append(text)
                    came.append(b"".join(lines))
                    self.say("250 taken")
                elif word == b"QUIT":
                    self.say("221 bye")
                    return
                else:
                    self.say("250 well")

    class Server(socketserver.ThreadingTCPServer):
        allow_reuse_address = True
        daemon_threads = True

    server = Server(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield (
            f"mailto://127.0.0.1:{server.server_address[1]}/?from=hall@example.org&to=duty@example.org",
            came,
        )
    finally:
        server.shutdown()
        server.server_close()
