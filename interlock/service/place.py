"""Where a desk's files are, and the lock that says it runs.

A desk is known by its show file's resolved path, hashed because a socket's path ends at 104 bytes on
some systems. In a folder of this user's own lie, for each desk, ``<hash>.lock`` (held by the living
desk, by the system's own lock: a killed desk holds none), ``<hash>.sock`` and ``<hash>.log``. The lock
file's text says which show it is, so that ``attach`` can list the desks that run.
"""

from __future__ import annotations

import hashlib
import os
import stat
import tempfile
import threading
import warnings
from contextlib import suppress
from pathlib import Path

import msgspec
import platformdirs

from interlock.errors import DeskError, DeskRunning

LONGEST_SOCKET_PATH = 103
"""Bytes of a socket's path without its final zero, where the limit is least (104 on BSD and macOS, 108 on Linux)."""


class Who(msgspec.Struct, frozen=True):
    """What the lock file says of the desk that holds it."""

    show: str
    title: str = ""
    pid: int = 0
    rehearsal: bool = False
    given: dict[str, str] = {}
    """The options that it was started with, by name."""


def candidates() -> list[Path]:
    """The folders in which a desk's files may be, the first choice first.

    More than one, because what the system offers differs between a login and, say, ``su``; the second is always there.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # that it has to fall back is no matter of whoever starts a desk
        first = Path(platformdirs.user_runtime_dir("longlace", appauthor=False))
    own = os.getuid() if hasattr(os, "getuid") else os.environ.get("USERNAME", "user")
    second = Path(tempfile.gettempdir()) / f"longlace-{own}"
    return [p for p in (first, second) if len(os.fsencode(p)) + 32 <= LONGEST_SOCKET_PATH]


def runtime_dir() -> Path:
    """A folder that only this user can enter. Raises :class:`DeskError` if there is none to be had."""
    for folder in candidates():
        if _private(folder):
            return folder
    raise DeskError(
        f"there is no private folder for the desk's socket: none of {', '.join(map(str, candidates()))} is this "
        "user's alone; remove the last of them, or set XDG_RUNTIME_DIR"
    )


def _private(folder: Path) -> bool:
    """Make the folder if need be; true if it is this user's alone."""
    with suppress(OSError):
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return _is_private(folder)


def _is_private(folder: Path) -> bool:
    try:
        found = folder.lstat()  # not stat: a link could lead into somebody else's folder
    except OSError:
        return False
    if not stat.S_ISDIR(found.st_mode):
        return False
    if not hasattr(os, "getuid"):
        return True
    return found.st_uid == os.getuid() and not found.st_mode & 0o077


class Place:
    """The files of one desk."""

    def __init__(self, show_path: str | Path, *, rehearsal: bool = False, folder: Path | None = None) -> None:
        """A rehearsal has a place of its own, so that it never stands in the way of the show itself."""
        self.show_path = Path(show_path).resolve()
        self.rehearsal = rehearsal
        name = f"{'rehearsal' if rehearsal else 'watch'}\0{self.show_path}"
        self.key = hashlib.sha256(os.fsencode(name)).hexdigest()[:24]
        self.folder = folder if folder is not None else self._home()

    def _home(self) -> Path:
        """Where this desk runs already, else where it is to run."""
        held = [f for f in candidates() if _is_private(f) and _holder(f / f"{self.key}.lock") is not None]
        return held[0] if held else runtime_dir()

    @property
    def lock(self) -> Path:
        """Held while the desk lives."""
        return self.folder / f"{self.key}.lock"

    @property
    def socket(self) -> Path:
        """Where screens come in."""
        return self.folder / f"{self.key}.sock"

    @property
    def log(self) -> Path:
        """What the desk has to say that is for no screen."""
        return self.folder / f"{self.key}.log"

    def running(self) -> Who | None:
        """Who holds the lock now; None if nobody does."""
        return _holder(self.lock)


def desks(folder: Path | None = None) -> list[Who]:
    """Every desk of this user that runs, by its show's path."""
    folders = [folder] if folder is not None else [f for f in candidates() if _is_private(f)]
    locks = sorted(path for f in folders for path in f.glob("*.lock"))
    found = [who for path in locks if (who := _holder(path)) is not None]
    return sorted(found, key=lambda who: (who.show, who.rehearsal))


class Lock:
    """Held from :meth:`take` until :meth:`release`, or the end of the process."""

    def __init__(self, place: Place) -> None:
        self.place = place
        self._fd: int | None = None
        self._title = ""
        self.given: dict[str, str] = {}
        """The options that the desk was started with, for whoever asks for the same again."""

    def take(self, title: str = "") -> None:
        """Raises :class:`DeskRunning` if another desk holds it."""
        path = self.place.lock
        patience = 10
        while True:
            fd = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
            if not _try_lock(fd):
                os.close(fd)
                if patience:  # somebody may only be looking whether it is held, which holds it for an instant
                    patience -= 1
                    threading.Event().wait(0.02)
                    continue
                raise DeskRunning(
                    f"a {'rehearsal' if self.place.rehearsal else 'desk'} of {self.place.show_path} runs already; "
                    "`longlace attach` opens a screen on it"
                )
            # Between open and lock the one before may have removed the file: then we hold a lock that nobody sees.
            if _same_file(fd, path):
                break
            os.close(fd)
        self._fd = fd
        self.says(title)

    def says(self, title: str) -> None:
        """The show's title, for whoever lists the desks that run. Held."""
        assert self._fd is not None
        self._title = title
        who = Who(str(self.place.show_path), title, os.getpid(), self.place.rehearsal, self.given)
        os.ftruncate(self._fd, 0)
        os.pwrite(self._fd, msgspec.json.encode(who), 0)

    def again(self) -> None:
        """Take it again where it is looked for, after its file was taken away. Raises ``OSError``, :class:`DeskRunning`."""
        _private(self.place.folder)
        old, self._fd = self._fd, None
        try:
            self.take(self._title)
        except (OSError, DeskRunning):
            self._fd = old
            raise
        if old is not None:
            os.close(old)

    def stands(self) -> bool:
        """False if the lock's file was taken away from under us (a cleaned runtime folder): others do not see it then."""
        return self._fd is not None and _same_file(self._fd, self.place.lock)

    def release(self) -> None:
        """Remove the file, then let go of it."""
        if self._fd is None:
            return
        if self.stands():
            with suppress(OSError):
                self.place.lock.unlink()
        os.close(self._fd)
        self._fd = None


def _holder(path: Path) -> Who | None:
    try:
        fd = os.open(path, os.O_RDWR | os.O_CLOEXEC)
    except OSError:
        return None
    try:
        if _try_lock(fd):
            return None  # closing lets go of it again
        try:
            return msgspec.json.decode(os.pread(fd, 65_536, 0), type=Who)
        except msgspec.DecodeError:
            return Who(show="?")  # it has taken the lock this instant and not yet written who it is
    finally:
        os.close(fd)


def _same_file(fd: int, path: Path) -> bool:
    try:
        there = path.stat()
    except OSError:
        return False
    here = os.fstat(fd)
    return (here.st_dev, here.st_ino) == (there.st_dev, there.st_ino)


def _try_lock(fd: int) -> bool:
    """Take the file's lock if it is free; the system gives it up when the process ends, however it ends."""
    try:
        import fcntl  # noqa: PLC0415 - not on every system
    except ImportError:  # pragma: no cover - Windows
        import msvcrt  # noqa: PLC0415

        try:
            msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        except OSError:
            return False
        return True
    try:
        fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
