"""One command a file, each with `add(commands)`; `bot.__main__` walks this folder."""
