"""The report as one page for a browser: no script, nothing fetched, light and dark, fit to print."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from soakage.app.result import Evaluation
from soakage.report import charts
from soakage.report.content import report_content
from soakage.report.figures import written_out
from soakage.report.network_drawing import network_svg
from soakage.report.rails import rails_svg

if TYPE_CHECKING:
    import jinja2

_TEMPLATES = Path(__file__).parent / "templates"
# Pixels: a chart is laid out again for a narrow screen, never just shrunk.
_NETWORK = 560.0
_WIDE, _NARROW, _ALONE = ((590, 380), (390, 380)), (350, 320), (1000, 380)


def report_html(evaluation: Evaluation) -> str:
    """Return the report as one self-contained HTML page.

    Parameters
    ----------
    evaluation : Evaluation
        The records with everything said about them.

    Returns
    -------
    str
        The page; the same text for the same evaluation.
    """
    from markupsafe import Markup

    content = _readable(report_content(evaluation))
    template = _environment().get_template("report.html.j2")
    drawings = {name: Markup(svg) for name, svg in _drawings(content).items()}  # noqa: S704 - our own drawing
    return template.render(
        c=content,
        drawings=drawings,
        network_drawing=lambda shown: Markup(network_svg(shown, paper=False, width=_NETWORK)),  # noqa: S704 - its texts are escaped
        rails=lambda connection: Markup(rails_svg(connection)),  # noqa: S704 - its texts are escaped
        style=Markup((_TEMPLATES / "style.css").read_text(encoding="utf-8")),  # noqa: S704 - our own file
    )


def _readable(content: dict[str, Any]) -> dict[str, Any]:
    return {key: written_out(value) for key, value in content.items()}


@cache
def _environment() -> jinja2.Environment:
    import jinja2

    return jinja2.Environment(
        loader=jinja2.FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _drawings(content: dict[str, Any]) -> dict[str, str]:
    drawn = {}
    for index, dry_out in enumerate(content["dry_outs"]):
        for name, (width, height) in (("wide", _ALONE), ("narrow", _NARROW)):
            if dry_out["plot"] is not None:
                specification = charts.spec(dry_out["plot"], "screen", width=width, height=height)
                drawn[f"dry-{index}-{name}"] = charts.svg(specification, f"d{index}{name}")
    for part in content["parts"]:
        for index, plot in enumerate(part["plots"]):
            wide = _ALONE if len(part["plots"]) == 1 else _WIDE[index]
            for name, (width, height) in (("wide", wide), ("narrow", _NARROW)):
                key = f"{part['number']}-{index}-{name}"
                specification = charts.spec(plot, "screen", width=width, height=height)
                drawn[key] = charts.svg(specification, f"c{key}")
    return drawn
