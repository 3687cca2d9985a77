"""A terminal with one line that lives, and somebody typing below it."""

from __future__ import annotations

import os
import queue
import sys
import threading
from typing import TextIO

WIDTH = 79
SAVE, RESTORE, UP, CLEAR = "\x1b7", "\x1b8", "\x1b[1A", "\x1b[2K"
LISTEN_S = 0.2


class Screen:
    """Shows a live line where somebody can see it, and collects the lines typed.

    On a terminal that can move its cursor the live line stays above the line being typed; elsewhere it is
    written over and over in one place; into a file or pipe it is not written at all.
    """

    def __init__(self, source: TextIO | None = None, out: TextIO | None = None) -> None:
        self.prompt = ""
        self._source = source if source is not None else sys.stdin
        self._out = out if out is not None else sys.stdout
        self._typed: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._silent = False  # nobody types any more
        self._on_screen = self._out.isatty()
        self._moves_cursor = self._on_screen and can_move_cursor()
        self._begun = False

    def listen(self) -> None:
        """Begin to read what is typed."""
        # Reading a line blocks, so it has a thread of its own; it ends with the program.
        threading.Thread(target=self._read, name="keyboard", daemon=True).start()

    def lines(self) -> list[str]:
        """Give the lines typed since the last call."""
        typed = []
        while not self._typed.empty():
            line = self._typed.get()
            if line is None:
                self._silent = True
            else:
                typed.append(line.strip())
        return typed

    def ask(self, question: str) -> str | None:
        """Ask and wait for the answer; ``None`` where nobody can type."""
        if self._silent:
            return None
        self.say(question, end="" if self._on_screen else "\n")
        while True:
            try:
                line = self._typed.get(timeout=LISTEN_S)  # not for ever: Ctrl-C has to get through
            except queue.Empty:
                continue
            self._silent = line is None
            return None if line is None else line.strip()

    def show(self, line: str) -> None:
        """Show the live line as it is now."""
        if not self._on_screen:
            return
        line = line[:WIDTH]
        if not self._moves_cursor:
            self._write("\r" + line.ljust(WIDTH))
        elif not self._begun:
            self._write(f"{line}\n{self.prompt}")
        else:
            self._write(f"{SAVE}{UP}\r{CLEAR}{line}{RESTORE}")
        self._begun = True

    def say(self, text: str, *, end: str = "\n") -> None:
        """Print a line of its own; the live line is drawn anew below it."""
        if self._begun and self._moves_cursor:
            self._write(f"\r{CLEAR}")
        elif self._begun:
            self._write("\r" + " " * WIDTH + "\r")
        self._begun = False
        self._write(text + end)

    def leave(self) -> None:
        """Let the next line printed begin on a line of its own."""
        if self._begun:
            self._write("\n")
        self._begun = False

    def _write(self, text: str) -> None:
        self._out.write(text)
        self._out.flush()

    def _read(self) -> None:
        try:
            for line in self._source:
                self._typed.put(line)
        except (OSError, ValueError):
            pass  # nothing to type on: it goes on without
        self._typed.put(None)


def can_move_cursor() -> bool:
    """Say whether the terminal understands ECMA-48 control sequences; the old Windows one does not."""
    if os.name == "nt":
        return "WT_SESSION" in os.environ
    return os.environ.get("TERM", "dumb") != "dumb"
