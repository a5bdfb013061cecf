"""What lies around the routes: ASGI steps, each of which adds one concern and knows nothing of the others.

`ordering.steps` gives them in order, outermost first::

    Headed        HEAD is GET without its body
    Recognised    learns what a request means, so that the same bytes are answered unread the next time
    Versioned     takes the version off the path
    GZip          compresses what is not compressed yet (Starlette's)
    Named         gives the request its identifier
    Observed      one line of log and the metrics
    Mended        a fault that nobody foresaw becomes a problem document
    CORS          web pages of the origins that are set (Starlette's)
    Warded        who tries tokens is slowed down
    Guarded       host, origin, token and scope
    Paced         so many requests a minute from one caller
    Bounded       size, nesting, and time to send
    Tagged        ETag, and 304 for what the client holds already
    Pinned        one edition of the graph from the first line of the request to the last
    Remembered    the same question is computed once

A step is a class with an ASGI `__call__`; what it finds out it leaves in ``scope["state"]``.
"""
