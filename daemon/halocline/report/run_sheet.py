"""What a run's sheet says, for the page and for paper: why it began and ended, and its figures."""

from collections.abc import Iterator

from halocline.plant import words
from halocline.plant.settings import UnitSettings
from halocline.plant.words.moments import minute_of
from halocline.report.journal import Run


def story(run: Run, units: UnitSettings) -> str:
    """Why it started and why it ended, in words."""
    if run.target_l is not None:
        asked = f"Asked for {words.quantity(run.target_l, 'L', units)}"
    elif run.asked.get("minutes") is not None:
        asked = f"Asked for {words.duration(60.0 * run.asked['minutes'])} of water"
    else:
        asked = "Asked to fill the tank" if not run.asked.get("until_s") else "Asked to run until a set time"
    by = "" if not run.who else f" by {run.who}"
    where = "" if not run.origin else f" ({run.origin})"
    ended = "It goes on." if run.why is None else f"Ended: {words.reason(dict(run.why), units)}"
    return f"{asked}{by}{where}. {ended}"


def facts(run: Run, units: UnitSettings) -> Iterator[tuple[str, str]]:
    """Its figures by their names, each as people read it."""

    def told(figure: str) -> str:
        return words.run_figure(figure, run.figures, units, going_on=run.why is None, cut_off=run.cut_off)

    yield "Started", minute_of(run.started_s)
    yield "Ended", ended(run)
    yield "Lasted", told("seconds")
    yield "Into the tank", told("litres")
    yield "Overboard", told("overboard_l")
    yield "Flushed with", told("flush_l")
    yield "Salt, mean in the tank", told("tds_mean_mg_l")
    yield "Salt, highest sample", told("tds_worst_mg_l")
    yield "Highest pressure", told("peak_pressure_bar")
    yield "Energy of the pumps", told("energy_wh")
    yield "Energy for each volume", _for_each_volume(run, units)
    yield "Time into the tank", told("producing_s")
    none = "none on record" if run.cut_off else "none"
    first_out = none if run.first_out is None else words.alarm_name(run.first_out)
    yield "First cause", first_out


def ended(run: Run) -> str:
    """When it ended; of one that was cut off only the last moment that is on record is known."""
    if run.why is None:
        return "goes on"
    return f"{minute_of(run.ended_s)} or later" if run.cut_off and run.ended_s is not None else minute_of(run.ended_s)


def _for_each_volume(run: Run, units: UnitSettings) -> str:
    energy_wh, litres = run.figures["energy_wh"], run.figures["litres"]
    return "not known" if energy_wh is None or not litres else words.quantity(energy_wh / litres, "Wh/L", units)
