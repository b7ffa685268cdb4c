"""The body at the desk: what is checked before a ladder, and going past a stop by a reason only."""

from __future__ import annotations

import asyncio

from tests.desk.test_draft import CHECKED, with_plan
from tether.editor.messages import (
    Begin,
    Check,
    Doing,
    WishAnswer,
)


def test_a_plan_is_looked_at_when_it_is_opened_and_a_stop_is_gone_past_by_a_reason_only() -> None:
    async def sit() -> None:
        async with with_plan() as bench:
            assert bench.kept.wishes == [Check()]
            await bench.told(Doing(what="Looking."))
            assert "… Looking." in bench.rig.text()
            await bench.told(CHECKED, WishAnswer(to=1, ok=True, sentence=""), Doing(what=""))
            lines = bench.rig.text().splitlines()
            (first,) = [line for line in lines if "focus:" in line]
            assert first.strip().startswith("STOP")
            assert lines.index(first) < next(at for at, line in enumerate(lines) if "power:" in line)
            assert "1 STOP" in bench.rig.text()
            assert await bench.pressed("B", "enter") == [], "what stops it is to be mended or given a reason"
            assert "STOP  focus" in bench.rig.text()
            await bench.pressed("escape", "o", *"infinity", "enter")
            assert bench.rig.desk.draft.despite == {"focus": "infinity"}
            assert "Overridden: infinity" in " ".join(bench.rig.text().split())
            assert await bench.pressed("B", "enter") == [Begin(despite={"focus": "infinity"})]
            await bench.pressed("o", *["backspace"] * 8, "enter")
            assert bench.rig.desk.draft.despite == {}

    asyncio.run(sit())
