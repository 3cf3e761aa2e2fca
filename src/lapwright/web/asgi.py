"""The application that uvicorn serves: pages over HTTP, and the socket that keeps them up.

`app.start(settings)` must have run in this process; `lapwright serve` does that before it hands over.
"""

from __future__ import annotations

import gc
import warnings

from channels.routing import ProtocolTypeRouter, URLRouter
from channels.security.websocket import AllowedHostsOriginValidator
from django.core.asgi import get_asgi_application
from django.urls import path

from lapwright.app import wiring
from lapwright.web import warming
from lapwright.web.sockets import LiveSocket

# Files are read in a worker thread; Django warns of that for every process although it is meant.
warnings.filterwarnings("ignore", message="StreamingHttpResponse must consume synchronous iterators", category=Warning)

# What the start left stays. Sets of readings are kept in a great many pieces; looking for rings among all of them would
# hold up a page by a second now and then, so it is done seldom, among few at a time, and once for each that is kept.
gc.freeze()
gc.set_threshold(20_000, 5, 100)


def _settle(phase: str, about: dict[str, int]) -> None:
    """What was looked through as a whole and is still there stays, too."""
    if phase == "stop" and about["generation"] == 2:
        gc.freeze()


gc.callbacks.append(_settle)

#: Makes ready what the first answers want, where pages are served.
MADE_READY = warming.begin() if wiring.is_serving() else None

SOCKETS = [path("live", LiveSocket.as_asgi())]

application = ProtocolTypeRouter(
    {
        "http": get_asgi_application(),
        "websocket": AllowedHostsOriginValidator(URLRouter(SOCKETS)),
    }
)
