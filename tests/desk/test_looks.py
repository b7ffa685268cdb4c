"""The looks: gone through by a key, remembered, and legible."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest
from textual.color import Color
from textual.theme import Theme

from tests.desk.rig import at_desk
from tether.desk import looks


@pytest.fixture(autouse=True)
def _config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


def test_a_key_goes_through_them_and_the_last_is_remembered() -> None:
    async def do() -> list[str]:
        async with at_desk(None) as rig:
            seen = []
            for _ in range(4):
                seen.append(rig.desk.theme)
                await rig.press("v")
        async with at_desk(None, look=looks.remembered(looks.kept_in())) as rig:
            seen.append(rig.desk.theme)
        return seen

    assert asyncio.run(do()) == ["plain", "bright", "ember", "plain", "bright"]


@pytest.mark.parametrize("text", ["look = 3\n", "look = \n", 'look = "pink"\n', "\xff"])
def test_a_look_that_cannot_be_read_is_plain(text: str) -> None:
    looks.kept_in().parent.mkdir(parents=True)
    looks.kept_in().write_bytes(text.encode("latin-1"))
    assert looks.remembered(looks.kept_in()) == "plain"


def test_a_look_that_cannot_be_kept_is_said(tmp_path: Path) -> None:
    (tmp_path / "config").write_text("a file where a folder should be")

    async def do() -> None:
        async with at_desk(None) as rig:
            await rig.press("v")
            await rig.shows("The look is not remembered")
            assert rig.desk.theme == "bright"

    asyncio.run(do())


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours (WCAG 2.2, 1.4.3)."""

    def luminance(name: str) -> float:
        value = [part / 255 for part in Color.parse(name).rgb]
        red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in value)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


@pytest.mark.parametrize("theme", looks.THEMES, ids=lambda theme: theme.name)
def test_what_is_written_stands_out(theme: Theme) -> None:
    assert theme.foreground
    assert theme.background
    assert theme.secondary
    least = 3.0 if theme.name == "ember" else 4.5  # dark on purpose; what matters is bold or large there (WCAG: 3)
    assert contrast(theme.foreground, theme.background) >= least
    assert contrast(theme.secondary, theme.background) >= (2.0 if theme.name == "ember" else 4.5)


def test_ember_has_no_light_that_spoils_eyes_used_to_the_night() -> None:
    ember = next(theme for theme in looks.THEMES if theme.name == "ember")
    for name in (ember.foreground, ember.secondary, ember.background):
        red, green, blue = Color.parse(str(name)).rgb
        assert green <= red / 4
        assert blue <= red / 8
