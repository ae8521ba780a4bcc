"""Makes records without a photo: a motif of known size, at a known place in a picture."""

from dataclasses import dataclass, field, replace

import numpy as np

from motiffit.measure.geometry import as_pairs, box_corners
from motiffit.measure.window import fit_empty, fit_window
from motiffit.record import (
    Garment,
    Motif,
    PlaneDigest,
    Reference,
    Sides,
    Sizing,
    Window,
    make_message,
)
from motiffit.settings import Settings
from motiffit.units import format_length


@dataclass(frozen=True)
class View:
    """How mm on the cloth land in the photo: px = turned(mm) * px_per_mm + origin_px."""

    px_per_mm: float = 4.0
    origin_px: tuple[float, float] = (500.0, 1400.0)
    turn_deg: float = 0.0

    def to_px(self, points_mm):
        turn = np.deg2rad(self.turn_deg)
        rotation = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        return np.asarray(points_mm) @ rotation * self.px_per_mm + np.asarray(self.origin_px)

    @property
    def px_to_mm(self):
        corners = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
        columns = self.to_px(corners)
        forward = np.array([columns[1] - columns[0], columns[2] - columns[0], columns[0]]).T
        return np.linalg.inv(np.vstack([forward, [0, 0, 1]]))


@dataclass(frozen=True)
class Case:
    """What a made-up photo shows."""

    motifs_mm: tuple[tuple[float, float, float, float], ...] = ((200.0, -180.0, 78.0, 72.0),)
    angle_deg: float = 0.0
    sd_mm: float = 0.4
    trust: float = 0.95
    garment_mm: tuple[tuple[float, float], ...] = (
        (80.0, -330.0), (320.0, -330.0), (320.0, 40.0), (80.0, 40.0),
    )  # fmt: skip
    codes: tuple[str, ...] = ()
    view: View = field(default_factory=View)
    settings: Settings = field(default_factory=Settings)
    photo: str = "bodysuit.jpg"


def make_motif(case, box_mm):
    """Make a motif of (centre x, centre y, width, height) mm."""
    x, y, width, height = box_mm
    sd = case.sd_mm
    return Motif(
        corners_px=as_pairs(case.view.to_px(box_corners((x, y), width, height, case.angle_deg))),
        centre_mm=(x, y),
        width_mm=width,
        height_mm=height,
        angle_deg=case.angle_deg,
        sd_width_mm=sd * 2**0.5,
        sd_height_mm=sd * 2**0.5,
        sd_edges_mm=Sides(top=sd, right=sd, bottom=sd, left=sd),
        trust=case.trust,
    )


def make_sizing(case=None):
    """Make the record of a case; its window is that of `fit_window`."""
    case = case or Case()
    motifs = tuple(make_motif(case, box) for box in case.motifs_mm)
    outline = np.array(case.garment_mm)
    fit = (
        fit_window(motifs[0], outline, case.settings)
        if motifs
        else fit_empty(outline, case.angle_deg, case.settings)
    )
    codes = case.codes if motifs else ("no-motif", *case.codes)
    messages = (*(make_message(code) for code in codes), *fit.messages)
    needs_eye = any(message.severity == "warning" for message in messages)
    return Sizing(
        photo=case.photo,
        outcome="no-motif" if not motifs else "check" if needs_eye else "sized",
        messages=messages,
        reference=Reference(
            kind="card",
            side_mm=101.6,
            corners_px=as_pairs(case.view.to_px(box_corners((0.0, 0.0), 101.6, 101.6, 0.0))),
        ),
        plane=PlaneDigest(
            px_to_mm=tuple(map(tuple, case.view.px_to_mm.tolist())),
            tilt_deg=4.2,
            height_mm=620.0,
            focal_px=2900.0,
            distortion=0.0,
            middle_px=(800.0, 1000.0),
        ),
        garment=Garment(
            outline_px=as_pairs(case.view.to_px(outline)),
            outline_mm=as_pairs(outline),
            upright_deg=case.angle_deg,
        ),
        motifs=motifs,
        window=make_window(case, fit),
        sizes=fit.sizes,
        settings=case.settings,
    )


def make_window(case, fit):
    """Draw the square of a fit into the case's picture."""
    if fit.finished_mm is None:
        return None
    cut_mm = fit.finished_mm + 2 * case.settings.seam_allowance_mm
    units = case.settings.units
    return Window(
        finished_mm=fit.finished_mm,
        finished=format_length(fit.finished_mm, units),
        cut_mm=cut_mm,
        cut=format_length(cut_mm, units),
        centre_mm=fit.centre_mm,
        angle_deg=fit.angle_deg,
        seam_corners_px=as_pairs(case.view.to_px(fit.square_corners(fit.finished_mm))),
        cut_corners_px=as_pairs(case.view.to_px(fit.square_corners(cut_mm))),
        clearance_mm=fit.clearance_mm,
        p_clear=fit.p_clear,
        cloth_short_mm=fit.cloth_short_mm,
    )


def make_refused(code="no-reference", photo="bib.jpg", **details):
    """Make the record of a photo that could not be measured."""
    return Sizing(
        photo=photo,
        outcome="refused",
        messages=(make_message(code, **details),),
        reference=None,
        plane=None,
        garment=None,
        motifs=(),
        window=None,
        sizes=(),
        settings=Settings(),
    )


def replace_sd(motif, sd_edges_mm):
    """Give a motif other errors of its edges."""
    return replace(motif, sd_edges_mm=sd_edges_mm)
