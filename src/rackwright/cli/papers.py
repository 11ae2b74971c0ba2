"""`papers`: the sheets for the crew, written into a folder."""

from collections.abc import Sequence

import click

from rackwright.cli.opening import Refusal, opened
from rackwright.cli.page import Page, tell
from rackwright.cli.words import FOLDER, RIG, Words
from rackwright.engine.assess import assess
from rackwright.papers import changes
from rackwright.papers.contents import FORMATS, FORMER, MAKERS
from rackwright.papers.identity import PAPERS, Paper
from rackwright.papers.label_sheets import FLAG, SHEETS
from rackwright.papers.output import told, write_papers
from rackwright.store import night_log
from rackwright.store.safe.atomic_write import SaveError
from rackwright.store.toml.read import RigFileError


@click.command()
@click.argument("rig", type=RIG)
@click.option(
    "--out",
    "folder",
    metavar="DIR",
    type=FOLDER,
    required=True,
    help="The folder to write into; created if missing.",
)
@click.option(
    "--only", metavar="SHEETS", type=Words(lambda _: MAKERS), default="", help=f"Some of: {','.join(MAKERS)}."
)
@click.option(
    "--format",
    "formats",
    metavar="FORMATS",
    type=Words(lambda _: FORMATS),
    default="pdf",
    help=f"Some of: {','.join(FORMATS)}. Default: pdf.",
)
@click.option(
    "--since",
    "earlier",
    metavar="RIG",
    type=RIG,
    help="Add the sheet changes: what changed since that rig or preset.",
)
@click.option(
    "--paper", type=click.Choice(list(PAPERS)), help="Page size. Default: letter under US mains rules."
)
@click.option(
    "--labels",
    metavar="SIZE",
    type=click.Choice(list(SHEETS)),
    help=f"Label sheet: {', '.join(SHEETS)}; else a grid to cut.",
)
def command(
    rig: str,
    folder: str,
    only: str,
    formats: str,
    earlier: str | None,
    paper: Paper | None,
    labels: str | None,
) -> None:
    """Write the sheets that the crew wires from.

    One file per sheet and format; as PDF also all sheets in one file, all.pdf. Papers written to DIR before are
    replaced and listed. If DIR has a changed or foreign file of that name, nothing is written.
    """
    known = (*MAKERS,) if earlier is None else (changes.NAME, *MAKERS)
    names, kinds = _chosen("--only", only, known), _chosen("--format", formats, FORMATS)
    source = opened(rig)
    loaded = source.rig
    old = opened(earlier).rig if earlier is not None else None
    assessment = assess(loaded)
    try:
        since = assess(old) if old is not None else None
        done = write_papers(
            assessment,
            folder,
            names,
            kinds or ("pdf",),
            since=since,
            log=night_log.of(source.file),
            paper=_paper_of(labels, paper),
            labels=labels or "",
        )
    except (SaveError, RigFileError) as error:
        raise Refusal(str(error)) from None
    page = Page()
    page.say(told(done, folder))
    stops = assessment.count("stop")
    if stops:
        is_ = "1 stop" if stops == 1 else f"{stops} stops"
        page.say(f"This rig has {is_}: read the findings before switching anything on.")
    page.print()


def _paper_of(labels: str | None, paper: Paper | None) -> Paper | None:
    """The size of pages: that of the label sheet, where one is named. Raises click.BadParameter where the two don't agree."""
    if not labels or labels == FLAG:
        return paper
    wanted: Paper = "letter" if SHEETS[labels].letter else "a4"
    if paper not in (None, wanted):
        raise click.BadParameter(f"Labels of {labels} come on {wanted} sheets.", param_hint="--labels")
    return wanted


def _chosen(option: str, text: str, known: Sequence[str]) -> tuple[str, ...]:
    """The words of a list with commas between. Raises click.BadParameter."""
    words = [word.strip().lower() for word in text.split(",") if word.strip()]
    for former in words:
        if former not in known and former in FORMER:
            tell(f"Write {option} {FORMER[former]}: {former} is its old name.")
    words = [word if word in known else FORMER.get(word, word) for word in words]
    if wrong := [word for word in words if word not in known]:
        raise click.BadParameter(
            f'There is no "{wrong[0]}". There are: {", ".join(known)}.', param_hint=option
        )
    return tuple(words)
