"""Writing a file so that it holds either all of the former content or all of the new, at every moment.

Writes beside, makes sure of the disk, renames. Knows nothing of what it writes.
"""

import contextlib
import errno
import os
import stat
from pathlib import Path

_REASONS: dict[int, tuple[str, str]] = {
    errno.ENOSPC: ("the disk is full", "Make room, or save on another disk."),
    errno.EDQUOT: ("your disk quota is full", "Make room, or save on another disk."),
    errno.EROFS: ("the disk can only be read", "Save on another disk."),
    errno.EACCES: ("you may not write here", "Save in another folder, or ask for the right to write."),
    errno.EPERM: ("you may not write here", "Save in another folder, or ask for the right to write."),
    errno.ENOENT: ("there is no such folder", "Make the folder first, or save in another."),
    errno.ENOTDIR: ("a part of its path is not a folder", "Save in another folder."),
    errno.EISDIR: ("this is a folder", "Name a file in it."),
    errno.ENAMETOOLONG: ("the name is too long", "Choose a shorter one."),
    errno.ELOOP: ("the links lead in a circle", "Save under another name."),
    errno.EIO: ("the disk reports an error", "Save on another disk at once."),
}


class SaveError(Exception):
    """A file that could not be written; whatever stood there before is untouched.

    As text it says to a person what failed, that the former file is as it was, and what to do.
    """

    def __init__(self, path: str | os.PathLike[str], reason: str, advice: str) -> None:
        self.path, self.reason, self.advice = os.fspath(path), reason, advice
        kept = "The file on disk is as it was." if _exists(path) else "Nothing was written."
        super().__init__(f"{self.path} is not saved: {reason}. {kept} {advice}")


def write(path: str | os.PathLike[str], content: bytes, like: Path | None = None) -> None:
    """Put `content` in the file of that name, or leave it wholly as it was.

    Keeps the file's mode and, as far as allowed, its owner; a new file takes those of `like`, where given.
    Writes through a symbolic link to its target. Raises SaveError.
    """
    try:
        target = Path(os.path.realpath(path))
        former = _former(target) or (like.stat() if like else None)
        temporary = _written_beside(target, content, former)
        try:
            os.replace(temporary, target)
        except BaseException:
            _remove(temporary)
            raise
    except (OSError, ValueError) as error:
        raise save_error(path, error) from None
    _settle(target.parent)


def save_error(path: str | os.PathLike[str], error: OSError | ValueError) -> SaveError:
    """The SaveError for what the system reported."""
    number = error.errno if isinstance(error, OSError) else None
    told = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    reason, advice = _REASONS.get(number or 0, (told, "Save under another name or in another folder."))
    return SaveError(path, reason, advice)


def _exists(path: str | os.PathLike[str]) -> bool:
    try:
        return os.path.isfile(path)
    except ValueError:
        return False


def _former(target: Path) -> os.stat_result | None:
    """What is known of the file to be replaced, None where there is none. Raises OSError where it must stay."""
    try:
        former = target.stat()
    except FileNotFoundError:
        return None
    if stat.S_ISDIR(former.st_mode):
        raise IsADirectoryError(errno.EISDIR, "")
    if not stat.S_ISREG(former.st_mode):
        raise ValueError("this is a device, not a file")
    if not os.access(target, os.W_OK):  # a rename would go through all the same
        raise PermissionError(errno.EACCES, "")
    return former


def _written_beside(target: Path, content: bytes, former: os.stat_result | None) -> Path:
    """A new file in the same folder with that content, safe on the disk. Raises OSError and leaves none."""
    temporary = target.parent / f".rackwright-{os.getpid()}-{os.urandom(4).hex()}.tmp"
    handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o666)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            if former is not None:
                _dress(file.fileno(), former)
            os.fsync(file.fileno())
    except BaseException:
        _remove(temporary)
        raise
    return temporary


def _dress(handle: int, former: os.stat_result) -> None:
    """Give the new file the owner and the mode of the former."""
    if (os.geteuid(), os.getegid()) != (former.st_uid, former.st_gid):
        with contextlib.suppress(OSError):  # only root may give a file away
            os.fchown(handle, former.st_uid, former.st_gid)
    os.fchmod(handle, stat.S_IMODE(former.st_mode))


def _remove(path: Path) -> None:
    with contextlib.suppress(OSError):
        path.unlink()


def _settle(folder: Path) -> None:
    """Make the rename itself safe on the disk.

    Where the folder can't be asked to, a power cut may still bring back the former file, whole.
    """
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
