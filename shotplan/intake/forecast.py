"""The forecast's hour for a start, as the keys of `[weather]`."""

from __future__ import annotations

from datetime import datetime

from shotplan.files.forecast import Forecast

KEYS = {"wind_m_s": 1, "wind_from_deg": 0, "gust_m_s": 1, "temperature_c": 1, "visibility_m": 0}


def weather_at(forecast: Forecast, start: datetime) -> tuple[dict[str, float], list[str]]:
    """Keys of `[weather]` for a start, to the digits worth giving, and what there is to say.

    The next hour of the table, nothing between two of them; what it does not know stays out, so it
    is unknown. No keys where the table does not reach the start.
    """
    hour = forecast.near(start)
    said = [f"the forecast: {remark}" for remark in forecast.remarks]
    if hour is None:
        first, last = (h.at.astimezone(start.tzinfo) for h in (forecast.hours[0],
                                                              forecast.hours[-1]))  # fmt: skip
        said.append(
            f"the forecast goes from {first.isoformat(timespec='minutes')} to "
            f"{last.isoformat(timespec='minutes')} and says nothing of {start.isoformat()}: the "
            "weather stays unknown"
        )
        return {}, said
    values = {key: getattr(hour, key) for key in KEYS}
    known = {key: round(v, KEYS[key]) for key, v in values.items() if v is not None}
    if known.get("visibility_m") == 0.0:
        del known["visibility_m"]
    at = hour.at.astimezone(start.tzinfo)
    missing = [key.partition("_")[0] for key in ("wind_m_s", "gust_m_s")
               if key not in known]  # fmt: skip
    also = f"; it says no {' and no '.join(missing)}, which stays unknown" if missing else ""
    said.append(f"the weather is the forecast's for {at:%H:%M} on {at:%Y-%m-%d}{also}")
    return known, said
