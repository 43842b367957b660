"""Which one word is said of a program: what was found about it, put together."""
