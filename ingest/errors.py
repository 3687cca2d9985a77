"""The error tree: what can go wrong, sorted by what a person has to do about it.

::

    FlatfootError              exit status 2 unless a class says otherwise
    ├── UsageError             asked for something impossible        (ValueError)
    ├── FileProblem            a file is missing, damaged or wrong   (ValueError)
    ├── LinkError              the port or the board                 (OSError)
    │   ├── PortNotFound
    │   ├── PortBusy
    │   └── BoardSilent        nothing readable comes: exit status 1
    ├── StorageError           the disk is full or not writable      (OSError)
    └── CannotAnswer           the data cannot support the answer: exit status 1 (ValueError)

Every message is one line that names the value, what was allowed and what to do.
"""

from __future__ import annotations


class FlatfootError(Exception):
    """Root of everything flatfoot raises on purpose."""

    exit_status = 2


class UsageError(FlatfootError, ValueError):
    """The request itself is wrong."""


class FileProblem(FlatfootError, ValueError):
    """A file cannot be read, or what it says is not allowed."""


class LinkError(FlatfootError, OSError):
    """The serial port or the board on it."""


class PortNotFound(LinkError):
    """There is no such port."""


class PortBusy(LinkError):
    """Another program holds the port."""


class BoardSilent(LinkError):
    """The port is open, but nothing readable comes out of it."""

    exit_status = 1


class StorageError(FlatfootError, OSError):
    """The disk is full or cannot be written; what was recorded stays."""


class CannotAnswer(FlatfootError, ValueError):
    """The data cannot support the answer; the message says why."""

    exit_status = 1
