"""An application behind a socket, for programs that ask over HTTP."""

from __future__ import annotations

import threading
from contextlib import contextmanager

from werkzeug.serving import make_server


@contextmanager
def served(application):
    """Serve an application on a free port of this machine; gives its address."""
    server = make_server("127.0.0.1", 0, application, threaded=True)
    thread = threading.Thread(target=server.serve_forever, args=(0.02,))
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
