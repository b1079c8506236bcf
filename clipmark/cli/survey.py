"""Where in a film anything moves, without an outline: stretches with times, cuts, steps of the light.

First the sizes of the packets are read, which takes no decoding; then the keyframes are decoded small and laid on
each other; then frames in between, where it matters most. What could not be told is said.

Of a folder every film in it is surveyed. What was surveyed before is not done again, so a run that was stopped goes
on where it was. At the end there is one table (survey.csv) and one contact sheet (survey.html) in that folder.

example: clipmark survey pairing.mp4
         clipmark survey pairing.mp4 --json
         clipmark survey pairing.mp4 --quick              packet sizes only
         clipmark survey pairing.mp4 --sheet stills.html  a still of every stretch
         clipmark survey /media/season --to /home/me/season
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from clipmark.errors import ClipmarkError, WrongUsage

if TYPE_CHECKING:
    from clipmark.motion.survey.values import Survey
    from clipmark.report.sheets.contact_sheet import Surveyed

_ENDINGS = ".mp4 .mov .m4v .mkv .webm .avi .mts .m2ts .ts .mpg .mpeg .vob .3gp .3g2 .wmv .asf .flv .mxf .dv .ogv"
FILMS = frozenset(_ENDINGS.split(" "))
COLUMNS = ("film", "seconds", "moving_seconds", "stretches", "cuts", "light_steps", "rests_on", "notes", "trouble")


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("what", metavar="CLIP|FOLDER", type=Path, help="the film file, or a folder with films")
    parser.add_argument("--quick", action="store_true", help="packet sizes only: at once, and rough")
    parser.add_argument("--json", action="store_true", help="print the result as JSON")
    parser.add_argument("--sheet", type=Path, metavar="FILE", help="write a contact sheet (HTML) of one film")
    parser.add_argument("--to", type=Path, metavar="DIR", help="of a folder: where table and contact sheet go")


def run(arguments: argparse.Namespace) -> int:
    if arguments.what.is_dir():
        return _folder(arguments)
    if arguments.to is not None:
        raise WrongUsage("--to goes with a folder of films. See clipmark survey --help.")
    from clipmark.cli.terminal import Bar
    from clipmark.media.clip import open_clip
    from clipmark.report.survey_file import packets_of_clip, survey_clip, survey_document

    clip = open_clip(arguments.what, Bar("reading the index"))
    found = packets_of_clip(clip) if arguments.quick else survey_clip(clip, Bar("looking"))
    if arguments.sheet is not None:
        from clipmark.atomic_files import atomic_file
        from clipmark.report.kept_surveys import kept
        from clipmark.report.sheets.contact_sheet import Surveyed, contact_sheet

        page = contact_sheet(clip.path.name, [Surveyed(clip.path, clip, kept(clip, found))])
        with atomic_file(arguments.sheet) as file:
            file.write(page)
    if arguments.json:
        print(json.dumps(survey_document(clip, found), ensure_ascii=False, indent=1))
    else:
        print("\n".join(lines_of(clip.path.name, found)))
    return 0


_RESTS_ON = {
    "packets": "packet sizes only",
    "keyframes": "decoded pictures",
    "pass": "the motion pass",
}


def lines_of(name: str, found: Survey) -> list[str]:
    """What a person reads of a survey."""
    from clipmark.timebase import clock

    def span(start: float, end: float) -> str:
        return f"{clock(start, 0)} to {clock(end, 0)}"

    moving = found.moving_seconds
    lines = [
        f"{name}: something moves for {clock(moving, 0)} of {clock(found.seconds, 0)}, in {len(found.moving)} "
        f"stretch{'' if len(found.moving) == 1 else 'es'}; rests on {_RESTS_ON[found.rests_on]}"
    ]
    if not found.tells:
        lines[0] = f"{name}, {clock(found.seconds, 0)}: what moves cannot be told from {_RESTS_ON[found.rests_on]}"
    lines += [f"note     {note}" for note in found.notes]
    for one in found.moving:
        rough = " (packet sizes only)" if one.rests_on == "packets" and found.rests_on != "packets" else ""
        where = "" if one.box is None else f"  {100 * one.share:.1f} % of the picture"
        lines.append(f"moving   {span(one.start_s, one.end_s)}{where}{rough}")
    lines += [f"cut      {clock(at, 3)}" for at in found.cuts_s]
    lines += [f"dissolve {clock(one.start_s, 3)} to {clock(one.end_s, 3)}" for one in found.dissolves]
    lines += [f"light    {clock(at, 1)}" for at in found.light_s]
    lines += [f"camera   {clock(one.start_s, 1)} to {clock(one.end_s, 1)}" for one in found.camera]
    lines += [f"then     {clock(one.start_s, 0)} to {clock(one.end_s, 0)}: {one.what}" for one in found.happenings]
    lines += [f"unsure   {span(one.start_s, one.end_s)}: {one.what}" for one in found.unsure]
    return lines


# of a folder --------------------------------------------------------------------------------------------------


def films_in(folder: Path) -> list[Path]:
    """Film files in a folder and below it, by path; hidden ones left out."""
    found = (path for path in folder.rglob("*") if path.suffix.lower() in FILMS and path.is_file())
    return sorted(path for path in found if not any(part.startswith(".") for part in path.relative_to(folder).parts))


def _folder(arguments: argparse.Namespace) -> int:
    from clipmark.atomic_files import atomic_file
    from clipmark.report.sheets.contact_sheet import contact_sheet

    folder = arguments.what
    paths = films_in(folder)
    if not paths:
        raise WrongUsage(f"“{folder}” holds no film. Name a folder with film files in it.")
    to = arguments.to or folder
    if arguments.to is not None:
        try:
            to.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise WrongUsage(f"“{to}” cannot be made ({error.strerror}). Choose another place.") from error
    films = list(_surveyed(paths))
    rows = [_row(folder, one) for one in films]
    with atomic_file(to / "survey.csv", newline="") as file:
        import csv

        table = csv.DictWriter(file, COLUMNS)
        table.writeheader()
        table.writerows(rows)
    with atomic_file(to / "survey.html") as file:
        file.write(contact_sheet(f"Films in {folder.resolve().name}", films))
    if arguments.json:
        print(json.dumps({"format": "clipmark-survey-folder/1", "films": rows}, ensure_ascii=False, indent=1))
    else:
        for row in rows:
            told = row["trouble"] or f"something moves for {row['moving_seconds']} of {row['seconds']} s"
            print(f"{row['film']}: {told}")
        print(f"Table and contact sheet: {to / 'survey.csv'}, {to / 'survey.html'}")
    failed = [row for row in rows if row["trouble"]]
    for row in failed:
        print(f"failed  {row['film']}: {row['trouble']}", file=sys.stderr)
    return 1 if failed else 0


def _surveyed(paths: list[Path]) -> Iterator[Surveyed]:
    from clipmark.cli.terminal import Bar
    from clipmark.media.clip import open_clip
    from clipmark.report.kept_surveys import whole_survey
    from clipmark.report.sheets.contact_sheet import Surveyed

    for number, path in enumerate(paths, start=1):
        try:
            clip = open_clip(path)
            yield Surveyed(path, clip, whole_survey(clip, Bar(f"{number} of {len(paths)}: {path.name}")))
        except ClipmarkError as error:
            yield Surveyed(path, None, None, str(error))


def _row(folder: Path, one: Surveyed) -> dict[str, Any]:
    row: dict[str, Any] = dict.fromkeys(COLUMNS, "")
    row |= {"film": str(one.path.relative_to(folder)), "trouble": one.trouble}
    if one.survey is not None:
        told = one.survey.document
        row |= {
            "seconds": told["clip"]["seconds"],
            "moving_seconds": told["moving_seconds"],
            "stretches": len(told["moving"]),
            "cuts": len(told["cuts_s"]),
            "light_steps": len(told["light_s"]),
            "rests_on": told["rests_on"],
            "notes": " ".join(told["notes"]),
        }
    return row
