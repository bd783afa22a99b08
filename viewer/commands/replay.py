"""`upline replay`."""

from __future__ import annotations

import argparse

from models.errors import OptionError, Refused, UserError, nearest, quoted
from viewer.commands.shared import show

ABOUT = "a kept flight seen again, alone or with a second one laid over it: in a window, as a picture, as a movie"
EXAMPLES = [
    "upline fly stall --setup extreme --save my-stall",
    "upline replay my-stall",
    'upline replay my-stall --picture stall.png --at "8 s" --view tip',
    'upline replay mine yours --align "start of hands off" --movie both.mp4',
]
NOTES = """\
views: pilot (from the ground), chase (from behind), tip (from the left wing tip), top
to show or hide: path, second, stall, slipstream, forces, lines, shadow, propeller"""
MOVIES = (".mp4", ".gif")


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("records", metavar="RECORD", nargs="+", help="a folder written by upline fly --save; at most two")
    sub.add_argument("--view", metavar="VIEW", default="pilot", help="pilot (default), chase, tip or top")
    sub.add_argument(
        "--align",
        metavar="WHEN",
        help='the instant at which both flights are laid over each other: "start of PHASE", "end of PHASE", "3.2 s"'
        " (default: their starts)",
    )
    sub.add_argument("--show", metavar="NAME", action="append", default=[], help="show it as well; may be repeated")
    sub.add_argument("--hide", metavar="NAME", action="append", default=[], help="leave it out; may be repeated")
    sub.add_argument("--zoom", metavar="TIMES", help="nearer (over 1) or further off")
    sub.add_argument("--picture", metavar="FILE", help="a .png instead of the window; needs no screen")
    sub.add_argument(
        "--at", metavar="WHEN", help="the instant of the picture, or where the window begins (default: the start)"
    )
    sub.add_argument("--movie", metavar="FILE", help="an .mp4 or .gif instead of the window; needs no screen")
    sub.add_argument("--from", metavar="WHEN", dest="from_", help="where the movie begins (default: the start)")
    sub.add_argument("--to", metavar="WHEN", help="where it ends (default: the end)")
    sub.add_argument("--speed", metavar="TIMES", help="of the movie, 0.25 is slow motion (default 1)")
    sub.add_argument("--size", metavar="WIDTHxHEIGHT", help="of picture or movie, in pixels (default 1280x720)")


def run(options: argparse.Namespace) -> int:
    """Show the flights, or write the picture or the movie."""
    from models.options import Gathered, one_of
    from scenarios.playback import align, instant, load_playback
    from viewer.files import check_writable
    from viewer.scene.cameras import VIEWS
    from viewer.scene.offscreen import Look

    if len(options.records) > 2:
        raise OptionError(
            "replay", Refused(f"{len(options.records)} records", "one record, or two to lay over each other")
        )
    gathered = Gathered()
    read = gathered.read
    view = read(one_of, "--view", options.view, list(VIEWS))
    size = read(_size, options.size)
    speed = read(_times, "--speed", options.speed)
    zoom = read(_times, "--zoom", options.zoom)
    switches = read(_switches, options.show, options.hide)
    picture = read(check_writable, "--picture", options.picture, (".png",)) if options.picture is not None else None
    movie = read(check_writable, "--movie", options.movie, MOVIES) if options.movie is not None else None
    read(_fitting, options)
    flights = [read(load_playback, folder) for folder in options.records]
    gathered.check()
    flight, ghost = flights[0], flights[1] if len(flights) > 1 else None
    laid = read(align, flight, ghost, options.align) if ghost is not None else None
    at = read(instant, flight, options.at, "--at") if options.at is not None else flight.start
    start = read(instant, flight, options.from_, "--from") if options.from_ is not None else flight.start
    end = read(instant, flight, options.to, "--to") if options.to is not None else flight.end
    gathered.check()
    if end <= start:
        raise OptionError("--to", Refused(f"{end:.2f} s", f"a time after {start:.2f} s, where the movie begins"))
    look = Look(view, switches, size, zoom)
    if picture is None and movie is None:
        return _window(flight, ghost, laid, look, at)
    written = _without_screen(flight, ghost, laid, look, picture, at, movie, (start, end, speed))
    document = {
        "flight": flight.title,
        "second flight": ghost.title if ghost else None,
        "second flight's time less the first's, s": laid.time if laid else None,
        "view": view,
        "written": written,
    }
    show("written: " + ", ".join(written), document, options.json, advice=False)
    return 0


def _without_screen(flight, ghost, laid, look, picture, at, movie, span) -> list[str]:
    from viewer.files import write_picture, write_whole
    from viewer.scene import offscreen
    from viewer.text import Progress

    progress = Progress()
    written = []
    what = "--picture" if movie is None else "--movie"
    start, end, speed = span
    mp4 = movie is not None and movie.suffix.lower() == ".mp4"
    times = offscreen.movie_times(start, end, speed, offscreen.MOVIE_RATE if mp4 else offscreen.GIF_RATE)
    if movie is not None and len(times) > offscreen.MOST_PICTURES:
        allowed = f"at most {offscreen.MOST_PICTURES}"
        raise OptionError(what, Refused(f"{len(times)} pictures", allowed, "a shorter part, or a greater --speed"))
    offscreen.pillow()
    with offscreen.Studio(flight, ghost, laid, look, what) as studio:
        if picture is not None:
            write_picture("--picture", picture, lambda file, _: offscreen.write_png(studio, at, file))
            written.append(str(picture))
        if movie is not None:
            write = offscreen.write_mp4 if mp4 else offscreen.write_gif

            def note(n: int) -> None:
                progress.note(f"picture {n + 1} of {len(times)}")

            write_whole("--movie", movie, lambda file: write(studio, times, file, note))
            written.append(str(movie))
    progress.clear()
    return written


def _window(flight, ghost, laid, look, at: float) -> int:
    try:
        import viewer.window
    except ImportError:
        raise UserError(
            "replay: found no window in this version; allowed: --picture FILE.png or --movie FILE.mp4"
        ) from None
    return viewer.window.replay(flight, ghost, laid, look, at)


def _fitting(options: argparse.Namespace) -> None:
    """Raise `OptionError` where an option has nothing to act on."""
    if len(options.records) < 2 and options.align is not None:
        raise OptionError(
            "--align", Refused("it with one record", "two records", "upline replay RECORD RECORD --align ...")
        )
    for option, value in (("--from", options.from_), ("--to", options.to)):
        if value is not None and options.movie is None:
            raise OptionError(option, Refused("it without --movie", "it beside --movie FILE", "--at for a picture"))


def _size(text: str | None) -> tuple[int, int]:
    if text is None:
        return 1280, 720
    parts = text.lower().split("x")
    if len(parts) == 2 and all(p.isascii() and p.isdigit() and len(p) < 6 for p in parts):
        width, height = (int(p) // 2 * 2 for p in parts)  # movies want even numbers
        if 160 <= width <= 7680 and 120 <= height <= 4320:
            return width, height
    raise OptionError("--size", Refused(quoted(text), "160x120 to 7680x4320 pixels", '"1920x1080"'))


def _times(option: str, text: str | None) -> float:
    if text is None:
        return 1.0
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0.01 <= value <= 100.0:
        raise OptionError(option, Refused(quoted(text), "a number from 0.01 to 100", "0.5"))
    return value


def _switches(shown: list[str], hidden: list[str]):
    from dataclasses import replace

    from viewer.scene.looks import SWITCHES, Switches

    fields = {word: name for name, word, _ in SWITCHES}
    for option, names in (("--show", shown), ("--hide", hidden)):
        for name in names:
            if name not in fields:
                raise OptionError(option, Refused(quoted(name), ", ".join(fields), " or ".join(nearest(name, fields))))
    both = set(shown) & set(hidden)
    if both:
        raise OptionError("--hide", Refused(f"{quoted(min(both))}, which is shown as well", "one of the two"))
    on = {fields[name]: True for name in shown} | {fields[name]: False for name in hidden}
    return replace(Switches(), **on)
