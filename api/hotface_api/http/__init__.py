"""The HTTP door: read a request, make one call, show the answer."""
