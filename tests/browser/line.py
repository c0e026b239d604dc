"""A line between browser and server that can be cut and mended: no signal, as in a basement."""

import socket
import threading
from contextlib import suppress


class Line:
    """Passes bytes both ways; while it is cut nobody gets through, and who was through is off."""

    def __init__(self, *, port: int) -> None:
        self._server = port
        self._ends: set[socket.socket] = set()
        self._lock = threading.Lock()
        self.port = 0
        self._door: socket.socket | None = None
        self.mend()

    def mend(self) -> None:
        """Opens the line, always at the same port."""
        door = socket.socket()
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        door.bind(("127.0.0.1", self.port))
        door.listen(64)
        self.port = door.getsockname()[1]
        self._door = door
        threading.Thread(target=self._welcome, args=(door,), daemon=True).start()

    def cut(self) -> None:
        """Closes the door and drops whoever is talking."""
        if self._door is not None:
            with suppress(OSError):
                self._door.shutdown(socket.SHUT_RDWR)
            self._door.close()
            self._door = None
        with self._lock:
            ends, self._ends = self._ends, set()
        for end in ends:
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()

    def _welcome(self, door: socket.socket) -> None:
        while True:
            try:
                caller, _ = door.accept()
                server = socket.create_connection(("127.0.0.1", self._server), timeout=10)
            except OSError:
                return
            server.settimeout(None)
            with self._lock:
                self._ends |= {caller, server}
            for one, other in ((caller, server), (server, caller)):
                threading.Thread(target=self._pass, args=(one, other), daemon=True).start()

    def _pass(self, one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError):
            while data := one.recv(65536):
                other.sendall(data)
        for end in (one, other):
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()
            with self._lock:
                self._ends.discard(end)
