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
from functools import cache

import numba
from llvmlite.binding import Linkage
from numba.core.codegen import CPUCodeLibrary
from numba.core.cpu import CPUTargetOptions
from numba.core.options import _mapping

# Not "nnan" and "ninf": a diverging flight must show its NaN.
FASTMATH = {"contract", "reassoc", "nsz", "arcp", "afn"}


@cache
def kernels_version() -> str:
    """A key of every source in this folder and of numba's version: the same key, the same numbers."""
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
        folder = place() / f"kernels-{kernels_version()}"
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


def _own_callees() -> None:
    """Make every compiled kernel call its own copies of the kernels that it calls.

    numba leaves such copies to the linker, which takes whichever was loaded first: then the last bits of a flight would
    depend on which kernels ran before it, and on whether they were compiled in this process or came from the cache.
    """
    finalize = CPUCodeLibrary._finalize_final_module

    def finalize_own(library):
        if library._shared_module is None:  # compiled here; what comes from the cache was treated so before it was kept
            library._finalized = True  # as `_get_module_for_linking` asks for
            library._shared_module = library._get_module_for_linking().clone()
            library._finalized = False
            for function in library._final_module.functions:
                if not function.is_declaration and function.linkage == Linkage.linkonce_odr:
                    function.linkage = "internal"
        finalize(library)

    CPUCodeLibrary._finalize_final_module = finalize_own


# Set on numba itself, not in the environment: somebody may have imported numba already, and kernels cached beside
# the sources would then go stale.
numba.config.CACHE_DIR = os.environ.get("NUMBA_CACHE_DIR") or str(cache_folder())

_own_callees()

# nobody takes a kernel's address from C: one wrapper less to compile for each
_OPTIONS = {"cache": True, "nogil": True, "error_model": "numpy", "fastmath": FASTMATH, "no_cfunc_wrapper": True}

kernel = numba.njit(**_OPTIONS)

# For formulas called inside a strip loop: the loop becomes vector code only when they dissolve in it.
formula = numba.njit(**_OPTIONS, forceinline=True)

# For a kernel with one caller that calls large ones itself: on its own it would be compiled once more, with all of them.
inlined = numba.njit(**_OPTIONS, inline="always")

# For a kernel whose arrays never overlap where it writes: its loops become vector code without looking first.
CPUTargetOptions.noalias = _mapping("noalias")
apart = numba.njit(**_OPTIONS, noalias=True)
