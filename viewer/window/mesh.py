"""Flat shapes as triangles: corners (n, 2) in pixels and their colours (n, 4), 0..255; every three corners a triangle.

Edges of lines and disks fade over one pixel, so they are smooth without multisampling.
"""

from __future__ import annotations

import math

import numpy as np

FEATHER = 1.0  # pixels over which an edge fades
STRAIGHT, ROUNDS = 0.08, 5  # pixels a round
Mesh = tuple[np.ndarray, np.ndarray]


def _colours(count: int, colour) -> np.ndarray:
    full = np.array([*colour, 255][:4], dtype=np.uint8)
    return np.tile(full, (count, 1))


def rectangle(box, colour) -> Mesh:
    """A filled box."""
    x0, y0, x1, y1 = box.x, box.y, box.right, box.top
    corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y0), (x1, y1), (x0, y1)], dtype=np.float32)
    return corners, _colours(6, colour)


def frame(box, colour, width: float) -> Mesh:
    """The edge of a box, `width` pixels inside it."""
    from viewer.window.layout import Box

    w = width
    sides = (
        Box(box.x, box.y, box.width, w),
        Box(box.x, box.top - w, box.width, w),
        Box(box.x, box.y + w, w, box.height - 2 * w),
        Box(box.right - w, box.y + w, w, box.height - 2 * w),
    )
    return joined([rectangle(side, colour) for side in sides])


def polygon(points, colour) -> Mesh:
    """A filled convex polygon, corners (n, 2) in order."""
    p = np.asarray(points, dtype=np.float32)
    n = len(p)
    index = np.array([(0, i, i + 1) for i in range(1, n - 1)]).ravel()
    return p[index], _colours(len(index), colour)


def line(points, colour, width: float, dash: float = 0.0) -> Mesh:
    """A line through points (n, 2), `width` pixels wide, in dashes and gaps of `dash` pixels where that is not 0.

    It is broken where a point is not a number.
    """
    p = np.asarray(points, dtype=float)
    if len(p) < 2:
        return np.zeros((0, 2), np.float32), np.zeros((0, 4), np.uint8)
    a, b = p[:-1], p[1:]
    known = np.isfinite(a).all(1) & np.isfinite(b).all(1)
    a, b = a[known], b[known]
    if dash > 0.0:
        a, b = _dashes(a, b, dash)
    along = b - a
    length = np.hypot(along[:, 0], along[:, 1])
    a, b, along, length = (v[length > 1e-6] for v in (a, b, along, length))
    across = np.stack([-along[:, 1], along[:, 0]], 1) / length[:, None]
    reach = np.array(
        [-(width + FEATHER) / 2, -max(width - FEATHER, 0.0) / 2, max(width - FEATHER, 0.0) / 2, (width + FEATHER) / 2]
    )
    ends = np.stack([a, b], 1)[:, :, None] + (across[:, None] * reach[:, None])[:, None]  # (n, end, rail, 2)
    corners = ends.reshape(-1, 8, 2)[:, _QUADS].reshape(-1, 2)
    shades = np.tile(np.array([*colour, 255][:4], dtype=np.uint8), (len(_QUADS), 1))
    shades[_FADED, 3] = 0
    return corners.astype(np.float32), np.tile(shades, (len(a), 1))


# a segment's corners are numbered end * 4 + rail; three quads lie between its four rails, and the outer rails are clear
_QUADS = np.array([c for r in range(3) for c in (r, r + 4, r + 5, r, r + 5, r + 1)])
_FADED = np.isin(_QUADS % 4, (0, 3))


def _dashes(a: np.ndarray, b: np.ndarray, dash: float) -> tuple[np.ndarray, np.ndarray]:
    """The parts of segments a-b that are drawn when, along them all, dashes and gaps of `dash` follow each other."""
    length = np.hypot(*(b - a).T)
    end = np.cumsum(length)
    start = end - length
    if not len(end) or end[-1] <= 0.0:
        return a, b
    cuts = np.arange(dash, end[-1], dash)
    of = np.clip(np.searchsorted(end, cuts, side="left"), 0, len(a) - 1)
    segment = np.concatenate([np.arange(len(a)), of])
    at = np.concatenate([start, cuts])
    order = np.lexsort((at, segment))
    segment, at = segment[order], at[order]
    until = np.append(at[1:], end[-1])
    until = np.minimum(until, end[segment])
    drawn = (np.floor((at + until) / 2 / dash) % 2 == 0) & (until > at)
    segment, at, until = segment[drawn], at[drawn], until[drawn]
    unit = (b - a)[segment] / np.maximum(length[segment], 1e-9)[:, None]
    return a[segment] + unit * (at - start[segment])[:, None], a[segment] + unit * (until - start[segment])[:, None]


def disk(x: float, y: float, radius: float, colour) -> Mesh:
    """A filled circle."""
    count = max(16, int(radius) * 3)
    angle = np.linspace(0.0, 2.0 * math.pi, count + 1)
    way = np.stack([np.cos(angle), np.sin(angle)], 1)
    inner, outer = ((x, y) + r * way for r in (radius - FEATHER / 2, radius + FEATHER / 2))
    middle = np.broadcast_to((x, y), (count, 2))
    corners = np.stack(
        [middle, inner[:-1], inner[1:], inner[:-1], outer[:-1], outer[1:], inner[:-1], outer[1:], inner[1:]], 1
    )
    shades = _colours(9, colour)
    shades[[4, 5, 7], 3] = 0
    return corners.reshape(-1, 2).astype(np.float32), np.tile(shades, (count, 1))


def ring(x: float, y: float, radius: float, colour, width: float) -> Mesh:
    """A circle drawn `width` pixels wide; `radius` is that of the middle of the line."""
    count = max(16, int(radius + width) * 2)
    angle = np.linspace(0.0, 2.0 * math.pi, count + 1)
    return line(np.stack([x + radius * np.cos(angle), y + radius * np.sin(angle)], 1), colour, width)


def joined(meshes: list[Mesh]) -> Mesh:
    """Several as one."""
    if not meshes:
        return np.zeros((0, 2), np.float32), np.zeros((0, 4), np.uint8)
    return np.concatenate([m[0] for m in meshes]), np.concatenate([m[1] for m in meshes])


def thinned(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A line over pixels with fewer points that looks the same: the extremes of every column, and no point that lies on a
    straight piece within `STRAIGHT` pixels."""
    if len(x) > 2:
        column = np.floor(x).astype(int)
        starts = np.flatnonzero(np.diff(column, prepend=column[0] - 1))
        if len(x) > 3 * len(starts):
            x, y = _extremes(x, y, starts)
    for _ in range(ROUNDS):
        if len(x) < 3:
            break
        odd = np.arange(1, len(x) - 1, 2)
        share = (x[odd] - x[odd - 1]) / np.maximum(x[odd + 1] - x[odd - 1], 1e-9)
        off = np.abs(y[odd] - y[odd - 1] - share * (y[odd + 1] - y[odd - 1]))
        keep = np.ones(len(x), dtype=bool)
        keep[odd[off < STRAIGHT]] = False  # a missing value is never off by less, so breaks stay
        x, y = x[keep], y[keep]
    return x, y


def _extremes(x: np.ndarray, y: np.ndarray, starts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Both ends, and the lowest and highest point of every part that begins at `starts`."""
    keep = {0, len(x) - 1}
    for begin, stop in zip(starts, [*starts[1:], len(x)]):
        part = y[begin:stop]
        if np.isfinite(part).all():
            keep.update((begin + int(part.argmin()), begin + int(part.argmax())))
        else:
            keep.update(range(begin, stop))
    index = np.array(sorted(keep))
    return x[index], y[index]
