"""The page: the whole job in a browser on the user's own machine. It asks the other rooms and computes nothing of its own."""

from steadyrest.page.server import serve

__all__ = ["serve"]
