"""The view as one self-contained HTML file: no link, font or script from elsewhere."""

from base64 import b64encode
from collections.abc import Sequence
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from vibhealth.report.images import FigureImage
from vibhealth.report.recording_view import RecordingView
from vibhealth.report.view import ReportView

__all__ = ["analysis_html", "embedded", "html_text", "template"]


def html_text(
    view: ReportView, images: Sequence[FigureImage] = (), annex: Sequence[FigureImage] = ()
) -> str:
    """Return the report as one HTML document.

    Parameters
    ----------
    view : ReportView
        From `report_view`.
    images : sequence of FigureImage
        From `assessment_images`; embedded as data.
    annex : sequence of FigureImage
        From `signature_images`, for training; set apart from the machine's own figures.

    Returns
    -------
    str
        Everything from outside is escaped; the same view and images give the
        same text.
    """
    return template("report.html").render(view=view, images=embedded(images), annex=embedded(annex))


def analysis_html(
    view: RecordingView, images: Sequence[FigureImage] = (), *, generated_at: str, version: str
) -> str:
    """Return one analysed recording as one HTML document.

    Parameters
    ----------
    view : RecordingView
        From `analysis_view`.
    images : sequence of FigureImage
        From `analysis_images`; embedded as data.
    generated_at, version : str
        As printed at the end.

    Returns
    -------
    str
        Everything from outside is escaped.
    """
    return template("recording.html").render(
        recording=view, images=embedded(images), generated_at=generated_at, version=version
    )


def embedded(images: Sequence[FigureImage]) -> list[dict[str, str]]:
    """Figures as a template takes them, their PNG as data."""
    return [
        {
            "title": image.title,
            "caption": image.caption,
            "alt": image.alt,
            "source": f"data:image/png;base64,{b64encode(image.png).decode('ascii')}",
        }
        for image in images
    ]


@cache
def template(name: str) -> Template:
    """A template of the package; what comes from outside is escaped."""
    environment = Environment(
        loader=PackageLoader("vibhealth.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    return environment.get_template(name)
