"""The routes, one module a topic: parse, call, dump."""
