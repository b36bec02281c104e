import contextlib
import sqlite3

from halocline.report.health import latest
from halocline.report.health.latest import Latest


def test_the_answer_is_computed_again_only_when_the_record_could_change_it(evening, monkeypatch):
    asked = []
    monkeypatch.setattr(latest, "answer", lambda has: asked.append(has) or {"runs": len(has.kept)})
    newest = Latest()
    assert newest.of(evening) == newest.of(evening)
    assert len(asked) == 1
    with contextlib.closing(sqlite3.connect(evening)) as connection:
        connection.execute("INSERT INTO work (boot, seq, mono_s, wall_s, kind) VALUES (1, 99999, 1.0, 1.0, 'cleaned')")
        connection.commit()
    newest.of(evening)
    assert len(asked) == 2
    assert len(asked[1].work) == len(asked[0].work) + 1
