"""How kernels are compiled: one decorator, and a cache that is safe to keep.

The cache folder is keyed by the sources of every kernel and by the numba version,
because numba does not notice when a callee in another file has changed.  Where the
home folder cannot be written, a temporary folder of the user's own serves.
"""

from __future__ import annotations

import hashlib
import os
import pathlib
import platform
import tempfile

import numba

# Not "nnan" and "ninf": a diverging flight must show its NaN.
FASTMATH = {"contract", "reassoc", "nsz", "arcp", "afn"}


def _source_key() -> str:
    digest = hashlib.sha256(numba.__version__.encode())
    for path in sorted(pathlib.Path(__file__).parent.glob("*.py")):
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def cache_folder() -> pathlib.Path:
    """The folder that compiled kernels are kept in (made if need be)."""
    if os.name == "nt":
        base = pathlib.Path(os.environ.get("LOCALAPPDATA", tempfile.gettempdir()))
    elif platform.system() == "Darwin":
        base = pathlib.Path(os.path.expanduser("~")) / "Library" / "Caches"
    else:
        base = pathlib.Path(os.environ.get("XDG_CACHE_HOME") or os.path.join(os.path.expanduser("~"), ".cache"))
    for place in (lambda: base / "upline", _own_temporary_folder):
        folder = place() / f"kernels-{_source_key()}"
        try:
            folder.mkdir(parents=True, exist_ok=True)
            probe = folder / f".probe-{os.getpid()}"
            probe.touch()
            probe.unlink()
            return folder
        except OSError:
            continue
    return pathlib.Path(tempfile.mkdtemp(prefix="upline-"))


def _own_temporary_folder() -> pathlib.Path:
    """A folder among the temporary ones that belongs to this user alone: compiled code is loaded from it."""
    user = os.getuid() if hasattr(os, "getuid") else os.environ.get("USERNAME", "user")
    folder = pathlib.Path(tempfile.gettempdir()) / f"upline-{user}"
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        found = folder.lstat()
        if not hasattr(os, "getuid") or (found.st_uid == user and not found.st_mode & 0o077 and folder.is_dir()):
            return folder
    except OSError:
        pass
    return pathlib.Path(tempfile.mkdtemp(prefix="upline-"))


# Set on numba itself, not in the environment: somebody may have imported numba already, and kernels cached beside
# the sources would then go stale.
numba.config.CACHE_DIR = os.environ.get("NUMBA_CACHE_DIR") or str(cache_folder())

kernel = numba.njit(cache=True, nogil=True, error_model="numpy", fastmath=FASTMATH)

# For formulas called inside a strip loop: the loop becomes vector code only when they dissolve in it.
formula = numba.njit(cache=True, nogil=True, error_model="numpy", fastmath=FASTMATH, forceinline=True)
