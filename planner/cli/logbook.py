"""``skepway logbook``: what happened to trips and boxes: shown, added to, handed on, taken in, verified."""

from __future__ import annotations

import argparse
import hashlib
import math
import time
from datetime import date
from pathlib import Path

from planner.app.inspect.items import boxes_of
from planner.app.lessons.summary import summary
from planner.app.lessons.timeline import line_of
from planner.cli.exits import Exit
from planner.cli.options import add_json, whole, write_json
from planner.errors import Fault, InputError, StorageError, reason_of
from planner.files import made
from planner.model.records import Trip
from planner.reading import printable
from planner.store.catalogue import load_catalogue
from planner.store.clocks import instant_s
from planner.store.logbook import bundle, verify
from planner.store.logbook.book import Logbook
from planner.store.logbook.identity import entered, trip_key
from planner.store.logbook.records import KINDS, Entry, Event, Picture
from planner.store.logbook.retention import due, keep_for, retention, rules
from planner.store.tripfile import load_trip, read_draft
from planner.words import languages, say

MOST_ATTACHED = 200_000_000


def configure(parser: argparse.ArgumentParser) -> None:
    verbs = parser.add_subparsers(required=True, metavar="WHAT", dest="verb")
    show = verbs.add_parser(
        "show", help="trips in the logbook, or what happened on one of them or to one box"
    )
    show.add_argument("trip", type=Path, nargs="?", metavar="TRIP", help="trip file")
    show.add_argument("box", nargs="?", metavar="BOX", help="name of a box, such as B023B")
    show.add_argument(
        "--people", action="store_true", help="who the keys stand for, and how long records are kept"
    )
    add_json(show)
    add = verbs.add_parser("add", help="write something down")
    add.add_argument("trip", type=Path, metavar="TRIP", help="trip file; it gets an id where it has none")
    add.add_argument(
        "kind", choices=[kind for kind in KINDS if kind != "erased"], metavar="KIND", help=", ".join(KINDS)
    )
    add.add_argument("text", nargs="?", default="", metavar="TEXT", help="what there is to say")
    add.add_argument("--box", default="", metavar="BOX", help="of which box")
    add.add_argument(
        "--at", default="", metavar="WHEN", help="when, as 2027-05-31T21:40 where the trip begins (now)"
    )
    add.add_argument("--who", default="", metavar="NAME", help="name or initials of whoever saw it")
    add.add_argument(
        "--photo", type=Path, action="append", default=[], metavar="FILE", help="a picture or log to keep"
    )
    add.add_argument(
        "--set", action="append", default=[], metavar="NAME=VALUE", help="a figure or word of the entry"
    )
    add_same(add)
    out = verbs.add_parser(
        "export", help="everything as one zip: CSV, JSON, pictures, a PDF with a line a box, manifest"
    )
    out.add_argument("written", type=Path, metavar="FILE")
    out.add_argument("--lang", choices=languages(), default="en", help=say("cli.export_lang"))
    come = verbs.add_parser("import", help="take such a zip in; twice changes nothing")
    come.add_argument("file", type=Path, metavar="FILE")
    look = verbs.add_parser("verify", help="hold everything against its marks, or a zip against its manifest")
    look.add_argument("file", type=Path, nargs="?", metavar="FILE")
    erase = verbs.add_parser("erase", help="take a person's name, phone and address out")
    erase.add_argument("person", metavar="PERSON", help="key or name")
    keep = verbs.add_parser("keep", help="for how many years records are kept")
    keep.add_argument("years", type=whole(1, 100), metavar="YEARS")
    keep.add_argument(
        "--checked", default="", metavar="DAY", help="when you looked what the law asks (today)"
    )


def add_same(parser: argparse.ArgumentParser) -> None:
    """What to say of a file whose id the logbook knows from another origin, day or load."""
    which = parser.add_mutually_exclusive_group()
    which.add_argument(
        "--same-trip", dest="same", action="store_const", const="same", help="it is the same trip, changed"
    )
    which.add_argument(
        "--another-trip",
        dest="same",
        action="store_const",
        const="another",
        help="it is a copy for another trip",
    )


def run(args: argparse.Namespace) -> int:
    verbs = {
        "show": _show,
        "add": _add,
        "export": _export,
        "import": _import,
        "verify": _verify,
        "erase": _erase,
        "keep": _keep,
    }
    return verbs[args.verb](args)


# -- showing ---------------------------------------------------------------------------------------


def _show(args: argparse.Namespace) -> int:
    logbook = Logbook()
    if args.people:
        return _show_people(logbook)
    if args.trip is None:
        return _show_trips(logbook)
    zone = load_trip(args.trip, load_catalogue()).trip.origin.zone
    events = logbook.events(trip=trip_key(args.trip), subject=args.box)
    names = {person.key: person.name for person in logbook.people()}
    if args.json:
        write_json(args.json, {"skepway_logbook": 1, "events": [_plain(event) for event in events]})
        return Exit.FINE
    corrected = {event.corrects for event in events}
    for event in events:
        line = printable(line_of(event, zone, names))
        print(say("logbook.corrected", line=line) if event.hash in corrected else line)
    if not events:
        print(say("logbook.empty_trip"))
    return Exit.FINE


def _show_trips(logbook: Logbook) -> int:
    trips = logbook.trips()
    counts = dict(
        logbook.asked(lambda book: book.execute("select trip, count(*) from event group by trip").fetchall())
    )
    for trip in trips:
        events = say("logbook.count_events", count=counts.get(trip.key, 0))
        print(say("logbook.trip_line", day=trip.day, title=trip.title, events=events, trip=trip.key[:8]))
    if not trips:
        print(say("logbook.empty"))
    return Exit.FINE


def _show_people(logbook: Logbook) -> int:
    for person in logbook.people():
        if person.erased_s is None:
            print(say("logbook.person_line", person=person.key, name=person.name))
        else:
            print(say("logbook.person_erased", person=person.key))
    chosen = retention(logbook)
    print(say("logbook.keeps", count=chosen.years, day=chosen.checked_on))
    for rule in rules():
        print(
            "  - "
            + say(
                "logbook.keeps_rule",
                title=rule.title,
                count=rule.years,
                asks=rule.asks,
                day=rule.checked_on,
                grade=rule.grade,
            )
        )
    if overdue := due(logbook, time.time()):
        print(say("logbook.due", count=len(overdue)))
        for person in overdue:
            print("  - " + say("logbook.person_line", person=person.key, name=person.name))
    print(say("logbook.stays_here"))
    return Exit.FINE


def _plain(event: Event) -> dict[str, object]:
    return {name: getattr(event, name) for name in Event.__slots__}


# -- writing ---------------------------------------------------------------------------------------


def _add(args: argparse.Namespace) -> int:
    trip = load_trip(args.trip, load_catalogue()).trip
    _known_box(trip, args.box)
    body = {"text": args.text} if args.text else {}
    body |= _settings(args.set)
    pictures = [_picture(path, trip.origin.zone) for path in args.photo]
    if pictures:
        body["pictures"] = [hashlib.sha256(picture.content).hexdigest() for picture in pictures]
    at_s = instant_s(args.at, trip.origin.zone, "--at") if args.at else time.time()
    logbook = Logbook()
    key = entered_in_words(logbook, args)
    entry = Entry(
        kind=args.kind,
        at_s=at_s,
        subject_kind="box" if args.box else "trip",
        subject=args.box,
        body=body,
        trip=key,
        who=logbook.person_key(args.who),
        offset_s=int(time.localtime(at_s).tm_gmtoff),
    )
    (event,) = logbook.add(entry, pictures=pictures)
    print(say("logbook.added", event=event.name))
    return Exit.FINE


def entered_in_words(logbook: Logbook, args: argparse.Namespace) -> str:
    """The id of the arguments' trip in the logbook; a word where it was written into the file now."""
    key, written = entered(logbook, read_draft(args.trip), args.trip, args.same)
    if written:
        print(say("logbook.id_written", file=args.trip.name))
    return key


def _known_box(trip: Trip, box: str) -> None:
    if box and box not in {one.name for one in boxes_of(trip)}:
        raise InputError([Fault("--box", box, say("logbook.no_such_box"), say("logbook.give_box"))])


def _settings(given: list[str]) -> dict[str, object]:
    found: dict[str, object] = {}
    for text in given:
        name, _, value = text.partition("=")
        try:
            figure = float(value)
        except ValueError:
            figure = math.nan
        found[name] = figure if math.isfinite(figure) else {"yes": True, "no": False}.get(value, value)
    return found


def _picture(path: Path, zone: str) -> Picture:
    from planner.store.photofile import taken_in  # late: only photos need it

    content = content_of(path)
    return taken_in(content, path.name, zone) if looks_like_picture(content) else Picture(content, "log")


def looks_like_picture(content: bytes) -> bool:
    """Whether a file begins as the pictures do that are read here; anything else is kept as it is, as a log."""
    return content.startswith((b"\xff\xd8", b"\x89PNG")) or content[8:12] == b"WEBP"


def content_of(path: Path) -> bytes:
    """What a file holds. Raises StorageError."""
    try:
        with path.open("rb") as stream:
            return stream.read(MOST_ATTACHED)
    except OSError as error:
        reason = reason_of(error)
        raise StorageError(say("logbook.picture_unread", path=str(path), reason=reason)) from error


def _export(args: argparse.Namespace) -> int:
    from planner.paper.summary import summary_pdf  # late: setting a page takes a library of its own

    logbook = Logbook()
    made(args.written.parent)
    count = bundle.export(logbook, args.written, {"summary.pdf": summary_pdf(summary(logbook), args.lang)})
    print(say("logbook.exported", path=str(args.written), events=say("logbook.count_events", count=count)))
    return Exit.FINE


def _import(args: argparse.Namespace) -> int:
    found = bundle.take_in(Logbook(), args.file)
    if found.nothing:
        print(say("logbook.taken_in_nothing"))
        return Exit.FINE
    counts = {
        name: say(f"logbook.count_{name}", count=getattr(found, name))
        for name in ("events", "pictures", "plans", "people")
    }
    print(say("logbook.taken_in", **counts))
    return Exit.FINE


def _verify(args: argparse.Namespace) -> int:
    logbook = Logbook()
    found = tuple(bundle.faults(args.file)) if args.file else verify.faults(logbook)
    for line in found:
        print(line)
    if found:
        return Exit.STORAGE
    if args.file:
        print(say("logbook.bundle_well", file=args.file.name))
        return Exit.FINE
    names = {"events": "event", "pictures": "media", "plans": "plan"}
    counts = logbook.asked(
        lambda book: {
            name: int(book.execute(f"select count(*) from {table}").fetchone()[0])
            for name, table in names.items()
        }
    )
    print(
        say("logbook.all_well", **{name: say(f"logbook.count_{name}", count=counts[name]) for name in names})
    )
    if strays := verify.strays(logbook):
        print(say("logbook.strays", count=len(strays)))
    return Exit.FINE


def _erase(args: argparse.Namespace) -> int:
    person, hits = Logbook().erase(args.person, time.time())
    print(say("logbook.erased", person=person.key))
    if hits:
        print(say("logbook.erased_hits"))
    for hit in hits:
        print(f"  - {hit}")
    print(say("logbook.erased_elsewhere"))
    return Exit.FINE


def _keep(args: argparse.Namespace) -> int:
    logbook = Logbook()
    keep_for(logbook, args.years, args.checked or date.today().isoformat())
    chosen = retention(logbook)
    print(say("logbook.keeps", count=chosen.years, day=chosen.checked_on))
    return Exit.FINE
