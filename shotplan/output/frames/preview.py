"""preview-A.gif: a shot as a small moving picture, in its own time."""

from __future__ import annotations

import io
from typing import Any

import numpy as np

from shotplan.aids import frame_view
from shotplan.aids.frame_setting import Setting
from shotplan.judging.judged import Plan
from shotplan.output import words
from shotplan.output.frames import picture as frame_picture
from shotplan.output.lettering import font

COLS = 320
A_SECOND = 3.0  # frames
MOST = 90  # frames: a longer shot has fewer a second
BAND_PX, TYPE_PX = 22, 15
COLOURS = 96


def output(plan: Plan) -> dict[str, bytes]:
    """A GIF per shot: name -> bytes; the same plan, the same bytes."""
    return {f"preview-{words.letter(i)}.gif": _gif(plan, i) for i in range(len(plan.shots))}


def _gif(plan: Plan, index: int) -> bytes:
    shot = plan.shots[index]
    setting = Setting(scene=shot.scene, path_m=plan.outing.ride.xyz_m[0])
    t = shot.scene.track.ride.t_s
    lasts = float(t[-1] - t[0])
    count = int(np.clip(round(lasts * A_SECOND) + 1, 1, MOST))
    samples = np.unique(np.rint(np.linspace(0, t.size - 1, count)).astype(int))
    pictures = [_picture(setting, int(i), words.letter(index)) for i in samples]
    palette = _palette(pictures)
    few = [picture.quantize(palette=palette, dither=0) for picture in pictures]
    # A GIF counts in hundredths of a second.
    shown_ms = 10 * max(1, round(100.0 * lasts / max(len(samples) - 1, 1)))
    out = io.BytesIO()
    few[0].save(out, format="GIF", save_all=True, append_images=few[1:], duration=shown_ms,
                loop=0, optimize=False)  # fmt: skip
    return out.getvalue()


def _picture(setting: Setting, sample: int, letter: str) -> Any:
    """A frame over a band that says when and where."""
    from PIL import Image, ImageDraw, ImageFont

    frame = Image.fromarray(frame_picture.rgb(frame_view.frame(setting, sample, COLS)))
    picture = Image.new("RGB", (frame.width, frame.height + BAND_PX), (34, 38, 43))
    picture.paste(frame, (0, 0))
    ride = setting.scene.track.ride
    text = f"{letter}   {abs(ride.t_s[sample]):.1f} s, at {ride.along_m[0, sample]:.0f} m"
    face = font(size=TYPE_PX).get_file()
    type_ = ImageFont.truetype(face, TYPE_PX, layout_engine=ImageFont.Layout.BASIC)
    ImageDraw.Draw(picture).text((6, frame.height + 2), text, font=type_, fill=(255, 255, 255))
    return picture


def _palette(pictures: list[Any]) -> Any:
    """One palette for all, from some of them side by side."""
    from PIL import Image

    some = pictures[:: max(1, len(pictures) // 8)]
    size = (some[0].width, some[0].height * len(some))
    sheet = Image.new("RGB", size)
    for k, picture in enumerate(some):
        sheet.paste(picture, (0, k * picture.height))
    return sheet.quantize(COLOURS, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
